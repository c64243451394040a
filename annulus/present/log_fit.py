"""A calibration as text and picture: values, what the logs leave open, residuals, the next burn.

Goes in: a fit with its predictor, a forecast, promises. Comes out: text, a figure, a dictionary.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from annulus.logs.calibrate import Blend, Fit, Forecast
from annulus.logs.limits import AtLimit, at_limit
from annulus.logs.next_probe import Promise
from annulus.logs.observing import Observation
from annulus.present.burning import minutes
from annulus.present.log_figures import PENS, dress
from annulus.present.log_tables import left_columns, lines_of
from annulus.present.style import BOLD, GREY, HEADING, INK, SMALL, THIN, TITLE, applied
from annulus.present.tables import LINE
from annulus.present.words import mark_invented
from annulus.texts import real_path
from annulus.units import Kind, show
from annulus.units.celsius import to_celsius

CHANNELS = {"tank": "tank", "water_out": "hose out", "gas_above": "gas above"}
Floats = NDArray[np.float64]

COLUMN, ROW = 4.2, 1.7  # of a log, of a channel [in]


def fit_text(fitted: Fit, observations: Sequence[Observation]) -> str:
    """Values with 90 % intervals, what is not determined, what cannot be told apart."""
    head = ("parameter", "fitted", "90 % interval", "before the logs", "from")
    free: list[Sequence[str]] = [head]
    along: list[Sequence[str]] = [head]
    for one in fitted.estimates():
        if one.value is None or one.low is None or one.high is None:
            value, interval = "not determined", "-"
        else:
            value, low, high = (_shown(number, one.prior.kind) for number in (one.value, one.low, one.high))
            interval = f"{low} to {high}"
        row = (one.prior.name, value, interval, one.prior.words, one.prior.source)
        (free if one.prior.is_free else along).append(row)
    names = ", ".join(one.name for one in observations)
    parts = [
        f"Fitted to {names}: {fitted.residuals.size} mean readings, {fitted.calls} predictions",
        left_columns(free),
    ]
    for blend in fitted.blends():
        parts.append(textwrap.fill(blend_text(blend), LINE))
    if len(free) > 2:
        parts.append("Correlation of the fitted parameters\n" + _correlation(fitted))
    parts.append("Carried along, so that their errors are not taken for the heater's doing\n" + left_columns(along))
    limited = at_limit(observations)
    if limited:
        rows = [(one.log, lines_of(one), one.column, one.used) for one in limited]
        parts.append("Readings at the end of a probe\n" + left_columns([("log", "line", "column", "used as"), *rows]))
    parts.append(textwrap.fill(misfit_text(fitted), LINE))
    return "\n\n".join(parts)


def _shown(value: float, kind: Kind) -> str:
    """A value in the unit that its kind is read in, to three digits."""
    number, _, unit = show(value, kind).partition(" ")
    return f"{float(number):.3g} {unit}".rstrip()


def blend_text(blend: Blend) -> str:
    """A direction that the logs leave open, in words."""
    names = list(blend.shares)
    if len(names) == 1:
        return f"NOT DETERMINED: the logs say less about {names[0]} than the trade's range does."
    signs = [f"{name} {'up' if share > 0 else 'down'}" for name, share in blend.shares.items()]
    return (
        f"NOT TOLD APART: {' and '.join(names)}. Together ({', '.join(signs)}) they change what was logged by less "
        "than its errors; fix one, or measure it by itself."
    )


def misfit_text(fitted: Fit) -> str:
    """How well the model follows the logs."""
    words = f"Readings lie {fitted.misfit:.1f} times their stated errors from the fit."
    if fitted.misfit > 1.0:
        words += " The intervals are widened by as much; look for a fault in the log or in the case."
    return words


def _correlation(fitted: Fit) -> str:
    names = [prior.name for prior in fitted.priors if prior.is_free]
    rows: list[Sequence[str]] = [("", *names)]
    for name, line in zip(names, fitted.correlation(), strict=True):
        rows.append((name, *(f"{value:+.2f}" for value in line)))
    return left_columns(rows)


def forecast_text(path: Path, forecast: Forecast, promises: Sequence[Promise]) -> str:
    """The next burn, and what to measure to know it better."""
    half = 0.5 * (forecast.high - forecast.low)
    name = real_path(path).parent.name if path.stem == "case" else path.stem
    lines = [
        f"Next burn, {name}: {minutes(forecast.value)} to the target; 90 % interval {minutes(forecast.low)} to "
        f"{minutes(forecast.high)}, ± {half / forecast.value:.0%}",
        "",
        "What would tell most next time: width of that interval once it is measured",
    ]
    rows: list[Sequence[str]] = [("measurement", "width", "narrower by")]
    rows += [(one.name, f"{one.share:.0%}", f"{one.narrowing:.0%}") for one in promises]
    return "\n".join([*lines, left_columns(rows)])


def fit_result(fitted: Fit, forecast: Forecast | None, limited: Sequence[AtLimit]) -> dict[str, Any]:
    """A calibration for result.json."""
    result: dict[str, Any] = {
        "parameters": [
            {
                "name": one.prior.name,
                "is_free": one.prior.is_free,
                "is_determined": one.is_determined,
                "value": one.value,
                "low": one.low,
                "high": one.high,
                "width_over_prior": one.width,
            }
            for one in fitted.estimates()
        ],
        "correlation": fitted.correlation().tolist(),
        "not_told_apart": [
            {"singular_value": one.singular_value, "shares": dict(one.shares)} for one in fitted.blends()
        ],
        "misfit": fitted.misfit,
        "readings_at_limit": [asdict(one) for one in limited],
    }
    if forecast is not None:
        result["next_time_to_target_s"] = {"value": forecast.value, "low": forecast.low, "high": forecast.high}
    return result


def draw_fit(fitted: Fit, observations: Sequence[Observation], predicted: Floats, invented: bool = False) -> Figure:
    """Measured and fitted means of every log and channel, and what is left over in errors.

    Parameters
    ----------
    fitted : Fit
    observations : sequence of Observation
    predicted : ndarray, shape (n,)
        Readings of all of them at the fit. [K]
    invented : bool
        Whether a case is an invented example.
    """
    channels = [name for name in CHANNELS if any(name in one.readings for one in observations)]
    with applied():
        size = (max(COLUMN * len(observations), 6.5) + 0.8, ROW * (len(channels) + 1) + 0.7)
        figure = Figure(figsize=size, layout="constrained")
        figure.suptitle(mark_invented("Logs and fit", invented), fontsize=TITLE, fontweight="bold", x=0.01, ha="left")
        axes = figure.subplots(len(channels) + 1, len(observations), squeeze=False, sharex="col", sharey="row")
        start = 0
        for column, one in enumerate(observations):
            hours = 0.5 * (one.edges[1:] + one.edges[:-1]) / 3600.0
            for channel, measured in one.readings.items():
                row = channels.index(channel)
                fit_here = predicted[start : start + measured.size]
                start += measured.size
                colour, dash = PENS[row]
                axis = axes[row, column]
                least, bars, at = one.at_least[channel], one.errors[channel], to_celsius(measured)
                if not least.all():
                    axis.errorbar(hours[~least], at[~least], bars[~least], fmt="o", ms=3, color=INK, label="log, means")
                if least.any():
                    axis.plot(hours[least], at[least], "^", markersize=6, color=INK, label="at least that")
                axis.plot(hours, to_celsius(fit_here), color=colour, linewidth=BOLD, label="fit")
                left = fitted.residuals[start - measured.size : start]
                axes[-1, column].plot(
                    hours, left, color=colour, linestyle=dash, marker="o", markersize=2.5, label=CHANNELS[channel]
                )
            axes[0, column].set_title(one.name, fontsize=HEADING, loc="left")
            axes[-1, column].axhline(0.0, color=GREY, linewidth=THIN)
            axes[-1, column].set_xlabel("time since the first wood / h")
        for row, channel in enumerate(channels):
            axes[row, 0].set_ylabel(f"{CHANNELS[channel]} / °C")
        axes[-1, 0].set_ylabel("fit less log / error")
        most = max(2.5, 1.1 * float(np.abs(fitted.residuals).max()))
        axes[-1, 0].set_ylim(-most, most)
        for axis in axes.flat:
            dress(axis)
        for row in axes:
            pairs = [zip(*axis.get_legend_handles_labels(), strict=True) for axis in row]
            named = {words: mark for pair in pairs for mark, words in pair}
            row[-1].legend(
                named.values(), named, loc="upper left", bbox_to_anchor=(1.01, 1.02), frameon=False, fontsize=SMALL
            )
        return figure
