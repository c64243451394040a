"""Heat stripes as areas: colours by where they end, and sums by destination in a builder's words.

Goes in: a section and the `Stripes` of its field. Comes out: filled bands and
dashed sight lines in a view, rows for a legend, and sentences.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.path import Path
from numpy.typing import NDArray

from annulus.conduction.sight_lines import SightLine, SightLines
from annulus.conduction.stripe_body import is_surface
from annulus.conduction.stripes import Band, Stripes
from annulus.present.paint import paint_materials, paint_outlines
from annulus.present.sheet import Box, Sheet, add_filled, line_height
from annulus.present.style import (
    BODY,
    BOLD,
    DASHES,
    ENDS,
    FACING_AIR,
    HAIR,
    RADIATION,
    ROOM,
    SMALL,
    THIN,
    TURNS,
    Stripe,
)
from annulus.present.views import View
from annulus.present.words import share, watts
from annulus.section import Section

FOREIGN_HATCH = "\\\\\\\\"  # heat that does not come from the flue wall
WHOLE_STRIPE = 0.999  # of a full one: a band with less is drawn pale
ROW, BESIDE = 0.36, 0.6  # of a legend: a row's height, and where its words begin [in]
HEAD, SHORT = 0.075, 0.5  # of a sight line's arrow head [in]; of a line that is short, this share
WALL = "r_min"  # the source of stripes at the flue's bore


@dataclass(frozen=True)
class End:
    """Where a stripe begins or ends: words, the way there, colours, and the turn if it is one."""

    words: str
    way: str
    colours: Stripe
    turn: int | None = None


def end_of(section: Section, name: str) -> End:
    """What the name of a boundary or of a tube means to a builder."""
    for region in section.regions:
        if region.name == name and region.turn is not None:
            return End("the water", "the tubes", TURNS[region.turn % 2], region.turn)
    if is_surface(name):
        return End("a surface between solid and air, where stripes begin anew", "across air", FACING_AIR)
    if name == "r_max":
        return End("the room, through the outside", "through the outside", ROOM)
    if name in ("z_min", "z_max"):
        way = "through the lower end" if name == "z_min" else "through the upper end"
        return End("the room, through the ends", way, ENDS)
    return End("the gas", "back into the gas", ENDS)


def paint_bands(view: View, section: Section, stripes: Stripes, full: float, fine: bool = True) -> None:
    """Fill every band: full ones dark and light in turn, lesser ones pale; tubes and sight lines on top.

    Parameters
    ----------
    full : float
        Watts of a full stripe. [W]
    fine : bool
        With lines between bands; without them in a small view.
    """
    paint_materials(view, section, hatched=False, roles=("filler", "void", "flue", "shroud", "insulation", "jacket"))
    dark = True
    for band in stripes.bands:
        path = _around(band)
        heights = np.asarray(path.vertices)[:, 1]
        colours = colours_of(section, band)
        if not is_full(band.watts, full):
            face = colours.pale
        else:
            dark = not dark
            face = colours.dark if dark else colours.light
        if heights.max() < view.z_min or heights.min() > view.z_max:
            continue
        add_filled(view.axes, path, face, colours.hatch, colours.ink, zorder=3)
        if fine:
            edges = LineCollection([band.line_a, band.line_b], colors=colours.dark, linewidths=0.6 * HAIR, zorder=4)
            view.axes.add_collection(edges, autolim=False)
    paint_outlines(view, section, THIN if fine else HAIR)
    paint_materials(view, section, hatched=False, roles=("tube", "bore"), order=7)
    if stripes.sight is not None:
        _paint_sight_lines(view, stripes.sight, full, fine)


def is_full(heat: float, full: float) -> bool:
    """Whether a stripe or a line carries a full one's watts."""
    return heat >= WHOLE_STRIPE * full


def _paint_sight_lines(view: View, sight: SightLines, full: float, fine: bool) -> None:
    """Dashed lines on a white edge; with heads where they end, if the view is fine."""
    head = HEAD / view.scale if fine else 0.0
    for whole, width in ((False, THIN), (True, BOLD)):
        lines = [line for line in sight.lines if is_full(line.watts, full) == whole]
        width = width if fine else 0.6 * width
        ways = [np.array([line.start, line.end]) for line in lines]
        heads = [_head(line, head if whole else 0.7 * head) for line in lines]
        edge = LineCollection(ways, colors="white", linewidths=2.2 * width, zorder=8, capstyle="butt")
        dashes = LineCollection(
            ways, colors=RADIATION, linewidths=width, linestyles=[(0, DASHES)], zorder=9, capstyle="butt"
        )
        for drawn in (edge, dashes):
            view.axes.add_collection(drawn, autolim=False)
        if fine:
            triangles = PolyCollection(heads, facecolors=RADIATION, edgecolors="white", linewidths=HAIR, zorder=10)
            view.axes.add_collection(triangles, autolim=False)


