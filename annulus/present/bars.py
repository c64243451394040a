"""The heat of each turn as a row of bars beside a view, each at the height of its turn.

Goes in: a view, turns and their watts. Comes out: number, bar and watts per turn;
where rows are too close to be read, only some of them are numbered.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from annulus.present.labels import thin
from annulus.present.sheet import Sheet, add_filled, line_height, rectangle
from annulus.present.style import BAR, GREY, HAIR, SMALL
from annulus.present.views import View
from annulus.present.words import figure_of_watts
from annulus.section import Section

LEAST_SIZE = 6.0  # [pt]
THICKNESS = 0.62  # of a bar, of the pitch
WIDTH = 1.75  # of numbers, bars and watts together [in]


def draw_bars(
    sheet: Sheet,
    view: View,
    section: Section,
    heat: Sequence[float],
    heading: str,
    colour: Callable[[int], str] = lambda turn: BAR,
) -> None:
    """Bars at the right of a view, `WIDTH` wide, with a heading above them.

    Parameters
    ----------
    heat : sequence of float
        By turn, bottom first. [W]
    colour : callable
        Of a turn's bar.
    """
    if not section.turns:
        return
    left = view.box.right + 0.1
    pitch = section.height / len(section.turns) * view.scale
    size = max(LEAST_SIZE, min(SMALL, SMALL * pitch / line_height(SMALL)))
    labelled = set(thin(len(section.turns), pitch, line_height(size) * 0.95))
    numbers = sheet.measure(f"{len(section.turns)}", size)[0]
    figures = max(sheet.measure(figure_of_watts(value), size)[0] for value in heat)
    start, end = left + numbers + 0.07, left + WIDTH - figures - 0.06
    least, most = min(0.0, *heat), max(0.0, *heat)
    span = (most - least) or 1.0
    zero = start + (end - start) * -least / span
    half = 0.5 * THICKNESS * min(pitch, 0.5)
    for turn in section.turns:
        y, value = view.y(turn.z), heat[turn.index]
        tip = zero + (end - start) * value / span
        hatch = "////" if value < 0 else None
        path = rectangle(min(zero, tip), max(zero, tip), y - half, y + half)
        add_filled(sheet.over, path, colour(turn.index), hatch)
        if turn.index in labelled:
            sheet.text(left + numbers, y, f"{turn.index + 1}", size, ha="right", color=GREY)
            figure = figure_of_watts(value)
            sheet.text(left + WIDTH, y, figure, size, ha="right")
    sheet.line([zero, zero], [view.box.y, view.box.top], linewidth=HAIR)
    for n, words in enumerate(reversed(sheet.wrap(heading, WIDTH, SMALL))):
        sheet.text(left + WIDTH, view.box.top + 0.1 + n * line_height(SMALL), words, SMALL, ha="right")
