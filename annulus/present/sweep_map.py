"""A result of a sweep over two variables: contours with their values, a plot for each of the rest.

Goes in: a `Sweep` and the name of a result. Comes out: a figure.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import Bbox
from numpy.typing import NDArray

from annulus.errors import InputError
from annulus.present.panels import OWN_SCALES, Panels, own_scales, plain_ticks, say_result, say_variation
from annulus.present.style import HAIR, INK, SMALL, THIN, applied, temperature_colours
from annulus.present.words import mark_invented
from annulus.studies.reading import Reading, Sweep
from annulus.studies.vary import Variation

Floats = NDArray[np.float64]
LEVELS = 9  # contours, about
EDGE = 0.04  # of a scale, beyond the outermost designs


def draw_map(sweep: Sweep, name: str, across: Variation, up: Variation) -> Figure:
    """Draw contours of a result over two variations.

    Parameters
    ----------
    sweep : Sweep
    name : str
        Of the result.
    across, up : Variation
        Two of the sweep's, of numbers.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If fewer than two values each way are there to draw between, or there
        are more plots than fit on a page.
    """
    rest = [variation for variation in sweep.variations if variation not in (across, up)]
    combinations = list(itertools.product(*(variation.settings for variation in rest)))
    tables = [_table(sweep, name, across, up, fixed) for fixed in combinations]
    found = np.array([value for values, _ in tables for value in values[np.isfinite(values)]])
    if found.size == 0 or min(values.shape[n] for values, _ in tables for n in (0, 1)) < 2:
        raise InputError(f"picture: a map of '{name}' needs two values or more of both variables")
    ranges = [(float(own.min()), float(own.max())) for v, _ in tables if (own := v[np.isfinite(v)]).size]
    apart = own_scales(ranges)
    worst = max((reading.error(name) for reading in sweep.readings), default=0.0)
    with applied():
        foot = [_say_marks(sweep), f"Largest error of the grid in this map: {worst:.2g} {name.rsplit('_', 1)[-1]}."]
        if apart:
            foot.append(OWN_SCALES)
        about = f"{say_result(name)} over {say_variation(across)} and {say_variation(up)}"
        names = [", ".join(setting.name for setting in fixed) for fixed in combinations]
        page = Panels(sweep.title, mark_invented(about, sweep.invented), foot, names, 0.1)
        for n, (values, readings) in enumerate(tables):
            axes = page.open(n, say_variation(across), say_variation(up))
            shown = values[np.isfinite(values)] if apart else found
            levels = MaxNLocator(LEVELS).tick_values(float(shown.min()), float(shown.max())) if shown.size else []
            _draw(axes, values, readings, across, up, levels)
        return page.sheet.figure


def _table(
    sweep: Sweep, name: str, across: Variation, up: Variation, fixed: Sequence[object]
) -> tuple[Floats, list[tuple[float, float, Reading]]]:
    """Values by (up, across), both rising, and the designs with their places."""
    columns, rows = sorted(across.numbers or []), sorted(up.numbers or [])
    values = np.full((len(rows), len(columns)), np.nan)
    placed = []
    for reading in sweep.readings:
        if not all(setting in reading.settings for setting in fixed):
            continue
        x = float(reading.settings[sweep.variations.index(across)].cells[0])
        y = float(reading.settings[sweep.variations.index(up)].cells[0])
        value = reading.value(name)
        values[rows.index(y), columns.index(x)] = np.nan if value is None else value
        placed.append((x, y, reading))
    return values, placed


def _draw(
    axes: Axes,
    values: Floats,
    placed: Sequence[tuple[float, float, Reading]],
    across: Variation,
    up: Variation,
    levels: Sequence[float],
) -> None:
    x, y = np.array(sorted(across.numbers or [])), np.array(sorted(up.numbers or []))
    shown = np.ma.masked_invalid(values)
    if across.by_ratio:
        axes.set_xscale("log")
    if up.by_ratio:
        axes.set_yscale("log")
    _limit(axes, x, y, across, up)
    if shown.count() >= 4 and len(levels) > 1:
        axes.contourf(x, y, shown, levels, cmap=temperature_colours(), alpha=0.55)
        lines = axes.contour(x, y, shown, levels, colors=INK, linewidths=THIN)
        labels = axes.clabel(lines, fontsize=SMALL, fmt=lambda value: f"{value:g}", inline=False)
        kept: list[Bbox] = []
        for label in labels or ():
            label.set_path_effects([withStroke(linewidth=2.5, foreground="white")])
            label.set_zorder(5)
            box = label.get_window_extent()
            if _is_inside(axes, label) and not any(box.overlaps(other) for other in kept):
                kept.append(box)
            else:
                label.remove()
    for at_x, at_y, reading in placed:
        marker, face = ("x", INK) if not reading.results else ("o", INK if reading.counts else "white")
        axes.plot(
            [at_x], [at_y], marker, markersize=2.8, markerfacecolor=face, markeredgecolor=INK, markeredgewidth=HAIR
        )
    plain_ticks(axes, across.by_ratio, up.by_ratio)


def _limit(axes: Axes, x: Floats, y: Floats, across: Variation, up: Variation) -> None:
    """Limits a little beyond the outermost designs."""
    for values, by_ratio, set_limits in ((x, across.by_ratio, axes.set_xlim), (y, up.by_ratio, axes.set_ylim)):
        low, high = float(values[0]), float(values[-1])
        if by_ratio:
            spread = (high / low) ** EDGE
            set_limits(low / spread, high * spread)
        else:
            set_limits(low - EDGE * (high - low), high + EDGE * (high - low))


def _is_inside(axes: Axes, label: Text) -> bool:
    """True if words lie within the frame, where they hide no tick."""
    x, y = axes.transAxes.inverted().transform(axes.transData.transform(label.get_position()))
    return bool(0.06 < x < 0.94 and 0.06 < y < 0.94)


def _say_marks(sweep: Sweep) -> str:
    words = "Each dot is a computed design; contours are drawn straight between them."
    if sweep.limits:
        limits = " and ".join(limit.words for limit in sweep.limits)
        words += f" Filled dots keep {limits}, hollow ones do not or come too close to tell."
    if any(not reading.results for reading in sweep.readings):
        words += " A cross is a design without a result."
    return words