def _head(line: SightLine, size: float) -> NDArray[np.float64]:
    """Corners of the arrow head at the end of a line, shape (3, 2). [m]"""
    way = line.end - line.start
    length = float(np.hypot(*way))
    along = way / length * min(size, SHORT * length)
    across = 0.42 * np.array([-along[1], along[0]])
    return np.array([line.end, line.end - along + across, line.end - along - across])


def _around(band: Band) -> Path:
    """Closed path between the two lines of a band."""
    return Path(np.concatenate([band.line_a, band.line_b[::-1], band.line_a[:1]]), closed=True)


def colours_of(section: Section, band: Band) -> Stripe:
    """Colours of a band: by its end; hatched as well where it does not come from the flue wall."""
    return _colours(section, band.source, band.destination)


def _colours(section: Section, source: str, end: str) -> Stripe:
    colours = end_of(section, end).colours
    from_wall = source == WALL or is_surface(source)
    return colours if from_wall or colours.hatch else replace(colours, hatch=FOREIGN_HATCH, ink=colours.light)


@dataclass(frozen=True)
class Sum:
    """All stripes of one destination and origin."""

    words: str
    heat: float
    colours: Stripe


def sum_up(section: Section, stripes: Stripes) -> list[Sum]:
    """Watts by destination and origin, largest first; without what rounds to nothing."""
    sums: dict[str, Sum] = {}
    for (source, name), heat in stripes.totals.items():
        words = end_of(section, name).words
        if source != WALL:
            words += ", from tubes" if end_of(section, source).turn is not None else ", from the room"
        if words in sums:
            sums[words] = replace(sums[words], heat=sums[words].heat + heat)
        else:
            colours = _colours(section, source, name)
            sums[words] = Sum(words, heat, colours)
    return sorted((one for one in sums.values() if watts(one.heat) != "0 W"), key=lambda one: -one.heat)


def say_bypass(section: Section, stripes: Stripes) -> list[str]:
    """How many watts pass the tubes by, and through where; then what does not come from the flue wall."""
    entered = sum(heat for (source, _), heat in stripes.totals.items() if source == WALL)
    passing = _by_way(section, stripes, lambda source, end: source == WALL and end_of(section, end).turn is None, 1)
    total = sum(passing.values())
    if not section.turns:
        first = f"There are no tubes: all {watts(entered)} go to the room, {_list(passing)}."
    elif total > 0:
        first = f"{watts(total)} of {watts(entered)} ({share(total, entered)}) bypass the tubes: {_list(passing)}."
    else:
        first = f"None of {watts(entered)} bypasses the tubes."
    sentences = [first]
    given = _by_way(section, stripes, lambda source, _: source != WALL and end_of(section, source).turn is None, 0)
    if given:
        sentences.append(f"The room gives heat: {_list(given)}.")
    back = _by_way(section, stripes, lambda source, _: end_of(section, source).turn is not None, 1)
    if back:
        sentences.append(f"Some of the heat that reaches tubes leaves them again: {_list(back)}.")
    return sentences


def _by_way(section: Section, stripes: Stripes, wanted: Callable[[str, str], bool], side: int) -> dict[str, float]:
    """Watts of the wanted (source, end) by the way at one side: 0 the source, 1 the end."""
    ways: dict[str, float] = {}
    for pair, heat in stripes.totals.items():
        if wanted(*pair):
            way = end_of(section, pair[side]).way
            way = "into other tubes" if way == "the tubes" else way
            ways[way] = ways.get(way, 0.0) + heat
    return ways


def _list(ways: dict[str, float]) -> str:
    named = [f"{watts(heat)} {way}" for way, heat in sorted(ways.items(), key=lambda pair: -pair[1])]
    return ", ".join(words for words in named if not words.startswith("0 W")) or named[0]


def legend_rows(section: Section, stripes: Stripes) -> list[Sum]:
    """What a legend tells apart: destinations, then surfaces at which stripes end to cross air."""
    ends = [band for band in stripes.bands if is_surface(band.destination)]
    rows = sum_up(section, stripes)
    if ends:
        facing = end_of(section, ends[0].destination)
        rows.append(Sum(facing.words, sum(band.watts for band in ends), facing.colours))
    return rows


