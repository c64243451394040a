"""The page that the pictures of one heater share: the whole section, the heat of each turn, an enlarged part.

Goes in: a heater, head and foot. Comes out: a sheet with one or two views, their
scale bars, the streams' temperatures and the names of parts; a picture then
paints into the views.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from annulus.heater.steady import SteadyHeater
from annulus.present.bars import WIDTH, draw_bars
from annulus.present.labels import staircase
from annulus.present.layers import parts_in, pointers_below
from annulus.present.sheet import Box, Sheet, line_height
from annulus.present.style import BAR, BODY, GREY, SMALL
from annulus.present.views import View, fit, is_one_picture, mark_part, part_of, place, scale_bar, whole_of
from annulus.present.words import celsius, name_turns
from annulus.section import Section

PAGE = (12.8, 8.3)  # what is empty at the right is cut off [in]
OVERHANG = 1.3  # for names that go on beyond the enlarged part [in]
GAS_OF_WHOLE, GAS_OF_PART = 0.3, 0.5  # widths of the gas zone [in]
WIDEST_WHOLE = 2.6  # [in]
ABOVE_VIEW = 0.66  # heading, scale bar and streams above a view [in]
LEFT_OF_WHOLE = 0.62  # for the gas temperatures [in]
BELOW_WHOLE = 0.28  # streams below the whole [in]
BETWEEN = 0.45  # between columns [in]


@dataclass(frozen=True)
class Page:
    """A sheet with its views.

    Attributes
    ----------
    whole, part : View, View or None
        `part` is None when the whole is large enough.
    column : Box
        Free at the upper right, for a legend or a colour bar. [in]
    """

    sheet: Sheet
    whole: View
    part: View | None
    column: Box

    @property
    def views(self) -> list[View]:
        return [self.whole] if self.part is None else [self.whole, self.part]

    @property
    def main(self) -> View:
        """The view in which details are read."""
        return self.part or self.whole


def heat_of_turns(heater: SteadyHeater) -> list[float]:
    """Heat into the water of each turn, bottom first. [W]"""
    model = heater.model
    flow = -heater.field.surface_flow[model.water_surfaces]
    return np.bincount(model.water_turn, flow, len(model.section.turns)).tolist()


def lay_page(
    heater: SteadyHeater,
    sheet: Sheet,
    around: int | str,
    column: tuple[float, float],
    bar_colour: Callable[[int], str] = lambda turn: BAR,
) -> Page:
    """Place the views of a heater on a sheet that has its head and foot.

    Parameters
    ----------
    around : int or str
        Turn or place of the enlarged part, see `part_of`.
    column : tuple of float
        Width and height to keep free at the upper right. [in]
    """
    section, body = heater.model.section, sheet.body
    free = Box(body.right - column[0], body.top - column[1], *column)
    all_of_it = whole_of(section)
    bars = WIDTH + 0.1 if section.turns else 0.0
    names = len(parts_in(section, heater.case, all_of_it)) * line_height(SMALL) + 0.1
    single = is_one_picture(section)
    tall = body.height - ABOVE_VIEW - (names + BELOW_WHOLE if single else BELOW_WHOLE)
    left = body.x + LEFT_OF_WHOLE
    wide = free.x - left - BETWEEN - bars if single else WIDEST_WHOLE
    gas = GAS_OF_PART if single else GAS_OF_WHOLE
    scale = fit(section, all_of_it, wide, tall, gas)
    whole = place(sheet, section, all_of_it, Box(left, body.y, wide, body.height - ABOVE_VIEW), gas, scale)
    part = None
    if not single:
        left = max(whole.box.right, left + 0.6) + bars + BETWEEN
        wide, tall = free.x - left - OVERHANG, body.height - ABOVE_VIEW - names
        window = part_of(section, around, wide, tall, GAS_OF_PART)
        scale = fit(section, window, wide, tall, GAS_OF_PART)
        box = Box(left, body.y, wide, body.height - ABOVE_VIEW)
        part = place(sheet, section, window, box, GAS_OF_PART, scale)
        mark_part(sheet, whole, part)
    page = Page(sheet, whole, part, free)
    _head_views(page, section)
    _show_streams(page, heater, bars)
    draw_bars(sheet, whole, section, heat_of_turns(heater), "heat to each turn / W", bar_colour)
    top = page.main.box.y - 0.05 - (BELOW_WHOLE - 0.05 if single else 0.0)
    beside = top > free.y  # the names stand beside the free column, not below it
    end = staircase(sheet, pointers_below(page.main, section, heater.case), top, free.x if beside else body.right)
    taken = max(page.main.box.right + (bars if single else 0.0), end if beside else 0.0)
    return replace(page, column=Box(min(free.x, taken + 0.3), free.y, free.width, free.height))


def _head_views(page: Page, section: Section) -> None:
    """What each view is, and its scale bar."""
    top = page.sheet.body.top
    for view in page.views:
        words = "whole coil section" if section.turns else "whole section"
        if view is page.part:
            words = "enlarged: " + (_turns_of(view, section) or "part of it")
        page.sheet.text(view.box.x, top - 0.08, words, BODY, weight="bold")
        scale_bar(page.sheet, view, view.box.x, top - 0.27, min(1.5, max(view.box.width, 0.6)))


def _turns_of(view: View, section: Section) -> str:
    seen = [turn.index for turn in section.turns if view.shows(turn.z)]
    return name_turns(seen[0], seen[-1]) if seen else ""


def _show_streams(page: Page, heater: SteadyHeater, bars: float) -> None:
    """An arrow for the gas, and temperatures of gas and water where they enter and leave."""
    sheet, whole = page.sheet, page.whole
    for view in page.views:
        gas_arrow(sheet, view)
    above, below = whole.box.top + 0.12, whole.box.y - 0.15
    edge = whole.box.x - 0.08
    step = line_height(SMALL)
    middle = 0.5 * (whole.box.top + whole.box.y)
    high, low = max(whole.box.top - 0.5 * step, middle + 1.6 * step), min(whole.box.y + 1.5 * step, middle - 0.6 * step)
    for y, word, n in ((high, "out", -1), (low, "in", 0)):
        sheet.text(edge, y, f"gas {word}", SMALL, ha="right")
        sheet.text(edge, y - step, celsius(float(heater.gas[n])), SMALL, ha="right")
    if heater.case.water is None or not heater.model.section.turns:
        return
    inlet, outlet = (f"water {word} {celsius(float(heater.water[n]))}" for word, n in (("in", 0), ("out", -1)))
    lower, upper = (inlet, outlet) if heater.case.water.direction == "up" else (outlet, inlet)
    right = whole.box.right + bars
    sheet.text(right, below, lower, SMALL, ha="right")
    sheet.text(right, above + step, upper, SMALL, ha="right")


def gas_arrow(sheet: Sheet, view: View) -> None:
    """The gas rises: an arrow in the gas zone, if the view is high enough."""
    x, low, high = view.box.x + 0.62 * view.gas, view.box.y + 0.08, view.box.top - 0.08
    size = min(0.07, 0.15 * view.gas)
    if high - low < 4 * size:
        return
    sheet.line([x, x], [low, high - size], color=GREY, linewidth=1.0)
    sheet.over.fill([x - size, x + size, x], [high - 2 * size, high - 2 * size, high], facecolor=GREY, linewidth=0)
