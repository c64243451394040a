"""Drawing of the section: the cut to scale with its materials and measures, before anything is computed.

Goes in: a `Section` and its `Case`. Comes out: a figure.
"""

from __future__ import annotations

from matplotlib.figure import Figure

from annulus.case import Case
from annulus.present.labels import edge_labels, point_from_right, thin
from annulus.present.layers import pointers_beside
from annulus.present.measures import diameters, heights, thicknesses
from annulus.present.pages import PAGE
from annulus.present.paint import number_turns, paint_materials
from annulus.present.sheet import Box, Sheet, line_height
from annulus.present.style import BODY, GREY, HAIR, SMALL, THIN, applied
from annulus.present.views import View, fit, is_one_picture, mark_part, part_of, place, scale_bar, whole_of
from annulus.present.words import mark_invented, millimetres, name_turns
from annulus.section import Section
from annulus.shapes import Disc

GAS_OF_WHOLE, GAS_OF_PART = 0.3, 0.6  # widths of the gas zone [in]
WIDEST_WHOLE = 2.6  # [in]
NAMES = 2.7  # column of names at the right [in]
HEADS = 0.45  # heading and scale bar above a view [in]
UPPER, LOWER = 1.05, 0.95  # measures above and below the view in which they are read [in]
SLIVER = 1e-6  # how near to the edge of a view a surface counts as shown [m]
REACH = 0.24  # from a view to the words of its measures [in]
LEFT = 0.5  # for heights at the left of a view [in]


def draw_section(section: Section, case: Case, detail: int | str | None = None) -> Figure:
    """Draw a section to scale, filled by materials, with its measures.

    Parameters
    ----------
    section : Section
    case : Case
        From which the section was laid out.
    detail : int or {"bottom", "middle", "top"}, optional
        Which turns are shown enlarged; where the first void lies, else the bottom. A section of few
        turns is shown in one picture.

    Returns
    -------
    Figure
    """
    with applied():
        sheet = Sheet(*PAGE)
        about = mark_invented("section through the flue's axis, to scale", case.invented)
        sheet.head(case.title, about)
        sheet.foot(_sentences(section))
        body = sheet.body
        single = is_one_picture(section)
        left, top = body.x + LEFT, body.top - HEADS
        main_left = left
        whole = None
        if not single:
            scale = fit(section, whole_of(section), WIDEST_WHOLE, body.height - HEADS, GAS_OF_WHOLE)
            whole = place(
                sheet, section, whole_of(section), Box(left, body.y, WIDEST_WHOLE, top - body.y), GAS_OF_WHOLE, scale
            )
            main_left = max(whole.box.right, left + 0.9) + 0.45 + LEFT + 0.3
        wide, tall = body.right - NAMES - 0.35 - main_left, top - UPPER - LOWER - body.y
        around = detail if detail is not None else _interesting(section)
        window = whole_of(section) if single else part_of(section, around, wide, tall, GAS_OF_PART)
        scale = fit(section, window, wide, tall, GAS_OF_PART)
        main = place(sheet, section, window, Box(main_left, body.y, wide, top - UPPER - body.y), GAS_OF_PART, scale)
        paint_materials(main, section)
        number_turns(sheet, main, section)
        _measure(sheet, main, section, case)
        words = "whole section" if single else "enlarged: " + _seen(main, section)
        _head(sheet, main, words, body.top)
        pointers = pointers_beside(main, section, case)
        column = main.box.right + 0.35
        low, high = _room_for(main, len(pointers), body)
        point_from_right(sheet, pointers, column, low, high, main.box.right + 0.12, NAMES - 0.3)
        if whole is not None:
            paint_materials(whole, section, hatched=False)
            mark_part(sheet, whole, main)
            _number_beside(sheet, whole, section)
            _head(sheet, whole, "whole section", body.top)
            _height(sheet, whole.box.x - 0.2, whole.box.y, whole.box.top, millimetres(section.height))
        sheet.trim()
        return sheet.figure