def draw_legend(sheet: Sheet, box: Box, rows: Sequence[Sum], stripes: Stripes) -> None:
    """Destinations with colours, watts and stripes, from the top of a box down; its height is `legend_height`."""
    y, full, beside = box.top - 0.08, stripes.watts, box.x + BESIDE
    sheet.text(box.x, y, "heat ends in", BODY, weight="bold")
    for row in rows:
        y -= ROW
        for n, face in enumerate((row.colours.dark, row.colours.light, row.colours.pale)):
            sheet.swatch(Box(box.x + 0.17 * n, y - 0.07, 0.17, 0.14), row.colours, face)
        y += 0.5 * line_height(SMALL)
        for words in sheet.wrap(row.words, box.width - BESIDE, SMALL + 0.5):
            sheet.text(beside, y, words, SMALL + 0.5)
            y -= line_height(SMALL)
        sheet.text(beside, y, say_count(row.heat, full), SMALL)
        y += 0.5 * line_height(SMALL)
    if stripes.sight is not None:
        y -= ROW
        sheet.text(box.x, y, "heat crosses air by", BODY, weight="bold")
        y -= ROW
        if stripes.sight.lines:
            draw_dash(sheet, box.x, y, 0.51)
        sheet.text(beside, y + 0.5 * line_height(SMALL), "radiation across air", SMALL + 0.5)
        y -= 0.5 * line_height(SMALL)
        for words in sheet.wrap(say_radiant(stripes.sight, full), box.width - BESIDE, SMALL):
            sheet.text(beside, y, words, SMALL)
            y -= line_height(SMALL)
    y -= 0.7 * ROW
    for line in sheet.wrap(say_how_to_read(full), box.width, SMALL):
        sheet.text(box.x, y, line, SMALL)
        y -= line_height(SMALL)


def draw_dash(sheet: Sheet, x: float, y: float, length: float) -> None:
    """A sight line as a swatch, from x to the right."""
    sheet.line([x, x + length], [y, y], color=RADIATION, linewidth=BOLD, linestyle=(0, DASHES))
    tip, half = x + length, 0.42 * HEAD
    sheet.over.fill([tip, tip - HEAD, tip - HEAD], [y, y + half, y - half], facecolor=RADIATION, linewidth=0)


def legend_height(sheet: Sheet, rows: Sequence[Sum], width: float, stripes: Stripes) -> float:
    """Height that a legend takes. [in]"""
    step, beside = line_height(SMALL), width - BESIDE
    height = 0.2 + sum(ROW + step * (len(sheet.wrap(row.words, beside, SMALL + 0.5)) - 1) for row in rows)
    if stripes.sight is not None:
        height += 2 * ROW + step * len(sheet.wrap(say_radiant(stripes.sight, stripes.watts), beside, SMALL))
    return height + ROW + step * len(sheet.wrap(say_how_to_read(stripes.watts), width, SMALL))


def say_radiant(sight: SightLines, full: float) -> str:
    """Watts of all sight lines and how they are drawn."""
    whole = sum(is_full(line.watts, full) for line in sight.lines)
    rests = [line.watts for line in sight.lines if not is_full(line.watts, full)]
    words = []
    if whole:
        words.append(f"{whole} dashed line{'s' if whole > 1 else ''} of {watts(full)}")
    if rests:
        words.append(
            f"{f'{len(rests)} thin ones, together' if len(rests) > 1 else '1 thin one of'} {watts(sum(rests))}"
        )
    if not sight.lines:
        words.append("too little to draw")
    elif watts(sight.small_watts) != "0 W":
        words.append(f"{watts(sight.small_watts)} too little to draw")
    return f"{watts(sight.radiant_watts)}: {', '.join(words)}; what a surface throws back counts again"


def say_how_to_read(full: float) -> str:
    """What a full stripe is, and a pale one."""
    return (
        f"Each full stripe carries {watts(full)}. Full stripes are dark and light in turn; where heat parts, "
        "a pale stripe carries the rest, less than a full one."
    )


def say_count(heat: float, full: float) -> str:
    """Watts, and how many stripes they are."""
    count = heat / full if full > 0 else 0.0
    if count >= 1.95:
        return f"{watts(heat)} = {count:.0f} stripes" if count >= 9.95 else f"{watts(heat)} = {count:.1f} stripes"
    return f"{watts(heat)}, {count:.2f} of a stripe" if count >= 0.05 else watts(heat)
