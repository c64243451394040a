"""Picture of the heat stripes at several instants of a burn, side by side at the same watts per stripe.

Goes in: a section and, for each instant, its time and its `Stripes`. Comes out:
a figure with one column for each: bands for the heat that passes, marks for
what parts keep and give up, and where the heat goes in watts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from annulus.conduction.kept import GIVEN, KEPT, Mark
from annulus.conduction.stripes import Stripes
from annulus.errors import InputError
from annulus.present.bands import draw_dash, is_full, legend_rows, paint_bands, say_count, say_how_to_read
from annulus.present.burning import PARTS, minutes
from annulus.present.compare import COLUMN, GAS, VIEW_HEIGHT, part_at_scale
from annulus.present.paint import number_turns
from annulus.present.sheet import MARGIN, NARROWEST, Box, Sheet, line_height
from annulus.present.style import BODY, GREY, INK, KEPT_MARK, SMALL, THIN, Stripe, applied
from annulus.present.views import View, place, scale_bar
from annulus.present.words import watts
from annulus.section import Section

MOST = 4  # columns
HEAD_AND_FOOT = 3.0  # more than they take; what is empty is cut off [in]
BETWEEN = 0.35  # columns [in]
SIZE, SMALLER = 4.6, 2.9  # of a full mark and of a lesser one [pt]
ROW, BESIDE = 0.31, 0.42  # of the watts below a view: a row's height, and where its words begin [in]
HEADED = 0.5  # above a view: its time and scale bar [in]
HOW = (
    "A dot is heat that a part keeps there as it warms, a diamond heat that it gives up as it cools, each as much as "
    "a full stripe, small ones less. Bands show what passes: heat that enters and leaves again. The tubes count as "
    "one with their water."
)

DASH, DOT, DIAMOND = ORDER = ("-", "o", "D")
Rows = dict[str, tuple[Stripe | str, float]]  # by words: colours, or one of the three above; watts


def draw_instants(title: str, section: Section, instants: Sequence[tuple[float, Stripes]]) -> Figure:
    """Draw the stripes of some instants side by side.

    Parameters
    ----------
    title : str
    section : Section
    instants : sequence of (float, Stripes)
        Time after lighting [s] and stripes of equal watts, with their marks.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        If there is none, or more than `MOST`.
    """
    if not 1 <= len(instants) <= MOST:
        raise InputError(f"stripes: {len(instants)} instants must be 1 to {MOST}; are there times to leave out?")
    full = instants[0][1].watts
    columns = [_rows(section, stripes) for _, stripes in instants]
    looks = {name: look for rows in columns for name, (look, _) in rows.items()}
    words = sorted(looks, key=lambda name: ORDER.index(looks[name]) if looks[name] in ORDER else -1)
    with applied():
        width = max(NARROWEST, 2 * MARGIN + len(instants) * (COLUMN + BETWEEN) - BETWEEN)
        below = _height_of_rows(Sheet(width, 1.0), words) + 0.25
        sheet = Sheet(width, 2 * MARGIN + HEADED + VIEW_HEIGHT + below + HEAD_AND_FOOT)
        sheet.head(title, f"heat stripes of a burn: each full one carries {watts(full)}")
        sheet.foot([say_how_to_read(full), HOW])
        scale = min((COLUMN - GAS) / (section.r_max - section.r_min), _turns_fit(section))
        for n, ((time, stripes), rows) in enumerate(zip(instants, columns, strict=True)):
            where = Box(sheet.body.x + n * (COLUMN + BETWEEN), sheet.body.y, COLUMN, sheet.body.height)
            _draw_instant(sheet, where, section, scale, time, stripes)
            _draw_rows(sheet, where, [(name, looks[name], rows.get(name)) for name in words], full)
        sheet.trim()
        return sheet.figure


def _turns_fit(section: Section) -> float:
    """Largest scale at which two turns are seen. [in/m]"""
    count = max(1, len(section.turns))
    return VIEW_HEIGHT * count / (min(2, count) * section.height)


def _rows(section: Section, stripes: Stripes) -> Rows:
    """Where the heat goes, and what the parts keep and give up."""
    passing = {pair: heat for pair, heat in stripes.totals.items() if KEPT not in pair and GIVEN not in pair}
    rows: Rows = {row.words: (row.colours, row.heat) for row in legend_rows(section, replace(stripes, totals=passing))}
    if stripes.sight is not None and stripes.sight.lines:
        rows["radiation across air"] = (DASH, stripes.sight.radiant_watts)
    sums: Mapping[tuple[str, bool], float] = stripes.marks.sums if stripes.marks is not None else {}
    for is_kept, verb in ((True, "kept in"), (False, "given up by")):
        for (kind, kept), heat in sums.items():
            if kept == is_kept and watts(heat) != "0 W":
                rows[f"{verb} the {PARTS.get(kind, kind)}"] = (DOT if is_kept else DIAMOND, heat)
    return rows


def _draw_instant(sheet: Sheet, box: Box, section: Section, scale: float, time: float, stripes: Stripes) -> None:
    sheet.text(box.x, box.top - 0.08, f"{minutes(time)} after lighting", BODY, weight="bold")
    top = box.top - HEADED
    view = place(
        sheet, section, part_at_scale(section, scale), Box(box.x, top - VIEW_HEIGHT, COLUMN, VIEW_HEIGHT), GAS, scale
    )
    scale_bar(sheet, view, box.x, box.top - 0.28, 0.9)
    paint_bands(view, section, stripes, stripes.watts)
    for mark in stripes.marks.marks if stripes.marks is not None else ():
        _draw_mark(view, mark, stripes.watts)
    number_turns(sheet, view, section)


def _draw_mark(view: View, mark: Mark, full: float) -> None:
    if not view.shows(mark.place[1]) or mark.place[0] > view.r_max:
        return
    size = SIZE if is_full(mark.watts, full) else SMALLER
    view.axes.add_artist(_mark(mark.place[0], mark.place[1], mark.is_kept, size, zorder=12))


def _mark(x: float, y: float, is_kept: bool, size: float, zorder: int = 3) -> Line2D:
    """A dot or a diamond with a dark edge."""
    drawn = Line2D([x], [y], linestyle="none", marker=DOT if is_kept else DIAMOND, zorder=zorder)
    drawn.set_markersize(size if is_kept else 0.9 * size)
    drawn.set_markerfacecolor(KEPT_MARK if is_kept else "white")
    drawn.set_markeredgecolor(INK)
    drawn.set_markeredgewidth(THIN)
    return drawn


def _draw_rows(
    sheet: Sheet, box: Box, rows: Sequence[tuple[str, Stripe | str, tuple[Stripe | str, float] | None]], full: float
) -> None:
    """Words with watts and stripes below a view; what is not there at this instant is a dash."""
    y = box.top - HEADED - VIEW_HEIGHT - 0.25
    for words, look, found in rows:
        if isinstance(look, Stripe):
            for n, face in enumerate((look.dark, look.light)):
                sheet.swatch(Box(box.x + 0.15 * n, y - 0.06, 0.15, 0.12), look, face)
        elif look == DASH:
            draw_dash(sheet, box.x, y, 0.32)
        else:
            sheet.over.add_line(_mark(box.x + 0.15, y, look == DOT, SIZE))
        lines = sheet.wrap(words, COLUMN - BESIDE, SMALL)
        for line in lines:
            sheet.text(box.x + BESIDE, y, line, SMALL)
            y -= line_height(SMALL)
        sheet.text(box.x + BESIDE, y, "–" if found is None else say_count(found[1], full), SMALL, color=GREY)
        y -= ROW - line_height(SMALL)


def _height_of_rows(sheet: Sheet, words: Sequence[str]) -> float:
    """[in]"""
    return sum(ROW + line_height(SMALL) * (len(sheet.wrap(name, COLUMN - BESIDE, SMALL)) - 1) for name in words)
