"""Streams that pass the section segment by segment: gas by bands, water by turns.

Goes in: the surfaces that each segment wets, an inlet temperature and heat
capacity flows. Comes out: the coupled matrix of section and streams, in which
the heat that a stream loses is the heat that the section gains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import block_array, csr_matrix, sparray

from annulus.conduction.exchange import PatchEquations
from annulus.conduction.network import Network
from annulus.conduction.solvers import Operator

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SMALL_NTU = 1e-4  # below this the series of `outlet_weight` is exact to round-off


@dataclass(frozen=True)
class Stream:
    """One stream through segments in the order of its flow.

    Attributes
    ----------
    surfaces : ndarray of int, shape (n,)
        Surfaces of the section that it wets.
    segment : ndarray of int, shape (n,)
        Which segment wets each, 0 at the inlet.
    inlet : float
        [K]
    capacity : ndarray, shape (n_segments,)
        Mass flow times mean heat capacity over the segment. [W/K]
    """

    surfaces: Ints
    segment: Ints
    inlet: float
    capacity: Floats


def outlet_weight(ntu: Floats) -> Floats:
    """Weight of the outlet in a segment's mean temperature, 1/(1 - exp(-N)) - 1/N.

    Exact for a wall of one temperature: the mean over the segment is
    T_in + weight (T_out - T_in). One half for small N, towards one for large,
    so that no segment overshoots its wall.
    """
    n = np.maximum(ntu, SMALL_NTU)
    return np.where(ntu < SMALL_NTU, 0.5 + ntu / 12.0, -1.0 / np.expm1(-n) - 1.0 / n)


@dataclass(frozen=True)
class Coupled:
    """Equations of section and streams: unknowns are pieces, patches, then the rise of each segment's outlet.

    The rise counts from the stream's inlet, so that a large flow loses no digits.

    Attributes
    ----------
    body : Network or PatchEquations
        The section without its streams.
    mean : csr_matrix, shape (n_surfaces, n_segments)
    inlet : ndarray, shape (n_surfaces,)
        Stream temperature at each surface is mean @ rises + inlet; zero where no stream wets.
    gather : csr_matrix, shape (n_segments, n_surfaces)
        Sums over the surfaces of each segment.
    carried : csr_matrix, shape (n_segments, n_segments)
        Heat that the stream itself carries, per degree of rise. [W/K]
    """

    network: Network
    body: Network | PatchEquations
    mean: csr_matrix
    inlet: Floats
    gather: csr_matrix
    carried: csr_matrix

    @cached_property
    def matrix(self) -> Operator:
        """Second-order matrix."""
        pieces, body, network = self.network.pieces, self.body.matrix, self.network
        n_body, n_pieces = self.body.drive.size, pieces.count
        share = pieces.at_surface.T.tocsr()

        def product(x: Floats) -> Floats:
            of_body, rises = np.split(x, [n_body])
            given = network.surface_conductance * (self.mean @ rises)
            left = body @ of_body
            left[:n_pieces] -= share @ given
            taken = self.gather @ (network.surface_matrix @ of_body[:n_pieces] + given)
            return np.concatenate([left, self.carried @ rises + taken])

        return Operator(product, np.concatenate([body.diagonal(), self._within.diagonal()]))

    @cached_property
    def base_matrix(self) -> sparray:
        """First-order matrix, the one to factor."""
        square = self.body.base_matrix
        to_pieces = csr_matrix(self.network.pieces.at_surface.T @ self._given)
        from_pieces = csr_matrix(self.gather @ self.network.base_surface_matrix)
        to_pieces.resize(square.shape[0], to_pieces.shape[1])
        from_pieces.resize(from_pieces.shape[0], square.shape[0])
        return block_array([[square, -to_pieces], [from_pieces, self._within]], format="csr")

    @cached_property
    def _given(self) -> csr_matrix:
        """Heat that a rise brings to each surface, shape (n_surfaces, n_segments). [W/K]"""
        return csr_matrix(self.mean.multiply(self.network.surface_conductance[:, None]))

    @cached_property
    def _within(self) -> csr_matrix:
        """What a stream's own rise does to its balance, shape (n_segments, n_segments). [W/K]"""
        return csr_matrix(self.carried + self.gather @ self._given)

    @cached_property
    def drive(self) -> Floats:
        """Right-hand side. [W]"""
        from_inlet = self.network.surface_conductance * self.inlet
        body = self.body.drive + self._widen(self.network.pieces.at_surface.T @ from_inlet)
        return np.concatenate([body, -(self.gather @ from_inlet)])

    def _widen(self, of_pieces: Floats) -> Floats:
        """A vector of pieces with zeros for patches behind it."""
        return np.pad(of_pieces, (0, self.body.drive.size - of_pieces.size))

    def ambient(self, rises: Floats) -> Floats:
        """Temperature of the stream at each surface, zero where there is none, shape (n_surfaces,). [K]"""
        return self.mean @ rises + self.inlet


def couple(network: Network, streams: Sequence[Stream], patches: PatchEquations | None = None) -> Coupled:
    """Join a section to its streams.

    The network's drive must leave out the streams' temperatures: on wetted
    surfaces q_0 is zero.

    Parameters
    ----------
    network : Network
    streams : sequence of Stream
    patches : PatchEquations, optional
        Radiation across open space, made from the same network.

    Returns
    -------
    Coupled

    Notes
    -----
    Segment s of a stream with capacity C: C (T_s - T_(s-1)) + sum of G (T_mean - T_wall) = 0,
    T_mean = T_(s-1) + w (T_s - T_(s-1)).
    """
    pieces = network.pieces
    n_surfaces = pieces.surface_piece.size
    counts = [stream.capacity.size for stream in streams]
    total = sum(counts)
    inlet = np.zeros(n_surfaces)
    entries: list[tuple[Ints, Ints, Floats]] = []
    carry: list[tuple[Ints, Ints, Floats]] = []
    sums: list[tuple[Ints, Ints]] = []
    first = 0
    for stream, n in zip(streams, counts, strict=True):
        conductance = network.surface_conductance[stream.surfaces]
        ntu = np.bincount(stream.segment, conductance, n) / stream.capacity
        weight = outlet_weight(ntu)[stream.segment]
        later = stream.segment > 0
        entries.append((stream.surfaces, first + stream.segment, weight))
        entries.append((stream.surfaces[later], first + stream.segment[later] - 1, 1.0 - weight[later]))
        inlet[stream.surfaces] = stream.inlet
        sums.append((first + stream.segment, stream.surfaces))
        own = np.arange(first, first + n)
        carry.append((own, own, stream.capacity))
        carry.append((own[1:], own[:-1], -stream.capacity[1:]))
        first += n
    mean = _sparse(entries, (n_surfaces, total))
    gather = _sparse([(rows, columns, np.ones(rows.size)) for rows, columns in sums], (total, n_surfaces))
    carried = _sparse(carry, (total, total))

    return Coupled(network, patches or network, mean, inlet, gather, carried)


def _sparse(entries: Sequence[tuple[Ints, Ints, Floats]], shape: tuple[int, int]) -> csr_matrix:
    if not entries:
        return csr_matrix(shape)
    rows, columns, values = (np.concatenate(part) for part in zip(*entries, strict=True))
    return csr_matrix((values, (rows, columns)), shape)
