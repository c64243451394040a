"""What a section looks like to the solver: pieces, links between them, surfaces to outside.

Goes in: a grid and regions in painting order, each a rectangle or a disc that
conducts or is a hole. Comes out: a frozen `Pieces`, free of conductivities,
so that materials and films can change without cutting again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from annulus.conduction import cut, meeting
from annulus.conduction.assembly import Pattern, make_pattern
from annulus.conduction.contacts import TOLD, Contacts
from annulus.conduction.gradients import gradient_weights, shift_matrices, sideways
from annulus.conduction.grid import Grid
from annulus.errors import GeometryError, InputError
from annulus.shapes import Disc, Rectangle

SIDES = ("r_min", "r_max", "z_min", "z_max")
MOST_OF_CIRCLES = 16  # contacts that a circle can add in a cell: two on each side, four arcs, and some to spare
ON_FACE = 1e-9  # of the grid's extent: how far a rectangle's side may lie from a face

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Painted:
    """One region of a section. Later regions cover earlier ones.

    Parameters
    ----------
    name : str
        Unique in its section.
    shape : Rectangle or Disc
        A disc may lie inside another or apart from it, but not cross it.
    conducts : bool
        False for a hole, whose rim is a boundary that carries this name.
    """

    name: str
    shape: Rectangle | Disc
    conducts: bool = True


@dataclass(frozen=True)
class Pieces:
    """A grid cut by its regions.

    Attributes
    ----------
    region : ndarray of int, shape (n_pieces,)
        Index into `regions`.
    volume, r, z : ndarray, shape (n_pieces,)
        Volume [m3, or m3 per metre of depth] and centroid [m].
    links : Contacts
        Between pieces `link_a` and `link_b`, shape (n_links,).
    surfaces : Contacts
        From piece `surface_piece` (side a; normal points out of the body) to the boundary
        `boundaries[surface_boundary]`, shape (n_surfaces,).
    link_shift_a, link_shift_b : sparse matrix, shape (n_links, n_pieces)
        Temperature that each side of a link gains when moved onto the normal through its middle.
    surface_shift : sparse matrix, shape (n_surfaces, n_pieces)
        The same for the body's side of a surface.
    """

    grid: Grid
    regions: tuple[Painted, ...]
    boundaries: tuple[str, ...]
    region: Ints
    volume: Floats
    r: Floats
    z: Floats
    piece_start: Ints
    links: Contacts
    link_a: Ints
    link_b: Ints
    surfaces: Contacts
    surface_piece: Ints
    surface_boundary: Ints
    link_shift_a: csr_matrix
    link_shift_b: csr_matrix
    surface_shift: csr_matrix

    @cached_property
    def cell(self) -> Ints:
        """Cell number i * nz + j of each piece, shape (n_pieces,)."""
        return np.repeat(np.arange(self.piece_start.size - 1), np.diff(self.piece_start))

    @cached_property
    def disc_region(self) -> Ints:
        """Region of every disc, by the numbers that contacts give to discs, shape (n_discs,)."""
        return np.array(
            [k for k, painted in enumerate(self.regions) if isinstance(painted.shape, Disc)], dtype=np.int64
        )

    @cached_property
    def gradient(self) -> tuple[csr_matrix, csr_matrix]:
        """Gradients d/dr and d/dz of the pieces, each of shape (n_pieces, n_pieces). [1/m]"""
        everywhere = np.ones(self.count, dtype=np.bool_)
        return gradient_weights(self.grid.shape, self.piece_start, self.region, self.volume, self.r, self.z, everywhere)

    @cached_property
    def difference(self) -> csr_matrix:
        """Temperature of side a less side b of each link, shape (n_links, n_pieces)."""
        n = self.link_a.size
        columns = np.stack([self.link_a, self.link_b], axis=1).ravel()
        return csr_matrix((np.tile([1.0, -1.0], n), columns, np.arange(0, 2 * n + 1, 2)), (n, self.count))

    @cached_property
    def link_shift(self) -> csr_matrix:
        """Gain of the difference across each link when both sides move onto its normal, shape (n_links, n_pieces)."""
        return (self.link_shift_a - self.link_shift_b).tocsr()

    @cached_property
    def true_difference(self) -> csr_matrix:
        """The same between the two sides moved onto the normal: second order at cut cells."""
        return _sorted(self.difference + self.link_shift)

    @cached_property
    def at_surface(self) -> csr_matrix:
        """Temperature of the piece under each surface, shape (n_surfaces, n_pieces)."""
        n = self.surface_piece.size
        return csr_matrix((np.ones(n), self.surface_piece, np.arange(n + 1)), (n, self.count))

    @cached_property
    def truly_at_surface(self) -> csr_matrix:
        """The same moved onto the surface's normal."""
        return _sorted(self.at_surface + self.surface_shift)

    @cached_property
    def pattern(self) -> Pattern:
        """Where conductances go in the second-order matrix."""
        return make_pattern(self.link_a, self.link_b, self.true_difference, self.surface_piece, self.truly_at_surface)

    @property
    def is_corrected(self) -> bool:
        """True if a side lies beside its normal somewhere: then the second-order matrix is not the first-order one."""
        return bool(self.link_shift_a.nnz or self.link_shift_b.nnz or self.surface_shift.nnz)

    @property
    def count(self) -> int:
        """Number of pieces, the unknowns."""
        return self.region.size

    def region_index(self, name: str) -> int:
        """Index of a region by name; InputError names what there is."""
        for index, painted in enumerate(self.regions):
            if painted.name == name:
                return index
        raise InputError(f"no region {name!r}; there are {[p.name for p in self.regions]}")

    def boundary_surfaces(self, name: str) -> Ints:
        """Numbers of the surfaces on one boundary (a side of the domain or a hole)."""
        return np.flatnonzero(self.surface_boundary == self.boundaries.index(name))


