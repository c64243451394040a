"""Picture and words of the gap map: what a small void costs everywhere, and a film of air in the worst places.

Goes in: a `GapMap` and the errors of its costs. Comes out: a figure, a table and
the dictionary of a result file.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from matplotlib.colors import BoundaryNorm, ListedColormap, to_hex
from matplotlib.figure import Figure
from numpy.typing import NDArray

from annulus.present.labels import spread
from annulus.present.pages import PAGE, lay_page
from annulus.present.paint import number_turns, paint_outlines
from annulus.present.raster import rasterise
from annulus.present.sheet import Box, Sheet, line_height
from annulus.present.style import BODY, GREY, HAIR, INK, SMALL, THIN, Fill, applied, temperature_colours
from annulus.present.tables import number
from annulus.present.views import View
from annulus.present.words import mark_invented, millimetres
from annulus.section import Section
from annulus.studies.gap_map import FilmCost, GapMap, Place

Floats = NDArray[np.float64]

COLUMN = (3.5, 6.6)  # for colours and words [in]
DOTS = 220  # of the image per inch
CLASSES = 7  # of cost, each three times the one before
HELPS, NOTHING = "#bcd7ea", "#ffffff"
MARK = 0.15  # size of a place's number [in]
BEYOND = 0.3  # from a shroud to the number of a place on it [in]
TOWARDS_FLUE = (2, 3, 4, 5, 6)  # sides of a tube that are numbered from the gas zone
ALIKE = 0.95  # of the worst turn's cost: no other turn needs to be named
SQUARE_MM = 1e-6  # [m2]
UNITS = (("W", 1.0), ("mW", 1e3), ("µW", 1e6))  # of the classes, with how many of them a watt has


def draw_gap_map(found: GapMap, errors: Sequence[float]) -> Figure:
    """Draw what a small void costs over the section, the worst places of a film marked and listed.

    Parameters
    ----------
    found : GapMap
    errors : sequence of float
        Of the costs in `found.worst`. [W]

    Returns
    -------
    Figure
    """
    heater = found.heater
    with applied():
        sheet = Sheet(*PAGE)
        about = "what gaps cost: heat to the water lost to a small void of still air, all the way round the flue"
        sheet.head(heater.case.title, mark_invented(about, heater.case.invented))
        sheet.foot(_sentences(found, errors))
        turn = found.worst[0].place.turn if found.worst else _worst_turn(found)
        page = lay_page(heater, sheet, turn, COLUMN)
        bounds = bounds_of(found.void_cost * SQUARE_MM)
        colours = class_colours()
        for view in page.views:
            _paint(view, found, bounds, colours)
        number_turns(sheet, page.main, heater.model.section)
        below = _legend(sheet, page.column, bounds, colours)
        _mark(sheet, page.main, heater.model.section, [cost.place for cost in found.worst])
        _list(sheet, page.column, below, found, errors)
        sheet.trim()
        return sheet.figure


def _sentences(found: GapMap, errors: Sequence[float]) -> list[str]:
    heat = f"{found.sensitivity.heat:.0f} W reach the water."
    if not found.worst:
        return [heat, "The cavity is filled with still air: there is no packing that could have gaps."]
    first = found.worst[0]
    return [
        f"{heat} The worst place: {in_words(first, errors[0], found)}.",
        "Small void: round and far smaller than its distance from a surface; several small ones add up. A film costs "
        "less than its slope says, so the listed ones were solved with the film there. Radiation across voids is "
        "left out.",
    ]


def in_words(cost: FilmCost, error: float, found: GapMap) -> str:
    """One place's cost as a sentence without its full stop; the error of the grid sets the digits. [W]"""
    film = f"{millimetres(found.film)} mm air film over {millimetres(found.run)} mm"
    return f"{cost.place.words}: a {film} costs {number(cost.cost, 'W', 1, error)}"


