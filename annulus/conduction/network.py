"""Conductances of a cut grid and the two matrices they make.

Goes in: pieces, their conductivities, contact resistances and linearised
boundary laws. Comes out: a `Network`: the base matrix (a weighted graph
Laplacian, symmetric, an M-matrix), the second-order matrix, and the heat flow
of every contact for given temperatures.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from annulus.conduction.assembly import Ways, base_rows, heat_leaving, heat_leaving_of_columns
from annulus.conduction.pieces import Pieces
from annulus.errors import MaterialError

Floats = NDArray[np.float64]

# Share of the sum of all terms by which a balance may miss: eight epsilons. A flow is a difference of two terms G T;
# storing both T and forming both products rounds by half an epsilon each, two in all. The linear solver stops at 2e-15,
# nine epsilons of the terms' Euclidean norm, of which a sum over many pieces keeps a part. Of 1000 sections over eight
# decades of conductivity the worst missed by 1.6, half of them by less than 0.02.
ROUNDING = 8.0 * float(np.finfo(float).eps)


@dataclass(frozen=True)
class Network:
    """Conductances of links and surfaces.

    Attributes
    ----------
    conductivity : ndarray, shape (n_pieces,)
        [W/(m K)]
    link_conductance : ndarray, shape (n_links,)
        [W/K]
    surface_conductance : ndarray, shape (n_surfaces,)
        Flow into the body per degree that its middle falls. [W/K]
    surface_drive : ndarray, shape (n_surfaces,)
        Flow into the body with its middle at 0 K. [W]
    """

    pieces: Pieces
    conductivity: Floats
    link_conductance: Floats
    surface_conductance: Floats
    surface_drive: Floats

    @cached_property
    def base_matrix(self) -> csr_matrix:
        """First-order matrix, shape (n_pieces, n_pieces): symmetric, an M-matrix. [W/K]"""
        p = self.pieces
        ties = p.link_a, p.link_b, self.link_conductance, p.surface_piece, self.surface_conductance
        start, column, value = base_rows(p.count, p.links.face.size, *ties)
        return csr_matrix((value, column, start), (p.count, p.count))

    @property
    def main(self) -> Floats:
        """Diagonal of the first-order matrix, shape (n_pieces,). [W/K]"""
        p = self.pieces
        ties = (p.link_a, self.link_conductance), (p.link_b, self.link_conductance)
        ends = (*ties, (p.surface_piece, self.surface_conductance))
        return np.sum([np.bincount(piece, conductance, p.count) for piece, conductance in ends], axis=0)

    @cached_property
    def matrix(self) -> csr_matrix:
        """Second-order matrix: net heat leaving each piece for temperatures of pieces. [W/K]"""
        return self.pieces.pattern.fill(self.link_conductance, self.surface_conductance)

    @cached_property
    def correction(self) -> csr_matrix:
        """Second-order matrix less the first-order one, shape (n_pieces, n_pieces): rows beside cuts alone. [W/K]"""
        p = self.pieces
        links, surfaces = (
            _scaled(self.link_conductance, p.link_shift),
            _scaled(self.surface_conductance, p.surface_shift),
        )
        ways = (links, p.link_a, 1.0), (links, p.link_b, -1.0), (surfaces, p.surface_piece, 1.0)
        row = np.concatenate([np.repeat(piece, np.diff(shift.indptr)) for shift, piece, _ in ways])
        column = np.concatenate([shift.indices for shift, _, _ in ways])
        value = np.concatenate([sign * shift.data for shift, _, sign in ways])
        return csr_matrix((value, (row, column)), (p.count, p.count))

    @property
    def to_factor(self) -> csr_matrix:
        """Second-order matrix as it is factored once; where it is made again and again, `matrix` is made sooner."""
        return csr_matrix(self.base_matrix + self.correction)

    @cached_property
    def surface_matrix(self) -> csr_matrix:
        """Flow into the body less its drive, for temperatures of pieces, shape (n_surfaces, n_pieces). [W/K]"""
        return _scaled(-self.surface_conductance, self.pieces.truly_at_surface)

    @cached_property
    def drive(self) -> Floats:
        """Heat that boundaries bring to each piece at 0 K, shape (n_pieces,). [W]"""
        return np.bincount(self.pieces.surface_piece, self.surface_drive, self.pieces.count).astype(np.float64)

    def leaving(self, temperature: Floats) -> Floats:
        """The second-order matrix times temperatures of pieces, or columns of them, without making it. [W]"""
        p = self.pieces
        links, surfaces = p.link_shift, p.surface_shift
        of_links = p.links.face.size, p.link_a, p.link_b, links.indptr, links.indices, links.data, self.link_conductance
        of_surfaces = p.surface_piece, surfaces.indptr, surfaces.indices, surfaces.data, self.surface_conductance
        product = heat_leaving if temperature.ndim == 1 else heat_leaving_of_columns
        return product(Ways(of_links, of_surfaces), np.ascontiguousarray(temperature))

    def link_flow(self, temperature: Floats) -> Floats:
        """Heat flow a -> b of each link, shape (n_links,). [W]"""
        return self.link_conductance * (self.pieces.true_difference @ temperature)

    def surface_flow(self, temperature: Floats) -> Floats:
        """Heat flow into the body through each surface, shape (n_surfaces,). [W]"""
        return self.surface_drive - self.surface_conductance * (self.pieces.truly_at_surface @ temperature)

    def rounding(self, rise: Floats) -> float:
        """Heat that double precision cannot tell in a balance of these flows. [W]

        Where conductances are many decades apart, large terms cancel in small flows.

        Parameters
        ----------
        rise : ndarray, shape (n_pieces,)
            Temperatures above the datum that unknowns were counted from. [K]
        """
        away, p = np.abs(rise), self.pieces
        of_links = float(self.link_conductance @ (abs(p.true_difference) @ away))
        of_surfaces = float(self.surface_conductance @ (abs(p.truly_at_surface) @ away))
        return ROUNDING * (of_links + of_surfaces + float(np.abs(self.surface_drive).sum()))

    def surface_temperature(self, temperature: Floats, flow: Floats) -> Floats:
        """Temperature of the body's own face at each surface, given the flow into it, shape (n_surfaces,). [K]"""
        p = self.pieces
        drop = flow * p.surfaces.distance_a / (p.surfaces.area * self.conductivity[p.surface_piece])
        return p.truly_at_surface @ temperature + drop