def _sorted(matrix: csr_matrix) -> csr_matrix:
    """Columns in order for good: SciPy sorts them in place when it likes, and a `Pattern` holds their places."""
    rows = matrix.tocsr()
    rows.sort_indices()
    return rows


def cut_grid(grid: Grid, regions: Sequence[Painted]) -> Pieces:
    """Cut a grid by regions in painting order.

    Parameters
    ----------
    grid : Grid
        Its faces must hold every side of every rectangle that lies inside it.
    regions : sequence of Painted
        The first ones must cover the whole grid with rectangles.

    Returns
    -------
    Pieces

    Raises
    ------
    GeometryError
        If a rectangle's side is not a face, a place is left unpainted, two
        circles cross, or names repeat.
    """
    names = [painted.name for painted in regions]
    if len(set(names)) < len(names):
        raise GeometryError(f"regions: names must differ, got {names}")
    base = _paint_rectangles(grid, regions)
    order = [k for k, painted in enumerate(regions) if isinstance(painted.shape, Disc)]
    discs = np.array([_as_row(regions[k].shape) for k in order], dtype=float).reshape(-1, 3)
    parent = _parents(discs, [regions[k].name for k in order])
    disc_region = np.array(order, dtype=np.int64)
    conducts = np.array([painted.conducts for painted in regions], dtype=np.bool_)
    cylindrical = grid.is_cylindrical
    r_face, z_face = grid.r_face, grid.z_face

    cell_start, disc, moments = cut.overlaps(r_face, z_face, base, discs, disc_region)
    piece_start, region, volume, r_mid, z_mid, only = cut.make_pieces(
        r_face, z_face, base, disc_region, parent, conducts, cell_start, disc, moments, cylindrical
    )
    *whole, face, others, found = meeting.whole_faces(
        r_face, z_face, only, piece_start, r_mid, z_mid, cylindrical, MOST_OF_CIRCLES * disc.size
    )
    count = np.zeros(2, dtype=np.int64)
    meeting.face_contacts(
        r_face,
        z_face,
        base,
        discs,
        disc_region,
        conducts,
        cell_start,
        disc,
        piece_start,
        region,
        only,
        r_mid,
        z_mid,
        cylindrical,
        others,
        found,
        count,
    )
    meeting.arc_contacts(
        r_face,
        z_face,
        base,
        discs,
        disc_region,
        parent,
        conducts,
        cell_start,
        disc,
        moments,
        piece_start,
        region,
        volume,
        r_mid,
        z_mid,
        cylindrical,
        found,
        count,
    )
    of_links, of_surfaces = found[0, : count[0]], found[1, : count[1]]
    for column, told in zip(whole, of_links[:, TOLD:].T, strict=True):
        column[face.size : face.size + told.size] = told
    link_a, link_b, area, way_a, way_b = (column[: face.size + count[0]] for column in whole)
    links = Contacts(grid, area, way_a, way_b, face, of_links[:, :TOLD].copy())
    surface_piece, beyond = of_surfaces[:, TOLD : TOLD + 2].T.astype(np.int64, order="C")
    area, way_a, way_b = of_surfaces[:, TOLD + 2 :].T.copy()
    surfaces = Contacts(grid, area, way_a, way_b, face[:0], of_surfaces[:, :TOLD].copy())
    boundaries, surface_boundary = _name_boundaries(beyond, regions)

    sides = ((links, link_a), (links, link_b), (surfaces, surface_piece))
    moves = [sideways(contacts, piece, r_mid, z_mid) for contacts, piece in sides]
    wanted = np.zeros(region.size, dtype=np.bool_)
    for (moved, _, _), (_, piece) in zip(moves, sides, strict=True):
        wanted[piece[moved]] = True
    weights = gradient_weights(grid.shape, piece_start, region, volume, r_mid, z_mid, wanted)
    link_shift_a, link_shift_b = shift_matrices(weights, links, link_a, link_b, moves=moves[:2])
    (surface_shift,) = shift_matrices(weights, surfaces, surface_piece, moves=moves[2:])
    return Pieces(
        grid=grid,
        regions=tuple(regions),
        boundaries=boundaries,
        region=region,
        volume=volume,
        r=r_mid,
        z=z_mid,
        piece_start=piece_start,
        links=links,
        link_a=link_a,
        link_b=link_b,
        surfaces=surfaces,
        surface_piece=surface_piece,
        surface_boundary=surface_boundary,
        link_shift_a=link_shift_a,
        link_shift_b=link_shift_b,
        surface_shift=surface_shift,
    )


