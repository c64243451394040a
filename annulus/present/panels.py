"""Plots side by side on a page, with frames, ticks and words at the ends of their curves.

Goes in: how many plots, how wide their words are. Comes out: axes in inches on
a `Sheet`; ticks that are plain numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullFormatter

from annulus.errors import InputError
from annulus.heater.precision import error_key
from annulus.present.labels import spread
from annulus.present.sheet import MARGIN, NARROWEST, Box, Sheet, line_height
from annulus.present.style import BODY, GREY, HAIR, SMALL
from annulus.present.tables import GROUPS
from annulus.studies.vary import Variation

WIDTH, HEIGHT = 2.7, 2.3  # of one plot of several [in]
ALONE = 4.6, 3.1  # of the only one [in]
LEFT, BELOW, ABOVE, BETWEEN = 0.62, 0.6, 0.3, 0.25  # around a plot: ticks, axis words, name; between plots [in]
MOST = 12  # plots on a page
TICKS = 6
ROUND = (1, 2, 2.5, 5, 10)  # steps between ticks, times powers of ten
LEAST_SHARE = 0.25  # of a common scale that every plot must fill
OWN_SCALES = "Each plot has a scale of its own."
# colours that colour-blind readers tell apart (Okabe and Ito's set, from memory, yellow left out), a marker each
CURVES = (
    ("#0072b2", "o", "-"),
    ("#d55e00", "s", "--"),
    ("#009e73", "^", "-."),
    ("#cc79a7", "D", ":"),
    ("#56b4e9", "v", "-"),
    ("#e69f00", "P", "--"),
    ("#000000", "X", "-."),
    ("#8a6d3b", "<", ":"),
)
_UNITS = {"C": "°C", "kg_s": "kg/s", "K_W": "K/W", "W_m2K": "W/m²K", "m3": "m³"}
_LABELS = {key: label.strip() for _, lines in GROUPS for label, key, _, _ in lines}


def say_result(name: str) -> str:
    """A result's name for an axis: "heat to the water / W"."""
    stem, unit = name, ""
    for ending in ("kg_s", "K_W", "W_m2K", "W", "C", "m", "m3", "kg", "s", "J"):
        if name.endswith(f"_{ending}"):
            stem, unit = name.removesuffix(f"_{ending}"), _UNITS.get(ending, ending)
            break
    words = _LABELS.get(name, stem.replace("_", " "))
    return f"{words} / {unit}" if unit else words


def say_variation(variation: Variation, unit: bool = True) -> str:
    """What is varied, for an axis: "coil pitch / mm"; keys of one table name it once."""
    first, *more = variation.name.split(" and ")
    table = first.rpartition(".")[0]
    words = " and ".join([first, *(key.removeprefix(f"{table}.") for key in more)])
    words = words.replace(".", " ").replace("_", " ")
    _, bracket, written = variation.columns[0].partition(" [")
    written = written.removesuffix("]").replace("m2", "m²").replace("m3", "m³")
    return f"{words} / {written}" if unit and bracket and len(variation.columns) == 1 else words


def own_scales(ranges: Sequence[tuple[float, float]]) -> bool:
    """True if one scale for all plots would press one of them flat."""
    whole = max(high for _, high in ranges) - min(low for low, _ in ranges)
    return any(high - low < LEAST_SHARE * whole for low, high in ranges)


