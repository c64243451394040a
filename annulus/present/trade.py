"""Heat against what it costs: tube, filler, a cold flue wall; the designs that nothing beats are marked.

Goes in: a `Sweep`. Comes out: a figure with a plot for each cost that differs
between designs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from annulus.present.panels import MOST, Panels, bar_note, plain_ticks, say_result
from annulus.present.sheet import line_height
from annulus.present.style import GREY, HAIR, PALE, SMALL, THIN, applied
from annulus.present.words import mark_invented
from annulus.studies.reading import Reading, Sweep

Item = TypeVar("Item")

BEST, KEPT, OUT = "#d55e00", "#0072b2", GREY  # unbeaten, beaten, outside the limits


@dataclass(frozen=True)
class Cost:
    """What a design costs: a result, its words, and whether less of it is better."""

    name: str
    words: str
    less_is_better: bool


COSTS = (
    Cost("tube_length_wound_m", "length of tube", True),
    Cost("filler_mass_kg", "mass of filler", True),
    Cost("wall_min_C", "a cold flue wall", False),
)
CLEAR, DOT = 0.06, 0.035  # half the size of a ring, and of a plain mark, that numbers keep clear of [in]
NAMED = 6  # unbeaten designs whose numbers stand in a plot


def costs_that_differ(sweep: Sweep) -> list[Cost]:
    """Costs of which rivals have different amounts."""
    parts = [[reading for reading in part.readings if reading.results] for _, part in sweep.apart()]
    return [cost for cost in COSTS if any(len({r.value(cost.name) for r in part}) > 1 for part in parts)]


def pick_evenly(items: Sequence[Item], count: int) -> list[Item]:
    """So many of a list at most, its ends among them.

    >>> pick_evenly("abcdefg", 3), pick_evenly("ab", 3), pick_evenly("abc", 1)
    (['a', 'd', 'g'], ['a', 'b'], ['a'])
    """
    if len(items) <= count:
        return list(items)
    return [items[round(n * (len(items) - 1) / max(count - 1, 1))] for n in range(count)]


def draw_trade(sweep: Sweep, name: str) -> Figure | None:
    """Draw a result against every cost that differs; None if none does."""
    costs = costs_that_differ(sweep)
    if not costs or all(reading.value(name) is None for reading in sweep.readings):
        return None
    with applied():
        every = sweep.apart()
        parts = pick_evenly(every, max(1, MOST // len(costs)))
        plots = [(name_of, part, cost) for name_of, part in parts for cost in costs]
        kept = " that keep the limits" if sweep.limits else ""
        foot = [
            f"Ringed and joined: designs{kept} that nothing beats: no other gives as much for as little, with one of "
            "the two better by more than both error bars. Numbers are those of the designs in sweep.csv.",
            bar_note([name]),
        ]
        if sweep.limits:
            limits = " and ".join(limit.words for limit in sweep.limits)
            foot.insert(1, f"Grey crosses break {limits} or come too close to tell.")
        if len(every) > 1:
            foot[0] += " Designs are compared under the same fire and in the same room."
        if len(parts) < len(every):
            foot.append(f"Drawn are {len(parts)} of {len(every)} fires and rooms; sweep.csv has all.")
        heads = [
            f"{name_of}: against {cost.words}" if name_of else f"against {cost.words}" for name_of, _, cost in plots
        ]
        page = Panels(
            sweep.title, mark_invented(f"{say_result(name)} against what it costs", sweep.invented), foot, heads, 0.15
        )
        for n, (_, part, cost) in enumerate(plots):
            axes = page.open(n, say_result(cost.name), say_result(name))
            best = part.not_beaten(name, cost.name, cost.less_is_better)
            _draw(axes, part, name, cost, best)
            plain_ticks(axes)
            _number(page, n, axes, best, part, name, cost)
        return page.sheet.figure


def _draw(axes: Axes, sweep: Sweep, name: str, cost: Cost, best: list[Reading]) -> None:
    kept = [r for r in sweep.best(name) if r.value(cost.name) is not None]
    out = [r for r in sweep.readings if r.results and not r.counts and r.value(name) is not None]
    for readings, colour, marker, size, layer in ((out, OUT, "x", 3.0, 1), (kept, KEPT, "o", 2.5, 2)):
        axes.errorbar(*_points(readings, name, cost), **_look(colour, marker, size), zorder=layer)
    x, y, _, _ = _points(best, name, cost)
    order = np.argsort(x, kind="stable")
    axes.plot(np.array(x)[order], np.array(y)[order], color=BEST, linewidth=THIN, zorder=3)
    axes.plot(x, y, "o", markersize=5.5, markerfacecolor="none", markeredgecolor=BEST, markeredgewidth=1.0, zorder=4)
    axes.margins(0.08, 0.1)
    axes.set_xlim(axes.get_xlim())  # settles the scale, by which numbers are placed
    axes.set_ylim(axes.get_ylim())


def _points(
    readings: list[Reading], name: str, cost: Cost
) -> tuple[list[float], list[float], list[float], list[float]]:
    """x, y, error of y, error of x."""
    return (
        [float(r.results[cost.name]) for r in readings],
        [float(r.results[name]) for r in readings],
        [r.error(name) for r in readings],
        [r.error(cost.name) for r in readings],
    )


def _look(colour: str, marker: str, size: float) -> dict[str, Any]:
    return {
        "color": colour,
        "ecolor": PALE if colour == OUT else colour,
        "linestyle": "none",
        "marker": marker,
        "markersize": size,
        "elinewidth": HAIR,
        "capsize": 1.5,
        "capthick": HAIR,
    }


def _number(page: Panels, n: int, axes: Axes, best: list[Reading], sweep: Sweep, name: str, cost: Cost) -> None:
    """Numbers of some unbeaten designs beside their marks, clear of every mark and of each other."""
    sheet, box = page.sheet, page.boxes[n]

    def places(readings: list[Reading]) -> list[tuple[float, float]]:
        points = [(r.results[cost.name], r.results[name]) for r in readings]
        return [(float(x), float(y)) for x, y in axes.transData.transform(points) / sheet.figure.dpi] if points else []

    ordered = sorted(best, key=lambda reading: float(reading.results[cost.name]))
    marks = places(ordered)
    others = [r for r in sweep.readings if r.value(name) is not None and r.value(cost.name) is not None]
    taken = [(x, y, CLEAR, CLEAR) for x, y in marks] + [(x, y, DOT, DOT) for x, y in places(others)]
    for (x, y), reading in pick_evenly(list(zip(marks, ordered, strict=True)), NAMED):
        words = f"{reading.number}"
        half_wide, half_high = 0.5 * sheet.measure(words, SMALL)[0], 0.4 * line_height(SMALL)
        beside, above = half_wide + CLEAR + 0.02, half_high + CLEAR + 0.02
        over, aside = half_high + 0.4 * CLEAR, half_wide + 0.6 * CLEAR
        aslant = [(x + across * aside, y + up * (over + CLEAR)) for across in (1, -1) for up in (1, -1)]
        for at_x, at_y in ((x, y + above), (x + beside, y), (x - beside, y), (x, y - above), *aslant):
            clear = (
                box.x + 0.03 <= at_x - half_wide
                and at_y - half_high >= box.y + 0.03
                and all(
                    abs(at_x - other_x) >= half_wide + wide or abs(at_y - other_y) >= half_high + high
                    for other_x, other_y, wide, high in taken
                )
            )
            if clear:
                halo = [withStroke(linewidth=2, foreground="white")]
                sheet.text(at_x, at_y, words, SMALL, ha="center", color=BEST, path_effects=halo)
                taken.append((at_x, at_y, half_wide, half_high))
                break
