"""Views of a section at true scale: which part is seen, and where it lies on the page.

Goes in: a section and a box on the page. Comes out: a `View`: axes in metres,
equal scale both ways, with the gas zone and the flue's axis on the left. The
way from axis to bore is shortened by a marked break, all else is to scale.
"""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.axes import Axes

from annulus.present.sheet import Box, Sheet
from annulus.present.style import BOLD, GREY, HAIR, INK, SMALL, THIN
from annulus.section import Section

FEW_TURNS = 4  # so many are shown in one picture; more get the whole and an enlarged part
THICK, SHOWN_OF_THICK = 4.0, 2.5  # of flue wall and cavity: a thicker section is shown enlarged only so far out
SQUAT = 1.4  # of its width: a section without a coil that is no higher is shown in one picture


@dataclass(frozen=True)
class Window:
    """Part of a section: from the bore to r_max, between two heights. [m]"""

    r_max: float
    z_min: float
    z_max: float


@dataclass(frozen=True)
class View:
    """Part of a section on the page.

    Attributes
    ----------
    axes : Axes
        In metres.
    box : Box
        Where it lies, gas zone included. [in]
    gas : float
        Width of the gas zone. [in]
    scale : float
        [in/m]
    r_min : float
        Bore of the flue. [m]
    window : Window
        What is seen right of the gas zone.
    """

    axes: Axes
    box: Box
    gas: float
    scale: float
    r_min: float
    window: Window

    @property
    def r_max(self) -> float:
        return self.window.r_max

    @property
    def z_min(self) -> float:
        return self.window.z_min

    @property
    def z_max(self) -> float:
        return self.window.z_max

    def x(self, r: float) -> float:
        """Place on the page of a radius. [in]"""
        return self.box.x + self.gas + (r - self.r_min) * self.scale

    def y(self, z: float) -> float:
        """Place on the page of a height. [in]"""
        return self.box.y + (z - self.z_min) * self.scale

    def shows(self, z: float) -> bool:
        return self.z_min <= z <= self.z_max


def whole_of(section: Section) -> Window:
    """All of a section."""
    return Window(section.r_max, section.z_min, section.z_max)


def is_one_picture(section: Section) -> bool:
    """Whether the whole section is large enough to be read without an enlarged part."""
    if section.turns:
        return len(section.turns) <= FEW_TURNS and _reach(section) == section.r_max
    return section.height <= SQUAT * (section.r_max - section.r_min)


def _reach(section: Section) -> float:
    """How far out an enlarged part goes: all the way, unless thick insulation would make the tubes tiny. [m]"""
    inner = section.cavity_radius - section.r_min
    if not section.turns or section.r_max - section.r_min <= THICK * inner:
        return section.r_max
    return section.r_min + SHOWN_OF_THICK * inner


def fit(section: Section, window: Window, width: float, height: float, gas: float) -> float:
    """Largest scale at which a part of the section fits into a width and a height. [in/m]"""
    return min((width - gas) / (window.r_max - section.r_min), height / (window.z_max - window.z_min))


