"""What one fire showed: heat into the tank, power, wood, efficiency, with bands, and whether the estimates agree.

Goes in: a `Log`, and what it does not say: the water, the tank's loss, the wood.
Comes out: a flat dictionary in SI with an error (half the 90 % interval) beside
every result that has one, and findings where independent estimates disagree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from annulus.errors import InputError
from annulus.films import water
from annulus.films.gas import FlueGas
from annulus.films.stoichiometry import burn
from annulus.films.wood import lower_heating_value
from annulus.logs.columns import GAS, TANK
from annulus.logs.findings import KINDS, Finding
from annulus.logs.ranges import Errors
from annulus.logs.reading import Log
from annulus.logs.smooth import bridged, integral, local_line, mean
from annulus.units import show
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]

NINETY = 1.6449  # standard deviations to either side of a 90 % interval of a normal quantity
DISAGREES = 2.6  # standard deviations: 1 in 100 by chance
LEVEL_WINDOW, RATE_WINDOW = 600.0, 1800.0  # [s] over which a temperature is smoothed; a heat rate is taken
TWO_LAYERS = 1.0 / math.sqrt(12.0)  # of top less bottom: a boundary between them at any height alike
SECTION_SHARE = 0.25  # of the tank's heat, that the room and the heater itself may have taken besides


@dataclass(frozen=True)
class Facts:
    """What a log does not say.

    Attributes
    ----------
    water_volume : float
        In the tank. [m3]
    drum_capacity : float
        Of the drum, which warms with its water. [J/K]
    tank_loss : float
        [W/K]
    surroundings : float or None
        Of the tank; None for what the log says of outdoors or the room. [K]
    target : float or None
        [K]
    moisture_wet, excess_air, pressure : float
        Of the fire. [-, -, Pa]
    errors : Errors
    """

    water_volume: float
    drum_capacity: float
    tank_loss: float
    surroundings: float | None
    target: float | None
    moisture_wet: float
    excess_air: float
    pressure: float
    errors: Errors


@dataclass(frozen=True)
class Curves:
    """Smoothed course of a log, for pictures and for fitting. [s, K, W]"""

    time: Floats
    tank: Floats
    tank_error: Floats
    heat_rate: Floats


@dataclass(frozen=True)
class Crunched:
    """Results of one log."""

    log: Log
    facts: Facts
    result: dict[str, Any]
    curves: Curves
    findings: tuple[Finding, ...]

    @property
    def tank(self) -> Floats:
        """Mean of the tank's probes, not smoothed. [K]"""
        return _tank(self.log)[0]

    @property
    def gas_per_wood(self) -> float:
        """Gas from a kilogram of wood. [kg/kg]"""
        return burn(self.facts.moisture_wet, self.facts.excess_air).mass


