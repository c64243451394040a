"""The sums over links and surfaces, compiled.

Goes in: which pieces each link and surface compares, and conductances. Comes
out: the first-order matrix, products with the second-order one, and a
`Pattern` that fills the second-order matrix without looking anything up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from annulus.conduction.ordered import number_up_to

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
            place[m] = low + number_up_to(column, factor_column[m] - 1, low, high)
    return place


@njit(cache=True)
def _add(data, place, factor_start, factor_value, conductance, sign):
    """Add sign * conductance[n] * factor row n at its places."""
    for n in range(conductance.size):
        scaled = sign * conductance[n]
        for m in range(factor_start[n], factor_start[n + 1]):
            data[place[m]] += scaled * factor_value[m]


@njit(cache=True)
def base_rows(count, whole, link_a, link_b, link_conductance, surface_piece, surface_conductance):
    """Rows of the first-order matrix: where each begins, columns in order, values.

    Links between the same two pieces are summed. The first `whole` links lead
    from lower to higher pieces, along r and then along z, so that what they
    give comes in the order of columns: from below, the diagonal, from above.
    """
    start = np.ones(count + 1, dtype=np.int32)  # room for the diagonal
    start[0] = 0
    main = np.zeros(count)
    for n in range(link_a.size):
        a, b, conductance = link_a[n], link_b[n], link_conductance[n]
        start[a + 1] += 1
        start[b + 1] += 1
        main[a] += conductance
        main[b] += conductance
    for n in range(surface_piece.size):
        main[surface_piece[n]] += surface_conductance[n]
    for p in range(count):
        start[p + 1] += start[p]
    column = np.empty(start[count], dtype=np.int32)
    value = np.empty(column.size)
    place = start.copy()
    for n in range(whole):
        b = link_b[n]
        column[place[b]], value[place[b]] = link_a[n], -link_conductance[n]
        place[b] += 1
    for p in range(count):
        column[place[p]], value[place[p]] = p, main[p]
        place[p] += 1
    for n in range(whole - 1, -1, -1):
        a = link_a[n]
        column[place[a]], value[place[a]] = link_b[n], -link_conductance[n]
        place[a] += 1
    for n in range(whole, link_a.size):
        a, b, conductance = link_a[n], link_b[n], link_conductance[n]
        column[place[a]], value[place[a]] = b, -conductance
        column[place[b]], value[place[b]] = a, -conductance
        place[a] += 1
        place[b] += 1
    filled = end = 0
    for p in range(count):
        begin, end = end, start[p + 1]
        for m in range(begin + 1, end):  # few enough for sorting by insertion
            c, v = column[m], value[m]
            q = m
            while q > begin and column[q - 1] > c:
                column[q], value[q] = column[q - 1], value[q - 1]
                q -= 1
            if q < m:
                column[q], value[q] = c, v
        first = filled
        for m in range(begin, end):
            if filled > first and column[m] == column[filled - 1]:
                value[filled - 1] += value[m]
            else:
                if filled < m:
                    column[filled], value[filled] = column[m], value[m]
                filled += 1
        start[p + 1] = filled
    return start, column[:filled], value[:filled]


class Ways(NamedTuple):
    """What heat takes from piece to piece and to the outside.

    Attributes
    ----------
    of_links : tuple
        How many links, the first ones, have no shifts; pieces a and b of each; rows of what the temperatures on their
        two sides gain when moved onto the normal, as start, column and value; conductances [W/K].
    of_surfaces : tuple
        The piece of each surface, its rows of shifts, its conductance [W/K].
    """

    of_links: tuple[int, Ints, Ints, NDArray[np.int32], NDArray[np.int32], Floats, Floats]
    of_surfaces: tuple[Ints, NDArray[np.int32], NDArray[np.int32], Floats, Floats]


@njit(cache=True)
def heat_leaving(ways, temperature):
    """Second-order matrix times temperatures: net heat that leaves each piece through links and surfaces."""
    whole, link_a, link_b, link_start, link_column, link_shift, link_conductance = ways.of_links
    surface_piece, surface_start, surface_column, surface_shift, surface_conductance = ways.of_surfaces
    leaving = np.zeros(temperature.size)
    for n in range(whole):
        a, b = link_a[n], link_b[n]
        flow = link_conductance[n] * (temperature[a] - temperature[b])
        leaving[a] += flow
        leaving[b] -= flow
    for n in range(whole, link_a.size):
        a, b = link_a[n], link_b[n]
        fall = temperature[a] - temperature[b]
        for m in range(link_start[n], link_start[n + 1]):
            fall += link_shift[m] * temperature[link_column[m]]
        flow = link_conductance[n] * fall
        leaving[a] += flow
        leaving[b] -= flow
    for n in range(surface_piece.size):
        rise = temperature[surface_piece[n]]
        for m in range(surface_start[n], surface_start[n + 1]):
            rise += surface_shift[m] * temperature[surface_column[m]]
        leaving[surface_piece[n]] += surface_conductance[n] * rise
    return leaving


@njit(cache=True)
def heat_leaving_of_columns(ways, temperature):
    """The same for many fields at once, one a column, which are worked on side by side."""
    whole, link_a, link_b, link_start, link_column, link_shift, link_conductance = ways.of_links
    surface_piece, surface_start, surface_column, surface_shift, surface_conductance = ways.of_surfaces
    leaving = np.zeros(temperature.shape)
    many = temperature.shape[1]
    fall = np.empty(many)
    for n in range(whole):
        a, b = link_a[n], link_b[n]
        for c in range(many):
            flow = link_conductance[n] * (temperature[a, c] - temperature[b, c])
            leaving[a, c] += flow
            leaving[b, c] -= flow
    for n in range(whole, link_a.size):
        a, b = link_a[n], link_b[n]
        for c in range(many):
            fall[c] = temperature[a, c] - temperature[b, c]
        for m in range(link_start[n], link_start[n + 1]):
            for c in range(many):
                fall[c] += link_shift[m] * temperature[link_column[m], c]
        for c in range(many):
            flow = link_conductance[n] * fall[c]
            leaving[a, c] += flow
            leaving[b, c] -= flow
    for n in range(surface_piece.size):
        p = surface_piece[n]
        for c in range(many):
            fall[c] = temperature[p, c]
        for m in range(surface_start[n], surface_start[n + 1]):
            for c in range(many):
                fall[c] += surface_shift[m] * temperature[surface_column[m], c]
        for c in range(many):
            leaving[p, c] += surface_conductance[n] * fall[c]
    return leaving


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