def _sentences(section: Section) -> list[str]:
    count = len(section.turns)
    turns = f"{count} turn" if count == 1 else f"{count} turns"
    first = f"{turns} on {millimetres(section.height)} mm of flue." if count else "No coil."
    rest = (
        "Measures in mm. Two strokes mark where the way from the axis to the bore is shortened; all else is to scale."
    )
    return [first, rest]


def _interesting(section: Section) -> int | str:
    """Turn at the first void, else the bottom."""
    for region in section.regions:
        if region.role == "void" and section.turns:
            shape = region.shape
            middle = shape.z if isinstance(shape, Disc) else 0.5 * (shape.z_min + shape.z_max)
            return min(range(len(section.turns)), key=lambda n: abs(section.turns[n].z - middle))
    return "bottom"


def _seen(view: View, section: Section) -> str:
    seen = [turn.index for turn in section.turns if view.shows(turn.z)]
    return name_turns(seen[0], seen[-1]) if seen else "part of it"


def _head(sheet: Sheet, view: View, words: str, top: float) -> None:
    sheet.text(view.box.x, top - 0.08, words, BODY, weight="bold")
    scale_bar(sheet, view, view.box.x, top - 0.27, min(1.5, max(view.box.width, 0.6)))


def _measure(sheet: Sheet, view: View, section: Section, case: Case) -> None:
    """Thicknesses above the view, diameters below it, heights at its left."""
    low, high = view.box.x - LEFT, view.box.right + 1.2
    above = [(view.x(min(r, view.r_max)), words) for r, words in thicknesses(section, case, view)]
    below = [(view.x(r), words) for r, words in diameters(section) if r <= view.r_max + SLIVER]
    edge_labels(sheet, above, view.box.top + 0.02, REACH, low, high)
    edge_labels(sheet, below, view.box.y - 0.02, -REACH, low, high)
    for z_min, z_max, words in heights(section, view):
        _height(sheet, view.box.x - 0.2, view.y(z_min), view.y(z_max), words)
        for z in (z_min, z_max):
            sheet.line([view.box.x - 0.26, view.box.x - 0.06], [view.y(z)] * 2, color=GREY, linewidth=HAIR)


def _height(sheet: Sheet, x: float, low: float, high: float, words: str) -> None:
    """An upright measure: a line with an arrow at each end and its words beside it."""
    tip = min(0.07, 0.3 * (high - low))
    sheet.line([x, x], [low + tip, high - tip], linewidth=THIN, color=GREY)
    for end, inner in ((low, low + tip), (high, high - tip)):
        sheet.over.fill([x - 0.35 * tip, x + 0.35 * tip, x], [inner, inner, end], facecolor=GREY, linewidth=0)
    sheet.text(x - 0.04, 0.5 * (low + high), words, SMALL, rotation=90, ha="right", va="center")


def _number_beside(sheet: Sheet, view: View, section: Section) -> None:
    """Numbers of turns at the right of a view, as many as can be read."""
    if not section.turns:
        return
    pitch = section.height / len(section.turns) * view.scale
    width = sheet.measure(f"{len(section.turns)}", SMALL)[0]
    for n in thin(len(section.turns), pitch, line_height(SMALL)):
        y = view.y(section.turns[n].z)
        sheet.text(view.box.right + 0.12 + width, y, f"{n + 1}", SMALL, ha="right", color=GREY)


def _room_for(view: View, count: int, body: Box) -> tuple[float, float]:
    """Heights between which the names stand: the view's own, more if they need it."""
    needed = count * (2 * line_height(BODY) + 0.06) + 3 * line_height(BODY)
    missing = max(0.0, needed - view.box.height)
    high = min(body.top, view.box.top + 0.5 * missing)
    return max(body.y, min(view.box.y, high - needed)), high
