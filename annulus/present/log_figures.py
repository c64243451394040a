"""Pictures of burn logs: one log over time with what was found in it, and several side by side.

Goes in: crunched logs. Comes out: figures.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from annulus.logs.crunch import Crunched
from annulus.logs.findings import KINDS, Finding
from annulus.present.style import BODY, BOLD, GREY, HAIR, HEADING, INK, PALE, SMALL, THIN, TITLE, WATER, applied
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]

WIDTH = 9.0  # [in]
# one colour, dash and mark a quantity or log; hues of different lightness that colour-blind readers tell apart
PENS = (
    ("#b3470b", "-"),
    ("#1f5788", "-"),
    ("#e0a02a", "--"),
    ("#6d2553", "-."),
    ("#3b8c6e", ":"),
    ("#555b61", (0, (5, 1, 1, 1, 1, 1))),
)
GAS = (("gas_below", "below the coil", PENS[0]), ("gas_above", "above the coil", PENS[2]))
WATERS = (
    ("tank_top", "tank, top", PENS[1]),
    ("tank_bottom", "tank, bottom", ("#5f9fd3", "--")),
    ("tank", "tank", ("#5f9fd3", "-")),
    ("water_out", "out of the coil", PENS[3]),
    ("water_in", "into the coil", PENS[4]),
)
MOST_POINTS = 4000  # of a line; more cannot be told apart
LONGEST = 46  # characters of a finding's name in the picture


def draw_log(name: str, crunched: Crunched) -> Figure:
    """One log over time: gas and wood, water, heat rate, findings, and the estimates of the heat.

    Parameters
    ----------
    name : str
    crunched : Crunched

    Returns
    -------
    Figure
    """
    log, curves = crunched.log, crunched.curves
    hours = curves.time / 3600.0
    found = sorted([*log.findings, *crunched.findings])
    with applied():
        strip = 0.35 + 0.19 * len(_grouped(found))
        figure = Figure(figsize=(WIDTH, 6.3 + strip), layout="constrained")
        grid = figure.add_gridspec(4, 1, height_ratios=[2.0, 2.0, 1.6, strip])
        axes = [figure.add_subplot(grid[0, 0])]
        axes += [figure.add_subplot(grid[n, 0], sharex=axes[0]) for n in (1, 2, 3)]
        figure.suptitle(_title(name, crunched), fontsize=TITLE, fontweight="bold", x=0.01, ha="left")
        _lines(axes[0], hours, crunched, GAS)
        _wood(axes[0], hours, crunched)
        if not axes[0].lines:
            axes[0].set_yticks([])
            axes[0].text(0.02, 0.5, "not logged", transform=axes[0].transAxes, fontsize=SMALL, color=GREY, va="center")
        axes[0].set_ylabel("flue gas / °C")
        _lines(axes[1], hours, crunched, WATERS)
        axes[1].plot(*_thinned(hours, to_celsius(curves.tank)), color=INK, linewidth=BOLD, label="tank, mean")
        if crunched.facts.target is not None:
            axes[1].axhline(
                to_celsius(crunched.facts.target), color=GREY, linewidth=HAIR, linestyle="--", label="target"
            )
        axes[1].set_ylabel("water / °C")
        _rate(axes[2], hours, crunched)
        for axis in axes[:3]:
            _legend(axis)
        _strip(axes[3], hours, crunched, found)
        for axis in axes[:3]:
            axis.tick_params(labelbottom=False)
        axes[3].set_xlabel("time since the first wood / h" if "wood" in log.channels else "time / h")
        axes[0].set_xlim(min(float(hours[0]), 0.0), float(hours[-1]))
        return figure


def _title(name: str, crunched: Crunched) -> str:
    result = crunched.result
    mean, bar = result["mean_heat_to_tank_W"] / 1e3, result["mean_heat_to_tank_error_W"] / 1e3
    words = f"{name}:  {mean:.2f} ± {bar:.2f} kW to the tank"
    if result["efficiency"] is not None:
        words += f",  {100 * result['efficiency']:.1f} ± {100 * result['efficiency_error']:.1f} % of the wood"
    return words


def dress(axis: Axes) -> None:
    axis.spines[["top", "right"]].set_visible(False)
    axis.grid(color=PALE, linewidth=HAIR)
    axis.set_axisbelow(True)
    axis.tick_params(labelsize=SMALL)


def _legend(axis: Axes) -> None:
    """Names beside the plot, never over it."""
    dress(axis)
    if axis.get_legend_handles_labels()[0]:
        axis.legend(loc="upper left", bbox_to_anchor=(1.01, 1.02), frameon=False, fontsize=SMALL, handlelength=2.6)


def _lines(axis: Axes, hours, crunched: Crunched, which) -> None:
    for role, label, (colour, dash) in which:
        values = crunched.log.channels.get(role)
        if values is not None:
            at, drawn = _thinned(hours, to_celsius(values))
            axis.plot(at, drawn, color=colour, linestyle=dash, linewidth=THIN, label=label)


def _thinned(hours: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest of every bin of rows, where there are more rows than a picture can show."""
    if hours.size <= MOST_POINTS:
        return hours, values
    edges = np.linspace(0, hours.size, MOST_POINTS // 2 + 1).astype(np.int64)[:-1]
    known = np.isfinite(values)
    low = np.minimum.reduceat(np.where(known, values, np.inf), edges)
    high = np.maximum.reduceat(np.where(known, values, -np.inf), edges)
    both = np.stack([low, high], axis=1).ravel()
    return np.repeat(hours[edges], 2), np.where(np.isfinite(both), both, np.nan)


def _wood(axis: Axes, hours, crunched: Crunched) -> None:
    laid = crunched.log.channels.get("wood")
    if laid is None or not (laid > 0).any():
        return
    at = hours[laid > 0]
    axis.plot(
        at,
        np.full(at.size, 0.03),
        linestyle="none",
        marker="^",
        markersize=4,
        color=INK,
        transform=axis.get_xaxis_transform(),
        clip_on=False,
        label="wood laid on",
    )


def _rate(axis: Axes, hours, crunched: Crunched) -> None:
    result, curves = crunched.result, crunched.curves
    axis.plot(*_thinned(hours, curves.heat_rate / 1e3), color=INK, linewidth=BOLD, label="to the tank, over 30 min")
    mean, bar = result["mean_heat_to_tank_W"] / 1e3, result["mean_heat_to_tank_error_W"] / 1e3
    end = result["duration_s"] / 3600.0
    axis.fill_between([0.0, end], mean - bar, mean + bar, color=WATER, label="mean, 90 % band", linewidth=0)
    span = result["duration_s"]
    for key, label, (colour, dash) in (
        ("heat_from_loop", "mean by the loop", PENS[3]),
        ("heat_from_gas", "mean by the gas", PENS[0]),
    ):
        side = result["bounds"].get(f"{key}_J")
        if result[f"{key}_J"] is not None and side != "open":
            height = result[f"{key}_J"] / span / 1e3
            words = f"{label}, {side}" if side else label
            axis.plot([0.0, end], [height] * 2, color=colour, linestyle=dash or "-", label=words)
    axis.set_ylim(bottom=min(0.0, float(curves.heat_rate.min()) / 1e3))
    axis.set_ylabel("heat / kW")


def _strip(axis: Axes, hours, crunched: Crunched, found: Sequence[Finding]) -> None:
    """Findings as bars over the rows they concern."""
    dress(axis)
    axis.grid(visible=False)
    axis.set_yticks([])
    axis.spines["left"].set_visible(False)
    if not found:
        axis.set_ylim(0, 1)
        axis.text(0.0, 0.5, "nothing found wrong", transform=axis.transAxes, fontsize=SMALL, color=GREY, va="center")
        return
    lines = crunched.log.lines
    groups = _grouped(found)
    axis.set_ylim(len(groups) - 0.4, -0.6)
    for n, (words, members) in enumerate(groups.items()):
        first = np.interp([finding.first_line for finding in members], lines, hours)
        last = np.interp([finding.last_line for finding in members], lines, hours)
        axis.hlines(np.full(first.size, n), first, last, color=PENS[3][0], linewidth=3.0)
        axis.plot(0.5 * (first + last), np.full(first.size, n), "|", markersize=6, color=PENS[3][0])
        axis.text(1.01, n, words, transform=axis.get_yaxis_transform(), fontsize=SMALL, va="center")


def _grouped(found: Sequence[Finding]) -> dict[str, list[Finding]]:
    """Findings of one kind and column together, named in a line."""
    groups: dict[str, list[Finding]] = {}
    for finding in found:
        columns = re.sub(r"\s*[\[(][^\])]*[\])]", "", finding.column)
        words = KINDS[finding.kind] + (f": {columns}" if columns else "")
        groups.setdefault(words if len(words) <= LONGEST else words[: LONGEST - 1] + "…", []).append(finding)
    return groups


def draw_side_by_side(crunched: Mapping[str, Crunched]) -> Figure:
    """Several logs: the tank over time, and heat rate, wood and efficiency with their bands."""
    with applied():
        figure = Figure(figsize=(WIDTH, 2.9 + 0.32 * len(crunched) + 0.9), layout="constrained")
        figure.suptitle("Burn logs side by side", fontsize=TITLE, fontweight="bold", x=0.01, ha="left")
        grid = figure.add_gridspec(2, 3, height_ratios=[2.6, 0.5 + 0.32 * len(crunched)])
        top = figure.add_subplot(grid[0, :])
        for n, (name, one) in enumerate(crunched.items()):
            colour, dash = PENS[n % len(PENS)]
            end = one.curves.time <= one.result["duration_s"]
            top.plot(
                one.curves.time[end] / 3600.0,
                to_celsius(one.curves.tank[end]),
                color=colour,
                linestyle=dash,
                linewidth=BOLD,
                label=name,
            )
        top.set_xlabel("time since the first wood / h")
        top.set_ylabel("tank, mean / °C")
        _legend(top)
        for n, (heading, key, error, size) in enumerate(
            (
                ("mean heat to the tank / kW", "mean_heat_to_tank_W", "mean_heat_to_tank_error_W", 1e-3),
                ("wood / (kg/h)", "wood_rate_kg_per_h", None, 1.0),
                ("efficiency / %", "efficiency", "efficiency_error", 100.0),
            )
        ):
            _points(figure.add_subplot(grid[1, n]), crunched, heading, key, error, size, with_names=n == 0)
        return figure


def _points(
    axis: Axes,
    crunched: Mapping[str, Crunched],
    heading: str,
    key: str,
    error: str | None,
    size: float,
    with_names: bool,
) -> None:
    dress(axis)
    ends = [0.0]
    for n, one in enumerate(crunched.values()):
        value = one.result[key]
        if value is None:
            continue
        bar = one.result[error] * size if error else 0.0
        ends += [value * size - bar, value * size + bar]
        axis.errorbar(
            value * size, n, xerr=bar or None, marker="o", markersize=4, color=PENS[n % len(PENS)][0], capsize=3
        )
    axis.set_ylim(len(crunched) - 0.5, -0.5)
    axis.set_yticks(range(len(crunched)), list(crunched) if with_names else [""] * len(crunched))
    most = max(*ends, 1e-9)
    axis.set_xlim(min(1.1 * min(ends), 0.0), 1.1 * most)
    axis.set_title(heading, fontsize=HEADING, loc="left")
    axis.tick_params(labelsize=BODY)
