"""Picture that compares cases: their heat stripes at one scale, their heat flows as bars, their temperatures.

Goes in: names, outcomes, heaters and stripes. Comes out: a figure, one column
per case, in rows of up to four.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.figure import Figure

from annulus.conduction.stripes import Stripes
from annulus.errors import InputError
from annulus.heater.precision import error_key
from annulus.heater.steady import SteadyHeater
from annulus.present.bands import draw_dash, paint_bands
from annulus.present.layers import parts_in
from annulus.present.paint import number_turns
from annulus.present.sheet import MARGIN, NARROWEST, Box, Sheet, add_filled, line_height, rectangle
from annulus.present.style import BODY, ENDS, FACING_AIR, GREY, HAIR, LEFT_IN_GAS, ROOM, SMALL, TURNS, Stripe, applied
from annulus.present.tables import number
from annulus.present.views import Window, place, scale_bar, whole_of
from annulus.present.words import degrees, figure_of_watts, watts
from annulus.section import Section

Compared = tuple[str, Mapping[str, Any], SteadyHeater, Stripes]

PER_ROW = 4
COLUMN, BETWEEN = 2.55, 0.25  # width of a case's column, and between columns [in]
VIEW_HEIGHT = 2.8  # [in]
GAS = 0.3  # width of the gas zone [in]
TITLE_LINES = 3
BAR_ROW = 0.34  # of a heat flow's words and bar [in]
LEAST_TURNS = 2  # that a view shows

FLOWS = (
    ("to the water", "heat_to_water_W", TURNS[0]),
    ("to the room", "heat_to_room_W", ROOM),
    ("left in the gas", "heat_left_in_gas_W", LEFT_IN_GAS),
)
TEMPERATURES = (
    ("flue wall, coldest", "wall_min_C"),
    ("flue wall, hottest", "wall_max_C"),
    ("filler, hottest", "filler_max_C"),
    ("outside, hottest", "outside_max_C"),
    ("water out", "water_out_C"),
    ("gas above the coil", "gas_above_coil_C"),
)


@dataclass(frozen=True)
class _Plan:
    """What all columns share: scale [in/m], heights of parts [in], watts of a stripe and of the bars' ends [W]."""

    scale: float
    names: float
    title: float
    full: float
    least: float
    most: float
    figures: float

    @property
    def height(self) -> float:
        """Of one row of columns. [in]"""
        bars = BAR_ROW * len(FLOWS) + 0.25
        table = line_height(SMALL) * len(TEMPERATURES) + 0.2
        return self.title + 0.3 + VIEW_HEIGHT + self.names + bars + table


def draw_compare(cases: Sequence[Compared], title: str = "Cases side by side") -> Figure:
    """Draw several cases side by side.

    Parameters
    ----------
    cases : sequence of (name, outcome, heater, stripes)
        `outcome` as `annulus.heater.outcome.summarise` gives it; all stripes traced with the same watts.
    title : str

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If there is no case.
    """
    if not cases:
        raise InputError("compare: no case is given; name at least one")
    with applied():
        columns = min(PER_ROW, len(cases))
        rows = math.ceil(len(cases) / PER_ROW)
        width = 2 * MARGIN + columns * COLUMN + (columns - 1) * BETWEEN
        sheet = Sheet(max(width, NARROWEST), 4.0)  # to measure on
        plan = _plan(sheet, cases)
        crosses_air = any(stripes.sight is not None and stripes.sight.lines for _, _, _, stripes in cases)
        barred = any(error_key(key) in outcome for _, outcome, _, _ in cases for _, key, _ in FLOWS)
        _head(sheet, title, plan.full, crosses_air, barred)
        head = sheet.height - MARGIN - sheet.body.top
        sheet = Sheet(sheet.width, 2 * MARGIN + head + rows * plan.height + (rows - 1) * BETWEEN)
        _head(sheet, title, plan.full, crosses_air, barred)
        for n, case in enumerate(cases):
            row, column = divmod(n, PER_ROW)
            x = sheet.body.x + column * (COLUMN + BETWEEN)
            top = sheet.body.top - row * (plan.height + BETWEEN)
            _draw_case(sheet, Box(x, top - plan.height, COLUMN, plan.height), case, plan)
        return sheet.figure


