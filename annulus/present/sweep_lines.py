"""A result of a sweep over one variable: a curve for each value of another, a plot for each of the rest.

Goes in: a `Sweep` and the name of a result. Comes out: a figure.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from annulus.errors import InputError
from annulus.present.panels import (
    CURVES,
    OWN_SCALES,
    Panels,
    bar_note,
    own_scales,
    plain_ticks,
    say_result,
    say_variation,
)
from annulus.present.sheet import NARROWEST, Sheet
from annulus.present.style import SMALL, THIN, applied
from annulus.present.words import mark_invented
from annulus.studies.reading import Reading, Sweep
from annulus.studies.vary import Variation

Curve = tuple[str, list[tuple[float, Reading]]]


def numeric(sweep: Sweep) -> list[Variation]:
    """Variations that an axis can bear: numbers, and more than one."""
    return [variation for variation in sweep.variations if len(set(variation.numbers or ())) > 1]


def draw_lines(sweep: Sweep, name: str, along: Variation) -> Figure:
    """Draw one result over one variation.

    Parameters
    ----------
    sweep : Sweep
    name : str
        Of the result.
    along : Variation
        One of the sweep's, of numbers.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If no design has the result, or there are more plots than fit on a page.
    """
    if all(reading.value(name) is None for reading in sweep.readings):
        raise InputError(f"picture: no design of the sweep has a result '{name}'")
    others = [variation for variation in sweep.variations if variation is not along]
    by = max(others, key=_prefer_as_curves, default=None)
    rest = [variation for variation in others if variation is not by]
    plots = [_curves(sweep, along, by, fixed) for fixed in itertools.product(*(v.settings for v in rest))]
    names = [", ".join(s.name for s in fixed) for fixed in itertools.product(*(v.settings for v in rest))]
    with applied():
        trial = Sheet(NARROWEST, 3.0)
        beside = max(trial.measure(words, SMALL)[0] for curves in plots for words, _ in curves) + 0.25
        foot = [bar_note([name])]
        if sweep.limits:
            limits = " and ".join(limit.words for limit in sweep.limits)
            foot.insert(
                0, f"Filled marks keep {limits} with their whole error bar; hollow ones break it or come close."
            )
        about = f"{say_result(name)} over {say_variation(along)}"
        if by is not None:
            about += f"; curves by {say_variation(by, unit=False)}"
        ranges = [_range(curves, name) for curves in plots]
        if own_scales(ranges):
            foot.append(OWN_SCALES)
        page = Panels(sweep.title, mark_invented(about, sweep.invented), foot, names, beside)
        drawn = []
        for n, curves in enumerate(plots):
            axes = page.open(n, say_variation(along), say_result(name))
            if along.by_ratio:
                axes.set_xscale("log")
            for (_, points), look in zip(curves, itertools.cycle(CURVES)):
                _draw(axes, points, name, look)
            drawn.append(axes)
        _scale(drawn, along, own_scales(ranges))
        for n, (axes, curves) in enumerate(zip(drawn, plots, strict=True)):
            plain_ticks(axes, along.by_ratio)
            page.name_curves(n, axes, _ends(curves, name))
        return page.sheet.figure


def _prefer_as_curves(variation: Variation) -> tuple[bool, int]:
    """Few values make curves that can be told apart; of those that fit the most."""
    count = len(variation.settings)
    return count <= len(CURVES), count if count <= len(CURVES) else -count


def _curves(sweep: Sweep, along: Variation, by: Variation | None, fixed: Sequence[object]) -> list[Curve]:
    """Curves of the designs that have all the fixed settings."""
    chosen = [reading for reading in sweep.readings if all(setting in reading.settings for setting in fixed)]
    groups: list[Curve] = []
    for setting in by.settings if by is not None else (None,):
        mine = [reading for reading in chosen if setting is None or setting in reading.settings]
        at = sweep.variations.index(along)
        points = [(float(reading.settings[at].cells[0]), reading) for reading in mine]
        groups.append(("" if setting is None else setting.name, sorted(points, key=lambda point: point[0])))
    return groups


def _draw(axes: Axes, points: Sequence[tuple[float, Reading]], name: str, look: tuple[str, str, str]) -> None:
    colour, marker, dashes = look
    x = np.array([at for at, _ in points])
    y = np.array([np.nan if (value := reading.value(name)) is None else value for _, reading in points])
    error = np.array([reading.error(name) for _, reading in points])
    counts = np.array([reading.counts for _, reading in points])
    axes.errorbar(x, y, error, color=colour, linestyle=dashes, linewidth=THIN, elinewidth=THIN, capsize=2)
    for which, face in ((counts, colour), (~counts, "white")):
        axes.plot(
            x[which],
            y[which],
            color=colour,
            linestyle="none",
            marker=marker,
            markersize=3.5,
            markerfacecolor=face,
            markeredgewidth=THIN,
        )


def _range(curves: Sequence[Curve], name: str) -> tuple[float, float]:
    """Least and most of a plot's values; (0, 0) if it has none."""
    found = [value for _, points in curves for _, reading in points if (value := reading.value(name)) is not None]
    return min(found, default=0.0), max(found, default=0.0)


def _scale(drawn: Sequence[Axes], along: Variation, own: bool) -> None:
    """Scales: the same for all plots, so that they can be compared at sight, unless that would press one flat."""
    lows, highs = zip(*(axes.get_ylim() for axes in drawn), strict=True)
    values = along.numbers or [0.0, 1.0]
    low, high = min(values), max(values)
    for axes, bottom, top in zip(drawn, lows, highs, strict=True):
        axes.set_ylim(*((bottom, top) if own else (min(lows), max(highs))))
        if along.by_ratio:
            axes.set_xlim(low * (low / high) ** 0.03, high * (high / low) ** 0.03)
        else:
            axes.set_xlim(low - 0.03 * (high - low), high + 0.03 * (high - low))


def _ends(curves: Sequence[Curve], name: str) -> list[tuple[float, float, str, str]]:
    """Right end of every curve that has any point."""
    ends = []
    for (words, points), (colour, _, _) in zip(curves, itertools.cycle(CURVES)):
        having = [(x, value) for x, reading in points if (value := reading.value(name)) is not None]
        if words and having:
            ends.append((*having[-1], words, colour))
    return ends
