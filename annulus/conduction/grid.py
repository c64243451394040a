"""Tensor-product grid in (r, z), graded between faces that must be there.

Goes in: the places where a face is wanted (layer boundaries, block
boundaries) and a wished cell size along the coordinate. Comes out: a frozen
`Grid` of face positions, in plane or cylindrical coordinates.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.errors import GeometryError

SAMPLES_PER_INTERVAL = 400  # points at which the wished cell size is read between two fixed faces


@dataclass(frozen=True)
class Grid:
    """Faces of a tensor-product grid.

    Parameters
    ----------
    r_face : ndarray, shape (nr + 1,)
        Increasing. In cylindrical coordinates none is negative. [m]
    z_face : ndarray, shape (nz + 1,)
        Increasing. [m]
    coordinates : {"cylindrical", "plane"}
        In "plane", r and z are Cartesian and everything is per metre of depth.

    Raises
    ------
    GeometryError
        If faces do not increase, or a cylindrical grid crosses its axis.
    """

    r_face: NDArray[np.float64]
    z_face: NDArray[np.float64]
    coordinates: str = "cylindrical"

    def __post_init__(self) -> None:
        for name in ("r_face", "z_face"):
            face = np.ascontiguousarray(getattr(self, name), dtype=float)
            if face.ndim != 1 or face.size < 2 or not np.all(np.diff(face) > 0):
                raise GeometryError(f"grid: {name} must be at least two increasing positions")
            object.__setattr__(self, name, face)
        if self.coordinates not in ("cylindrical", "plane"):
            raise GeometryError(f"grid: coordinates {self.coordinates!r} must be 'cylindrical' or 'plane'")
        if self.coordinates == "cylindrical" and self.r_face[0] < 0:
            raise GeometryError(f"grid: r_face starts at {self.r_face[0]} m, inside the axis")

    @property
    def shape(self) -> tuple[int, int]:
        """Number of cells (nr, nz)."""
        return self.r_face.size - 1, self.z_face.size - 1

    @property
    def is_cylindrical(self) -> bool:
        return self.coordinates == "cylindrical"


def graded_faces(
    fixed: ArrayLike,
    size: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    fineness: int = 1,
) -> NDArray[np.float64]:
    """Faces that hit every fixed position and follow a wished cell size.

    Between two fixed positions the cells share out the integral of dx / size
    evenly, so a smooth size gives smooth grading and a mirrored size a
    mirrored grid. `fineness` splits every cell into that many: the faces of
    a coarser grid are faces of the finer one too.

    Parameters
    ----------
    fixed : array_like
        Positions that must be faces, at least two; sorted here. [m]
    size : callable
        Wished cell size at an array of positions. [m]
    fineness : int
        Number of cells in place of one.

    Returns
    -------
    ndarray, shape (n + 1,)
        Increasing faces. [m]
    """
    ends = np.unique(np.asarray(fixed, dtype=float))
    if ends.size < 2:
        raise GeometryError("grid: two different fixed faces are needed")
    faces = [ends[:1]]
    for low, high in pairwise(ends):
        x = np.linspace(low, high, SAMPLES_PER_INTERVAL + 1)
        density = 1.0 / size(x)
        count = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(x))])
        cells = max(1, int(np.ceil(count[-1] - 1e-6))) * fineness
        inner = np.interp(np.arange(1, cells) * (count[-1] / cells), count, x)
        faces += [inner, np.array([high])]
    return np.concatenate(faces)


def uniform_grid(
    r_range: tuple[float, float], z_range: tuple[float, float], cells: tuple[int, int], coordinates: str = "cylindrical"
) -> Grid:
    """Grid of equal cells over a rectangle. Lengths in [m]."""
    r_face = np.linspace(*r_range, cells[0] + 1)
    z_face = np.linspace(*z_range, cells[1] + 1)
    return Grid(r_face, z_face, coordinates)
