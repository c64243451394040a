"""Cavities of still air between plates, cylinders and tubes, and who sees whom in them.

Goes in: sizes. Comes out: pieces, enclosures, radiation and view factors, for
cases with closed forms.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.enclosure import Enclosure, enclose
from annulus.conduction.exchange import Radiation, grey_exchange
from annulus.conduction.grid import Grid, graded_faces, uniform_grid
from annulus.conduction.pieces import Painted, Pieces, cut_grid
from annulus.errors import GeometryError
from annulus.shapes import Disc, Rectangle

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MM = 1e-3


def between_layers(
    gap: float, height: float, cells: int, inner: float = 0.0, coordinates: str = "plane", across: int = 6
) -> Pieces:
    """Air `across` cells wide between two sheets of 1 mm, "inside" and "outside".

    `inner` is where the first sheet begins in plane coordinates, and the air in cylindrical ones. [m]
    """
    sheet = 1 * MM
    sides = [inner, inner + sheet, inner + sheet + gap, inner + 2 * sheet + gap]
    if coordinates == "cylindrical":
        sides = [side - sheet for side in sides]
    r_face = graded_faces(sides, lambda r: np.full(r.shape, gap / across))
    painted = [
        Painted("air", Rectangle(sides[0], sides[-1], 0.0, height)),
        Painted("inside", Rectangle(sides[0], sides[1], 0.0, height)),
        Painted("outside", Rectangle(sides[2], sides[3], 0.0, height)),
    ]
    return cut_grid(Grid(r_face, np.linspace(0.0, height, cells + 1), coordinates), painted)


def row_of_tubes(turns: int, pitch: float, cells: int, diameter: float = 12 * MM) -> Pieces:
    """A row of whole tubes in plane air, their axes 10 mm from the left side and 10 mm from the right. [m]"""
    grid = uniform_grid((0.0, 20 * MM), (0.0, turns * pitch), (cells, turns * cells), "plane")
    tubes = [Painted(f"tube {n}", Disc(10 * MM, (n + 0.5) * pitch, diameter / 2)) for n in range(turns)]
    return cut_grid(grid, [Painted("air", Rectangle(0.0, 20 * MM, 0.0, turns * pitch)), *tubes])


def see(pieces: Pieces, air: str = "air", patch: float = 3 * MM, sectors: int = 16) -> Enclosure:
    """Enclosure with patches of about this length. [m]"""
    grid = pieces.grid
    breaks = [
        np.linspace(face[0], face[-1], max(2, round((face[-1] - face[0]) / patch) + 1))
        for face in (grid.r_face, grid.z_face)
    ]
    found = enclose(pieces, [air], breaks[0], breaks[1], sectors)
    if found is None:
        raise GeometryError(f"region {air!r}: there is none of it to see through")
    return found


def radiate(
    pieces: Pieces, enclosure: Enclosure, emissivity: Mapping[str, float], held: Mapping[str, float]
) -> Radiation:
    """Radiation with emissivities by region (sides are black) and openings by side. [K]"""
    values, openings = np.ones(enclosure.count), np.full(enclosure.count, np.nan)
    for name, value in emissivity.items():
        values[enclosure.region == pieces.region_index(name)] = value
    for side, temperature in held.items():
        openings[enclosure.region == -1 - pieces.boundaries.index(side)] = temperature
    return Radiation(enclosure, grey_exchange(enclosure, values), openings)


def patches_of(pieces: Pieces, enclosure: Enclosure, name: str) -> Ints:
    """Patches of a region or of a side of the domain."""
    code = -1 - pieces.boundaries.index(name) if name in pieces.boundaries else pieces.region_index(name)
    return np.flatnonzero(enclosure.region == code)


def view_factor(pieces: Pieces, enclosure: Enclosure, here: str, there: str) -> float:
    """Share of what leaves one region (or side) that arrives at another."""
    one, other = (patches_of(pieces, enclosure, name) for name in (here, there))
    return float(enclosure.exchange[np.ix_(one, other)].sum() / enclosure.area[one].sum())


def height_of(pieces: Pieces, enclosure: Enclosure) -> Floats:
    """Mean height of every patch. [m]"""
    z = np.where(enclosure.link >= 0, pieces.links.z[enclosure.link], pieces.surfaces.z[enclosure.surface])
    n = enclosure.count
    return np.bincount(enclosure.patch, z, n) / np.bincount(enclosure.patch, minlength=n)
