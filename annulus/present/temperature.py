"""Picture of the temperatures: the section to scale, isotherms with values, the heat of each turn beside it.

Goes in: a `SteadyHeater`. Comes out: a figure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.colors import Colormap, Normalize
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from annulus.heater.outcome import summarise
from annulus.heater.precision import error_key
from annulus.heater.steady import SteadyHeater
from annulus.present.pages import ABOVE_VIEW, PAGE, Page, lay_page
from annulus.present.paint import number_turns, paint_outlines
from annulus.present.raster import rasterise
from annulus.present.sheet import Box, Sheet
from annulus.present.style import BODY, HAIR, SMALL, THIN, applied, temperature_colours
from annulus.present.tables import number
from annulus.present.views import View
from annulus.present.words import degrees, mark_invented, share, watts
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]

DOTS = 220  # of the image per inch
ISOTHERMS = 9  # about so many in a view
COLUMN = (0.9, 2.1)  # for the colour bar, which is at least so high as its second part [in]
HIGHEST_BAR = 3.6  # [in]
MUCH = 0.5  # of the range of temperatures
POINTS = 60  # of an isotherm that are tried for its value
WORTH_A_LABEL = 1.5  # length of a further run of an isotherm that is named too [in]
KEEP_OFF = 0.12  # of an isotherm's value from a view's edge and from other words [in]


def draw_temperature(
    heater: SteadyHeater, detail: int | str = "hottest", outcome: Mapping[str, Any] | None = None
) -> Figure:
    """Draw the temperatures of a heater's section.

    Parameters
    ----------
    heater : SteadyHeater
    detail : int or {"hottest", "bottom", "middle", "top"}
        Which turns are shown enlarged: around this one (index from 0), around the hottest place of
        the flue wall, or at this place. A section of few turns is shown in one picture.
    outcome : mapping, optional
        Of the heater, with the errors that its sentences then tell.

    Returns
    -------
    Figure
    """
    with applied():
        sheet = Sheet(*PAGE)
        sheet.head(heater.case.title, _about(heater))
        sheet.foot(_sentences(heater, outcome or summarise(heater)))
        around = _hottest_turn(heater) if detail == "hottest" else detail
        page = lay_page(heater, sheet, around, COLUMN)
        images = [_image(heater, view) for view in page.views]
        norm = Normalize(min(float(i.min()) for i in images), max(float(i.max()) for i in images))
        levels = _levels(norm, images[-1])
        colours = temperature_colours()
        for view, image in zip(page.views, images, strict=True):
            _paint(view, heater, image, norm, colours, levels if view is page.main else None)
        number_turns(sheet, page.main, heater.model.section)
        _label_isotherms(sheet, page.main, heater, images[-1], levels)
        _colour_bar(page, norm, colours, levels)
        sheet.trim()
        return sheet.figure


def _about(heater: SteadyHeater) -> str:
    return mark_invented("temperature in the section, cut through the flue's axis", heater.case.invented)


def _sentences(heater: SteadyHeater, outcome: Mapping[str, Any]) -> list[str]:
    to_water = outcome["heat_to_water_W"]
    to_room = outcome["heat_through_outside_W"] + outcome["heat_through_ends_W"]
    entered, reach = to_water + to_room, _told(outcome, "heat_to_water_W")
    if not heater.model.section.turns:
        first = f"{watts(entered)} enter the flue wall and reach the room."
    elif to_room >= 0:
        first = (
            f"{watts(entered)} enter the flue wall along the coil; {reach} reach the water, "
            f"{watts(to_room)} ({share(to_room, entered)}) the room."
        )
    else:
        first = (
            f"{watts(entered)} enter the flue wall along the coil; {reach} reach the water, "
            f"{watts(-to_room)} of it from the room."
        )
    coldest, hottest, outside, room = (
        _told(outcome, key) for key in ("wall_min_C", "wall_max_C", "outside_max_C", "room_C")
    )
    return [first, f"Flue wall inside {coldest} to {hottest}; outside at most {outside}; room {room}."]


def _told(outcome: Mapping[str, Any], key: str) -> str:
    """A heat flow or a temperature with its unit, with its error where that is known."""
    error = outcome.get(error_key(key))
    if error is not None:
        return number(outcome[key], "W" if key.endswith("_W") else "°C", 0, error)
    return watts(outcome[key]) if key.endswith("_W") else degrees(outcome[key])


def _hottest_turn(heater: SteadyHeater) -> int | str:
    """Turn beside the hottest place of the flue wall."""
    model = heater.model
    if not model.section.turns:
        return "middle"
    hottest = int(np.argmax(heater.field.surface_temperature[model.gas_surfaces]))
    return int(model.gas_band[hottest])


def _image(heater: SteadyHeater, view: View) -> np.ma.MaskedArray:
    """Temperatures of a view, rows from below. [degC]"""
    kelvin = rasterise(heater.field, *_dots(view))
    return np.ma.masked_array(to_celsius(kelvin.data), kelvin.mask)


def _dots(view: View) -> tuple[Floats, Floats]:
    """Middles of the image's dots. [m]"""
    made = []
    for low, high in ((view.r_min, view.r_max), (view.z_min, view.z_max)):
        n = max(2, round((high - low) * view.scale * DOTS))
        made.append(low + (np.arange(n) + 0.5) * (high - low) / n)
    return made[0], made[1]


def _levels(norm: Normalize, image: np.ma.MaskedArray) -> Floats:
    """Round temperatures inside the range of the main view, those of the colour bar if it fills much of that."""
    low, high = float(image.min()), float(image.max())
    if high - low > MUCH * (float(norm.vmax or 0.0) - float(norm.vmin or 0.0)):
        ticks = _ticks(norm)
        return ticks[(ticks > low) & (ticks < high)]
    ticks = np.asarray(MaxNLocator(ISOTHERMS, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high))
    return ticks[(ticks > low) & (ticks < high)]