def gap_table(found: GapMap, errors: Sequence[float]) -> str:
    """The worst places in words, one a line, numbered as in the picture."""
    lines = [f"Where a gap costs most ({found.sensitivity.heat:.0f} W reach the water)"]
    if not found.worst:
        lines.append("The cavity is filled with still air: there is no packing that could have gaps.")
    for rank, (cost, error) in enumerate(zip(found.worst, errors, strict=True), start=1):
        lines.append(f"{rank:3d}. {in_words(cost, error, found)}{_elsewhere(cost)}")
    return "\n".join(lines)


def _elsewhere(cost: FilmCost) -> str:
    if cost.least_share > ALIKE:
        return ""
    if cost.least_share <= 0:
        return f"; nothing at turn {cost.least_turn + 1}"
    return f"; {100 * cost.least_share:.0f} % of that at turn {cost.least_turn + 1}"


def gap_result(found: GapMap, errors: Sequence[float]) -> dict[str, Any]:
    """Content of the result file: the worst places, and what every place costs by its slope alone."""
    return {
        "title": found.heater.case.title,
        "invented": found.heater.case.invented,
        "heat_to_water_W": found.sensitivity.heat,
        "film_m": found.film,
        "run_m": found.run,
        "worst": [
            {
                "words": cost.place.words,
                "turn": cost.place.turn + 1,
                "r_m": cost.place.r,
                "z_m": cost.place.z,
                "cost_W": cost.cost,
                "cost_error_W": error,
                "cost_by_slope_W": cost.by_slope,
                "least_turn": cost.least_turn + 1,
                "least_share": cost.least_share,
            }
            for cost, error in zip(found.worst, errors, strict=True)
        ],
        "places": [
            {"words": place.words, "turn": place.turn + 1, "r_m": place.r, "z_m": place.z, "cost_by_slope_W": cost}
            for place, cost in found.slopes
        ],
    }


def _worst_turn(found: GapMap) -> int:
    pieces, turns = found.heater.model.pieces, found.heater.model.section.turns
    z = pieces.z[int(np.nanargmax(found.void_cost))]
    return min(range(len(turns)), key=lambda n: abs(turns[n].z - z))


def bounds_of(cost: Floats) -> list[float]:
    """Limits of the classes, 1 and 3 by turns in every decade, the last class open. [W/mm2]"""
    top = math.log10(max(float(np.nanmax(cost)), 1e-12))
    last = math.floor(2 * top)
    return [float(f"{1 if n % 2 == 0 else 3}e{n // 2}") for n in range(last - CLASSES + 1, last + 1)]


def class_colours() -> list[str]:
    """Of the classes: it helps, it does not matter, then rising cost."""
    whole = temperature_colours()
    return [HELPS, NOTHING, *(to_hex(whole(1.0 - n / (CLASSES - 1))) for n in range(CLASSES))]


def _paint(view: View, found: GapMap, bounds: list[float], colours: list[str]) -> None:
    """Classes of cost; the field is smooth in a measure that keeps small values and both signs apart."""
    made = []
    for low, high in ((view.r_min, view.r_max), (view.z_min, view.z_max)):
        n = max(2, round((high - low) * view.scale * DOTS))
        made.append(low + (np.arange(n) + 0.5) * (high - low) / n)
    clear = np.isnan(found.void_cost)
    measured = np.arcsinh(np.where(clear, 0.0, found.void_cost * SQUARE_MM) / bounds[0])
    image = rasterise(replace(found.heater.field, temperature=measured), *made)
    edges = np.arcsinh(np.array([-np.inf, -bounds[0], *bounds, np.inf]) / bounds[0])
    norm = BoundaryNorm(np.nan_to_num(edges, posinf=1e3, neginf=-1e3), len(colours))
    extent = (view.r_min, view.r_max, view.z_min, view.z_max)
    limits = view.axes.get_xlim(), view.axes.get_ylim()
    view.axes.imshow(
        image,
        cmap=ListedColormap(colours),
        norm=norm,
        extent=extent,
        origin="lower",
        aspect="equal",
        interpolation="nearest",
        zorder=1,
    )
    paint_outlines(view, found.heater.model.section, THIN if view.scale > 30 else HAIR)
    view.axes.set_xlim(*limits[0])
    view.axes.set_ylim(*limits[1])


