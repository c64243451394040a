"""Picture, table and result file of which number matters.

Goes in: a `Sensitivity`. Comes out: bars of heat and time for every uncertain
input, the strongest first, over the spread of designs in which all are drawn
at once.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from annulus.materials import MARKS
from annulus.present.sheet import MARGIN, Box, Sheet, add_filled, line_height, rectangle
from annulus.present.style import BODY, GREY, HAIR, INK, PALE, ROOM, SMALL, THIN, TURNS, applied
from annulus.present.tables import LINE, columns
from annulus.present.words import mark_invented
from annulus.studies.sensitivity import Effect, Sensitivity

HOUR = 3600.0  # [s]
WIDTH = 12.8  # of the page [in]
NAMES, HEAT, TIME, BETWEEN = 3.3, 4.6, 2.7, 0.7  # columns [in]
ROW, BAR = 0.44, 0.17  # a row, and a bar in it [in]
ABOVE, SPREAD, BELOW = 1.0, 1.0, 0.4  # heads, drawn designs, axis [in]
BEYOND = 0.14  # of an axis's range, beyond its outermost bars, for figures
BINS = 24  # of drawn designs
TICKS = 6
HIGH, LOW = TURNS[0].dark, ROOM.light


def draw_sensitivity(found: Sensitivity) -> Figure:
    """Draw what every uncertain input does, and what all of them do together.

    Parameters
    ----------
    found : Sensitivity

    Returns
    -------
    Figure
    """
    rows = len(found.effects)
    with applied():
        sheet = Sheet(WIDTH, 2 * MARGIN + 1.5 + ABOVE + ROW * rows + SPREAD + BELOW)
        about = "which number matters: every input that is not known well, over its range"
        sheet.head(found.case.title, mark_invented(about, found.case.invented))
        sheet.foot(_sentences(found))
        body = sheet.body
        top = body.top - ABOVE
        for number, effect in enumerate(found.effects):
            y = top - (number + 0.5) * ROW
            sheet.text(body.x, y + 0.5 * line_height(BODY), effect.input.name, BODY)
            sheet.text(
                body.x, y - 0.5 * line_height(BODY), f"{effect.input.words}  [{effect.input.mark}]", SMALL, color=GREY
            )
        _legend(sheet, body.x, body.top - 0.1)
        heats = [(effect.heat, effect.by_slope if effect.solved else None) for effect in found.effects]
        box = Box(body.x + NAMES, top - ROW * rows, HEAT, ROW * rows)
        low, high = _range([*(end for ends, _ in heats for end in ends), *found.spread.heat[[0, -1]]])
        axis = _Axis(sheet, box, low, high)
        _band(axis, found)
        axis.head("heat to the water / W", found.heat, f"as stated {_form(found).format(found.heat)} W")
        for number, (ends, slopes) in enumerate(heats):
            axis.bars(number, ends, found.heat, _form(found), slopes)
        _drawn(axis, found)
        axis.scale(box.y - SPREAD)
        if found.time is not None:
            times = [effect.time for effect in found.effects]
            reached = [end / HOUR for ends in times if ends is not None for end in ends if end is not None]
            box = Box(box.right + BETWEEN, box.y, TIME, box.height)
            axis = _Axis(sheet, box, *_range([*reached, found.time / HOUR]))
            axis.head("time to the target / h", found.time / HOUR, f"as stated {found.time / HOUR:.1f} h")
            for number, both in enumerate(times):
                if both is not None:
                    hours = [None if end is None else end / HOUR for end in both]
                    axis.bars(number, hours, found.time / HOUR, "{:.1f}")
            axis.scale(box.y)
        sheet.trim()
        return sheet.figure


def _sentences(found: Sensitivity) -> list[str]:
    low, high, stated = (_form(found).format(heat) for heat in (*found.spread.band, found.heat))
    first = found.effects[0]
    solved = found.spread.heat.size
    lost = f" {len(found.spread.failed)} more gave no heat." if found.spread.failed else ""
    return [
        f"Nine of ten designs bring {low} to {high} W to the water; as stated it is {stated} W. "
        f"What matters most: {first.input.name}.",
        f"{solved} designs, all inputs drawn evenly over their ranges and apart from each other; ranges are judged, "
        f"not measured, and so is the band.{lost} The coarser grid, put right by the finer one, is within "
        f"{found.spread.grid_error:.1f} W where both were solved.",
        f"{_marks(found)}.",
    ]


def _marks(found: Sensitivity) -> str:
    """What the marks of the ranges mean."""
    used = {effect.input.mark for effect in found.effects}
    return "Marks of ranges: " + "; ".join(f"[{mark}] {words}" for mark, words in MARKS.items() if mark in used)


def _form(found: Sensitivity) -> str:
    """Format of a heat: three digits of the stated one, no more than tenths."""
    return "{:.1f}" if abs(found.heat) < 100 else "{:.0f}"


def _range(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    more = BEYOND * ((high - low) or abs(high) or 1.0)
    return low - more, high + more


class _Axis:
    """Values along a box of the page."""

    def __init__(self, sheet: Sheet, box: Box, low: float, high: float) -> None:
        self.sheet, self.box, self.low, self.high = sheet, box, low, high

    def x(self, value: float) -> float:
        return self.box.x + self.box.width * (value - self.low) / (self.high - self.low)

    def head(self, words: str, stated: float, note: str) -> None:
        """What is shown, and the line of the stated case."""
        self.sheet.text(self.box.x, self.box.top + 0.5, words, BODY, weight="bold")
        x = self.x(stated)
        self.sheet.line([x, x], [self.box.y, self.box.top + 0.08], linewidth=THIN)
        self.sheet.text(x, self.box.top + 0.18, note, SMALL, ha="center")

    def bars(
        self,
        number: int,
        ends: Sequence[float | None],
        stated: float,
        form: str,
        slopes: Sequence[float] | None = None,
    ) -> None:
        """Both ends of a range from the stated value, their figures beside them; ticks where slopes point."""
        middle = self.box.top - (number + 0.5) * ROW
        pointed = slopes or (stated, stated)
        sides = ((ends[0], pointed[0], -0.5, LOW, ROOM.hatch), (ends[1], pointed[1], 0.5, HIGH, None))
        for end, slope, shift, colour, hatch in sides:
            y = middle - shift * BAR
            if end is None:
                self.sheet.text(self.x(stated) + 0.06, y, "target not reached", SMALL)
                continue
            if abs(end - stated) < 1e-9 * abs(stated):
                continue
            left, right = sorted((self.x(stated), self.x(end)))
            path = rectangle(left, right, y - 0.46 * BAR, y + 0.46 * BAR)
            add_filled(self.sheet.over, path, colour, hatch, ROOM.ink)
            beyond = 1.0 if end > stated else -1.0
            shown = slopes is not None and self.low < slope < self.high
            tip = max((self.x(end), self.x(slope) if shown else self.x(end)), key=lambda x: beyond * x)
            side = "left" if end > stated else "right"
            self.sheet.text(tip + 0.05 * beyond, y, form.format(end), SMALL, ha=side)
            if shown:
                for ink, width in (("white", 2.2), (INK, 1.0)):
                    self.sheet.line([self.x(slope)] * 2, [y - 0.5 * BAR, y + 0.5 * BAR], color=ink, linewidth=width)

    def scale(self, y: float) -> None:
        """Round values below."""
        self.sheet.line([self.box.x, self.box.right], [y, y], linewidth=HAIR)
        for tick in MaxNLocator(TICKS, steps=[1, 2, 2.5, 5, 10]).tick_values(self.low, self.high):
            if self.low <= tick <= self.high:
                x = self.x(float(tick))
                self.sheet.line([x, x], [y, y - 0.05], linewidth=HAIR)
                self.sheet.text(x, y - 0.14, f"{tick:g}", SMALL, ha="center")


def _band(axis: _Axis, found: Sensitivity) -> None:
    low, high = (axis.x(end) for end in found.spread.band)
    path = rectangle(low, high, axis.box.y - SPREAD, axis.box.top)
    add_filled(axis.sheet.over, path, "#eef0f2", zorder=0)


def _drawn(axis: _Axis, found: Sensitivity) -> None:
    """How many of the drawn designs lie where, and the band of nine in ten."""
    base, heat = axis.box.y - SPREAD, found.spread.heat
    counts, edges = np.histogram(heat, BINS)
    tallest = 0.68 * SPREAD
    for count, left, right in zip(counts, edges[:-1], edges[1:], strict=True):
        path = rectangle(axis.x(left), axis.x(right), base, base + tallest * count / counts.max())
        add_filled(axis.sheet.over, path, PALE, width=HAIR)
    low, high = found.spread.band
    y = base + 0.86 * SPREAD
    axis.sheet.line([axis.x(low), axis.x(high)], [y, y], linewidth=THIN)
    for end in (low, high):
        axis.sheet.line([axis.x(end)] * 2, [y - 0.05, y + 0.05], linewidth=THIN)
    for end, shift, side in ((low, -0.05, "right"), (high, 0.05, "left")):
        axis.sheet.text(axis.x(end) + shift, y, _form(found).format(end), SMALL, ha=side)
    left = axis.box.x - NAMES
    axis.sheet.text(left, base + 0.62 * SPREAD, "all of them at once", BODY)
    words = f"{heat.size} designs; the shaded band holds nine in ten"
    axis.sheet.text(left, base + 0.62 * SPREAD - line_height(BODY), words, SMALL, color=GREY)


def _legend(sheet: Sheet, x: float, y: float) -> None:
    for number, (words, colour, hatch) in enumerate(
        (("at the low end of its range", LOW, ROOM.hatch), ("at the high end", HIGH, None))
    ):
        at = y - number * 0.2
        path = rectangle(x, x + 0.3, at - 0.06, at + 0.06)
        add_filled(sheet.over, path, colour, hatch, ROOM.ink)
        sheet.text(x + 0.4, at, words, SMALL)
    at = y - 0.4
    sheet.line([x + 0.15] * 2, [at - 0.07, at + 0.07], linewidth=1.0)
    sheet.text(x + 0.4, at, "where the slope at the stated value points", SMALL)


def sensitivity_table(found: Sensitivity) -> str:
    """Effects, the strongest first, then the band."""
    low, high, stated = (_form(found).format(heat) for heat in (*found.spread.band, found.heat))
    rows = [("input", "range", "", "heat to the water", *(["time to target"] if found.time is not None else []))]
    for effect in found.effects:
        heat = " to ".join(_form(found).format(end) for end in effect.heat) + " W"
        row = (effect.input.name, effect.input.words, f"[{effect.input.mark}]", heat)
        rows.append((*row, _hours(effect)) if found.time is not None else row)
    lines = [f"Which number matters (as stated {stated} W{_stated_time(found)})", columns(rows)]
    lines.append(
        f"All at once: nine in ten of {found.spread.heat.size} designs lie between {low} and {high} W, "
        f"drawn evenly over these ranges; grid: within {found.spread.grid_error:.1f} W."
    )
    lines.append(textwrap.fill(f"{_marks(found)}.", LINE))
    lines += (
        [f"{len(found.spread.failed)} designs gave no heat: {found.spread.failed[0]}"] if found.spread.failed else []
    )
    return "\n".join(lines)


def _stated_time(found: Sensitivity) -> str:
    return "" if found.time is None else f", {found.time / HOUR:.1f} h"


def _hours(effect: Effect) -> str:
    if effect.time is None:
        return "-"
    low, high = ("never" if end is None else f"{end / HOUR:.1f}" for end in effect.time)
    return f"{low} to {high} h"


def sensitivity_result(found: Sensitivity) -> dict[str, Any]:
    """Content of the result file; ranges in SI, as factors or amounts added where `by` says so."""
    low, high = found.spread.band
    return {
        "title": found.case.title,
        "invented": found.case.invented,
        "heat_to_water_W": found.heat,
        "time_to_target_s": found.time,
        "band_low_W": low,
        "band_high_W": high,
        "designs": found.spread.heat.size,
        "failed": found.spread.failed,
        "grid_error_W": found.spread.grid_error,
        "drawn_heat_to_water_W": found.spread.heat.tolist(),
        "inputs": [
            {
                "name": effect.input.name,
                "key": effect.input.key,
                "by": effect.input.by,
                "stated": effect.input.stated,
                "low": effect.input.low,
                "high": effect.input.high,
                "mark": effect.input.mark,
                "source": effect.input.source,
                "heat_to_water_low_W": effect.heat[0],
                "heat_to_water_high_W": effect.heat[1],
                "by_slope_low_W": None if effect.by_slope is None else effect.by_slope[0],
                "by_slope_high_W": None if effect.by_slope is None else effect.by_slope[1],
                "solved": effect.solved,
                "time_to_target_low_s": None if effect.time is None else effect.time[0],
                "time_to_target_high_s": None if effect.time is None else effect.time[1],
            }
            for effect in found.effects
        ],
    }
