"""Heat stripes as areas: colours by where they end, and sums by destination in a builder's words.

Goes in: a section and the `Stripes` of its field. Comes out: filled bands in a
view, rows for a legend, and sentences.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.path import Path

from annulus.conduction.stripes import Band, Stripes
from annulus.present.paint import paint_materials, paint_outlines
from annulus.present.sheet import Box, Sheet, add_filled, line_height
from annulus.present.style import BODY, ENDS, HAIR, ROOM, SMALL, THIN, TURNS, Stripe
from annulus.present.views import View
from annulus.present.words import share, watts
from annulus.section import Section

FOREIGN_HATCH = "\\\\\\\\"  # heat that does not come from the flue wall
WHOLE_STRIPE = 0.999  # of a full one: a band with less is drawn pale
ROW = 0.36  # of a legend [in]
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
    if name == "r_max":
        return End("the room, through the outside", "through the outside", ROOM)
    if name in ("z_min", "z_max"):
        way = "through the lower end" if name == "z_min" else "through the upper end"
        return End("the room, through the ends", way, ENDS)
    return End("the gas", "back into the gas", ENDS)


def paint_bands(view: View, section: Section, stripes: Stripes, full: float, fine: bool = True) -> None:
    """Fill every band: full ones dark and light in turn, lesser ones pale; the tubes on top.

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
        if band.watts < WHOLE_STRIPE * full:
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


def _around(band: Band) -> Path:
    """Closed path between the two lines of a band."""
    return Path(np.concatenate([band.line_a, band.line_b[::-1], band.line_a[:1]]), closed=True)


def colours_of(section: Section, band: Band) -> Stripe:
    """Colours of a band: by its end; hatched as well where it does not come from the flue wall."""
    return _colours(section, band.source, band.destination)


def _colours(section: Section, source: str, end: str) -> Stripe:
    colours = end_of(section, end).colours
    return colours if source == WALL or colours.hatch else replace(colours, hatch=FOREIGN_HATCH, ink=colours.light)


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


def draw_legend(sheet: Sheet, box: Box, rows: Sequence[Sum], full: float) -> None:
    """Destinations with colours, watts and stripes, from the top of a box down; its height is `legend_height`."""
    y = box.top - 0.08
    sheet.text(box.x, y, "heat ends in", BODY, weight="bold")
    for row in rows:
        y -= ROW
        for n, face in enumerate((row.colours.dark, row.colours.light, row.colours.pale)):
            sheet.swatch(Box(box.x + 0.17 * n, y - 0.07, 0.17, 0.14), row.colours, face)
        sheet.text(box.x + 0.6, y + 0.5 * line_height(SMALL), row.words, SMALL + 0.5)
        sheet.text(box.x + 0.6, y - 0.5 * line_height(SMALL), _count(row.heat, full), SMALL)
    y -= ROW
    for line in sheet.wrap(_how_to_read(full), box.width, SMALL):
        sheet.text(box.x, y, line, SMALL)
        y -= line_height(SMALL)


def legend_height(sheet: Sheet, rows: Sequence[Sum], width: float, full: float) -> float:
    """Height that a legend takes. [in]"""
    lines = len(sheet.wrap(_how_to_read(full), width, SMALL))
    return 0.2 + ROW * (len(rows) + 1) + lines * line_height(SMALL)


def _how_to_read(full: float) -> str:
    return (
        f"Each full stripe carries {watts(full)}. Full stripes are dark and light in turn; where heat parts, "
        "a pale stripe carries the rest, less than a full one."
    )


def _count(heat: float, full: float) -> str:
    count = heat / full if full > 0 else 0.0
    if count >= 1.95:
        return f"{watts(heat)} = {count:.0f} stripes" if count >= 9.95 else f"{watts(heat)} = {count:.1f} stripes"
    return f"{watts(heat)}, {count:.2f} of a stripe" if count >= 0.05 else watts(heat)
