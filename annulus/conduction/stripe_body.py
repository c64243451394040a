"""The body that heat stripes run through: all pieces outside the sinks, bounded run by run.

Goes in: a solved `Field` and the names of discs that count as sinks. Comes out:
a `Body` of plain arrays in walking order (see `stripe_kernels.py`), in which
any line can be followed from where heat enters to where it ends.

Where a solid faces open space, the body is cut: all heat that reaches the
surface ends there, and what open space conducts begins there anew. The rest
crosses by radiation and is no matter of runs and cells (`sight_lines.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from annulus.conduction import stripe_kernels
from annulus.conduction.contacts import ARC, R_FACE, Z_FACE, Contacts
from annulus.conduction.pieces import Pieces
from annulus.conduction.steady import Field
from annulus.errors import InputError
from annulus.shapes import Disc

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SIDES = ("r_min", "r_max", "z_min", "z_max")
SURFACE = "surface of"  # begins the names of surfaces; names of regions hold no blanks
DETOUR = 20  # cells a line may pass, in multiples of the grid's rows and columns; 5 times the worst seen


@dataclass(frozen=True)
class Body:
    """Runs that bound the cells of the body, in walking order.

    Attributes
    ----------
    names : tuple of str
        What heat comes from or goes to: boundaries, then regions, then surfaces of solids
        that face open space, each under its solid's name; indexed by `terminal`.
    facing : tuple of str
        For each name the side of the body that it bounds, such as "r_min"; "" for a rim.
    terminal : ndarray of int, shape (n_runs,)
        Where heat through the run comes from or goes to; -1 between two cells of the body.
    out : ndarray, shape (n_runs,)
        Heat that leaves the cell through the run. [W]
    middle : ndarray, shape (n_runs, 2)
        Middle (r, z) of the run. [m]
    whole, real, share, level
        See `stripe_kernels.follow` and `stripe_kernels.walk_cells`.
    unclosed : float
        Sum over cells of entering less leaving heat: the solver's residual. [W]
    """

    names: tuple[str, ...]
    facing: tuple[str, ...]
    terminal: Ints
    out: Floats
    middle: Floats
    whole: Ints
    real: Floats
    share: Floats
    level: Floats
    unclosed: float
    cylindrical: bool
    longest: int

    def place(self, runs: Ints, fractions: Floats) -> Floats:
        """Points on runs, shape (n, 2). [m]"""
        return stripe_kernels.place_on_runs(runs, fractions, self.whole, self.real, self.cylindrical)

    def ends(self, runs: Ints, fractions: Floats) -> tuple[Ints, Floats]:
        """Run (-1 if lost) and fraction at which lines leave the body."""
        nowhere, zero = np.empty((0, 2)), np.zeros(0, dtype=np.int64)
        end, fraction, _ = self._follow(runs, fractions, False, nowhere, zero)
        return end, fraction

    def lines(self, runs: Ints, fractions: Floats) -> list[Floats]:
        """Points of lines from where they enter to where they end, each of shape (n, 2). [m]"""
        nowhere, zero = np.empty((0, 2)), np.zeros(0, dtype=np.int64)
        _, _, count = self._follow(runs, fractions, False, nowhere, zero)
        path_start = np.concatenate([[0], np.cumsum(count)])
        path = np.empty((path_start[-1], 2))
        self._follow(runs, fractions, True, path, path_start[:-1])
        return [path[s:e] for s, e in pairwise(path_start)]

    def _follow(
        self, runs: Ints, fractions: Floats, keep: bool, path: Floats, path_start: Ints
    ) -> tuple[Ints, Floats, Ints]:
        return stripe_kernels.follow(
            runs,
            fractions,
            self.whole,
            self.real,
            self.share,
            self.level,
            self.cylindrical,
            self.longest,
            keep,
            path,
            path_start,
        )


@dataclass(frozen=True)
class Flows:
    """Heat flows that stripes follow: in open space what is conducted, at its surfaces what each side sees.

    Attributes
    ----------
    at_a, at_b : ndarray, shape (n_links,)
        From piece a to piece b, as a and as b see it; they differ only where radiation
        leaves or reaches a surface between. [W]
    films : ndarray, shape (n_surfaces,)
        Into the body. [W]
    """

    at_a: Floats
    at_b: Floats
    films: Floats


def flows_of(field: Field) -> Flows:
    """Flows of a field without what radiates across open space."""
    if field.radiant is None:
        return Flows(field.link_flow, field.link_flow, field.surface_flow)
    p, clear, total = field.pieces, field.radiant.clear, field.link_flow
    conducted, cut = total - field.radiant.link, faces_open_space(field)
    return Flows(
        np.where(cut & ~clear[p.region[p.link_a]], total, conducted),
        np.where(cut & ~clear[p.region[p.link_b]], total, conducted),
        field.surface_flow - field.radiant.surface,
    )


def bound_body(field: Field, sinks: Sequence[str], flows: Flows) -> Body:
    """Bound the body outside the sinks.

    Parameters
    ----------
    field : Field
    sinks : sequence of str
        Names of disc regions. A sink and all that is painted inside its disc lie outside
        the body; so do holes, each under its own name.
    flows : Flows
        All that flows, or a part of it that gathers nowhere.

    Returns
    -------
    Body

    Raises
    ------
    InputError
        If a sink is unknown, named twice, no disc, or lies inside another one, or if a disc
        that is no sink faces open space.
    """
    p = field.pieces
    owner = owners(p, sinks)
    names = p.boundaries + tuple(painted.name for painted in p.regions)
    owner_a, owner_b = owner[p.region[p.link_a]], owner[p.region[p.link_b]]
    cut = faces_open_space(field)
    within = (owner_a < 0) & (owner_b < 0)
    if (within & cut & (p.links.kind == ARC)).any():
        raise InputError("stripes: every disc that radiates across open space must be a sink")
    through = np.flatnonzero(within & ~cut & (p.links.kind != ARC))
    facing = np.flatnonzero(within & cut)
    into_a = np.flatnonzero((owner_a >= 0) & (owner_b < 0))
    into_b = np.flatnonzero((owner_a < 0) & (owner_b >= 0))
    outer = np.flatnonzero(owner[p.region[p.surface_piece]] < 0)
    none = np.full(through.size, -1)
    first_region = len(p.boundaries)
    shores, of_a, of_b = _surfaces(field, facing, len(names))
    groups = [  # contacts, which of them, their piece in the body, heat out of it, where it goes
        (p.links, through, p.link_a[through], flows.at_a[through], none),
        (p.links, through, p.link_b[through], -flows.at_b[through], none),
        (p.links, facing, p.link_a[facing], flows.at_a[facing], of_a),
        (p.links, facing, p.link_b[facing], -flows.at_b[facing], of_b),
        (p.links, into_b, p.link_a[into_b], flows.at_a[into_b], first_region + owner_b[into_b]),
        (p.links, into_a, p.link_b[into_a], -flows.at_b[into_a], first_region + owner_a[into_a]),
        (p.surfaces, outer, p.surface_piece[outer], -flows.films[outer], p.surface_boundary[outer]),
    ]
    parts = [_bound(p, contacts, which, piece) for contacts, which, piece, _, _ in groups]
    cell, begin, end, backwards, kind, real, middle = (np.concatenate(column) for column in zip(*parts, strict=True))
    out = np.concatenate([group[3] for group in groups])
    terminal = np.concatenate([group[4] for group in groups])
    partner = np.full(out.size, -1)
    partner[: through.size] = np.arange(through.size) + through.size
    partner[through.size : 2 * through.size] = np.arange(through.size)

    by_cell = np.argsort(cell, kind="stable")
    cell_start = np.searchsorted(cell[by_cell], np.arange(p.grid.shape[0] * p.grid.shape[1] + 1))
    walk, share, level, unclosed = stripe_kernels.walk_cells(cell_start, begin[by_cell], end[by_cell], out[by_cell])
    order = by_cell[walk]
    place = np.empty_like(order)
    place[order] = np.arange(order.size)
    cell = cell[order]
    partner = partner[order]
    partner = np.where(partner >= 0, place[partner], -1)
    return Body(
        names=names + tuple(name for name, _ in shores),
        facing=tuple(name if name in SIDES else "" for name in names) + tuple(side for _, side in shores),
        terminal=terminal[order],
        out=out[order],
        middle=middle[order],
        whole=np.stack([kind[order], backwards[order], partner, cell_start[cell], cell_start[cell + 1]], axis=1),
        real=np.ascontiguousarray(real[order]),
        share=share,
        level=level,
        unclosed=float(unclosed),
        cylindrical=p.grid.is_cylindrical,
        longest=DETOUR * sum(p.grid.shape),
    )


def surface_of(region: str) -> str:
    """Name of the surface that a solid turns to open space."""
    return f"{SURFACE} {region}"


def is_surface(name: str) -> bool:
    """Whether a name is that of a solid's surface."""
    return name.startswith(f"{SURFACE} ")


