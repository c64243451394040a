"""Radiation across open space as straight lines of equal watts from surface to surface.

Goes in: a `Field` with radiation, the watts of one line, what each surface is
called. Comes out: `SightLines`, each standing for exactly so many watts of
exchange between neighbouring patches that see each other; what is too little
for a line is counted beside them.

Only what travels straight is drawn: with all reflections, what leaves a patch
p for a patch q in its sight is A_p F_pq (J_p - J_q). The radiosities J follow
from the heat that each patch gains, up to a constant of no effect; so the
lines add up to the heat of the patches to round-off.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components

from annulus.conduction.contacts import ARC, R_FACE
from annulus.conduction.enclosure import Enclosure
from annulus.conduction.pieces import Pieces
from annulus.conduction.radiant import RadiantFlow
from annulus.conduction.stripe_body import owners, surface_of
from annulus.shapes import Disc

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WORTH_DRAWING = 0.25  # of a full line: a rest below this gets no line
TOUCH = 1e-3  # of a disc's radius: a line that enters no deeper is not hidden
SLIVER = 1e-6  # of a line: a rest below this joins the line before


@dataclass(frozen=True)
class SightLine:
    """So many watts of radiation between two surfaces.

    Attributes
    ----------
    source, destination : str
        Sink, boundary (an opening), or surface of a solid.
    watts : float
        [W]
    start, end : ndarray, shape (2,)
        (r, z) on the two surfaces. [m]
    """

    source: str
    destination: str
    watts: float
    start: Floats
    end: Floats


@dataclass(frozen=True)
class SightLines:
    """All radiation across the open space of a field.

    Attributes
    ----------
    lines : tuple of SightLine
    small_watts : float
        In no line: rests between two kinds of surface too small to draw. [W]
    radiant_watts : float
        All exchange between patches that see each other; heat that is thrown
        back at a surface counts again. [W]
    carried : dict from (source, destination) to float
        From the surfaces that lose heat by radiation to those that keep it, by way of
        whatever throws it back. [W]
    """

    lines: tuple[SightLine, ...]
    small_watts: float
    radiant_watts: float
    carried: dict[tuple[str, str], float]


def draw_sight_lines(
    pieces: Pieces, radiant: RadiantFlow, watts: float, names: Sequence[str], sinks: Collection[str]
) -> SightLines:
    """Gather the radiant exchange of a field into lines.

    Parameters
    ----------
    pieces : Pieces
    radiant : RadiantFlow
    watts : float
        Of a full line. [W]
    names : sequence of str, length n_patches
        Of the surface that each patch belongs to.
    sinks : collection of str
        Surfaces of one kind: a line may stand for exchange with several neighbours among
        them, and then runs to the one in their middle.

    Returns
    -------
    SightLines
    """
    flow = sight_flow(radiant)
    label, surface = np.unique(names, return_inverse=True)
    source, target = np.nonzero(flow > 0)
    heat = flow[source, target]
    places = _Places(pieces, radiant.enclosure)
    middle = places.at(np.arange(radiant.enclosure.count), np.full(radiant.enclosure.count, 0.5))
    kind = np.array([0 if name in sinks else 1 + n for n, name in enumerate(label)])[surface]
    pair = kind[source] * (1 + label.size) + kind[target]
    hidden = places.is_hidden(middle[source], middle[target])
    chosen: list[tuple[int, float]] = []  # exchange along which a line runs, watts
    small = 0.0
    for which in np.unique(pair):
        mine = np.flatnonzero(pair == which)
        ends = np.concatenate([middle[source[mine]], middle[target[mine]]], axis=1)
        for k, carried in bundle(ends, heat[mine], hidden[mine], watts):
            if carried < WORTH_DRAWING * watts:
                small += carried
            else:
                chosen.append((int(mine[k]), carried))
    chosen.sort()
    exchange = np.array([k for k, _ in chosen], dtype=np.int64)
    start, end = places.spread(source[exchange], target[exchange])
    lines = tuple(
        SightLine(str(label[surface[source[k]]]), str(label[surface[target[k]]]), carried, start[n], end[n])
        for n, (k, carried) in enumerate(chosen)
    )
    return SightLines(lines, small, float(heat.sum()), _carried(flow, radiant.gain, label, surface))


def name_patches(p: Pieces, enclosure: Enclosure, sinks: Sequence[str]) -> list[str]:
    """Boundary, sink or surface that each patch of the open space is."""
    owner, names = owners(p, sinks), []
    for region in enclosure.region:
        if region < 0:
            names.append(p.boundaries[-1 - region])
        elif owner[region] >= 0:
            names.append(p.regions[owner[region]].name)
        else:
            names.append(surface_of(p.regions[region].name))
    return names


def sight_flow(radiant: RadiantFlow) -> Floats:
    """Net heat from patch to patch in sight, entries > 0 from row to column, shape (n_patches, n_patches). [W]"""
    seen = radiant.enclosure.exchange.copy()
    np.fill_diagonal(seen, 0.0)
    space = connected_components(csr_matrix(seen), directed=False)[1]
    laplacian = np.diag(seen.sum(axis=1)) - seen
    _, first = np.unique(space, return_index=True)
    laplacian[first, first] += radiant.enclosure.area[first]  # fixes the level of each space
    radiosity = np.linalg.solve(laplacian, -radiant.gain)
    return seen * (radiosity[:, None] - radiosity[None, :])


def bundle(ends: Floats, heat: Floats, hidden: NDArray[np.bool_], watts: float) -> Iterator[tuple[int, float]]:
    """Divide exchanges with ends (r, z, r, z) into compact bundles of equal watts.

    Yields
    ------
    int, float
        The exchange nearest to the middle of a bundle, one whose line is not hidden if there
        is one, and the bundle's watts: `watts`, or in one bundle the rest.
    """
    todo = [(np.arange(heat.size), heat, max(1, math.ceil(float(heat.sum()) / watts - SLIVER)))]
    while todo:
        which, share, count = todo.pop()
        if count == 1:
            total = float(share.sum())
            apart = ((ends[which] - share @ ends[which] / total) ** 2).sum(axis=1)
            yield int(which[np.lexsort((apart, hidden[which]))[0]]), total
            continue
        mean = share @ ends[which] / share.sum()
        widest = int(np.argmax(share @ (ends[which] - mean) ** 2))
        order = np.argsort(ends[which, widest], kind="stable")
        which, share = which[order], share[order]
        lower = count // 2 * watts
        cut = int(np.searchsorted(np.cumsum(share), lower))
        inside = lower - float(share[:cut].sum())  # of the exchange that is divided
        todo.append((which[cut:], np.append(share[cut] - inside, share[cut + 1 :]), count - count // 2))
        todo.append((which[: cut + 1], np.append(share[:cut], inside), count // 2))


def _carried(flow: Floats, gain: Floats, label: NDArray[np.str_], surface: Ints) -> dict[tuple[str, str], float]:
    """Heat from surfaces that lose it to those that keep it; what passes a patch mixes there."""
    onward = np.maximum(flow, 0.0)
    lost, kept = np.maximum(-gain, 0.0), np.maximum(gain, 0.0)
    through = onward.sum(axis=0) + lost
    share = 1.0 / np.where(through > 0, through, 1.0)
    by_surface = np.zeros((gain.size, label.size))
    by_surface[np.arange(gain.size), surface] = lost
    reached = np.linalg.solve(np.eye(gain.size) - onward.T * share, by_surface)
    ends = np.zeros((label.size, label.size))
    np.add.at(ends, surface, reached * (share * kept)[:, None])
    return {(str(label[a]), str(label[b])): float(ends[b, a]) for b, a in zip(*np.nonzero(ends > 0), strict=True)}


class _Places:
    """Points on patches."""

    def __init__(self, pieces: Pieces, enclosure: Enclosure) -> None:
        on_link = enclosure.link >= 0

        def column(name: str) -> NDArray:
            of_links = getattr(pieces.links, name)[enclosure.link]
            return np.where(on_link, of_links, getattr(pieces.surfaces, name)[enclosure.surface])

        kind, start, end = column("kind"), column("start"), column("end")
        turns = np.where(kind == ARC, np.floor(0.5 * (start + end) / (2 * math.pi)) * 2 * math.pi, 0.0)
        self.kind, self.start, self.end = kind, start - turns, end - turns
        self.fixed = np.where(kind == R_FACE, column("r"), column("z"))
        discs = [painted.shape for painted in pieces.regions if isinstance(painted.shape, Disc)]
        circle = np.array([(disc.r, disc.z, disc.radius) for disc in discs] or [(0.0, 0.0, 0.0)])
        self.discs = circle
        self.circle = circle[np.where(kind == ARC, column("disc"), 0)]
        self.order = np.lexsort((self.start, enclosure.patch))
        self.first = np.searchsorted(enclosure.patch[self.order], np.arange(enclosure.count + 1))

    def at(self, patch: Ints, fraction: Floats) -> Floats:
        """Points with a fraction of their patch's length before them, shape (n, 2). [m]"""
        points = np.empty((patch.size, 2))
        for n, (p, f) in enumerate(zip(patch, fraction, strict=True)):
            mine = self.order[self.first[p] : self.first[p + 1]]
            length = self.end[mine] - self.start[mine]
            before = np.cumsum(length) - length
            k = int(np.searchsorted(before, f * length.sum(), side="right")) - 1
            element = mine[k]
            along = self.start[element] + f * length.sum() - before[k]
            a, c, radius = self.circle[element]
            if self.kind[element] == ARC:
                points[n] = a + radius * math.cos(along), c + radius * math.sin(along)
            elif self.kind[element] == R_FACE:
                points[n] = self.fixed[element], along
            else:
                points[n] = along, self.fixed[element]
        return points

    def is_hidden(self, start: Floats, end: Floats) -> NDArray[np.bool_]:
        """Whether a disc stands in the way of lines, shape (n,)."""
        way = end - start
        length2 = np.maximum((way**2).sum(axis=1), np.finfo(float).tiny)
        hidden = np.zeros(length2.size, dtype=bool)
        for a, c, radius in self.discs:
            centre = np.array([a, c])
            nearest = np.clip(((centre - start) * way).sum(axis=1) / length2, 0.0, 1.0)
            apart = np.hypot(*(start + nearest[:, None] * way - centre).T)
            hidden |= apart < (1.0 - TOUCH) * radius
        return hidden

    def spread(self, source: Ints, target: Ints) -> tuple[Floats, Floats]:
        """Ends of lines from patch to patch; those on one patch stand side by side, ordered by where they go.

        A line that a disc would hide then stays between the middles of its patches.
        """
        patch, far = np.concatenate([source, target]), np.concatenate([target, source])
        half = np.full(patch.size, 0.5)
        middle = self.at(patch, half)
        along, way = self.at(patch, 2.0 * half) - self.at(patch, 0.0 * half), self.at(far, half) - middle
        slant = (way * along).sum(axis=1) / np.hypot(*way.T)
        order = np.lexsort((slant, patch))
        _, group, size = np.unique(patch, return_inverse=True, return_counts=True)
        rank = np.empty(patch.size)
        rank[order] = np.arange(patch.size) - np.repeat(np.cumsum(size) - size, size)
        start, end = np.split(self.at(patch, (rank + 0.5) / size[group]), 2)
        from_middle, to_middle = np.split(middle, 2)
        hidden = self.is_hidden(start, end)[:, None]
        return np.where(hidden, from_middle, start), np.where(hidden, to_middle, end)