def part_of(section: Section, around: int | str, width: float, height: float, gas: float) -> Window:
    """An enlarged part that fills a box well: two or three turns, more if the section is wide.

    Parameters
    ----------
    around : int or {"bottom", "middle", "top"}
        Index of a turn that must be seen, or where the part lies.
    width, height, gas : float
        Of the box and of the gas zone. [in]

    Returns
    -------
    Window
        Its heights on boundaries between turns.
    """
    reach = _reach(section)
    across = reach - section.r_min
    if not section.turns:
        depth = min(section.height, across * height / (width - gas))
        first = {"bottom": 0.0, "top": section.height - depth}.get(str(around), 0.5 * (section.height - depth))
        return Window(reach, section.z_min + first, section.z_min + first + depth)
    count = len(section.turns)
    pitch = section.height / count
    by_width = (width - gas) / across
    shown = 2 if across < 0.6 * 3 * pitch else 3
    shown = min(count, max(shown, int(height / (by_width * pitch))))
    middle = {"bottom": 0, "middle": count // 2, "top": count - 1}.get(str(around), around)
    first_turn = min(max(int(middle) - shown // 2, 0), count - shown)
    return Window(reach, section.z_min + first_turn * pitch, section.z_min + (first_turn + shown) * pitch)


def place(sheet: Sheet, section: Section, window: Window, box: Box, gas: float, scale: float) -> View:
    """Put a part of a section at the upper left of a box, with its gas zone and the flue's axis."""
    to_axis = section.r_min * scale
    gas_width = min(gas, to_axis)
    width, height = gas_width + (window.r_max - section.r_min) * scale, (window.z_max - window.z_min) * scale
    where = Box(box.x, box.top - height, width, height)
    axes = sheet.axes(where, (section.r_min - gas_width / scale, window.r_max), (window.z_min, window.z_max))
    axes.set_aspect("equal")
    view = View(axes, where, gas_width, scale, section.r_min, window)
    _draw_axis(sheet, view, broken=to_axis > gas)
    _draw_ends(sheet, view, section)
    return view


def _draw_axis(sheet: Sheet, view: View, broken: bool) -> None:
    """The axis, and where the way to the bore is broken."""
    bottom, top, left = view.box.y, view.box.top, view.box.x
    sheet.line([left, left], [bottom - 0.06, top + 0.06], linewidth=THIN, color=GREY, linestyle=(0, (9, 2.5, 1.5, 2.5)))
    if not broken:
        return
    x, wave = left + 0.28 * view.gas, min(0.035, 0.1 * view.gas)
    for end in (bottom, top):
        for shift in (0.0, 1.6 * wave):
            xs = [x + shift - wave, x + shift + wave]
            sheet.line(xs, [end - 1.6 * wave, end + 1.6 * wave], linewidth=THIN, color=GREY)
        sheet.line([left, x - 0.2 * wave], [end, end], linewidth=HAIR, color=GREY)
        sheet.line([x + 1.8 * wave, left + view.gas], [end, end], linewidth=HAIR, color=GREY)


def _draw_ends(sheet: Sheet, view: View, section: Section) -> None:
    """Ends of the section as full lines, cuts through it as dashed ones."""
    left, right = view.x(view.r_min), view.box.right
    for z, end in ((view.z_min, section.z_min), (view.z_max, section.z_max)):
        is_end = abs(z - end) < 1e-9 * section.height
        style = {"linewidth": THIN, "color": INK} if is_end else {"linewidth": THIN, "color": GREY, "linestyle": "--"}
        sheet.line([left, right], [view.y(z)] * 2, **style)
    if view.r_max < section.r_max:
        sheet.line([right, right], [view.box.y, view.box.top], linewidth=THIN, color=GREY, linestyle="--")


def mark_part(sheet: Sheet, whole: View, part: View) -> None:
    """Show on the whole where the enlarged part lies."""
    low, high = whole.y(part.z_min), whole.y(part.z_max)
    left, right = whole.box.x - 0.04, whole.x(part.r_max) + 0.04
    sheet.line([left, right, right, left, left], [low, low, high, high, low], linewidth=BOLD)


def scale_bar(sheet: Sheet, view: View, x: float, y: float, longest: float) -> None:
    """A bar of a round length at true scale of a view, its length beside it."""
    millimetres = longest / view.scale * 1000
    power = 10.0 ** int(f"{millimetres:e}".split("e")[1])
    length = next(n * power for n in (5, 2, 1) if n * power <= millimetres)
    width = length / 1000 * view.scale
    half = width / 2
    for n, colour in enumerate((INK, "white")):
        xs = (x + n * half, x + (n + 1) * half)
        sheet.over.fill_between(xs, y - 0.025, y + 0.025, facecolor=colour, edgecolor=INK, linewidth=HAIR)
    sheet.text(x + width + 0.06, y, f"{length:g} mm", SMALL)
