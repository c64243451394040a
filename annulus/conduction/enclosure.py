"""Surfaces that see each other across open space: patches and their exchange areas.

Goes in: pieces, the regions that are transparent (still air), and where to
split faces. Comes out: an `Enclosure`: patches of surface elements and the
symmetric matrix of exchange areas between them, free of temperatures and
emissivities.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, csr_matrix, diags_array
from scipy.sparse.csgraph import connected_components

from annulus.conduction.contacts import ARC, R_FACE
from annulus.conduction.pieces import Pieces
from annulus.conduction.rays import cast
from annulus.errors import GeometryError
from annulus.shapes import Disc

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

POINTS = 2  # along each element, from which rays start; a patch has several elements
RAYS = 32  # from each point
MOST_LOST = 0.01  # share of rays that may slip through a corner before the geometry is refused
BALANCED = 1e-9  # relative error of row sums that ends the scaling; the rest goes to the diagonal
MAX_BALANCING = 500  # sweeps; 3 times the worst seen in cases/


@dataclass(frozen=True)
class PatchTies:
    """Links between open space and solid, by which patches hang on the pieces.

    Attributes
    ----------
    link, patch, link_a, link_b : ndarray of int, shape (n_ties,)
        Each link, its patch, and its pieces on sides a and b.
    weight : ndarray, shape (n_ties,)
        Share of the patch's area.
    solid_is_b : ndarray of bool, shape (n_ties,)
    shift_a, shift_b : csr_matrix, shape (n_ties, n_pieces)
        Rows of `Pieces.link_shift_a` and `link_shift_b`.
    """

    link: Ints
    patch: Ints
    link_a: Ints
    link_b: Ints
    weight: Floats
    solid_is_b: NDArray[np.bool_]
    shift_a: csr_matrix
    shift_b: csr_matrix


@dataclass(frozen=True)
class Enclosure:
    """Open spaces of a section and the surfaces around them.

    Attributes
    ----------
    link : ndarray of int, shape (n_elements,)
        The link between open space and solid that an element is, or -1.
    surface : ndarray of int, shape (n_elements,)
        The surface (open space to outside) that an element is, or -1.
    patch : ndarray of int, shape (n_elements,)
        Patch of each element.
    area : ndarray, shape (n_patches,)
        [m2, or m2 per metre of depth]
    region : ndarray of int, shape (n_patches,)
        Region of the solid behind a patch, or -1 - boundary for an opening.
    exchange : ndarray, shape (n_patches, n_patches)
        A_p F_pq, symmetric, rows sum to the areas. [m2]
    raw_error : float
        Largest relative error of a row sum before the correction, a measure of the ray count.
    ties : PatchTies
        Of the elements that are links, in their order.

    Notes
    -----
    View factors are those of the plane section. Their exchange lengths, averaged
    over both directions and scaled symmetrically until every row sums to the
    patch's length, are turned round the axis on the smaller of the two radii;
    what an outer patch then lacks, it sees of its own ring. That is exact for
    concentric cylinders and plates, and neglects that the far side of the ring
    bends away, an error of the order of (gap / radius)^2.
    """

    link: Ints
    surface: Ints
    patch: Ints
    area: Floats
    region: Ints
    exchange: Floats
    raw_error: float
    ties: PatchTies

    @property
    def count(self) -> int:
        """Number of patches."""
        return self.area.size


def enclose(
    pieces: Pieces, transparent: Sequence[str], r_breaks: Floats, z_breaks: Floats, sectors: int
) -> Enclosure | None:
    """Find the surfaces around transparent regions and who sees whom.

    Parameters
    ----------
    pieces : Pieces
    transparent : sequence of str
        Regions through which heat radiates; discs cannot be transparent.
    r_breaks, z_breaks : ndarray
        Positions that divide faces into patches. [m]
    sectors : int
        Patches around a whole circle.

    Returns
    -------
    Enclosure or None
        None where no transparent region has a surface.

    Raises
    ------
    GeometryError
        If more than `MOST_LOST` of the rays leave the section.
    """
    clear = np.zeros(len(pieces.regions), dtype=bool)
    for name in transparent:
        clear[pieces.region_index(name)] = True
        if isinstance(pieces.regions[pieces.region_index(name)].shape, Disc):
            raise GeometryError(f"region {name!r}: a disc of open space is not modelled")
    elements = _elements(pieces, clear)
    if elements.region.size == 0:
        return None
    space = _open_spaces(pieces, clear)[elements.open_piece]
    keys = _patch_keys(pieces, elements, space, r_breaks, z_breaks, sectors)
    _, first, patch = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    patch = patch.ravel()
    n = first.size
    gather = csr_matrix((np.ones(patch.size), (patch, np.arange(patch.size))), (n, patch.size))
    area, length = gather @ elements.area, gather @ elements.length
    hits = _cast(pieces, elements, patch, keys, first)
    lost = float((hits < 0).mean())
    if lost > MOST_LOST:
        raise GeometryError(f"open space: {100 * lost:.1f} % of the rays leave the section; is a cavity not closed?")
    from_patch = np.repeat(patch, hits.shape[1])
    weight = np.repeat(elements.length / hits.shape[1], hits.shape[1])
    good = np.flatnonzero(hits.ravel() >= 0)
    met = np.bincount(from_patch[good] * n + hits.ravel()[good], weight[good], n * n)
    pairs = np.flatnonzero(met)  # most patches see few others
    seen = csr_array((met[pairs], np.divmod(pairs, n)), (n, n))
    plane = (0.5 * (seen + seen.T)).tocoo()
    same = space[first][plane.row] == space[first][plane.col]  # a ray may slip through where two circles touch
    plane = csr_array((plane.data[same], (plane.row[same], plane.col[same])), plane.shape)
    raw_error = float(np.abs(plane.sum(axis=1) / length - 1).max())
    exchange = _balance(plane, length)
    if pieces.grid.is_cylindrical:
        radius = area / (2 * math.pi * length)
        pairs = exchange.tocoo()
        pairs.data *= 2 * math.pi * np.minimum(radius[pairs.row], radius[pairs.col])
        exchange = pairs.tocsr()
        exchange.setdiag(0.0)
        exchange.setdiag(area - exchange.sum(axis=1))
    region = elements.region[first]
    ties = _tie(pieces, elements.link, patch, area, region)
    return Enclosure(elements.link, elements.surface, patch, area, region, exchange.toarray(), raw_error, ties)


def _tie(pieces: Pieces, link: Ints, patch: Ints, area: Floats, region: Ints) -> PatchTies:
    """Ties of the elements that are links, from each element's link and patch and each patch's area and region."""
    on_link = np.flatnonzero(link >= 0)
    link, patch = link[on_link], patch[on_link]
    a, b = pieces.link_a[link], pieces.link_b[link]
    return PatchTies(
        link=link,
        patch=patch,
        link_a=a,
        link_b=b,
        weight=pieces.links.area[link] / area[patch],
        solid_is_b=region[patch] == pieces.region[b],
        shift_a=pieces.link_shift_a[link],
        shift_b=pieces.link_shift_b[link],
    )


@dataclass(frozen=True)
class _Elements:
    """Single faces and arcs around open space, as columns."""

    link: Ints
    surface: Ints
    region: Ints
    open_piece: Ints
    kind: Ints
    disc: Ints
    place: Ints
    area: Floats
    length: Floats
    r: Floats
    z: Floats
    normal_r: Floats
    normal_z: Floats
    start: Floats
    end: Floats


def _elements(pieces: Pieces, clear: NDArray[np.bool_]) -> _Elements:
    """Links between open space and solid, then surfaces of open space; normals into the open."""
    a, b = clear[pieces.region[pieces.link_a]], clear[pieces.region[pieces.link_b]]
    link = np.flatnonzero(a != b)
    told = pieces.links.told(link)
    along = np.lexsort((told[2], told[1], told[0]))  # by kind and place, whole faces or not: fans of rays follow it
    link, told = link[along], told[:, along]
    towards = np.where(b[link], 1.0, -1.0)  # link normals run from a to b
    solid = np.where(b[link], pieces.link_a[link], pieces.link_b[link])
    inside = np.where(b[link], pieces.link_b[link], pieces.link_a[link])
    surface = np.flatnonzero(clear[pieces.region[pieces.surface_piece]])
    told = np.concatenate([told, pieces.surfaces.told(surface)], axis=1)
    kind, i, j, disc = told[:4].astype(np.int64)
    r, z, normal_r, normal_z, start, end = told[4:]
    radius = np.array([p.shape.radius for p in pieces.regions if isinstance(p.shape, Disc)] or [0.0])
    sign = np.concatenate([towards, np.full(surface.size, -1.0)])
    return _Elements(
        link=np.concatenate([link, np.full(surface.size, -1)]),
        surface=np.concatenate([np.full(link.size, -1), surface]),
        region=np.concatenate([pieces.region[solid], -1 - pieces.surface_boundary[surface]]),
        open_piece=np.concatenate([inside, pieces.surface_piece[surface]]),
        kind=kind,
        disc=disc,
        place=np.where(kind == R_FACE, i, j),
        area=np.concatenate([pieces.links.area[link], pieces.surfaces.area[surface]]),
        length=(end - start) * np.where(kind == ARC, radius[np.where(kind == ARC, disc, 0)], 1.0),
        r=r,
        z=z,
        normal_r=sign * normal_r,
        normal_z=sign * normal_z,
        start=start,
        end=end,
    )


def _open_spaces(pieces: Pieces, clear: NDArray[np.bool_]) -> Ints:
    """Number of the connected open space that each piece belongs to; solids have numbers of their own."""
    within = clear[pieces.region[pieces.link_a]] & clear[pieces.region[pieces.link_b]]
    a, b = pieces.link_a[within], pieces.link_b[within]
    joined = csr_matrix((np.ones(a.size), (a, b)), (pieces.count, pieces.count))
    return connected_components(joined, directed=False)[1].astype(np.int64)


def _patch_keys(pieces: Pieces, e: _Elements, space: Ints, r_breaks: Floats, z_breaks: Floats, sectors: int) -> Ints:
    """What an element shares with its patch: region, kind, face or disc, side, division, space; shape (n, 6)."""
    middle = 0.5 * (e.start + e.end)
    sector = np.floor((middle % (2 * math.pi)) / (2 * math.pi) * sectors).astype(np.int64)
    along_z, along_r = np.searchsorted(z_breaks, middle), np.searchsorted(r_breaks, middle)
    division = np.where(e.kind == ARC, sector, np.where(e.kind == R_FACE, along_z, along_r))
    place = np.where(e.kind == ARC, e.disc, e.place)
    side = np.where(e.normal_r + e.normal_z > 0, 1, 0) * (e.kind != ARC)
    return np.stack([e.region, e.kind, place, side, division, space], axis=1)


def _cast(pieces: Pieces, e: _Elements, patch: Ints, keys: Ints, first: Ints) -> Ints:
    """Patch that each ray of each element meets, shape (n_elements, POINTS * RAYS)."""
    n = first.size
    kind = keys[first, 1]
    straight = np.flatnonzero(kind != ARC)
    low, high = np.full(n, np.inf), np.full(n, -np.inf)
    np.minimum.at(low, patch, e.start)
    np.maximum.at(high, patch, e.end)
    grid = pieces.grid
    is_r = kind == R_FACE
    position = np.where(
        is_r,
        grid.r_face[np.minimum(keys[first, 2], grid.r_face.size - 1)],
        grid.z_face[np.minimum(keys[first, 2], grid.z_face.size - 1)],
    )
    segments = np.stack([np.where(is_r, 0.0, 1.0), position, low, high], axis=1)[straight]

    shapes = [painted.shape for painted in pieces.regions if isinstance(painted.shape, Disc)]
    used = np.unique(keys[first, 2][kind == ARC])
    discs = np.array([(shapes[d].r, shapes[d].z, shapes[d].radius) for d in used], dtype=float).reshape(-1, 3)
    arcs = np.flatnonzero(e.kind == ARC)
    turn = e.start[arcs] % (2 * math.pi)
    arcs = arcs[np.lexsort((turn, e.disc[arcs]))]
    points, normals = _starts(e, shapes)
    hits = cast(
        points,
        normals,
        np.ascontiguousarray(segments),
        straight,
        discs,
        np.searchsorted(e.disc[arcs], np.append(used, len(shapes))),
        e.start[arcs] % (2 * math.pi),
        patch[arcs],
        RAYS,
        float(grid.z_face[-1] - grid.z_face[0] + grid.r_face[-1] - grid.r_face[0]),
    )
    return hits.reshape(e.region.size, -1)


def _starts(e: _Elements, discs: Sequence[Disc]) -> tuple[Floats, Floats]:
    """Points along every element and the normals there, each of shape (n_elements * POINTS, 2)."""
    along = e.start[:, None] + (e.end - e.start)[:, None] * (np.arange(POINTS) + 0.5) / POINTS
    on_arc, on_r = (e.kind == ARC)[:, None], (e.kind == R_FACE)[:, None]
    r = np.where(on_r, e.r[:, None], along)
    z = np.where(on_r, along, e.z[:, None])
    normal_r = np.broadcast_to(e.normal_r[:, None], along.shape)
    normal_z = np.broadcast_to(e.normal_z[:, None], along.shape)
    if discs:
        which = np.where(e.kind == ARC, e.disc, 0)
        rows = np.array([(disc.r, disc.z, disc.radius) for disc in discs])[which]
        cos, sin = np.cos(along), np.sin(along)
        r = np.where(on_arc, rows[:, :1] + rows[:, 2:] * cos, r)
        z = np.where(on_arc, rows[:, 1:2] + rows[:, 2:] * sin, z)
        outwards = np.sign(e.normal_r * cos[:, POINTS // 2] + e.normal_z * sin[:, POINTS // 2])[:, None]
        normal_r = np.where(on_arc, outwards * cos, normal_r)
        normal_z = np.where(on_arc, outwards * sin, normal_z)
    return np.stack([r.ravel(), z.ravel()], axis=1), np.stack([normal_r.ravel(), normal_z.ravel()], axis=1)


def _balance(seen: csr_array, length: Floats) -> csr_array:
    """Scale a symmetric matrix on both sides until its rows sum to the lengths.

    Raises
    ------
    GeometryError
        If a patch sees nothing.
    """
    scale = np.ones(length.size)
    for _ in range(MAX_BALANCING):
        rows = scale * (seen @ scale)
        if not (rows > 0).all():
            raise GeometryError("open space: a surface sees nothing; is a cavity thinner than round-off?")
        ratio = length / rows
        if np.abs(ratio - 1).max() < BALANCED:
            break
        scale *= np.sqrt(ratio)
    balanced = diags_array(scale) @ seen @ diags_array(scale)
    return balanced + diags_array(length - balanced.sum(axis=1))
