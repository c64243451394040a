"""Cavities of tubes and voids for tests of radiation between surfaces; simpler ones are in `annulus.verification`."""

from __future__ import annotations

import math

import numpy as np

from annulus.conduction.grid import Grid, graded_faces, uniform_grid
from annulus.conduction.pieces import Painted, Pieces, cut_grid
from annulus.shapes import Disc, Rectangle

MM = 1e-3


def touching_tubes(cells: int = 24) -> Pieces:
    """Three tubes with bores in air round a flue that they touch over 0.2 mm, a shroud outside."""
    radius, wall, pitch = 6.35 * MM, 76.5 * MM, 17 * MM
    r = wall + math.sqrt(radius**2 - (0.1 * MM) ** 2)
    r_face = graded_faces(
        [75 * MM, wall, 93 * MM, 94 * MM], lambda x: np.where(x < wall, 0.5 * MM, 1.5 * pitch / cells)
    )
    painted = [Painted("air", Rectangle(wall, 93 * MM, 0.0, 3 * pitch))]
    for n in range(3):
        painted += [Painted(f"tube {n}", Disc(r, (n + 0.5) * pitch, radius))]
        painted += [Painted(f"bore {n}", Disc(r, (n + 0.5) * pitch, radius - 0.8 * MM), False)]
    painted += [Painted("flue", Rectangle(75 * MM, wall, 0.0, 3 * pitch))]
    painted += [Painted("shroud", Rectangle(93 * MM, 94 * MM, 0.0, 3 * pitch))]
    return cut_grid(Grid(r_face, np.linspace(0.0, 3 * pitch, 3 * cells + 1)), painted)


def void_in_sand(cells: int = 20, coordinates: str = "plane", inner: float = 0.0, void: float = 10 * MM) -> Pieces:
    """A square of air in the middle of a square of sand, 20 mm wide; a tube reaches into the air from above. [m]"""
    low, high = 10 * MM - void / 2, 10 * MM + void / 2
    grid = uniform_grid((inner, inner + 20 * MM), (0.0, 20 * MM), (cells, cells), coordinates)
    return cut_grid(
        grid,
        [
            Painted("sand", Rectangle(inner, inner + 20 * MM, 0.0, 20 * MM)),
            Painted("void", Rectangle(inner + low, inner + high, low, high)),
            Painted("tube", Disc(inner + 10 * MM, 15 * MM, 2 * MM)),
        ],
    )
