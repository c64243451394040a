"""Matrices of one pattern filled again and again: the sums over links and surfaces, compiled.

Goes in: which pieces each link and surface compares. Comes out: a `Pattern`
that turns conductances into a sparse matrix without looking anything up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@njit(cache=True)
def _find_places(row_of, factor_start, factor_column, start, column):
    """Place in the pattern of (row_of[n], c) for every entry c of row n of a factor."""
    place = np.empty(factor_column.size, dtype=np.int64)
    for n in range(row_of.size):
        row = row_of[n]
        low, high = start[row], start[row + 1]
        for m in range(factor_start[n], factor_start[n + 1]):
            place[m] = low + np.searchsorted(column[low:high], factor_column[m])
    return place


@njit(cache=True)
def _add(data, place, factor_start, factor_value, conductance, sign):
    """Add sign * conductance[n] * factor row n at its places."""
    for n in range(conductance.size):
        scaled = sign * conductance[n]
        for m in range(factor_start[n], factor_start[n + 1]):
            data[place[m]] += scaled * factor_value[m]


@dataclass(frozen=True)
class Pattern:
    """Places of all terms of D^T G F + P^T H S in one sparse matrix.

    D takes differences over links and P picks the pieces of surfaces; F and S are
    their factors of first or second order, G and H conductances.
    """

    start: NDArray[np.int32]
    column: NDArray[np.int32]
    link_factor: csr_matrix
    surface_factor: csr_matrix
    place_a: Ints
    place_b: Ints
    place_surface: Ints

    def fill(self, link_conductance: Floats, surface_conductance: Floats) -> csr_matrix:
        """Matrix for these conductances, shape (n_pieces, n_pieces). [W/K]"""
        data = np.zeros(self.column.size)
        links, surfaces = self.link_factor, self.surface_factor
        _add(data, self.place_a, links.indptr, links.data, link_conductance, 1.0)
        _add(data, self.place_b, links.indptr, links.data, link_conductance, -1.0)
        _add(data, self.place_surface, surfaces.indptr, surfaces.data, surface_conductance, 1.0)
        n = self.start.size - 1
        return csr_matrix((data, self.column, self.start), (n, n))


def make_pattern(
    link_a: Ints, link_b: Ints, link_factor: csr_matrix, surface_piece: Ints, surface_factor: csr_matrix
) -> Pattern:
    """Pattern for links between `link_a` and `link_b` and surfaces of `surface_piece`.

    Parameters
    ----------
    link_a, link_b : ndarray of int, shape (n_links,)
    link_factor : csr_matrix, shape (n_links, n_pieces)
    surface_piece : ndarray of int, shape (n_surfaces,)
    surface_factor : csr_matrix, shape (n_surfaces, n_pieces)
    """
    n = link_factor.shape[1]

    def rows(of: Ints, factor: csr_matrix) -> csr_matrix:
        pick = csr_matrix((np.ones(of.size), (of, np.arange(of.size))), (n, of.size))
        ones = csr_matrix((np.ones(factor.nnz), factor.indices, factor.indptr), factor.shape)
        return pick @ ones

    pattern = (rows(link_a, link_factor) + rows(link_b, link_factor) + rows(surface_piece, surface_factor)).tocsr()
    pattern.sort_indices()

    def places(of: Ints, factor: csr_matrix) -> Ints:
        return _find_places(of, factor.indptr, factor.indices, pattern.indptr, pattern.indices)

    return Pattern(
        start=pattern.indptr,
        column=pattern.indices,
        link_factor=link_factor,
        surface_factor=surface_factor,
        place_a=places(link_a, link_factor),
        place_b=places(link_b, link_factor),
        place_surface=places(surface_piece, surface_factor),
    )
