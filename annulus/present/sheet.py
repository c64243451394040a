"""A page: everything on it is placed in inches and every text is measured before it is placed.

Goes in: words and positions. Comes out: a figure. A page has a head (title,
what the picture shows), a foot (sentences) and a body between them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.text import Text

from annulus.present.style import BODY, DPI, GREY, HEADING, INK, THIN, TITLE, Fill, Stripe

LINE = 1.35  # distance of lines of text, of the type size
MARGIN = 0.4  # around the page [in]
TITLE_LINES = 3  # a longer title ends in an ellipsis
HEAD_WIDTH = 8.0  # of title and what the picture shows: a wider one would stretch a page past what is drawn on it [in]
NARROWEST = 7.0  # page [in]
HARD_SPACE = "\u00a0"
UNITS = "%|°C|K|k?W|[kM]J|[cm]?m[²³]?|s|min|h|kg|g|L"  # as pictures print them
WITH_NUMBER = re.compile(rf"(?<=\d) (?=(?:{UNITS})(?![\w]))| (?=±)|(?<=±) |(?<=\bturn) (?=\d)")
ABOVE = 20  # drawing order of words over what is drawn


@dataclass(frozen=True)
class Box:
    """A rectangle on the page, from its lower left corner. [in]"""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.x + self.width

    @property
    def top(self) -> float:
        return self.y + self.height


class Sheet:
    """A page under construction. Lengths in inches from its lower left corner."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.figure = Figure(figsize=(width, height), dpi=DPI, facecolor="white")
        self._canvas = FigureCanvasAgg(self.figure)
        self._ends: list[float] = []  # right ends and bottoms of the axes that are placed on the page
        self._bottoms: list[float] = []
        self._foot: list[Text] = []
        self.over = self.axes(Box(0, 0, width, height), (0, width), (0, height))
        self.over.set_zorder(ABOVE)
        self._ends.clear()
        self._bottoms.clear()
        self.body = Box(MARGIN, MARGIN, width - 2 * MARGIN, height - 2 * MARGIN)

    def axes(self, box: Box, x_limits: tuple[float, float], y_limits: tuple[float, float]) -> Axes:
        """Bare axes that fill a box."""
        place = (box.x / self.width, box.y / self.height, box.width / self.width, box.height / self.height)
        made = self.figure.add_axes(place)
        self._ends.append(box.right)
        self._bottoms.append(box.y)
        made.set_axis_off()
        made.set_xlim(*x_limits)
        made.set_ylim(*y_limits)
        return made

    def measure(self, words: str, size: float = BODY, weight: str = "normal") -> tuple[float, float]:
        """Width and height of words set level. [in]"""
        font = FontProperties(family="sans-serif", size=size, weight=weight)
        renderer = self._canvas.get_renderer()
        lines = words.split("\n")
        wide = max(renderer.get_text_width_height_descent(line or " ", font, False)[0] for line in lines)
        return wide / DPI, len(lines) * line_height(size)

    def text(self, x: float, y: float, words: str, size: float = BODY, **options: Any) -> Text:
        """Put words on the page; from x to the right, its letters centred on y, unless told otherwise."""
        usual: dict[str, Any] = {"ha": "left", "va": "center_baseline", "color": INK}
        options = usual | options
        return self.over.text(x, y, words, fontsize=size, **options)

    def line(self, xs: Sequence[float], ys: Sequence[float], **options: Any) -> Line2D:
        """Draw a line through points of the page."""
        usual: dict[str, Any] = {"color": INK, "linewidth": THIN, "solid_capstyle": "butt"}
        options = usual | options
        drawn = Line2D(xs, ys, **options)
        self.over.add_line(drawn)
        return drawn

    def swatch(self, box: Box, fill: Fill | Stripe, face: str | None = None) -> None:
        """A small filled rectangle."""
        colour = face or (fill.face if isinstance(fill, Fill) else fill.dark)
        add_filled(self.over, rectangle(box.x, box.right, box.y, box.top), colour, fill.hatch, fill.ink, THIN)

    def wrap(self, words: str, width: float, size: float = BODY, weight: str = "normal") -> list[str]:
        """Lines of words no wider than a width; numbers keep their units, a word too wide by itself is broken."""
        lines: list[str] = []
        current = ""
        chunks = re.findall(r"[^ \t\n]+", WITH_NUMBER.sub(HARD_SPACE, words))
        fitting = (c if self.measure(c, size, weight)[0] <= width else c.replace(HARD_SPACE, " ") for c in chunks)
        for word in " ".join(fitting).split(" "):
            longer = f"{current} {word}".strip()
            if self.measure(longer, size, weight)[0] <= width:
                current = longer
                continue
            if current:
                lines.append(current)
            while self.measure(word, size, weight)[0] > width and len(word) > 1:
                fits = max(
                    (n for n in range(1, len(word)) if self.measure(word[:n], size, weight)[0] <= width), default=1
                )
                lines.append(word[:fits])
                word = word[fits:]
            current = word
        return [*lines, current] if current else lines

    def shorten(self, lines: list[str], most: int, width: float, size: float, weight: str = "normal") -> list[str]:
        """No more than `most` lines; the last one then ends in an ellipsis."""
        if len(lines) <= most:
            return lines
        last = lines[most - 1] + " …"
        while self.measure(last, size, weight)[0] > width and len(last) > 3:
            last = last[:-3] + " …"
        return [*lines[: most - 1], last]

    def head(self, title: str, about: str) -> None:
        """Title and what the picture shows, at the top; the body shrinks."""
        y, width = self.body.top, min(self.body.width, HEAD_WIDTH)
        lines = self.shorten(self.wrap(title, width, TITLE, "bold"), TITLE_LINES, width, TITLE, "bold")
        for words in lines:
            y -= line_height(TITLE)
            self.text(self.body.x, y, words, TITLE, weight="bold", va="baseline")
        y -= 0.03
        for words in self.wrap(about, width, HEADING):
            y -= line_height(HEADING)
            self.text(self.body.x, y, words, HEADING, color=GREY, va="baseline")
        self.body = Box(self.body.x, self.body.y, self.body.width, y - 0.15 - self.body.y)

    def trim(self) -> None:
        """Take away what is empty at the right of the page and above its foot."""
        renderer = self._canvas.get_renderer()
        footed = set(self._foot)
        drawn = [*self.over.texts, *self.over.lines, *self.over.patches, *self.over.collections]
        extents = [(artist, artist.get_window_extent(renderer)) for artist in drawn]
        right = max(NARROWEST - MARGIN, *self._ends, *(extent.x1 / DPI for _, extent in extents))
        lowest = min(*self._bottoms, *(extent.y0 / DPI for artist, extent in extents if artist not in footed))
        width, gap = min(self.width, right + MARGIN), max(0.0, lowest - self.body.y - 0.1)
        for axes in self.figure.axes:
            place = axes.get_position(original=True)
            if axes is not self.over:
                x, across = place.x0 * self.width / width, place.width * self.width / width
                y, up = place.y0 * self.height - gap, place.height * self.height
                axes.set_position((x, y / (self.height - gap), across, up / (self.height - gap)))
        for text in self._foot:
            text.set_y(text.get_position()[1] + gap)
        self.over.set_xlim(0, width)
        self.over.set_ylim(gap, self.height)
        self.figure.set_size_inches(width, self.height - gap)
        self.width, self.height = width, self.height - gap

    def foot(self, sentences: Sequence[str]) -> None:
        """Sentences at the bottom, the first one bold; the body shrinks."""
        lines = [
            (words, "bold" if n == 0 else "normal")
            for n, sentence in enumerate(sentences)
            for words in self.wrap(sentence, self.body.width, BODY, "bold" if n == 0 else "normal")
        ]
        y = self.body.y
        for words, weight in reversed(lines):
            self._foot.append(self.text(self.body.x, y, words, BODY, weight=weight, va="bottom"))
            y += line_height(BODY)
        self.body = Box(self.body.x, y + 0.1, self.body.width, self.body.top - y - 0.1)


def add_filled(
    axes: Axes,
    path: Path,
    face: str,
    hatch: str | None = None,
    ink: str = GREY,
    width: float = 0.0,
    **options: Any,
) -> None:
    """Fill a closed path with a colour and a hatch, and outline it if `width` [pt] is given.

    Matplotlib draws a hatch in the colour of the outline, so an outline is a
    path of its own. Paths are added as artists, for patches would be measured
    by matplotlib to scale axes that have their scale already.
    """
    edge = ink if hatch else "none"
    axes.add_artist(PathPatch(path, facecolor=face, edgecolor=edge, linewidth=0.0, hatch=hatch, **options))
    if width > 0:
        axes.add_artist(PathPatch(path, facecolor="none", edgecolor=INK, linewidth=width, **options))


def rectangle(x_min: float, x_max: float, y_min: float, y_max: float) -> Path:
    """Closed path around a rectangle."""
    corners = [(x_min, y_min), (x_max, y_min), (x_max, y_max), (x_min, y_max), (x_min, y_min)]
    return Path(corners, closed=True)


def line_height(size: float) -> float:
    """Distance of lines of text. [in]"""
    return size * LINE / 72