class Panels:
    """A page of plots in rows.

    Parameters
    ----------
    title, about : str
        Head of the page.
    foot : sequence of str
    names : sequence of str
        Of the plots.
    beside : float
        Room for words at the right of each plot. [in]

    Raises
    ------
    InputError
        If there are more than `MOST` plots.
    """

    def __init__(self, title: str, about: str, foot: Sequence[str], names: Sequence[str], beside: float) -> None:
        if len(names) > MOST:
            raise InputError(f"picture: {len(names)} plots do not fit on a page, which takes {MOST}; vary less at once")
        count = len(names)
        self.width, self.height = ALONE if count == 1 else (WIDTH, HEIGHT)
        above = ABOVE if any(names) else 0.1
        across = LEFT + self.width + beside
        in_row = min(count, max(1, int(12.0 // (across + BETWEEN))))
        rows = math.ceil(count / in_row)
        width = max(NARROWEST, 2 * MARGIN + in_row * across + (in_row - 1) * BETWEEN)
        down = above + self.height + BELOW
        trial = _headed(width, 12.0, title, about, foot)
        around = trial.height - trial.body.height
        self.sheet = _headed(width, around + rows * down + (rows - 1) * 0.1, title, about, foot)
        self.boxes: list[Box] = []
        body = self.sheet.body
        for n in range(count):
            row, column = divmod(n, in_row)
            x = body.x + column * (across + BETWEEN) + LEFT
            self.boxes.append(Box(x, body.top - row * (down + 0.1) - above - self.height, self.width, self.height))
        self.names = list(names)
        self.beside = beside

    def open(self, n: int, x_words: str, y_words: str) -> Axes:
        """Axes of a plot, framed and named, without limits or scales yet."""
        box, sheet = self.boxes[n], self.sheet
        axes = sheet.axes(box, (0, 1), (0, 1))
        axes.set_axis_on()
        axes.autoscale(True)
        for side, spine in axes.spines.items():
            spine.set_linewidth(HAIR)
            spine.set_visible(side in ("left", "bottom"))
        axes.tick_params(labelsize=SMALL, width=HAIR, length=3, pad=2, color=GREY)
        axes.tick_params(which="minor", width=HAIR, length=1.5, color=GREY)
        wide = self.width + self.beside
        for row, words in enumerate(sheet.shorten(sheet.wrap(x_words, wide, BODY), 2, wide, BODY)):
            sheet.text(box.x + 0.5 * self.width, box.y - 0.34 - row * line_height(BODY), words, BODY, ha="center")
        upright = sheet.shorten(sheet.wrap(y_words, self.height, BODY), 1, self.height, BODY)[0]
        sheet.text(box.x - 0.52, box.y + 0.5 * self.height, upright, BODY, rotation=90, ha="center", va="center")
        for words in sheet.shorten(sheet.wrap(self.names[n], wide, BODY, "bold"), 1, wide, BODY, "bold"):
            sheet.text(box.x, box.top + 0.14, words, BODY, weight="bold")
        return axes

    def name_curves(self, n: int, axes: Axes, curves: Sequence[tuple[float, float, str, str]]) -> None:
        """Words at the right of a plot, tied to the ends of their curves: x and y in data, words, colour."""
        box, sheet = self.boxes[n], self.sheet
        ends = []
        for x, y, words, colour in curves:
            at = axes.transData.transform((x, y)) / sheet.figure.dpi
            ends.append((float(at[0]), float(at[1]), words, colour))
        size = line_height(SMALL)
        places = spread([y for _, y, _, _ in ends], [size] * len(ends), box.y - 0.1, box.top + 0.1)
        left = box.right + 0.16
        for (x, y, words, colour), place in zip(ends, places, strict=True):
            sheet.line([x + 0.06, box.right + 0.04, left - 0.02], [y, y, place], color=colour, linewidth=HAIR)
            sheet.text(left, float(place), words, SMALL, color=colour)


def plain_ticks(axes: Axes, log_x: bool = False, log_y: bool = False) -> None:
    """Few ticks with plain numbers; a decade each on a logarithmic scale."""
    for axis, is_log in ((axes.xaxis, log_x), (axes.yaxis, log_y)):
        axis.set_major_locator(LogLocator(10, numticks=TICKS) if is_log else MaxNLocator(TICKS, steps=ROUND))
        axis.set_major_formatter(FuncFormatter(lambda value, _: say_tick(value)))
        axis.set_minor_formatter(NullFormatter())


def say_tick(value: float) -> str:
    """A plain number, as people write its power of ten.

    >>> [say_tick(value) for value in (1e-5, 0.001, 2.5, -0.0, 3e7)]
    ['1e-5', '0.001', '2.5', '0', '3e7']
    """
    digits, power, exponent = f"{value + 0.0:g}".partition("e")
    return f"{digits}{power}{int(exponent)}" if power else digits


def bar_note(names: Sequence[str]) -> str:
    """Sentence on the error bars of results."""
    bars = ", ".join(error_key(name) for name in names)
    return (
        f"Bars are the errors of the grid ({bars}); where no bar shows it is smaller than the mark. They do not hold \
the doubt about the laws: a gas-side law is good to some 40 %."
    )


def _headed(width: float, height: float, title: str, about: str, foot: Sequence[str]) -> Sheet:
    sheet = Sheet(width, height)
    sheet.head(title, about)
    sheet.foot(foot)
    return sheet
