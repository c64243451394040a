"""Painting the parts of a section into a view: filled by material, or as outlines over a picture.

Goes in: a view and a section. Comes out: patches in the view's axes, in painting
order, so that a later part covers an earlier one as in the section itself.
"""

from __future__ import annotations

import numpy as np
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from annulus.present.sheet import Sheet, add_filled, rectangle
from annulus.present.style import BODY, INK, THIN, WATER, fill_of
from annulus.present.views import View, Window
from annulus.section import Region, Section
from annulus.shapes import Disc

SMALLEST_NUMBER = 5.5  # type size below which a turn's number is left out of its tube [pt]
OF_BORE = 0.8  # of the bore's width that a number may take


def path_of(region: Region) -> Path:
    """Closed path around a region. [m]"""
    shape = region.shape
    if isinstance(shape, Disc):
        return Path.circle((shape.r, shape.z), shape.radius)
    return rectangle(shape.r_min, shape.r_max, shape.z_min, shape.z_max)


def regions_in(section: Section, window: Window, *roles: str) -> list[Region]:
    """Regions that a window shows, in painting order; of these roles only, if any are named."""
    seen = []
    for region in section.regions:
        shape = region.shape
        bottom, top = (
            (shape.z - shape.radius, shape.z + shape.radius) if isinstance(shape, Disc) else (shape.z_min, shape.z_max)
        )
        inside = shape.r < window.r_max if isinstance(shape, Disc) else shape.r_min < window.r_max
        if inside and bottom < window.z_max and top > window.z_min and (not roles or region.role in roles):
            seen.append(region)
    return seen


def paint_materials(
    view: View, section: Section, hatched: bool = True, roles: tuple[str, ...] = (), order: float = 2.0
) -> None:
    """Fill regions by their materials, with outlines, from a drawing order on."""
    for n, region in enumerate(regions_in(section, view.window, *roles)):
        path = path_of(region)
        if region.material is None:
            add_filled(view.axes, path, WATER, width=THIN, zorder=order + 0.001 * n)
            continue
        fill = fill_of(region.material)
        hatch = fill.hatch if hatched else None
        add_filled(view.axes, path, fill.face, hatch, fill.ink, THIN, zorder=order + 0.001 * n)


def paint_outlines(view: View, section: Section, width: float = THIN, colour: str = INK) -> None:
    """Outlines of all regions; those of voids dashed and hidden behind tubes. Bores are filled with water."""
    around = _around_tubes(view, section)
    for region in regions_in(section, view.window):
        if region.role == "filler":
            continue  # its sides are those of its neighbours
        dashes = (0, (4, 2)) if region.role == "void" else "-"
        face = WATER if region.material is None else "none"
        patch = PathPatch(path_of(region), facecolor=face, edgecolor=colour, linewidth=width, linestyle=dashes)
        patch.set_zorder(6)
        view.axes.add_artist(patch)
        if region.role == "void":
            patch.set_clip_path(around, view.axes.transData)


def number_turns(sheet: Sheet, view: View, section: Section, colour: str = INK) -> None:
    """The number of each turn inside its bore, where it fits."""
    for turn in section.turns:
        if not (view.z_min <= turn.z - turn.outer_radius and turn.z + turn.outer_radius <= view.z_max):
            continue
        words, bore = f"{turn.index + 1}", 2 * turn.inner_radius * view.scale
        width, _ = sheet.measure(words, BODY)
        size = min(BODY + 1, BODY * OF_BORE * bore / width, 72 * OF_BORE * bore)
        if size >= SMALLEST_NUMBER:
            sheet.text(view.x(turn.r), view.y(turn.z), words, size, ha="center", color=colour)


def _around_tubes(view: View, section: Section) -> Path:
    """All of a view but its tubes, as a path that runs the other way around each tube."""
    left = view.r_min - view.gas / view.scale
    parts = [rectangle(left, view.r_max, view.z_min, view.z_max)]
    for region in regions_in(section, view.window, "tube"):
        points = np.asarray(path_of(region).vertices)[-2::-1]  # without the closing one
        codes = np.full(len(points), Path.CURVE4, dtype=Path.code_type)
        codes[0] = Path.MOVETO
        parts.append(Path(points, codes))
    return Path.make_compound_path(*parts)