def crunch(log: Log, facts: Facts) -> Crunched:
    """Compute what a log shows.

    Raises
    ------
    InputError
        If there is no tank temperature, or no surroundings to lose heat to.
    """
    time, surroundings = log.time, _surroundings(log, facts)
    raw, apart = _tank(log)
    level, _ = local_line(time, raw, LEVEL_WINDOW)
    scatter = _scatter(time, raw - level)
    stratified = facts.errors.stratified if apart is None else 0.0
    # one probe says nothing of layers; they come with the heat
    risen = np.clip((level - level[0]) / max(float(level.max() - level[0]), 1e-9), 0.0, 1.0)
    layers = TWO_LAYERS * apart if apart is not None else stratified * risen
    tank_sd = np.hypot(layers, facts.errors.water_probe)

    first = _begin(log)
    reached = _reached(time, level, facts.target, first)
    last = reached if reached is not None else float(time[-1])
    if last <= first:
        if facts.target is None or reached is None:
            raise InputError(f"{log.file}: the first wood is noted in the last row, so that no burn is left to count")
        at_start, target = (show(round(kelvin, 2), "temperature") for kelvin in (float(level[0]), facts.target))
        raise InputError(
            f"{log.file}: the tank is at {at_start} when the count begins, past its target of {target}; "
            "is the target right, and the unit of the tank's column?"
        )

    start, end = np.interp([first, last], time, level)
    sd_start, sd_end = np.interp([first, last], time, tank_sd)
    mass = facts.water_volume * float(water.density(start))
    water_heat = mass * (float(water.enthalpy(end)) - float(water.enthalpy(start)))
    per_kelvin = mass * float(water.specific_heat(0.5 * (start + end))) + facts.drum_capacity
    stored = water_heat + facts.drum_capacity * (end - start)
    loss = facts.tank_loss * integral(time, level - surroundings, first, last)
    heat = float(stored + loss)
    # a probe's own offset is the same at both ends: half its error is taken to differ
    noise = scatter / math.sqrt(max(1.0, LEVEL_WINDOW / float(np.median(np.diff(time)))))
    rise_sd = math.sqrt(sd_start**2 + sd_end**2 - facts.errors.water_probe**2 + 2 * noise**2)
    heat_sd = math.sqrt(
        (per_kelvin * rise_sd) ** 2 + (facts.errors.volume * water_heat) ** 2 + (facts.errors.tank_loss * loss) ** 2
    )

    _, slope = local_line(time, raw, RATE_WINDOW)
    rate = per_kelvin * slope + facts.tank_loss * (level - surroundings)
    span = last - first
    whole = (time >= first + 0.5 * RATE_WINDOW) & (time <= last - 0.5 * RATE_WINDOW)
    slope_there = float(np.interp(last, time, slope))
    if slope_there <= 0:
        slope_there = float(end - start) / span  # a tank that cools again as it comes to the target
    result: dict[str, Any] = {
        "begins": log.begins,
        "rows": len(log.time),
        "rows_read": log.rows_read,
        "duration_s": span,
        "tank_start_C": to_celsius(float(start)),
        "tank_end_C": to_celsius(float(end)),
        "target_C": None if facts.target is None else to_celsius(facts.target),
        "time_to_target_s": None if reached is None else reached - first,
        "time_to_target_error_s": None if reached is None else NINETY * rise_sd / slope_there,
        "heat_to_tank_J": heat,
        "heat_to_tank_error_J": NINETY * heat_sd,
        "tank_loss_J": loss,
        "mean_heat_to_tank_W": heat / span,
        "mean_heat_to_tank_error_W": NINETY * heat_sd / span,
        "peak_heat_to_tank_W": float(rate[whole].max()) if whole.any() else None,
    }
    result |= _temperatures(log, first, last)
    estimates = {"tank": (heat, heat_sd)}
    result |= _wood(log, facts, heat, heat_sd, first, last)
    result |= _loop(log, facts, first, last, estimates)
    result |= _gas(log, facts, result["wood_kg"], first, last, estimates)
    result["bounds"] = bounds(log)
    findings = _compare(log, estimates, first, last)
    return Crunched(log, facts, result, Curves(time - first, level, tank_sd, rate), tuple(findings))


def bounds(log: Log) -> dict[str, str]:
    """Results that readings at the end of a probe leave open to one side: "at least", "at most" or "open"."""
    found = {f"{role}_mean_C": "at least" for role in GAS if role in log.at_limit}
    if found:
        sides = {"gas_below": "at least", "gas_above": "at most"}
        ended = [side for role, side in sides.items() if role in log.at_limit]
        found["heat_from_gas_J"] = ended[0] if len(ended) == 1 else "open"
    return found


def _surroundings(log: Log, facts: Facts) -> Floats:
    if facts.surroundings is not None:
        return np.full(log.time.size, facts.surroundings)
    for role in ("room", "outdoors"):
        if role in log.channels:
            return bridged(log.time, log.channels[role])
    raise InputError(f"{log.file}: has no column of the room or outdoors; state what surrounds the tank")


