"""Pieces as polygons: what other programs need in order to draw a field on its own cut cells.

Goes in: a cut grid. Comes out: points and, for every piece, one or more closed
loops around it. Neighbours share their points; arcs are chords of a few degrees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from annulus.conduction.contacts import ARC, R_FACE, Contacts
from annulus.conduction.pieces import Pieces
from annulus.shapes import Disc

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CHORD = math.radians(7.5)  # longest chord of an arc: 0.2 % of the radius off the circle's line
SAME = 1e-10  # of the grid's extent: points closer than this are one


@dataclass(frozen=True)
class Outlines:
    """Loops around pieces.

    Attributes
    ----------
    points : ndarray, shape (n_points, 2)
        (r, z) [m]
    whole : ndarray of int, shape (n_whole, 4)
        Corners, anticlockwise, of the pieces that fill their cells.
    whole_piece : ndarray of int, shape (n_whole,)
    loops : tuple of list of int
        Points around pieces of cut cells, anticlockwise; a piece that falls into parts has several loops.
    loop_piece : ndarray of int, shape (n_loops,)
    """

    points: Floats
    whole: Ints
    whole_piece: Ints
    loops: tuple[list[int], ...]
    loop_piece: Ints

    def triangles(self) -> tuple[Ints, Ints]:
        """Triangles that fill the loops, shape (n, 3), and the loop that each belongs to."""
        made = [(corners, n) for n, loop in enumerate(self.loops) for corners in _clip_ears(self.points, loop)]
        return np.array([corners for corners, _ in made], dtype=np.int64).reshape(-1, 3), np.array(
            [n for _, n in made], dtype=np.int64
        )


def outline(pieces: Pieces) -> Outlines:
    """Outlines of all pieces.

    Parameters
    ----------
    pieces : Pieces

    Returns
    -------
    Outlines
        Every piece is there; one thinner than `SAME` as a loop without area.
    """
    grid = pieces.grid
    nz = grid.shape[1]
    i, j = np.divmod(pieces.cell, nz)
    full = np.isclose(pieces.volume, _cell_volume(pieces, i, j), rtol=1e-9, atol=0.0)
    cut = np.flatnonzero(~full)
    whole = np.flatnonzero(full)
    corner = i * (nz + 1) + j
    quads = np.stack([corner, corner + nz + 1, corner + nz + 2, corner + 1], axis=1)[whole]

    r, z = np.meshgrid(grid.r_face, grid.z_face, indexing="ij")
    lattice = np.stack([r.ravel(), z.ravel()], axis=1)
    owner, paths = _paths(pieces, ~full)
    starts = np.cumsum([0, *(len(path) for path in paths)])
    points, node = _merge(np.concatenate([lattice, *paths]), SAME * max(np.ptp(grid.r_face), np.ptp(grid.z_face)))
    of_path = [node[lattice.shape[0] + a : lattice.shape[0] + b] for a, b in pairwise(starts)]
    loops: list[list[int]] = []
    loop_piece: list[int] = []
    by_piece: dict[int, list[Ints]] = {int(piece): [] for piece in cut}
    for piece, path in zip(owner, of_path, strict=True):
        by_piece[int(piece)].append(path)
    for piece, sides in by_piece.items():
        for loop in _walk(points, sides):
            loops.append(loop)
            loop_piece.append(piece)
    used, place = np.unique(np.concatenate([node[quads].ravel(), *map(np.array, loops)]), return_inverse=True)
    renamed = np.empty(points.shape[0], dtype=np.int64)
    renamed[used] = np.arange(used.size)
    corners = place[: quads.size].reshape(quads.shape)
    named = tuple([int(renamed[n]) for n in loop] for loop in loops)
    return Outlines(points[used], corners, whole, named, np.array(loop_piece, dtype=np.int64))


def _cell_volume(pieces: Pieces, i: Ints, j: Ints) -> Floats:
    r, z = pieces.grid.r_face, pieces.grid.z_face
    area = (r[i + 1] - r[i]) * (z[j + 1] - z[j])
    return area * math.pi * (r[i + 1] + r[i]) if pieces.grid.is_cylindrical else area


def _paths(pieces: Pieces, wanted: NDArray[np.bool_]) -> tuple[list[int], list[Floats]]:
    """For every side of every wanted piece: the piece, and points along the side with the piece on the left."""
    owner: list[int] = []
    paths: list[Floats] = []
    for contacts, piece in (
        (pieces.links, pieces.link_a),
        (pieces.links, pieces.link_b),
        (pieces.surfaces, pieces.surface_piece),
    ):
        for n in np.flatnonzero(wanted[piece]):
            owner.append(int(piece[n]))
            paths.append(side(pieces, contacts, int(n), int(piece[n])))
    return owner, paths


def side(pieces: Pieces, contacts: Contacts, n: int, piece: int) -> Floats:
    """Points along one contact of a piece, walked with the piece on the left, shape (n_points, 2). [m]"""
    start, end = contacts.start[n], contacts.end[n]
    if contacts.kind[n] == ARC:
        region = pieces.disc_region[contacts.disc[n]]
        disc = pieces.regions[region].shape
        assert isinstance(disc, Disc)
        angle = np.linspace(start, end, 1 + max(1, math.ceil((end - start) / CHORD)))
        angle = angle if pieces.region[piece] == region else angle[::-1]  # anticlockwise around what lies inside
        return np.stack([disc.r + disc.radius * np.cos(angle), disc.z + disc.radius * np.sin(angle)], axis=1)
    if contacts.kind[n] == R_FACE:
        along = np.array([[contacts.r[n], start], [contacts.r[n], end]])
        return along if contacts.r[n] > pieces.r[piece] else along[::-1]
    along = np.array([[start, contacts.z[n]], [end, contacts.z[n]]])
    return along if contacts.z[n] < pieces.z[piece] else along[::-1]


def _merge(points: Floats, apart: float) -> tuple[Floats, Ints]:
    """Points without doubles, and the place of each old one."""
    pairs = cKDTree(points).query_pairs(apart, output_type="ndarray")
    ties = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points),) * 2)
    count, label = connected_components(ties, directed=False)
    kept = np.empty((count, 2))
    kept[label[::-1]] = points[::-1]  # the first of each group stays: lattice points keep their exact places
    return kept, label


def _walk(points: Floats, sides: list[Ints]) -> list[list[int]]:
    """Closed loops from sides given in any order; holes are joined to the loop around them."""
    onwards: dict[int, list[int]] = {}
    for side in sides:
        for one, other in pairwise(side):
            if one != other:
                onwards.setdefault(int(one), []).append(int(other))
    around: list[list[int]] = []
    holes: list[list[int]] = []
    while onwards:
        first = next(iter(onwards))
        loop, at = [first], first
        while True:
            ahead = onwards[at].pop()
            if not onwards[at]:
                del onwards[at]
            at = ahead
            if at == first or at not in onwards:
                break
            loop.append(at)
        (holes if len(loop) > 2 and _area(points[loop]) < 0 else around).append(loop)
    for hole in holes:
        apart = [
            (float(np.hypot(*(points[p] - points[q]))), n, a, b)
            for n, loop in enumerate(around)
            for a, p in enumerate(loop)
            for b, q in enumerate(hole)
        ]
        _, n, a, b = min(apart)
        loop = around[n]
        around[n] = [*loop[: a + 1], *hole[b:], *hole[: b + 1], *loop[a:]]
    drawn = [loop for loop in around if len(loop) > 2]
    return drawn or [[int(sides[0][0])] * 3]


def _area(corners: Floats) -> float:
    x, y = corners.T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def _clip_ears(points: Floats, loop: list[int]) -> list[tuple[int, int, int]]:
    """Triangles of a simple loop: the best-shaped convex corner without others inside is cut off, again and again."""
    left, found = list(loop), []
    while len(left) > 3:
        best, shape = 0, -math.inf
        for n in range(len(left)):
            a, b, c = (points[left[m % len(left)]] for m in (n - 1, n, n + 1))
            twice = _turn(a, b, c)
            longest = max(float(np.sum((b - a) ** 2)), float(np.sum((c - b) ** 2)), float(np.sum((c - a) ** 2)))
            round_ = twice / longest if longest > 0 else 0.0
            if round_ > shape and not (twice > 0 and _holds_another(points, left, n)):
                best, shape = n, round_
        found.append((left[best - 1], left[best], left[(best + 1) % len(left)]))
        del left[best]
    return [*found, (left[0], left[1], left[2])]


def _turn(a: Floats, b: Floats, c: Floats) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _holds_another(points: Floats, left: list[int], n: int) -> bool:
    """Whether a corner's triangle holds another corner of the loop."""
    ear = {left[n - 1], left[n], left[(n + 1) % len(left)]}
    a, b, c = points[left[n - 1]], points[left[n]], points[left[(n + 1) % len(left)]]
    for other in left:
        if other in ear:
            continue
        p = points[other]
        if _turn(a, b, p) >= 0 and _turn(b, c, p) >= 0 and _turn(c, a, p) >= 0:
            return True
    return False