def faces_open_space(field: Field) -> NDArray[np.bool_]:
    """Which links join a solid and open space across which heat radiates, shape (n_links,)."""
    p = field.pieces
    if field.radiant is None:
        return np.zeros(p.link_a.size, dtype=bool)
    clear = field.radiant.clear
    return clear[p.region[p.link_a]] != clear[p.region[p.link_b]]


def _surfaces(field: Field, facing: Ints, first: int) -> tuple[list[tuple[str, str]], Ints, Ints]:
    """Straight pieces of surface between solids and open space.

    Parameters
    ----------
    facing : ndarray of int
        Links that lie there.
    first : int
        Number of the first one.

    Returns
    -------
    list of (str, str)
        Name, and the side of the body that the surface bounds.
    ndarray, ndarray of int, shape of `facing`
        Number of the surface as piece a and as piece b see it.
    """
    p = field.pieces
    if field.radiant is None or facing.size == 0:
        return [], np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    kind = p.links.kind[facing]
    on_r = kind == R_FACE
    face = np.where(on_r, p.links.i[facing], p.links.j[facing])
    region_a, region_b = p.region[p.link_a[facing]], p.region[p.link_b[facing]]
    a_is_open = field.radiant.clear[region_a]
    solid = np.where(a_is_open, region_b, region_a)
    keys = []
    for piece, is_open in ((p.link_a[facing], a_is_open), (p.link_b[facing], ~a_is_open)):
        i, j = np.divmod(p.cell[piece], p.grid.shape[1])
        beyond = np.where(on_r, face > i, face > j)
        keys.append(np.stack([~on_r, face, beyond, solid, is_open], axis=1).astype(np.int64))
    rows, number = np.unique(np.concatenate(keys), axis=0, return_inverse=True)
    shores = [
        (surface_of(p.regions[row[3]].name), SIDES[2 * row[0] + row[2]])  # body below the face: its upper side
        for row in rows
    ]
    of_a, of_b = np.split(first + number.ravel().astype(np.int64), 2)
    return shores, of_a, of_b