def _plan(sheet: Sheet, cases: Sequence[Compared]) -> _Plan:
    sections = [heater.model.section for _, _, heater, _ in cases]
    scale = min((COLUMN - GAS) / (section.r_max - section.r_min) for section in sections)
    for section in sections:
        if section.turns:
            shown = min(LEAST_TURNS, len(section.turns)) * section.height / len(section.turns)
            scale = min(scale, VIEW_HEIGHT / shown)
    parts = [len(_parts(sheet, heater)) for _, _, heater, _ in cases]
    lines = max(len(_title_lines(sheet, name)) for name, _, _, _ in cases)
    flows = [float(outcome[key]) for _, outcome, _, _ in cases for _, key, _ in FLOWS]
    return _Plan(
        scale=scale,
        names=max(parts) * line_height(SMALL) + 0.15,
        title=lines * line_height(BODY) + 0.05,
        full=cases[0][3].watts,
        least=min(0.0, *flows),
        most=max(0.0, *flows),
        figures=max(
            sheet.measure(_figure(outcome, key), SMALL)[0] for _, outcome, _, _ in cases for _, key, _ in FLOWS
        ),
    )


def _title_lines(sheet: Sheet, name: str) -> list[str]:
    return sheet.shorten(sheet.wrap(name, COLUMN, BODY, "bold"), TITLE_LINES, COLUMN, BODY, "bold")


def _head(sheet: Sheet, title: str, full: float, crosses_air: bool, barred: bool) -> None:
    """Title; below it one row that says where stripes end and how to count them."""
    sheet.head(title, f"heat stripes of {watts(full)}, all sections at one scale, and where the heat goes")
    body = sheet.body
    x, y = body.x, body.top - 0.08
    rows: tuple[tuple[str, Stripe], ...] = (
        ("water", TURNS[0]),
        ("room, through the outside", ROOM),
        ("room, through the ends", ENDS),
    )
    for words, colours in rows:
        for face in (colours.dark, colours.light, colours.pale):
            sheet.swatch(Box(x, y - 0.06, 0.15, 0.12), colours, face)
            x += 0.15
        sheet.text(x + 0.07, y, words, SMALL)
        x += sheet.measure(words, SMALL)[0] + 0.3
    if crosses_air:
        sheet.swatch(Box(x, y - 0.06, 0.3, 0.12), FACING_AIR, FACING_AIR.light)
        sheet.text(x + 0.37, y, "surface facing air", SMALL)
        x += 0.37 + sheet.measure("surface facing air", SMALL)[0] + 0.3
        if x + 0.52 + sheet.measure("radiation across air", SMALL)[0] > body.right:
            x, y = body.x, y - 0.2
        draw_dash(sheet, x, y, 0.45)
        sheet.text(x + 0.52, y, "radiation across air", SMALL)
        x += 0.45 + sheet.measure("radiation across air", SMALL)[0] + 0.3
    how = (
        f"each full stripe carries {watts(full)}, to turns in blue and violet by turns; pale ones carry the rest, less "
        f"than a full one{'; after ±: the error of the grid, not of the laws' if barred else ''}"
    )
    if x + sheet.measure(how, SMALL)[0] > body.right:
        x, y = body.x, y - 0.2
    for line in sheet.wrap(how, body.right - x, SMALL):
        sheet.text(x, y, line, SMALL)
        y -= line_height(SMALL)
    sheet.body = Box(body.x, body.y, body.width, y - 0.1 - body.y)


