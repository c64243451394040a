"""Heat that a body keeps on the way: the flow parted into what passes, what stays and what is given up.

Goes in: the flows of a field whose pieces warm and cool. Comes out: the part
of the flow that enters the body and leaves it again, which gathers nowhere,
and marks of equal watts for what pieces keep and what they give up.

A piece keeps the heat by which what flows in exceeds what flows out. All that
flows into a piece mixes there; so a share of every flow is bound to leave the
body sooner or later (phi of the piece it runs to), and a share has entered it
from outside (psi of the piece it comes from). What does both is the flow times
phi psi, and its balance closes in every piece:

    phi psi (in + given) = phi psi (out + kept)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, diags_array

from annulus.conduction.pieces import Pieces
from annulus.conduction.sight_lines import WORTH_DRAWING, bundle
from annulus.conduction.solvers import factor
from annulus.conduction.steady import Field
from annulus.conduction.stripe_body import Flows, faces_open_space, surface_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

KEPT, GIVEN = "kept in pieces", "given up by pieces"  # ends and sources beside boundaries and sinks


@dataclass(frozen=True)
class Parted:
    """A flow in parts.

    Attributes
    ----------
    through : Flows
        What enters the body and leaves it again.
    kept, given : ndarray, shape (n_pieces,)
        Heat that each piece of the body keeps, and gives up. [W]
    legs : dict from (source, destination) to float
        What is kept by where it entered, what is given up by where it leaves; between
        `KEPT` and `GIVEN` what pieces give up to others. [W]
    """

    through: Flows
    kept: Floats
    given: Floats
    legs: dict[tuple[str, str], float]


@dataclass(frozen=True)
class Mark:
    """So many watts that pieces keep (or give up) around a place.

    Attributes
    ----------
    kind : str
    is_kept : bool
    watts : float
        [W]
    place : ndarray, shape (2,)
        (r, z) [m]
    """

    kind: str
    is_kept: bool
    watts: float
    place: Floats


@dataclass(frozen=True)
class Marks:
    """All heat that the pieces of a body keep and give up.

    Attributes
    ----------
    marks : tuple of Mark
    sums : dict from (kind, is_kept) to float
        [W]
    small_watts : float
        In no mark: rests too small to draw. [W]
    legs
        See `Parted`.
    """

    marks: tuple[Mark, ...]
    sums: dict[tuple[str, bool], float]
    small_watts: float
    legs: dict[tuple[str, str], float]


def part(field: Field, owner: Ints, flows: Flows) -> Parted:
    """Part a flow into what passes the body, what it keeps and what it gives up.

    Parameters
    ----------
    field : Field
    owner : ndarray of int, shape (n_regions,)
        Negative for regions of the body, from `stripe_body.owners`.
    flows : Flows

    Returns
    -------
    Parted
    """
    p = field.pieces
    inside = owner[p.region] < 0
    a, b = p.link_a, p.link_b
    within = np.flatnonzero(inside[a] & inside[b] & ~faces_open_space(field))
    ends = _Ends(field, owner, inside, flows)
    flow: Floats = flows.at_a[within]
    source, target = np.where(flow > 0, (a[within], b[within]), (b[within], a[within]))
    inner = csr_matrix((np.abs(flow), (source, target)), (p.count, p.count))
    entering, leaving = np.zeros(p.count), np.zeros(p.count)
    np.add.at(entering, ends.piece, np.maximum(-ends.out, 0.0))
    np.add.at(leaving, ends.piece, np.maximum(ends.out, 0.0))
    come = np.asarray(inner.sum(axis=0)).ravel() + entering
    gone = np.asarray(inner.sum(axis=1)).ravel() + leaving
    kept, given = np.maximum(come - gone, 0.0), np.maximum(gone - come, 0.0)
    mixed = np.maximum(come, gone)
    own = diags_array(np.where(mixed > 0, mixed, 1.0))
    phi, psi = factor(own - inner)(leaving), factor(own - inner.T)(entering)

    share = np.ones(a.size)
    share[within] = psi[source] * phi[target]
    at_a, at_b, films = flows.at_a * share, flows.at_b * share, flows.films.copy()
    passing = np.where(ends.out > 0, psi[ends.piece], phi[ends.piece])
    for side, values in ((ends.on_a, at_a), (ends.on_b, at_b), (ends.on_film, films)):
        values[ends.contact[side]] *= passing[side]
    legs: dict[tuple[str, str], float] = {(GIVEN, KEPT): float(given @ (1.0 - phi))}
    for name, out, stays in zip(ends.name, ends.out, (1.0 - passing) * np.abs(ends.out), strict=True):
        pair = (GIVEN, name) if out > 0 else (name, KEPT)
        legs[pair] = legs.get(pair, 0.0) + float(stays)
    return Parted(Flows(at_a, at_b, films), kept, given, legs)


class _Ends:
    """Where heat enters and leaves the body: columns, one for each side of a contact that faces it."""

    def __init__(self, field: Field, owner: Ints, inside: NDArray[np.bool_], flows: Flows) -> None:
        p = field.pieces
        a, b = p.link_a, p.link_b
        cut = faces_open_space(field)
        of_a = np.flatnonzero(inside[a] & (cut | ~inside[b]))
        of_b = np.flatnonzero(inside[b] & (cut | ~inside[a]))
        film = np.flatnonzero(inside[p.surface_piece])
        self.contact = np.concatenate([of_a, of_b, film])
        self.piece = np.concatenate([a[of_a], b[of_b], p.surface_piece[film]])
        self.out = np.concatenate([flows.at_a[of_a], -flows.at_b[of_b], -flows.films[film]])
        column = np.repeat(np.arange(3), [of_a.size, of_b.size, film.size])
        self.on_a, self.on_b, self.on_film = column == 0, column == 1, column == 2
        regions = [painted.name for painted in p.regions]
        clear = field.radiant.clear if field.radiant is not None else np.zeros(len(regions), dtype=bool)

        def beyond(own: Ints, other: Ints) -> list[str]:
            names = []
            for mine, far in zip(p.region[own], p.region[other], strict=True):
                solid = far if clear[mine] else mine
                names.append(regions[owner[far]] if owner[far] >= 0 else surface_of(regions[solid]))
            return names

        self.name = [
            *beyond(a[of_a], b[of_a]),
            *beyond(b[of_b], a[of_b]),
            *(p.boundaries[n] for n in p.surface_boundary[film]),
        ]


def mark(pieces: Pieces, parted: Parted, watts: float, kinds: Mapping[str, str]) -> Marks:
    """Gather what pieces keep and give up into marks of equal watts.

    Parameters
    ----------
    pieces : Pieces
    parted : Parted
    watts : float
        Of a full mark. [W]
    kinds : mapping from region to str
        Regions of one kind are counted together.
    """
    names = [kinds[painted.name] for painted in pieces.regions]
    kind = np.array(names)[pieces.region]
    places = np.stack([pieces.r, pieces.z], axis=1)
    marks: list[Mark] = []
    sums: dict[tuple[str, bool], float] = {}
    small = 0.0
    for name in dict.fromkeys(names):
        for is_kept, heat in ((True, parted.kept), (False, parted.given)):
            mine = np.flatnonzero((kind == name) & (heat > 0))
            if mine.size == 0:
                continue
            sums[name, is_kept] = float(heat[mine].sum())
            for k, carried in bundle(places[mine], heat[mine], np.zeros(mine.size, dtype=bool), watts):
                if carried < WORTH_DRAWING * watts:
                    small += carried
                else:
                    marks.append(Mark(name, is_kept, carried, places[mine[k]]))
    return Marks(tuple(marks), sums, small, parted.legs)
