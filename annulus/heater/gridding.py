"""The grid of a section: fine where the heat crosses, repeated for every turn.

Goes in: a `Section`. Comes out: a `Grid` with faces on every layer and void
boundary and on the boundaries between turns, so that equal turns get equal
cells.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.grid import Grid, graded_faces
from annulus.section import Section, Turn
from annulus.shapes import Rectangle

Floats = NDArray[np.float64]

NEAREST = 1 / 20  # of the tube's diameter: cells where tube and flue, or two tubes, come closest
ACROSS = 1 / 6  # of the tube's diameter: cells across the tube
GROWTH = 0.5  # how fast cells grow with distance from a closest place
SHARE_OF_GAP = 1.0  # a gap narrower than the nearest cells is one cell, down to `SMALLEST`
SMALLEST = 1 / 75  # of the tube's diameter
NARROWEST = 1 / 200  # of the tube's diameter: cells on a contact strip
CELLS_IN_SHEET = 1  # across a sheet or the flue wall
CELLS_IN_LAYER = 6  # across insulation, or a cavity without tubes
BLOCKS_WITHOUT_COIL = 40  # axial cells where there are no turns
MERGE = 5e-10  # of the section's extent: sides closer than this are one face, half of what `cut_grid` lets pass [-]


def make_grid(section: Section, fineness: int = 1) -> Grid:
    """Grid of a section; `fineness` splits every cell of the coarsest grid into that many each way."""
    return Grid(_r_faces(section, fineness), _z_faces(section, fineness), section.coordinates)


def block_edges(section: Section) -> Floats:
    """Heights between turns (or equal slices without a coil), shape (n_blocks + 1,). [m]"""
    if not section.turns:
        return np.linspace(section.z_min, section.z_max, BLOCKS_WITHOUT_COIL + 1)
    middles = np.array([turn.z for turn in section.turns])
    between = 0.5 * (middles[1:] + middles[:-1])
    return np.concatenate([[section.z_min], between, [section.z_max]])


def _r_faces(section: Section, fineness: int) -> Floats:
    sides = _merged([section.r_min, section.r_max, *_rectangle_sides(section, "r_min", "r_max")])
    layers = [
        (region.role, region.shape)
        for region in section.regions
        if isinstance(region.shape, Rectangle) and region.role != "void"
    ]
    cavity = next((shape for role, shape in layers if role == "filler"), None)
    contact = min((_contact_width(section, turn) for turn in section.turns if _touches(section, turn)), default=None)
    cells_across = {"insulation": CELLS_IN_LAYER} | dict.fromkeys(("flue", "shroud", "jacket"), CELLS_IN_SHEET)

    def size(r: Floats) -> Floats:
        wished = np.full(r.shape, np.inf)
        for role, shape in layers:
            if role in cells_across:
                inside = (r >= shape.r_min) & (r <= shape.r_max)
                depth = shape.r_max - shape.r_min
                wished = np.where(inside, np.minimum(wished, depth / cells_across[role]), wished)
        if contact is not None:
            in_wall = r <= section.flue_radius
            wished = np.where(in_wall, np.minimum(wished, contact + GROWTH * (section.flue_radius - r)), wished)
        if cavity is not None:
            inside = (r >= cavity.r_min) & (r <= cavity.r_max)
            wished = np.where(inside, np.minimum(wished, _cavity_size(section, r, cavity.r_min, cavity.r_max)), wished)
        return wished

    return graded_faces(sides, size, fineness)


def _cavity_size(section: Section, r: Floats, r_in: float, r_out: float) -> Floats:
    """Wished radial size inside the cavity."""
    if not section.turns:
        return np.full(r.shape, (r_out - r_in) / CELLS_IN_LAYER)
    diameter = 2 * section.turns[0].outer_radius
    wished = np.full(r.shape, diameter * ACROSS)
    for turn in section.turns:
        gap = max(turn.r - turn.outer_radius - r_in, 0.0)
        nearest = _contact_width(section, turn) if _touches(section, turn) else _near_size(gap, diameter)
        wished = np.minimum(wished, nearest + GROWTH * np.maximum(np.abs(r - r_in) - gap, 0.0))
    for far in {round(turn.r + turn.outer_radius, 9) for turn in section.turns}:
        clearance = max(r_out - far, 0.0)
        wished = np.minimum(wished, _near_size(clearance, diameter) + GROWTH * np.maximum(np.abs(r - far), 0.0))
    return wished


def _near_size(gap: float, diameter: float) -> float:
    """Cell size in a gap: the nearest size, or half the gap, down to the smallest size."""
    return max(SMALLEST * diameter, min(NEAREST * diameter, SHARE_OF_GAP * gap if gap > 0 else np.inf))


def _touches(section: Section, turn: Turn) -> bool:
    """True if the flue wall cuts a contact strip off the tube."""
    return turn.r - turn.outer_radius < section.flue_radius


def _contact_width(section: Section, turn: Turn) -> float:
    """Cell size where flue and tube are closest, by the height over which heat passes there. [m]

    Half the strip of a tube that touches; else half the height over which the
    gap doubles, 0.5 sqrt(2 R g). Within `NARROWEST` and `NEAREST` of the diameter.
    """
    radius, apart = turn.outer_radius, turn.r - section.flue_radius
    if _touches(section, turn):
        width = np.sqrt(radius**2 - apart**2)
    else:
        width = 0.5 * np.sqrt(2 * radius * (apart - radius))
    return float(np.clip(width, NARROWEST * 2 * radius, NEAREST * 2 * radius))


def _z_faces(section: Section, fineness: int) -> Floats:
    edges = block_edges(section)
    middles = np.array([turn.z for turn in section.turns])
    fixed = _merged([*edges, *middles, *_rectangle_sides(section, "z_min", "z_max")])
    if not section.turns:
        return graded_faces(fixed, lambda z: np.full(z.shape, edges[1] - edges[0]), fineness)
    diameter = 2 * section.turns[0].outer_radius
    pitch = np.diff(middles).min() if middles.size > 1 else np.inf
    between = max(pitch - diameter, 0.0)
    nearest = min(_contact_width(section, turn) for turn in section.turns)

    def size(z: Floats) -> Floats:
        to_middle = np.abs(z[:, None] - middles).min(axis=1)
        wished = np.minimum(diameter * ACROSS, nearest + GROWTH * to_middle)
        if between < diameter * ACROSS:
            to_edge = np.abs(z[:, None] - edges).min(axis=1)
            wished = np.minimum(wished, _near_size(between, diameter) + GROWTH * to_edge)
        return wished

    return graded_faces(fixed, size, fineness)


def _rectangle_sides(section: Section, low: str, high: str) -> list[float]:
    """Sides of all rectangles, those of voids clipped to the section."""
    first, last = getattr(section, low), getattr(section, high)
    shapes = [region.shape for region in section.regions if isinstance(region.shape, Rectangle)]
    return [min(max(getattr(shape, side), first), last) for shape in shapes for side in (low, high)]


def _merged(positions: Sequence[float]) -> Floats:
    """Positions in order, those closer than `MERGE` joined."""
    ordered = np.unique(positions)
    keep = np.concatenate([[True], np.diff(ordered) > MERGE * (ordered[-1] - ordered[0])])
    return ordered[keep]