def _draw_case(sheet: Sheet, box: Box, case: Compared, plan: _Plan) -> None:
    name, outcome, heater, stripes = case
    section = heater.model.section
    for n, words in enumerate(_title_lines(sheet, name)):
        sheet.text(box.x, box.top - (n + 0.5) * line_height(BODY), words, BODY, weight="bold")
    top = box.top - plan.title - 0.3
    view = place(
        sheet,
        section,
        part_at_scale(section, plan.scale),
        Box(box.x, top - VIEW_HEIGHT, COLUMN, VIEW_HEIGHT),
        GAS,
        plan.scale,
    )
    scale_bar(sheet, view, box.x, top + 0.16, 0.9)
    paint_bands(view, section, stripes, plan.full)
    number_turns(sheet, view, section)
    y = top - VIEW_HEIGHT - 0.1
    for n, words in enumerate(_parts(sheet, heater)):
        sheet.text(box.x, y - (n + 0.5) * line_height(SMALL), words, SMALL, color=GREY)
    y -= plan.names - 0.1
    y = _bars(sheet, box, y, outcome, plan)
    _temperatures(sheet, box, y, outcome)


def _parts(sheet: Sheet, heater: SteadyHeater) -> list[str]:
    """Lines that name the parts and their materials from the flue outwards."""
    section = heater.model.section
    parts = parts_in(section, heater.case, whole_of(section))
    words = "; ".join(f"{name} {about}" for name, about, region in parts if region.role != "bore")
    return sheet.wrap(words, COLUMN, SMALL)


def part_at_scale(section: Section, scale: float) -> Window:
    """What a view of a column shows: whole turns from the middle of the coil."""
    if not section.turns:
        depth = min(section.height, VIEW_HEIGHT / scale)
        low = section.z_min + 0.5 * (section.height - depth)
        return Window(section.r_max, low, low + depth)
    count = len(section.turns)
    pitch = section.height / count
    shown = min(count, max(1, int(VIEW_HEIGHT / (scale * pitch) + 1e-9)))
    first = (count - shown) // 2
    return Window(section.r_max, section.z_min + first * pitch, section.z_min + (first + shown) * pitch)


def _bars(sheet: Sheet, box: Box, y: float, outcome: Mapping[str, Any], plan: _Plan) -> float:
    """Heat flows as bars at one scale in all columns; returns where they end."""
    sheet.text(box.x, y - 0.08, "heat / W", SMALL, weight="bold")
    y -= 0.2
    left, right = box.x, box.right - plan.figures - 0.06
    zero = left + (right - left) * -plan.least / ((plan.most - plan.least) or 1.0)
    for words, key, colours in FLOWS:
        value = float(outcome[key])
        tip = zero + (right - left) * value / ((plan.most - plan.least) or 1.0)
        sheet.text(left, y - 0.06, words, SMALL, color=GREY)
        path = rectangle(min(zero, tip), max(zero, tip), y - 0.28, y - 0.13)
        add_filled(sheet.over, path, colours.light, colours.hatch, colours.ink)
        sheet.line([zero, zero], [y - 0.3, y - 0.11], linewidth=HAIR)
        sheet.text(max(zero, tip) + 0.06, y - 0.205, _figure(outcome, key), SMALL)
        y -= BAR_ROW
    return y - 0.05


def _temperatures(sheet: Sheet, box: Box, y: float, outcome: Mapping[str, Any]) -> None:
    sheet.text(box.x, y - 0.08, "temperature / °C", SMALL, weight="bold")
    y -= 0.08
    for words, key in TEMPERATURES:
        y -= line_height(SMALL)
        sheet.text(box.x, y, words, SMALL, color=GREY)
        sheet.text(box.right, y, "–" if outcome.get(key) is None else _figure(outcome, key), SMALL, ha="right")


def _figure(outcome: Mapping[str, Any], key: str) -> str:
    """A result without its unit, with its error where that is known."""
    value, error = float(outcome[key]), outcome.get(error_key(key))
    if error is not None:
        return number(value, "", 0, error).rstrip()
    return figure_of_watts(value) if key.endswith("_W") else degrees(value).removesuffix(" °C")
