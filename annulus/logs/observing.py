"""A log as a fit sees it: the fire that drives the burn, and mean readings with their errors.

Goes in: a `Crunched` log and its case. Comes out: an `Observation`. Readings are
means over spans, so that their noise is independent from one to the next, and are put back to when they were
true by what probes usually lag behind.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.errors import InputError
from annulus.heater.gas_path import gas_supply
from annulus.logs.columns import GAS
from annulus.logs.crunch import LEVEL_WINDOW, Crunched
from annulus.logs.ranges import usual_lags
from annulus.logs.reading import Log
from annulus.logs.smooth import bridged, local_line

Floats = NDArray[np.float64]

FIRE_EVERY, CLOSE_EVERY, CLOSE_FOR = 300.0, 150.0, 1200.0  # [s], knots of the fire; and while it is lit
SAMPLES_PER_KNOT = 10
LEAST_LOADS = 3  # for a rate between them
MEAN_OVER = 1200.0  # [s], of readings; some two loads' worth of fire, so that their rise and fall cancels
MOST_MEANS = 40  # of a log
# what the model itself leaves out beside the probes' noise [K]; common practice, no source
MODEL_ERROR = {"tank": 0.15, "water_out": 0.3, "gas_above": 4.0}
CHANNELS = tuple(MODEL_ERROR)
COLDEST_GAS = 260.0  # [K], below which the gas laws do not hold
LEAST_READINGS = 5  # a channel with fewer says nothing


@dataclass(frozen=True)
class Observation:
    """One log ready to be fitted.

    Attributes
    ----------
    name : str
    case : Case
        Its own, with the log's fire, start, room and length.
    fire : ndarray, shape (k, 3)
        Time [s], gas below the coil [K], flow of gas [kg/s].
    edges : ndarray, shape (m + 1,)
        Of the spans over which readings are means, since the first wood. [s]
    readings, errors : mapping of str to ndarray, shape (m,)
        By channel. [K]
    at_least : mapping of str to ndarray of bool, shape (m,)
        By channel, means that hold readings at the end of their probe.
    hotter_share : ndarray, shape (k,)
        By which the fire's gas rises for each kelvin that it was hotter than the end of its probe. [-]
    log : Log
        What it was made from.
    """

    name: str
    case: Case
    fire: Floats
    edges: Floats
    readings: dict[str, Floats]
    errors: dict[str, Floats]
    at_least: dict[str, NDArray[np.bool_]]
    hotter_share: Floats
    log: Log

    @property
    def measured(self) -> Floats:
        """All readings in one row, channel by channel."""
        return np.concatenate(list(self.readings.values()))

    @property
    def scale(self) -> Floats:
        """Errors in the same order."""
        return np.concatenate(list(self.errors.values()))

    @property
    def is_least(self) -> NDArray[np.bool_]:
        """True for a reading that says no more than how hot it was at least, in the same order."""
        return np.concatenate(list(self.at_least.values()))


def hotter_name(log: str) -> str:
    """Parameter that says how much hotter the gas below the coil was than the end of its probe. [K]"""
    return f"hotter.{log}"


def observe(name: str, case: Case, crunched: Crunched) -> Observation:
    """Prepare a log for fitting.

    Parameters
    ----------
    name : str
        For tables and pictures.
    case : Case
        Of the heater that the log was made on, with a tank.
    crunched : Crunched
        Without a target, so that all of the log counts.

    Raises
    ------
    InputError
        If the log has too few readings of the tank, or of the gas below the coil, which drives the burn.
    """
    log = crunched.log
    if "gas_below" not in log.channels:
        raise InputError(f"{log.file}: has no gas temperature below the coil, which drives the burn of a calibration")
    for what, seen in ((log.column("gas_below"), log.channels["gas_below"]), ("the tank", crunched.tank)):
        count = int(np.isfinite(seen).sum())
        if count < LEAST_READINGS:
            raise InputError(f"{log.file}: {what} has {count} readings; a calibration needs {LEAST_READINGS} at least")
    first = float(log.time[0] - crunched.curves.time[0])
    time = log.time - first
    last = float(time[-1])
    knots = _fire_knots(last)
    lags = usual_lags()
    gas = np.maximum(_at_knots(knots, time - lags.gas, bridged(time, log.channels["gas_below"])), COLDEST_GAS)
    at_end = log.at_limit.get("gas_below", np.zeros(time.size, dtype=bool))
    rate = _wood_rate(crunched, last)
    flow = rate * crunched.gas_per_wood if rate else gas_supply(case).flow
    fire = np.stack([knots, gas, np.full(knots.size, flow)], axis=1)

    count = int(np.clip(last // MEAN_OVER, 2, MOST_MEANS))
    edges = np.linspace(0.0, last, count + 1)
    channels: dict[str, Floats | None] = {"tank": crunched.tank}
    channels |= {channel: log.channels.get(channel) for channel in ("water_out", "gas_above")}
    readings, errors, at_least = {}, {}, {}
    for channel, values in channels.items():
        if values is None or np.isfinite(values).sum() < LEAST_READINGS:
            continue
        late = lags.gas if channel in GAS else lags.water
        readings[channel] = means(time - late, bridged(time, values), edges)
        errors[channel] = np.full(count, _error(time, values, edges[1], MODEL_ERROR[channel]))
        limited = np.maximum(time - late, 0.0)[log.at_limit[channel]] if channel in log.at_limit else np.zeros(0)
        at_least[channel] = np.histogram(limited, edges)[0] > 0
    share = _at_knots(knots, time - lags.gas, at_end.astype(np.float64))
    burning = _burning(case, crunched, last, fire)
    return Observation(name, burning, fire, edges, readings, errors, at_least, share, log)


def _fire_knots(last: float) -> Floats:
    """Knots of the fire. [s]"""
    close = np.arange(0.0, min(CLOSE_FOR, last / 3), CLOSE_EVERY)
    wide = np.linspace(close[-1] + CLOSE_EVERY, last, max(2, round((last - close[-1]) / FIRE_EVERY)))
    return np.concatenate([close, wide])


def _at_knots(knots: Floats, time: Floats, values: Floats) -> Floats:
    """Values at the knots: straight lines by least squares, which keep the mean over any few knots."""
    at = np.linspace(0.0, knots[-1], SAMPLES_PER_KNOT * knots.size + 1)
    hats = np.stack([np.interp(at, knots, row) for row in np.eye(knots.size)], axis=1)
    found, *_ = np.linalg.lstsq(hats, np.interp(at, time, values), rcond=None)
    return np.asarray(found, dtype=np.float64)


def _wood_rate(crunched: Crunched, last: float) -> float | None:
    """Wood that burns: all loads but the last over the time until the last, which has burnt only in part. [kg/s]"""
    laid = crunched.log.channels.get("wood")
    if laid is None or not (laid > 0).any():
        return None
    rows = np.flatnonzero(laid > 0)
    if rows.size < LEAST_LOADS:
        return float(laid.sum()) / last
    return float(laid[rows[:-1]].sum() / (crunched.log.time[rows[-1]] - crunched.log.time[rows[0]]))


def means(time: Floats, values: Floats, edges: Floats) -> Floats:
    """Means over spans of straight lines between values, shape (m,)."""
    at = np.union1d(time, edges)
    full = np.interp(at, time, values)
    total = np.concatenate([[0.0], np.cumsum(0.5 * (full[1:] + full[:-1]) * np.diff(at))])
    return np.diff(np.interp(edges, at, total)) / np.diff(edges)


def _error(time: Floats, values: Floats, span: float, model: float) -> float:
    """Error of a mean: the readings' own scatter about a smooth course over their number, and the model's."""
    full = bridged(time, values)
    level, _ = local_line(time, full, LEVEL_WINDOW)
    scatter = 1.4826 * float(np.median(np.abs(full - level)))
    count = max(1.0, span / float(np.median(np.diff(time))))
    return float(np.hypot(scatter / np.sqrt(count), model))


def _burning(case: Case, crunched: Crunched, last: float, fire: Floats) -> Case:
    """The case with the log's own fire, start and surroundings, for its whole length."""
    assert case.tank is not None and case.burn is not None  # a crunched log has a tank's facts from the case
    channels = crunched.log.channels
    changes: dict[str, Any] = {}
    tank: dict[str, Any] = {"start_temperature": crunched.result["tank_start_C"] + 273.15}
    if crunched.facts.surroundings is not None:
        tank["surroundings"] = crunched.facts.surroundings
    changes["tank"] = case.tank.model_copy(update=tank)
    rows = tuple(tuple(row) for row in fire.tolist())
    changes["burn"] = case.burn.model_copy(
        update={"until": "duration", "duration": last, "fire": "table", "table": rows}
    )
    if "room" in channels:
        room = float(np.nanmean(channels["room"]))
        changes["room"] = case.room.model_copy(update={"temperature": room})
    if "flow" in channels and case.water is not None:
        changes["water"] = case.water.model_copy(update={"flow": float(np.nanmedian(channels["flow"]))})
    return case.model_copy(update=changes)
