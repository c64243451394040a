"""Reading a field: temperatures at points and at interfaces, flows across lines.

Goes in: a `Field`. Comes out: temperatures with the order of the field itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.conduction.contacts import R_FACE, Z_FACE
from annulus.conduction.pieces import Pieces
from annulus.conduction.steady import Field
from annulus.errors import InputError

Floats = NDArray[np.float64]


def temperature_at(field: Field, r: ArrayLike, z: ArrayLike, region: str | None = None) -> Floats:
    """Temperature at points, by the gradient of the piece they lie in.

    Parameters
    ----------
    field : Field
    r, z : array_like, shape (n,)
        Points in or on the grid. [m]
    region : str, optional
        Read this region's side, for points on an interface; the nearest piece
        of the region in the neighbouring cells is used. Without it, the piece
        nearest to the point in its own cell.

    Returns
    -------
    ndarray, shape (n,)
        [K]

    Raises
    ------
    InputError
        If a point lies outside the grid or far from the region.
    """
    p = field.pieces
    r_all, z_all = np.atleast_1d(np.asarray(r, float)), np.atleast_1d(np.asarray(z, float))
    slope_r, slope_z = (slope @ field.temperature for slope in p.gradient)
    wanted = None if region is None else p.region_index(region)
    nr, nz = p.grid.shape
    result = np.empty(r_all.size)
    for n, (x, y) in enumerate(zip(r_all, z_all, strict=True)):
        i = int(np.clip(np.searchsorted(p.grid.r_face, x, side="right") - 1, 0, nr - 1))
        j = int(np.clip(np.searchsorted(p.grid.z_face, y, side="right") - 1, 0, nz - 1))
        slack = 1e-9 * (p.grid.r_face[-1] - p.grid.r_face[0])
        inside = p.grid.r_face[0] - slack <= x <= p.grid.r_face[-1] + slack
        if not (inside and p.grid.z_face[0] - slack <= y <= p.grid.z_face[-1] + slack):
            raise InputError(f"point ({x:g}, {y:g}) m lies outside the grid")
        reach = 0 if wanted is None else 1
        cells = [
            a * nz + b
            for a in range(max(0, i - reach), min(nr, i + reach + 1))
            for b in range(max(0, j - reach), min(nz, j + reach + 1))
        ]
        near = np.concatenate([np.arange(p.piece_start[c], p.piece_start[c + 1]) for c in cells])
        if wanted is not None:
            near = near[p.region[near] == wanted]
        if near.size == 0:
            raise InputError(f"point ({x:g}, {y:g}) m: no piece of {region or 'a conducting region'} is near")
        q = near[np.argmin((p.r[near] - x) ** 2 + (p.z[near] - y) ** 2)]
        result[n] = field.temperature[q] + slope_r[q] * (x - p.r[q]) + slope_z[q] * (y - p.z[q])
    return result


def carry_over(from_pieces: Pieces, values: Floats, to_pieces: Pieces) -> Floats:
    """Values of pieces on another cut of the same regions: a first guess for a finer grid.

    Each piece takes the value of its region in the cell where its middle lies;
    where that cell has none, the mean of the region.

    Parameters
    ----------
    from_pieces, to_pieces : Pieces
        With the same regions.
    values : ndarray, shape (from_pieces.count,)

    Returns
    -------
    ndarray, shape (to_pieces.count,)
    """
    grid, n_regions = from_pieces.grid, len(from_pieces.regions)
    nr, nz = grid.shape
    i = np.clip(np.searchsorted(grid.r_face, to_pieces.r, side="right") - 1, 0, nr - 1)
    j = np.clip(np.searchsorted(grid.z_face, to_pieces.z, side="right") - 1, 0, nz - 1)
    known = from_pieces.cell * n_regions + from_pieces.region
    order = np.argsort(known)
    wanted = (i * nz + j) * n_regions + to_pieces.region
    place = order[np.clip(np.searchsorted(known[order], wanted), 0, order.size - 1)]
    size = np.maximum(np.bincount(from_pieces.region, minlength=n_regions), 1)
    mean = np.bincount(from_pieces.region, values, n_regions) / size
    return np.where(known[place] == wanted, values[place], mean[to_pieces.region])


def heat_across(field: Field, direction: str, position: float, region: str) -> float:
    """Heat through the part of a grid line that lies in one region, toward +r or +z. [W]

    Parameters
    ----------
    direction : {"r", "z"}
        Normal of the line.
    position : float
        A face of the grid. [m]
    """
    p = field.pieces
    face = p.grid.r_face if direction == "r" else p.grid.z_face
    index = int(np.argmin(np.abs(face - position)))
    if abs(face[index] - position) > 1e-9 * (face[-1] - face[0]):
        raise InputError(f"{direction} = {position:g} m is not a face; the nearest is {face[index]:g} m")
    kind, place = (R_FACE, p.links.i) if direction == "r" else (Z_FACE, p.links.j)
    which = p.region_index(region)
    on = (p.links.kind == kind) & (place == index) & (p.region[p.link_a] == which) & (p.region[p.link_b] == which)
    return float(field.link_flow[on].sum())


def interface_temperatures(field: Field, one: str, other: str) -> tuple[Floats, Floats, Floats, Floats]:
    """Temperatures of both sides of every contact between two regions.

    Returns
    -------
    r, z, of_one, of_other : ndarray, shape (n,)
        Middles of the contacts [m] and the temperatures of the facing surfaces [K].
    """
    p = field.pieces
    a, b = p.region_index(one), p.region_index(other)
    ra, rb = p.region[p.link_a], p.region[p.link_b]
    on = np.flatnonzero(((ra == a) & (rb == b)) | ((ra == b) & (rb == a)))
    side_a, side_b = face_temperatures(field)
    straight = ra[on] == a
    of_one = np.where(straight, side_a[on], side_b[on])
    of_other = np.where(straight, side_b[on], side_a[on])
    return p.links.r[on], p.links.z[on], of_one, of_other


def face_temperatures(field: Field) -> tuple[Floats, Floats]:
    """Temperatures of the two faces of every link, side a and side b, shape (n_links,). [K]

    They differ where the link has a contact resistance.
    """
    return field.face_temperatures


def region_extremes(field: Field, *regions: str) -> tuple[float, float]:
    """Least and greatest temperature of some regions: their pieces and all their faces. [K]"""
    p = field.pieces
    chosen = np.zeros(len(p.regions), dtype=bool)
    chosen[[p.region_index(name) for name in regions]] = True
    side_a, side_b = face_temperatures(field)
    found = np.concatenate(
        [
            field.temperature[chosen[p.region]],
            side_a[chosen[p.region[p.link_a]]],
            side_b[chosen[p.region[p.link_b]]],
            field.surface_temperature[chosen[p.region[p.surface_piece]]],
        ]
    )
    return float(found.min()), float(found.max())


def heat_flux(field: Field) -> tuple[Floats, Floats]:
    """Mean heat flux in each piece along r and z, radiation across open space included. [W/m2]

    Parameters
    ----------
    field : Field

    Returns
    -------
    along_r, along_z : ndarray, shape (n_pieces,)

    Notes
    -----
    From the flows through the piece's own sides, q V = sum F_out (x_side - x_middle): the divergence
    theorem for a flux whose divergence is nothing inside the piece, so it agrees with the flows that balance.
    """
    p = field.pieces
    sides = (
        (p.link_a, p.links, field.link_flow),
        (p.link_b, p.links, -field.link_flow),
        (p.surface_piece, p.surfaces, -field.surface_flow),
    )
    along_r, along_z = np.zeros(p.count), np.zeros(p.count)
    for piece, contacts, out in sides:
        along_r += np.bincount(piece, out * (contacts.r - p.r[piece]), p.count)
        along_z += np.bincount(piece, out * (contacts.z - p.z[piece]), p.count)
    return along_r / p.volume, along_z / p.volume