def _tank(log: Log) -> tuple[Floats, Floats | None]:
    """Mean of the tank, and top less bottom where both are known."""
    known = [role for role in TANK if role in log.channels and np.isfinite(log.channels[role]).sum() >= 2]
    empty = [log.column(role) for role in TANK if role in log.channels and role not in known]
    if not known and empty:
        raise InputError(
            f"{log.file}: column {empty[0]!r}, temperature of the tank, has fewer than two readings that can be "
            f"counted on{_why(log, empty[0])}"
        )
    if not known:
        raise InputError(
            f'{log.file}: has no column of the tank\'s temperature; name one in [log], as in tank = "drum"'
        )
    full = {role: bridged(log.time, log.channels[role]) for role in known}
    if "tank_top" in full and "tank_bottom" in full:
        return np.mean(list(full.values()), axis=0), np.abs(full["tank_top"] - full["tank_bottom"])
    return np.mean(list(full.values()), axis=0), None


def _why(log: Log, column: str) -> str:
    """The first finding about a column, in words."""
    found = next((one for one in log.findings if one.column == column), None)
    return f"; line {found.first_line}: {found.read}: {KINDS[found.kind]}, {found.done}" if found else ""


def _scatter(time: Floats, residual: Floats) -> float:
    """Standard deviation of readings about their smoothed course, insensitive to outliers. [K]"""
    return 1.4826 * float(np.median(np.abs(residual - np.median(residual))))


def _begin(log: Log) -> float:
    """When the first wood is laid on; the first row if no wood is noted. [s]"""
    laid = np.flatnonzero(log.channels["wood"] > 0) if "wood" in log.channels else np.array([], dtype=int)
    return float(log.time[laid[0]]) if laid.size else 0.0


def _reached(time: Floats, level: Floats, target: float | None, first: float) -> float | None:
    """When the smoothed tank first comes to the target, between rows. [s]"""
    if target is None:
        return None
    above = np.flatnonzero((level >= target) & (time >= first))
    if not above.size:
        return None
    n = int(above[0])
    if n == 0 or level[n - 1] >= target:
        return float(time[n])
    part = (target - level[n - 1]) / (level[n] - level[n - 1])
    return float(time[n - 1] + part * (time[n] - time[n - 1]))


def _temperatures(log: Log, first: float, last: float) -> dict[str, Any]:
    """Means over the burn of what was measured beside the tank."""
    found: dict[str, Any] = {}
    for role in ("gas_below", "gas_above", "water_in", "water_out", "room", "outdoors"):
        values = log.channels.get(role)
        known = values is not None and np.isfinite(values).sum() >= 2
        found[f"{role}_mean_C"] = (
            to_celsius(mean(log.time, bridged(log.time, values), first, last)) if values is not None and known else None
        )
    return found


def _wood(log: Log, facts: Facts, heat: float, heat_sd: float, first: float, last: float) -> dict[str, Any]:
    """Wood laid on before the end, its energy on the lower heating value, and the share that came into the tank."""
    if "wood" not in log.channels:
        return dict.fromkeys(("wood_kg", "wood_energy_J", "efficiency", "efficiency_error", "wood_rate_kg_per_h"))
    laid = float(log.channels["wood"][(log.time >= first) & (log.time < last)].sum())
    heating = lower_heating_value(facts.moisture_wet)
    energy = laid * heating
    errors = facts.errors
    per_moisture = (lower_heating_value(0.0) - lower_heating_value(0.1)) / 0.1 / heating
    relative = math.sqrt(errors.wood**2 + errors.heating_value**2 + (per_moisture * errors.moisture) ** 2)
    return {
        "wood_kg": laid,
        "wood_rate_kg_per_h": 3600.0 * laid / (last - first),
        "wood_energy_J": energy,
        "efficiency": heat / energy if energy else None,
        "efficiency_error": NINETY * math.hypot(heat_sd, relative * heat) / energy if energy else None,
    }