def owners(pieces: Pieces, sinks: Sequence[str]) -> Ints:
    """For each region the outermost sink or hole that holds it, or -1, shape (n_regions,)."""
    names = [painted.name for painted in pieces.regions]
    if len(set(sinks)) < len(sinks):
        raise InputError(f"sinks {list(sinks)}: each may be named once")
    for sink in sinks:
        if sink not in names:
            raise InputError(f"sink {sink!r} is no region; there are {names}")
        if not isinstance(pieces.regions[names.index(sink)].shape, Disc):
            raise InputError(f"sink {sink!r} must be a disc; a layer takes its part in the tracing")
    owner = np.full(len(names), -1)
    for k, painted in enumerate(pieces.regions):
        if not isinstance(painted.shape, Disc):
            continue
        if painted.name in sinks or not painted.conducts:
            owner[k] = k
        for q in range(k):
            around = pieces.regions[q].shape
            if owner[q] == q and isinstance(around, Disc) and _holds(around, painted.shape):
                owner[k] = q
                if painted.name in sinks:
                    raise InputError(f"sink {painted.name!r} lies inside {names[q]!r}; name the outer one only")
                break
    return owner


def _holds(around: Disc, disc: Disc) -> bool:
    apart = np.hypot(around.r - disc.r, around.z - disc.z)
    return bool(apart + disc.radius <= around.radius + 1e-9 * disc.radius)


def _bound(pieces: Pieces, contacts: Contacts, which: Ints, piece: Ints) -> tuple[NDArray, ...]:
    """Runs of contacts as their piece's cell sees them.

    Returns
    -------
    cell, begin, end, backwards, kind : ndarray, shape (n,)
        `begin` and `end` on the cell's perimeter, 0 to 4; see `walk_cells`.
    real : ndarray, shape (n, 6)
    middle : ndarray, shape (n, 2)
    """
    grid = pieces.grid
    discs = [painted.shape for painted in pieces.regions if isinstance(painted.shape, Disc)]
    circles = np.array([(d.r, d.z, d.radius) for d in discs]).reshape(-1, 3)
    cell = pieces.cell[piece]
    i, j = np.divmod(cell, grid.shape[1])
    r0, z0 = grid.r_face[i], grid.z_face[j]
    dr, dz = grid.r_face[i + 1] - r0, grid.z_face[j + 1] - z0
    kind, start, end = contacts.kind[which], contacts.start[which], contacts.end[which]
    on_r, on_z, on_arc = kind == R_FACE, kind == Z_FACE, kind == ARC

    real = np.zeros((which.size, 6))
    real[:, 0] = np.where(on_r, contacts.r[which], contacts.z[which])
    real[:, 1], real[:, 2] = start, end
    real[on_arc, 3:] = circles[contacts.disc[which][on_arc]]

    low = np.where(on_r, (start - z0) / dz, (start - r0) / dr)
    high = np.where(on_r, (end - z0) / dz, (end - r0) / dr)
    right = on_r & (contacts.i[which] > i)
    top = on_z & (contacts.j[which] > j)
    backwards = (on_r & ~right) | top | on_arc
    side = np.where(on_r, np.where(right, 1.0, 3.0), np.where(top, 2.0, 0.0))
    first = side + np.where(backwards, 1.0 - high, low)
    last = side + np.where(backwards, 1.0 - low, high)
    for angle, place in ((end, first), (start, last)):  # the disc lies on the right hand of the walker
        x = (real[:, 3] + real[:, 5] * np.cos(angle) - r0) / dr
        y = (real[:, 4] + real[:, 5] * np.sin(angle) - z0) / dz
        nearest = np.argmin(np.abs([y, x - 1.0, y - 1.0, x]), axis=0)
        place[on_arc] = np.choose(nearest, [x, 1.0 + y, 3.0 - x, 4.0 - y])[on_arc]
    middle = np.stack([contacts.r[which], contacts.z[which]], axis=1)
    return cell, first, last, backwards.astype(np.int64), kind, real, middle