def _ticks(norm: Normalize) -> Floats:
    """Round temperatures over all views."""
    low, high = float(norm.vmin or 0.0), float(norm.vmax or 0.0)
    ticks = np.asarray(MaxNLocator(ISOTHERMS, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high))
    return ticks[(ticks >= low) & (ticks <= high)]


def _paint(
    view: View,
    heater: SteadyHeater,
    image: np.ma.MaskedArray,
    norm: Normalize,
    colours: Colormap,
    levels: Floats | None,
) -> None:
    extent = (view.r_min, view.r_max, view.z_min, view.z_max)
    limits = view.axes.get_xlim(), view.axes.get_ylim()
    view.axes.imshow(
        image, cmap=colours, norm=norm, extent=extent, origin="lower", aspect="equal", interpolation="nearest", zorder=1
    )
    if levels is not None:
        r, z = _dots(view)
        view.axes.contour(r, z, image, levels=levels, colors="white", linewidths=THIN, zorder=3)
    paint_outlines(view, heater.model.section, THIN if view.scale > 30 else HAIR)
    view.axes.set_xlim(*limits[0])
    view.axes.set_ylim(*limits[1])


def _label_isotherms(sheet: Sheet, view: View, heater: SteadyHeater, image: np.ma.MaskedArray, levels: Floats) -> None:
    """The value on each isotherm, and again on its other long runs, far from other words and from tubes."""
    r, z = _dots(view)
    contours = view.axes.contour(r, z, image, levels=levels, linewidths=0.0)
    runs = [
        (f"{level:g}", [(view.x(x), view.y(y)) for x, y in line[:: max(1, len(line) // POINTS)]])
        for level, lines in zip(levels, contours.allsegs, strict=True)
        for line in sorted(lines, key=len, reverse=True)
    ]
    contours.remove()
    named = [words for words, _ in runs]
    first = [named.index(words) == n for n, words in enumerate(named)]
    taken: list[Box] = []
    for words, points in [run for run, is_first in zip(runs, first, strict=True) if is_first] + [
        run for run, is_first in zip(runs, first, strict=True) if not is_first and _length(run[1]) > WORTH_A_LABEL
    ]:
        box = _best_place(sheet, view, heater, words, points, taken)
        if box is None:
            continue
        taken.append(box)
        label = sheet.text(box.x + box.width / 2, box.y + box.height / 2, words, SMALL, ha="center")
        label.set(color="white", path_effects=[withStroke(linewidth=1.8, foreground="#20242a")])


def _best_place(
    sheet: Sheet, view: View, heater: SteadyHeater, words: str, points: Sequence[tuple[float, float]], taken: list[Box]
) -> Box | None:
    """Box around words at the point of a line that is farthest from all else; None if there is no room."""
    width, height = sheet.measure(words, SMALL)
    best, room = None, 0.5 * KEEP_OFF
    for x, y in points:
        box = Box(x - width / 2, y - height / 2, width, height)
        found = min([_inside(view, box), *(_apart(box, other) for other in taken), _off_tubes(view, heater, x, y)])
        if found > room:
            best, room = box, found
    return best


def _length(points: Sequence[tuple[float, float]]) -> float:
    return float(np.hypot(*np.diff(np.array(points), axis=0).T).sum())


def _inside(view: View, box: Box) -> float:
    """Distance of a box from the nearest edge of what a view shows. [in]"""
    across = min(box.x - view.x(view.r_min), view.box.right - box.right)
    up = min(box.y - view.box.y, view.box.top - box.top)
    return min(across, up, 1.5 * KEEP_OFF)


def _apart(one: Box, other: Box) -> float:
    """Distance of two boxes along the axis in which they are farther apart. [in]"""
    across = max(one.x - other.right, other.x - one.right)
    up = max(one.y - other.top, other.y - one.top)
    return max(across, up)


def _off_tubes(view: View, heater: SteadyHeater, x: float, y: float) -> float:
    """Distance of a point from the nearest bore. [in]"""
    return min(
        (
            float(np.hypot(x - view.x(turn.r), y - view.y(turn.z))) - turn.inner_radius * view.scale
            for turn in heater.model.section.turns
            if view.shows(turn.z)
        ),
        default=1.0,
    )


def _colour_bar(page: Page, norm: Normalize, colours: Colormap, levels: Floats) -> None:
    """Colours with their temperatures, the isotherms marked."""
    sheet = page.sheet
    height = min(HIGHEST_BAR, max(page.main.box.height, COLUMN[1] - ABOVE_VIEW))
    box = Box(page.column.x, page.main.box.top - height, 0.2, height)
    low, high = float(norm.vmin or 0.0), float(norm.vmax or 0.0)
    axes = sheet.axes(box, (0, 1), (low, high))
    steps = np.linspace(low, high, 512)[:, None]
    axes.imshow(steps, cmap=colours, norm=norm, extent=(0, 1, low, high), origin="lower", aspect="auto")
    sheet.text(box.x, box.top + 0.15, "°C", BODY)
    for x in (box.x, box.right):
        sheet.line([x, x], [box.y, box.top], linewidth=HAIR)
    for y in (box.y, box.top):
        sheet.line([box.x, box.right], [y, y], linewidth=HAIR)
    for level in levels:
        y = box.y + (level - low) / (high - low) * height
        sheet.line([box.x, box.right], [y, y], color="white", linewidth=THIN)
    for level in _ticks(norm):
        y = box.y + (level - low) / (high - low) * height
        sheet.line([box.right, box.right + 0.04], [y, y], linewidth=HAIR)
        sheet.text(box.right + 0.06, float(y), f"{level:g}", SMALL)