def _loop(
    log: Log, facts: Facts, first: float, last: float, estimates: dict[str, tuple[float, float]]
) -> dict[str, Any]:
    """Heat that the loop carried: flow times rise."""
    needed = ("flow", "water_in", "water_out")
    if not all(role in log.channels and np.isfinite(log.channels[role]).sum() >= 2 for role in needed):
        return {"heat_from_loop_J": None, "heat_from_loop_error_J": None}
    flow, cold, hot = (bridged(log.time, log.channels[role]) for role in needed)
    capacity = flow * water.specific_heat(0.5 * (cold + hot))
    heat = integral(log.time, capacity * (hot - cold), first, last)
    probes = math.sqrt(2.0) * facts.errors.water_probe * integral(log.time, capacity, first, last)
    sd = math.hypot(probes, facts.errors.flow * heat)
    estimates["loop"] = (heat, sd)
    return {"heat_from_loop_J": heat, "heat_from_loop_error_J": NINETY * sd}


def _gas(
    log: Log, facts: Facts, wood: float | None, first: float, last: float, estimates: dict[str, tuple[float, float]]
) -> dict[str, Any]:
    """Heat that the gas gave between its two probes: gas of the wood times its fall in enthalpy."""
    needed = ("gas_below", "gas_above")
    if not wood or not all(role in log.channels and np.isfinite(log.channels[role]).sum() >= 2 for role in needed):
        return {"heat_from_gas_J": None, "heat_from_gas_error_J": None}
    gas = FlueGas(facts.moisture_wet, facts.excess_air, facts.pressure)
    below, above = (bridged(log.time, log.channels[role]) for role in needed)
    fall = mean(log.time, np.asarray(gas.enthalpy(below)) - np.asarray(gas.enthalpy(above)), first, last)
    mass = wood * burn(facts.moisture_wet, facts.excess_air).mass
    heat = mass * fall
    probes = math.sqrt(2.0) * facts.errors.gas_probe * float(gas.cp(mean(log.time, below, first, last))) * mass
    sd = math.hypot(probes, facts.errors.gas_flow * heat)
    estimates["gas"] = (heat, sd)
    return {"heat_from_gas_J": heat, "heat_from_gas_error_J": NINETY * sd}


def _compare(log: Log, estimates: dict[str, tuple[float, float]], first: float, last: float) -> list[Finding]:
    """Findings where the loop or the gas contradicts the tank."""
    found = []
    tank, tank_sd = estimates["tank"]
    inside = log.lines[(log.time >= first) & (log.time <= last)]
    for name, roles, more, less in (
        (
            "loop",
            ("flow", "water_in", "water_out"),
            "heat lost from hoses, less water in the tank than stated, or less flow than noted",
            "more flow than noted, a hose probe that is not in the water, or more water in the tank",
        ),
        (
            "gas",
            ("gas_below", "gas_above"),
            "heat lost to the room, or more wood or air noted than burnt",
            "more air or wood than stated, or a probe above that reads too hot",
        ),
    ):
        if name not in estimates:
            continue
        heat, sd = estimates[name]
        excess = heat - tank
        if name == "gas" and excess > 0:
            excess = max(0.0, excess - SECTION_SHARE * tank)
        side = bounds(log).get(f"heat_from_{name}_J")
        if side == "open" or (side == "at least" and excess < 0) or (side == "at most" and excess > 0):
            continue
        if abs(excess) <= DISAGREES * math.hypot(sd, tank_sd):
            continue
        found.append(
            Finding(
                int(inside[0]),
                int(inside[-1]),
                "disagreement",
                ", ".join(log.column(role) for role in roles),
                f"{name} says {_mj(heat, sd)}, tank {_mj(tank, tank_sd)}",
                f"both are kept; likely: {more if excess > 0 else less}",
            )
        )
    return found


def _mj(heat: float, sd: float) -> str:
    return f"{heat / 1e6:.1f} ± {NINETY * sd / 1e6:.1f} MJ"