def _paint_rectangles(grid: Grid, regions: Sequence[Painted]) -> Ints:
    """Index of the last rectangle over each cell, shape (nr, nz)."""
    base = np.full(grid.shape, -1, dtype=np.int64)
    for k, painted in enumerate(regions):
        if isinstance(painted.shape, Rectangle):
            shape = painted.shape
            i0 = _face_index(grid.r_face, shape.r_min, painted.name)
            i1 = _face_index(grid.r_face, shape.r_max, painted.name)
            j0 = _face_index(grid.z_face, shape.z_min, painted.name)
            j1 = _face_index(grid.z_face, shape.z_max, painted.name)
            base[i0:i1, j0:j1] = k
    if (base < 0).any():
        i, j = np.argwhere(base < 0)[0]
        raise GeometryError(
            f"regions: nothing is painted at r = {grid.r_face[i]:g}, z = {grid.z_face[j]:g} m; "
            "begin with a rectangle that covers the whole grid"
        )
    return base


def _face_index(face: Floats, position: float, name: str) -> int:
    """Index of the face at a position, or the end of the grid beyond it."""
    if position <= face[0]:
        return 0
    if position >= face[-1]:
        return face.size - 1
    index = int(np.argmin(np.abs(face - position)))
    if abs(face[index] - position) > ON_FACE * (face[-1] - face[0]):
        raise GeometryError(
            f"region {name!r}: side at {position:g} m must lie on a grid face; the nearest is {face[index]:g} m"
        )
    return index


def _as_row(shape: Rectangle | Disc) -> tuple[float, float, float]:
    assert isinstance(shape, Disc)
    return shape.r, shape.z, shape.radius


def _parents(discs: Floats, names: list[str]) -> Ints:
    """For each disc the last earlier one that contains it, or -1; crossing circles are refused."""
    r, z, radius = discs.T
    apart = np.hypot(r[:, None] - r, z[:, None] - z)  # of a disc (row) from each other one
    slack = 1e-9 * radius[:, None]
    earlier = np.tri(len(discs), k=-1, dtype=bool)
    inside = earlier & (apart + radius[:, None] <= radius + slack)
    crossing = earlier & ~inside & (apart < radius + radius[:, None] - slack)
    if crossing.any():
        d, other = np.argwhere(crossing)[0]
        raise GeometryError(f"regions {names[other]!r} and {names[d]!r}: their circles cross; move them apart")
    return np.where(inside, np.arange(len(discs)), -1).max(axis=1, initial=-1)


def _name_boundaries(code: Ints, regions: Sequence[Painted]) -> tuple[tuple[str, ...], Ints]:
    """Names of the boundaries (four sides, then holes) and each surface's index among them."""
    holes = [k for k, painted in enumerate(regions) if not painted.conducts]
    names = SIDES + tuple(regions[k].name for k in holes)
    index = np.empty(code.size, dtype=np.int64)
    on_side = code <= meeting.OUTSIDE
    index[on_side] = meeting.OUTSIDE - code[on_side]
    place = np.full(len(regions), -1, dtype=np.int64)
    place[holes] = len(SIDES) + np.arange(len(holes))
    index[~on_side] = place[-1 - code[~on_side]]
    return names, index
