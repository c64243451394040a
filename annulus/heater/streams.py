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


def told_by_cells(network: Network, stream: Stream, temperature: Floats) -> float:
    """Largest change of a segment's mean temperature that hangs on the grid. [K]

    `outlet_weight` takes the film and half a cell behind it for the way to the wall. Where that half cell resists
    more than the film and the stream gives up its heat within a segment, the mean changes with the cells.

    Parameters
    ----------
    network : Network
    stream : Stream
    temperature : ndarray, shape (n_segments + 1,)
        At the segments' edges. [K]
    """
    on, surfaces = stream.surfaces, network.pieces.surfaces
    used = network.surface_conductance[on]
    depth = surfaces.distance_a[on] / (surfaces.area[on] * network.conductivity[network.pieces.surface_piece[on]])
    film = used / np.maximum(1.0 - used * depth, np.finfo(float).eps)
    n = stream.capacity.size
    cells, alone = (outlet_weight(np.bincount(stream.segment, by, n) / stream.capacity) for by in (used, film))
    return float(np.abs((alone - cells) * np.diff(temperature)).max())


@dataclass(frozen=True)
class Coupled:
    """Equations of section and streams: unknowns are pieces, patches, then the rise of each segment's outlet.

    The rise counts from the stream's inlet, so that a large flow loses no digits.

    Attributes
    ----------
    body : Network or PatchEquations
        The section without its streams.
    wet, segment : ndarray of int, shape (n_wet,)
        Surfaces that streams wet, and the segment at each; segments of all streams are counted through.
    weight : ndarray, shape (n_wet,)
        Of the segment's outlet in the stream's temperature there; the rest is the outlet before.
    before : ndarray of int, shape (n_segments,)
        The segment upstream of each; -1 at an inlet.
    capacity : ndarray, shape (n_segments,)
        [W/K]
    inlet : ndarray, shape (n_surfaces,)
        Stream temperature at each surface is mean @ rises + inlet; zero where no stream wets.
    """

    network: Network
    body: Network | PatchEquations
    wet: Ints
    segment: Ints
    weight: Floats
    before: Ints
    capacity: Floats
    inlet: Floats

    @cached_property
    def mean(self) -> csr_matrix:
        """Stream temperature above its inlet at each surface, from rises, shape (n_surfaces, n_segments)."""
        upstream = self.before[self.segment]
        later = upstream >= 0
        rows = np.concatenate([self.wet, self.wet[later]])
        columns = np.concatenate([self.segment, upstream[later]])
        shape = (self.inlet.size, self.capacity.size)
        return csr_matrix((np.concatenate([self.weight, 1.0 - self.weight[later]]), (rows, columns)), shape)

    @cached_property
    def gather(self) -> csr_matrix:
        """Sums over the surfaces of each segment, shape (n_segments, n_surfaces)."""
        return csr_matrix((np.ones(self.wet.size), (self.segment, self.wet)), (self.capacity.size, self.inlet.size))

    @cached_property
    def carried(self) -> csr_matrix:
        """Heat that the streams carry, per degree of rise, shape (n_segments, n_segments). [W/K]"""
        own = np.arange(self.capacity.size)
        later = self.before >= 0
        rows, columns = np.concatenate([own, own[later]]), np.concatenate([own, self.before[later]])
        return csr_matrix((np.concatenate([self.capacity, -self.capacity[later]]), (rows, columns)), (own.size,) * 2)

    @cached_property
    def matrix(self) -> Operator:
        """Second-order matrix."""
        return Operator(self.product, np.concatenate([self.body.main, self._within.diagonal()]))

    def product(self, x: Floats) -> Floats:
        """Second-order matrix times a vector."""
        network, wet = self.network, self.wet
        of_body, rises = np.split(x, [self.body.drive.size])
        of_pieces = of_body[: network.pieces.count]
        left = self.body.leaving(of_body)
        conductance, piece = network.surface_conductance[wet], network.pieces.surface_piece[wet]
        given = conductance * self._above_inlet(rises)
        left[: of_pieces.size] -= np.bincount(piece, given, of_pieces.size)
        taken = given - conductance * (network.pieces.truly_at_surface @ of_pieces)[wet]
        carried = self.capacity * (rises - np.append(rises, 0.0)[self.before])
        return np.concatenate([left, carried + np.bincount(self.segment, taken, rises.size)])

    def _above_inlet(self, rises: Floats) -> Floats:
        """Temperature of the stream at each wet surface above its inlet, shape (n_wet,). [K]"""
        rise = np.append(rises, 0.0)  # nothing upstream of the inlet
        return self.weight * rise[self.segment] + (1.0 - self.weight) * rise[self.before[self.segment]]

    @property
    def to_factor(self) -> sparray:
        """Second-order matrix, but for what `PatchEquations.to_factor` leaves out."""
        square = self.body.to_factor
        to_pieces = csr_matrix(self.network.pieces.at_surface.T @ self._given)
        from_pieces = csr_matrix(self.gather @ self.network.surface_matrix)
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
        from_inlet = (self.network.surface_conductance * self.inlet)[self.wet]
        drive = self.body.drive.copy()
        drive[: self.network.pieces.count] += np.bincount(
            self.network.pieces.surface_piece[self.wet], from_inlet, self.network.pieces.count
        )
        return np.concatenate([drive, -np.bincount(self.segment, from_inlet, self.capacity.size)])

    def ambient(self, rises: Floats) -> Floats:
        """Temperature of the stream at each surface, zero where there is none, shape (n_surfaces,). [K]"""
        ambient = self.inlet.copy()
        ambient[self.wet] += self._above_inlet(rises)
        return ambient


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
    inlet = np.zeros(network.pieces.surface_piece.size)
    wet, segment, weight, before = [], [], [], []
    first = 0
    for stream in streams:
        n = stream.capacity.size
        ntu = np.bincount(stream.segment, network.surface_conductance[stream.surfaces], n) / stream.capacity
        inlet[stream.surfaces] = stream.inlet
        wet.append(stream.surfaces)
        segment.append(first + stream.segment)
        weight.append(outlet_weight(ntu)[stream.segment])
        before.append(np.concatenate([[-1], np.arange(first, first + n - 1)]))
        first += n
    capacity = [stream.capacity for stream in streams]
    whole = [np.concatenate([np.empty(0, np.int64), *parts]) for parts in (wet, segment, before)]
    real = [np.concatenate([np.empty(0), *parts]) for parts in (weight, capacity)]
    return Coupled(network, patches or network, whole[0], whole[1], real[0], whole[2], real[1], inlet)
