"""A burn over time: temperatures above (gas, then walls and water), where its heat went below, events marked.

Goes in: an outcome and the columns of its history. Comes out: a figure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator, MultipleLocator
from numpy.typing import NDArray

from annulus.present.burning import minutes
from annulus.present.labels import spread
from annulus.present.sheet import Box, Sheet, line_height
from annulus.present.style import BODY, BOLD, GREY, HAIR, INK, SMALL, THIN, applied
from annulus.present.tables import entry, megajoules
from annulus.present.words import share

Floats = NDArray[np.float64]
History = Mapping[str, Sequence[float]]
Curve = tuple[str, str, str, str]  # words, column, colour, dashes

WIDTH, GAS_HIGH, WATER_HIGH, HEAT_HIGH = 7.6, 1.0, 2.1, 2.4  # page and plots [in]
LEFT, BESIDE, BELOW, ABOVE, BETWEEN = 0.6, 1.75, 0.5, 0.35, 0.28  # around the plots [in]
HOUR = 3600.0
LONG = 2.5 * HOUR  # burns longer than this are drawn over hours, others over minutes
ALIKE = 0.5  # [K]: a tank whose top and bottom never differ by more is one curve
ROUND = (1, 2, 2.5, 5, 10)  # steps between ticks, times powers of ten
STEPS_OF_TIME = (1, 2, 5, 10, 15, 20, 30, 60)  # minutes, and hours, from tick to tick

# colours as in other plots over numbers (Okabe and Ito), lines told apart in grey too
GAS = (
    ("gas below the coil", "gas_below [degC]", "#d55e00", "-"),
    ("gas above the coil", "gas_above [degC]", "#e69f00", "--"),
)
WALLS = (
    ("filler, hottest", "filler_max [degC]", "#8a6d3b", "-."),
    ("flue wall, hottest", "wall_max [degC]", "#000000", ":"),
    ("flue wall, coldest", "wall_min [degC]", "#6a7178", ":"),
    ("coil water, hottest", "coil_water_max [degC]", "#56b4e9", "--"),
)
TANK = (("tank", "tank_mean [degC]", "#0072b2", "-"),)
LAYERED = (
    ("tank, top", "tank_top [degC]", "#0072b2", "-"),
    ("tank, bottom", "tank_bottom [degC]", "#0072b2", "-."),
)
# words, columns that are added up, colour, hatch; from below
WHERE = (
    ("in the tank's water", ("stored_tank_water [J]",), "#3d85c0", None),
    ("in drum and coil water", ("stored_drum [J]", "stored_coil_water [J]"), "#9cc7ea", "...."),
    (
        "in flue, filler, insulation",
        tuple(f"stored_{part} [J]" for part in ("flue", "filler", "void", "tube", "shroud", "insulation", "jacket")),
        "#e3cf9a",
        "xxxx",
    ),
    (
        "to the room: tank, section, bare flue",
        ("tank_loss [J]", "outside [J]", "ends [J]", "bare_flue [J]"),
        "#e8a15c",
        "////",
    ),
    ("up the chimney", ("chimney [J]",), "#c3c8cc", None),
)


def draw_history(outcome: Mapping[str, Any], history: History, events: Sequence[tuple[float, str]] = ()) -> Figure:
    """Draw a burn.

    Parameters
    ----------
    outcome : mapping
        From `annulus.burn.summarise_burn`.
    history : mapping
        From `annulus.burn.history`.
    events : sequence of (time, words)
        What else to mark, in the order of time. [s]

    Returns
    -------
    Figure
    """
    time = np.asarray(history["time [s]"])
    unit, name = (HOUR, "hours") if time[-1] > LONG else (60.0, "minutes")
    with applied():
        sheet = _page(outcome)
        body = sheet.body
        x, top, wide = body.x + LEFT, body.top - ABOVE, body.width - LEFT - BESIDE
        boxes = []
        for high in (GAS_HIGH, WATER_HIGH, HEAT_HIGH):
            boxes.append(Box(x, top - high, wide, high))
            top -= high + BETWEEN
        over = time / unit
        for box, curves in zip(boxes, (GAS, _cool_curves(history)), strict=False):
            axes = _framed(sheet, box, float(over[-1]), _degrees(history, curves), "°C")
            axes.tick_params(labelbottom=False)
            _draw_temperatures(sheet, box, axes, history, curves, over)
        axes = _framed(sheet, boxes[-1], float(over[-1]), (0.0, float(_brought(history)[-1])), "MJ")
        _draw_heat(sheet, boxes[-1], axes, history, over)
        sheet.text(x + 0.5 * wide, boxes[-1].y - 0.36, f"{name} from lighting", BODY, ha="center")
        _mark(sheet, boxes, [*events, (float(time[-1]), outcome["ended"])], float(time[-1]))
        return sheet.figure


def _page(outcome: Mapping[str, Any]) -> Sheet:
    """Page with head and foot."""
    invented = " Invented example." if outcome["invented"] else ""
    wood, lost = outcome["wood_J"], outcome["lost_before_flue_J"]
    to_water = entry(outcome, "mean_heat_to_water_W", "W", 0)
    foot = [
        f"{outcome['ended'].capitalize()} after {_until_end(outcome)}: {outcome['wood_kg']:.1f} kg of wood, "
        f"{to_water} to the water, efficiency {100 * outcome['efficiency']:.1f} %.",
        f"Below: of {wood / 1e6:.0f} MJ of wood the stove gave off {lost / 1e6:.0f} MJ before the flue, which is not "
        "drawn; the rest came with the gas. Efficiency: heat in the tank's water over the wood's lower heating value.",
    ]
    height = GAS_HIGH + WATER_HIGH + HEAT_HIGH + BELOW + ABOVE + 2 * BETWEEN
    head = outcome["title"], f"Temperatures, and where the heat of the gas went, over the burn.{invented}"
    trial = _headed(12.0, *head, foot)
    return _headed(height + trial.height - trial.body.height, *head, foot)


def _until_end(outcome: Mapping[str, Any]) -> str:
    """How long it burnt, with the error of what ended it where that has one."""
    for end in ("time_to_target", "time_to_boiling"):
        if outcome.get(f"{end}_s") == outcome["duration_s"]:
            return minutes(outcome["duration_s"], outcome.get(f"{end}_error_s"))
    return minutes(outcome["duration_s"])


def _headed(height: float, title: str, about: str, foot: Sequence[str]) -> Sheet:
    sheet = Sheet(WIDTH, height)
    sheet.head(title, about)
    sheet.foot(foot)
    return sheet


def _framed(sheet: Sheet, box: Box, longest: float, y: tuple[float, float], unit: str) -> Axes:
    axes = sheet.axes(box, (0.0, longest), y)
    axes.set_axis_on()
    for side, spine in axes.spines.items():
        spine.set_linewidth(HAIR)
        spine.set_visible(side in ("left", "bottom"))
    axes.tick_params(labelsize=SMALL, width=HAIR, length=3, pad=2, color=GREY)
    axes.xaxis.set_major_locator(MultipleLocator(next((n for n in STEPS_OF_TIME if longest / n <= 8), 120)))
    axes.yaxis.set_major_locator(MaxNLocator(max(4, round(2.5 * box.height)), steps=ROUND))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    sheet.text(box.x - 0.42, box.y + 0.5 * box.height, unit, BODY, rotation=90, ha="center", va="center")
    return axes


def _cool_curves(history: History) -> list[Curve]:
    """Curves of walls and water that the burn has; one for a tank that stays mixed."""
    apart = np.abs(np.asarray(history["tank_top [degC]"]) - np.asarray(history["tank_bottom [degC]"])).max()
    return [curve for curve in (*WALLS, *(LAYERED if apart > ALIKE else TANK)) if curve[1] in history]


def _degrees(history: History, curves: Sequence[Curve]) -> tuple[float, float]:
    """Limits of a plot of temperatures."""
    values = np.concatenate([np.asarray(history[column]) for _, column, _, _ in curves])
    low, high = float(values.min()), float(values.max())
    return min(0.0, low), high + 0.06 * (high - low)


def _draw_temperatures(
    sheet: Sheet, box: Box, axes: Axes, history: History, curves: Sequence[Curve], x: Floats
) -> None:
    ends = []
    for words, column, colour, dashes in curves:
        y = np.asarray(history[column])
        axes.plot(x, y, color=colour, linestyle=dashes, linewidth=BOLD)
        ends.append((float(y[-1]), f"{words} {y[-1]:.0f} °C", colour))
    _beside(sheet, box, axes, ends)


def _brought(history: History) -> Floats:
    """Heat that the gas brought to the flue so far. [MJ]"""
    return (np.asarray(history["wood [J]"]) - np.asarray(history["stove [J]"])) / 1e6


def _draw_heat(sheet: Sheet, box: Box, axes: Axes, history: History, x: Floats) -> None:
    low, ends = np.zeros(x.size), []
    whole = max(float(_brought(history)[-1]), 1e-9)
    for words, columns, colour, hatch in WHERE:
        part = sum((np.asarray(history[column]) for column in columns if column in history), np.zeros(x.size)) / 1e6
        axes.fill_between(x, low, low + part, facecolor=colour, edgecolor=GREY, hatch=hatch, linewidth=0.0)
        axes.plot(x, low + part, color=INK, linewidth=HAIR)
        middle = float(low[-1] + 0.5 * part[-1])
        amount = f"{megajoules(1e6 * float(part[-1]))}, {share(float(part[-1]), whole)}"
        ends.append((middle, f"{words} {amount}", INK))
        low = low + part
    _beside(sheet, box, axes, ends)


def _beside(sheet: Sheet, box: Box, axes: Axes, ends: Sequence[tuple[float, str, str]]) -> None:
    """Words at the right of a plot, tied to where their curves or areas end."""
    wide = BESIDE - 0.2
    blocks = [sheet.wrap(words, wide, SMALL) for _, words, _ in ends]
    at = [float(axes.transData.transform((0.0, y))[1]) / sheet.figure.dpi for y, _, _ in ends]
    sizes = [len(lines) * line_height(SMALL) + 0.03 for lines in blocks]
    places = spread(at, sizes, box.y - 0.3, box.top + 0.3)
    left = box.right + 0.2
    for (_, _, colour), lines, y, place in zip(ends, blocks, at, places, strict=True):
        sheet.line([box.right, box.right + 0.05, left - 0.03], [y, y, place], color=colour, linewidth=HAIR)
        first = float(place) + 0.5 * (len(lines) - 1) * line_height(SMALL)
        for n, words in enumerate(lines):
            sheet.text(left, first - n * line_height(SMALL), words, SMALL, color=colour)


def _mark(sheet: Sheet, boxes: Sequence[Box], events: Sequence[tuple[float, str]], last: float) -> None:
    """A line through all plots for every event, its words above; `last` is the end of the time axis. [s]"""
    box = boxes[0]
    across = [box.x + box.width * time / last for time, _ in events]
    widths = [sheet.measure(words, SMALL)[0] + 0.12 for _, words in events]
    places = spread(across, widths, box.x - 0.3, box.right + 0.6)
    for (_, words), x, place in zip(events, across, places, strict=True):
        for one in boxes:
            sheet.line([x, x], [one.y, one.top], color=INK, linewidth=THIN, linestyle=(0, (2, 2)))
        sheet.line([x, x, place], [box.top, box.top + 0.05, box.top + 0.13], color=INK, linewidth=HAIR)
        sheet.text(float(place), box.top + 0.2, words, SMALL, ha="center")