def _scaled(by: Floats, matrix: csr_matrix) -> csr_matrix:
    """Rows of a matrix multiplied each by its own number."""
    rows = np.repeat(by, np.diff(matrix.indptr))
    return csr_matrix((matrix.data * rows, matrix.indices, matrix.indptr), matrix.shape)


def connect(pieces: Pieces, conductivity: Floats, resistance: Floats, surface_q0: Floats, surface_h: Floats) -> Network:
    """Conductances from conductivities, contact resistances and boundary laws.

    Parameters
    ----------
    pieces : Pieces
    conductivity : ndarray, shape (n_pieces,)
        [W/(m K)]
    resistance : ndarray, shape (n_regions, n_regions)
        Contact resistance by pair of regions, symmetric. [m2 K/W]
    surface_q0, surface_h : ndarray, shape (n_surfaces,)
        Flux into the body is q_0 - h T of its surface. [W/m2], [W/(m2 K)]

    Returns
    -------
    Network

    Raises
    ------
    MaterialError
        If a conductivity is not positive and finite.

    Notes
    -----
    Link: G = A / (d_a / k_a + R + d_b / k_b). Surface: G = A h / (1 + h d / k).
    """
    good = np.isfinite(conductivity) & (conductivity > 0)
    if not good.all():
        bad = int(np.argmin(good))
        name = pieces.regions[pieces.region[bad]].name
        raise MaterialError(f"region {name!r}: conductivity {conductivity[bad]} W/(m K) must be positive and finite")
    link, surface = pieces.links, pieces.surfaces
    ways = pieces.region, pieces.link_a, pieces.link_b, link.area, link.distance_a, link.distance_b
    inner = 1.0 + surface_h * surface.distance_a / conductivity[pieces.surface_piece]
    return Network(
        pieces=pieces,
        conductivity=conductivity,
        link_conductance=_link_conductances(conductivity, resistance, *ways),
        surface_conductance=surface.area * surface_h / inner,
        surface_drive=surface.area * surface_q0 / inner,
    )


@njit(cache=True)
def _link_conductances(conductivity, resistance, region, link_a, link_b, area, distance_a, distance_b):
    """A / (d_a / k_a + R + d_b / k_b) of every link."""
    result = np.empty(link_a.size)
    for n in range(link_a.size):
        a, b = link_a[n], link_b[n]
        path = distance_a[n] / conductivity[a] + resistance[region[a], region[b]] + distance_b[n] / conductivity[b]
        result[n] = area[n] / path
    return result