def _legend(sheet: Sheet, column: Box, bounds: list[float], colours: list[str]) -> float:
    """Classes of cost, the dearest first; returns the height below them."""
    y = column.top - 0.08
    sheet.text(column.x, y, "small void: cost per mm² of its cut", BODY, weight="bold")
    step = line_height(SMALL) + 0.03
    unit, scale = next(((name, per) for name, per in UNITS if bounds[-1] * per >= 1), UNITS[-1])
    limits = [np.format_float_positional(float(f"{bound * scale:.0e}"), trim="-") for bound in bounds]
    rows = [(f"more than {limits[-1]} {unit}", colours[CLASSES + 1])]
    for n in range(CLASSES - 2, -1, -1):
        rows.append((f"{limits[n]} to {limits[n + 1]} {unit}", colours[n + 2]))
    rows += [(f"less than {limits[0]} {unit}", NOTHING), ("a void there helps", HELPS)]
    y -= 0.08
    for words, colour in rows:
        y -= step
        sheet.swatch(Box(column.x, y - 0.05, 0.22, 0.11), Fill(GREY), colour)
        sheet.text(column.x + 0.3, y, words, SMALL)
    return y - 0.3


def _list(sheet: Sheet, column: Box, top: float, found: GapMap, errors: Sequence[float]) -> None:
    """The worst places in words."""
    if not found.worst:
        return
    width = column.width - 0.3
    film = f"a {millimetres(found.film)} mm air film over {millimetres(found.run)} mm costs, worst first"
    y = top
    for words in sheet.wrap(film, column.width, BODY, "bold"):
        sheet.text(column.x, y, words, BODY, weight="bold")
        y -= line_height(BODY)
    y -= 0.08
    for rank, (cost, error) in enumerate(zip(found.worst, errors, strict=True), start=1):
        words = f"{cost.place.words}: {number(cost.cost, 'W', 1, error)}{_elsewhere(cost)}"
        _number(sheet, column.x + 0.5 * MARK, y, rank)
        for line in sheet.wrap(words, width, SMALL):
            sheet.text(column.x + 0.3, y, line, SMALL)
            y -= line_height(SMALL)
        y -= 0.06


def _mark(sheet: Sheet, view: View, section: Section, places: Sequence[Place]) -> None:
    """Numbers of the places that a view shows: in the gas zone for what faces the flue, else beyond the shroud."""
    left: list[tuple[int, Place]] = []
    right: list[tuple[int, Place]] = []
    for rank, place in enumerate(places, start=1):
        if view.z_min < place.z < view.z_max and place.r < view.r_max:
            from_flue = place.kind[0] == "flue" or (place.kind[0] == "tube" and place.kind[1] in TOWARDS_FLUE)
            (left if from_flue else right).append((rank, place))
    columns = ((left, view.x(view.r_min) - 0.6 * MARK), (right, view.x(section.cavity_radius) + BEYOND))
    for marked, x in columns:
        wanted = [view.y(place.z) for _, place in marked]
        low, high = view.box.y, max(view.box.top, view.box.y + 1.1 * MARK * len(marked))
        for (rank, place), y in zip(marked, spread(wanted, [1.1 * MARK] * len(marked), low, high), strict=True):
            for colour, width in (("white", 1.8), (INK, THIN)):
                sheet.line([x, view.x(place.r)], [float(y), view.y(place.z)], color=colour, linewidth=width)
            sheet.line([view.x(place.r)], [view.y(place.z)], marker="o", markersize=2.2, markeredgewidth=0.0)
            _number(sheet, x, float(y), rank)


def _number(sheet: Sheet, x: float, y: float, rank: int) -> None:
    sheet.line([x], [y], marker="o", markersize=MARK * 72, color="white", markeredgecolor=INK, markeredgewidth=HAIR)
    sheet.text(x, y, f"{rank}", SMALL, ha="center")
