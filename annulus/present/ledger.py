"""Picture of a ledger: heat from where it comes to where it ends, every band as wide as its share.

Goes in: an outcome of a steady fire or of a burn. Comes out: a figure in which
widths can be compared, every end named with its heat and its share.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.figure import Figure
from matplotlib.path import Path

from annulus.heater.precision import error_key
from annulus.present.labels import spread
from annulus.present.sheet import Box, Sheet, add_filled, line_height, rectangle
from annulus.present.style import BODY, ENDS, GREY, HAIR, INK, LEFT_IN_GAS, ROOM, SMALL, TURNS, Stripe, applied
from annulus.present.tables import number
from annulus.present.words import share, watts

PAGE = (8.6, 5.4)  # [in]
NAMES = 2.5  # columns of words at both sides [in]
BAR = 0.16  # width of the bars at both ends [in]
BETWEEN = 0.16  # between neighbouring ends [in]
LEADER = 0.22  # from a bar to its words [in]
UNSEEN = 2e-3  # of all heat: less is told in words only
UNTOLD = 1e-6  # of the largest: less is nothing, such as what the air of a cavity keeps
DRUM = Stripe("#2f6f5e", "#7fb5a5", "#dcece7")
THROUGH_BARE_FLUE = "the room, through bare flue"  # where a warm room's heat to the gas comes from
METAL = Stripe("#7a5a2f", "#c3a06c", "#efe5d3", "....", "#5a3f17")


@dataclass(frozen=True)
class Flow:
    """Heat that ends somewhere, or comes from there if it is negative; `origin` then names that place."""

    words: str
    heat: float
    colours: Stripe
    error: float | None = None
    origin: str = ""

    def turned(self) -> Flow:
        """As heat that comes from there."""
        return Flow(f"from {self.origin or self.words}", -self.heat, self.colours, self.error)


def steady_flows(outcome: Mapping[str, Any]) -> tuple[str, float, list[Flow]]:
    """Name and heat [W] of the source, and where it ends; of a steady fire.

    The source is the wood where the case states it, else the gas above room temperature.
    """
    named = (
        ("the water", "heat_to_water_W", TURNS[0], ""),
        ("the room, through the outside", "heat_through_outside_W", ROOM, ""),
        ("the room, through the ends", "heat_through_ends_W", ENDS, ""),
        ("the room, from bare flue", "heat_from_bare_flue_W", ROOM, THROUGH_BARE_FLUE),
        ("up the chimney", "heat_left_in_gas_W", LEFT_IN_GAS, ""),
    )
    flows = [
        Flow(words, outcome[key], colours, outcome.get(error_key(key)), origin) for words, key, colours, origin in named
    ]
    fired = outcome.get("fired_power_W")
    if fired is None:
        return "the gas, above the room's temperature", outcome["heat_available_W"], flows
    before = Flow("given off before this flue", fired - outcome["heat_available_W"], METAL)
    return "the wood", fired, [before, *flows]


def burn_flows(outcome: Mapping[str, Any], parts: Mapping[str, str]) -> tuple[str, float, list[Flow]]:
    """The same of a burn [J]; `parts` are the words of what stores heat."""
    flows = [
        Flow("given off before the flue", outcome["lost_before_flue_J"], METAL),
        Flow("lost by the tank", outcome["from_tank_J"], ROOM, origin="the air around the tank"),
        Flow("the room, through the outside", outcome["through_outside_J"], ROOM),
        Flow("the room, through the ends", outcome["through_ends_J"], ENDS),
        Flow("the room, from bare flue", outcome["from_bare_flue_J"], ROOM, origin=THROUGH_BARE_FLUE),
        Flow("up the chimney", outcome["up_chimney_J"], LEFT_IN_GAS),
    ]
    kept = []
    for part, heat in outcome["stored_J"].items():
        name = parts.get(part, part)
        kept.append(Flow(f"kept in {name}", heat, TURNS[0] if "water" in part else DRUM, origin=name))
    kept.sort(key=lambda flow: -flow.heat)
    return "the wood", outcome["wood_J"], [*kept, *flows]


def draw_ledger(
    title: str,
    about: str,
    source: str,
    heat: float,
    flows: Sequence[Flow],
    tell: Callable[[float], str] = watts,
) -> Figure:
    """Draw where heat goes.

    Parameters
    ----------
    title, about : str
        Empty on a page that has its own.
    source : str
        Where most of the heat comes from.
    heat : float
        That comes from there; it and the negative flows add up to the positive ones.
    flows : sequence of Flow
    tell : callable
        Heat in words.

    Returns
    -------
    Figure
    """
    with applied():
        sheet = Sheet(*PAGE)
        if title:
            sheet.head(title, about)
        given = [flow.turned() for flow in flows if flow.heat < 0]
        main = Flow(source, heat, LEFT_IN_GAS)
        sources, ends = _seen([*given, main]), _seen([flow for flow in flows if flow.heat > 0])
        _tell_lesser(sheet, [*given, *flows], [*sources, *ends], tell)
        body = sheet.body
        tall = body.height - BETWEEN * (max(len(sources), len(ends)) - 1)
        scale = tall / max(sum(flow.heat for flow in side) for side in (sources, ends))
        left, right = body.x + NAMES, body.right - NAMES
        starts = _stack(sources, body, scale)
        stops = _stack(ends, body, scale)
        _join(sheet, left + BAR, right - BAR, starts, stops, scale)
        total = sum(flow.heat for flow in sources)
        for x, bars, outwards in ((left, starts, -1), (right - BAR, stops, 1)):
            for flow, top in bars:
                bar = rectangle(x, x + BAR, top - flow.heat * scale, top)
                add_filled(sheet.over, bar, flow.colours.dark, zorder=3)
            _name(sheet, x if outwards < 0 else x + BAR, bars, outwards, scale, total, tell)
        sheet.trim()
        return sheet.figure


def _told(flow: Flow, tell: Callable[[float], str]) -> str:
    """Heat in words, with its error where that is known. [W]"""
    return tell(flow.heat) if flow.error is None else number(flow.heat, "W", 0, flow.error)


def _tell_lesser(sheet: Sheet, flows: Sequence[Flow], drawn: Sequence[Flow], tell: Callable[[float], str]) -> None:
    """What is too little to be drawn, in words at the bottom; the body shrinks."""
    least = UNTOLD * max(flow.heat for flow in drawn)
    lesser = [
        f"{flow.words} {_told(flow, tell)}"
        for flow in flows
        if flow.heat > least and flow not in drawn and re.search("[1-9]", tell(flow.heat))
    ]
    if not lesser:
        return
    body = sheet.body
    lines = sheet.wrap(f"Too little to draw: {'; '.join(lesser)}.", body.width, SMALL)
    for n, line in enumerate(reversed(lines)):
        sheet.text(body.x, body.y + (n + 0.5) * line_height(SMALL), line, SMALL, color=GREY)
    taken = (len(lines) + 1) * line_height(SMALL)
    sheet.body = Box(body.x, body.y + taken, body.width, body.height - taken)


def _seen(flows: Sequence[Flow]) -> list[Flow]:
    total = sum(flow.heat for flow in flows)
    return [flow for flow in flows if flow.heat >= UNSEEN * total]


def _stack(flows: Sequence[Flow], body: Box, scale: float) -> list[tuple[Flow, float]]:
    """Each flow with the top of its bar; the stack stands in the middle of the body. [in]"""
    tall = sum(flow.heat for flow in flows) * scale + BETWEEN * (len(flows) - 1)
    top = body.y + 0.5 * (body.height + tall)
    placed = []
    for flow in flows:
        placed.append((flow, top))
        top -= flow.heat * scale + BETWEEN
    return placed


def _join(
    sheet: Sheet,
    left: float,
    right: float,
    starts: Sequence[tuple[Flow, float]],
    stops: Sequence[tuple[Flow, float]],
    scale: float,
) -> None:
    """A band from each source to the ends that it fills, both sides from the top down."""
    left_over = [[flow.heat, top] for flow, top in starts]
    for flow, top in stops:
        missing = flow.heat
        for source in left_over:
            heat = min(missing, source[0])
            if heat <= 0:
                continue
            path = _band(left, source[1], right, top, heat * scale)
            add_filled(sheet.over, path, flow.colours.light, flow.colours.hatch, flow.colours.ink, zorder=2)
            source[0] -= heat
            source[1] -= heat * scale
            missing -= heat
            top -= heat * scale


def _band(left: float, top_left: float, right: float, top_right: float, width: float) -> Path:
    middle = 0.5 * (left + right)
    points = [
        (left, top_left),
        (middle, top_left),
        (middle, top_right),
        (right, top_right),
        (right, top_right - width),
        (middle, top_right - width),
        (middle, top_left - width),
        (left, top_left - width),
        (left, top_left),
    ]
    curve = [Path.CURVE4] * 3
    return Path(points, [Path.MOVETO, *curve, Path.LINETO, *curve, Path.CLOSEPOLY])


def _name(
    sheet: Sheet,
    x: float,
    bars: Sequence[tuple[Flow, float]],
    outwards: int,
    scale: float,
    total: float,
    tell: Callable[[float], str],
) -> None:
    """Words and heat beside each bar, spread so that none overlap, tied to their bars."""
    width = NAMES - LEADER - 0.1
    blocks = [sheet.wrap(flow.words, width, BODY) for flow, _ in bars]
    heights = [(len(lines) + 1) * line_height(BODY) + 0.04 for lines in blocks]
    wanted = [top - 0.5 * flow.heat * scale for flow, top in bars]
    low, high = sheet.body.y, sheet.body.top
    centres = spread(wanted, heights, min(low, high - sum(heights)), high)
    align = "left" if outwards > 0 else "right"
    for (flow, _), lines, at, y in zip(bars, blocks, wanted, centres, strict=True):
        end = x + outwards * LEADER
        sheet.line([x, x + 0.35 * (end - x), x + 0.7 * (end - x), end], [at, at, y, y], color=INK, linewidth=HAIR)
        row = float(y) + 0.5 * len(lines) * line_height(BODY)
        for words in lines:
            sheet.text(end + 0.05 * outwards, row, words, BODY, ha=align)
            row -= line_height(BODY)
        figure = f"{_told(flow, tell)}, {share(flow.heat, total)}"
        sheet.text(end + 0.05 * outwards, row, figure, BODY, ha=align, weight="bold")
