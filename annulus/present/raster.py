"""The field of a section as an image: every dot read in the piece that it lies in.

Goes in: a solved field and the part of the section that is seen. Comes out: rows
of temperatures, smooth within each region and free to jump at contacts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.pieces import Pieces
from annulus.conduction.steady import Field
from annulus.shapes import Disc, Rectangle

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def rasterise(field: Field, r: Floats, z: Floats) -> np.ma.MaskedArray:
    """Temperatures on a lattice of dots.

    Parameters
    ----------
    field : Field
    r, z : ndarray, shape (n,), (m,)
        Increasing, inside the grid. [m]

    Returns
    -------
    masked array, shape (m, n)
        [K]; masked in holes.

    Notes
    -----
    A dot takes a weighted mean of the straight extensions T_p + grad T_p . (x - x_p)
    of the pieces of its own region in the four cells whose middles surround it.
    Where the region's share of a cell was too small to be a piece, the dot takes
    the largest piece of its own cell.
    """
    p = field.pieces
    region = region_of_dots(p, r, z)
    slope_r, slope_z = (slope @ field.temperature for slope in p.gradient)
    i0, to_right = _between_middles(p.grid.r_face, r)
    j0, to_top = _between_middles(p.grid.z_face, z)
    nr, nz = p.grid.shape
    total, weight = np.zeros(region.shape), np.zeros(region.shape)
    for a in (0, 1):
        for b in (0, 1):
            i, j = np.minimum(i0 + a, nr - 1), np.minimum(j0 + b, nz - 1)
            share = (to_top if b else 1 - to_top)[:, None] * (to_right if a else 1 - to_right)[None, :]
            piece = _piece_of(p, i[None, :] * nz + j[:, None], region)
            value = field.temperature[piece] + slope_r[piece] * (r[None, :] - p.r[piece])
            value += slope_z[piece] * (z[:, None] - p.z[piece])
            share = np.where(piece >= 0, share, 0.0)
            total += share * value
            weight += share
    conducts = np.array([painted.conducts for painted in p.regions])
    solid = conducts[region]
    lonely = np.argwhere(solid & (weight <= 0))
    for row, column in lonely:
        i = np.searchsorted(p.grid.r_face, r[column], side="right") - 1
        j = np.searchsorted(p.grid.z_face, z[row], side="right") - 1
        cell = int(np.clip(i, 0, nr - 1) * nz + np.clip(j, 0, nz - 1))
        own = np.arange(p.piece_start[cell], p.piece_start[cell + 1])
        if own.size:
            total[row, column], weight[row, column] = field.temperature[own[np.argmax(p.volume[own])]], 1.0
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.ma.masked_array(total / weight, ~solid | (weight <= 0))


def region_of_dots(pieces: Pieces, r: Floats, z: Floats) -> Ints:
    """Number of the region that each dot shows, shape (m, n)."""
    region = np.zeros((z.size, r.size), dtype=np.int64)
    for number, painted in enumerate(pieces.regions):
        shape = painted.shape
        if isinstance(shape, Rectangle):
            rows, columns = _within(z, shape.z_min, shape.z_max), _within(r, shape.r_min, shape.r_max)
            region[rows, columns] = number
        elif isinstance(shape, Disc):
            rows = _within(z, shape.z - shape.radius, shape.z + shape.radius)
            columns = _within(r, shape.r - shape.radius, shape.r + shape.radius)
            inside = (r[None, columns] - shape.r) ** 2 + (z[rows, None] - shape.z) ** 2 <= shape.radius**2
            region[rows, columns][inside] = number
    return region


def _within(places: Floats, low: float, high: float) -> slice:
    return slice(int(np.searchsorted(places, low)), int(np.searchsorted(places, high)))


def _between_middles(face: Floats, places: Floats) -> tuple[Ints, Floats]:
    """Cell whose middle lies at or before each place, and the weight of the next cell, eased so that no kink shows."""
    middle = 0.5 * (face[1:] + face[:-1])
    if middle.size == 1:
        return np.zeros(places.size, dtype=np.int64), np.zeros(places.size)
    first = np.clip(np.searchsorted(middle, places, side="right") - 1, 0, middle.size - 2)
    t = np.clip((places - middle[first]) / (middle[first + 1] - middle[first]), 0.0, 1.0)
    return first, t * t * (3.0 - 2.0 * t)


def _piece_of(pieces: Pieces, cell: Ints, region: Ints) -> Ints:
    """Piece of a region in a cell, or -1."""
    start, end = pieces.piece_start[cell], pieces.piece_start[cell + 1]
    found = np.full(cell.shape, -1, dtype=np.int64)
    most = int(np.diff(pieces.piece_start).max())
    for n in range(most):
        candidate = np.minimum(start + n, pieces.count - 1)
        hit = (start + n < end) & (pieces.region[candidate] == region)
        found[hit] = candidate[hit]
    return found
