"""The matrix of the next level of the multigrid, and the band of the last: compiled kernels.

Goes in: the ties of a level, and what each unknown joins. Comes out: the ties
of the next one; or a small level as a band in which it can be factored.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from annulus.conduction.multigrid_level import Ties, grid_size, seat
from annulus.conduction.multigrid_rows import longer, rows_of


@njit(cache=True)
def coarsen(lines, m, coarse_lines, parent, ties, coarse_size):
    """Sum rows and columns of what joins (Galerkin with constants); returns their `Ties`."""
    across, along, outside, row_start, column, tie = ties
    s, grid = 2 * m + 1, grid_size(lines, m)
    coarse_grid = grid_size(coarse_lines, (m + 1) // 2)
    new_across, new_along, new_outside = np.zeros(coarse_size), np.zeros(coarse_size), np.zeros(coarse_size)
    loose = 0
    row, other, of_pair = np.empty(4 * 16, dtype=np.int32), np.empty(4 * 16, dtype=np.int32), np.empty(4 * 16)
    for line in range(lines):
        for half in range(2):
            right = m + 1 if half == 0 else -m
            begin = (line + 1) * s + half * (m + 1)
            for p in range(begin, begin + m):
                here = parent[p]
                if here < 0:
                    continue
                new_outside[here] += outside[p]
                for is_across in range(2):
                    value = across[p] if is_across else along[p]
                    if value == 0.0:
                        continue
                    there = parent[p + s if is_across else p + right]
                    if there == here:
                        continue
                    if here < coarse_grid and there < coarse_grid:
                        if is_across:
                            new_across[here] += value
                        else:
                            new_along[here] += value
                    else:
                        if loose == row.size:
                            row, other, of_pair = longer(row), longer(other), longer(of_pair)
                        row[loose], other[loose], of_pair[loose] = here, there, value
                        loose += 1
    for n in range(row_start.size - 1):
        here = parent[grid + n]
        new_outside[here] += outside[grid + n]
        for k in range(row_start[n], row_start[n + 1]):
            q = column[k]
            if grid <= q < grid + n:
                continue
            there = parent[q]
            if there == here:
                continue
            if here < coarse_grid and there < coarse_grid:
                low, high = min(here, there), max(here, there)
                coarse_m = (m + 1) // 2
                if high - low == 2 * coarse_m + 1:
                    new_across[low] += tie[k]
                else:  # from an odd cell the next one in the line lies before it
                    new_along[low if high - low == coarse_m + 1 else high] += tie[k]
            else:
                if loose == row.size:
                    row, other, of_pair = longer(row), longer(other), longer(of_pair)
                row[loose], other[loose], of_pair[loose] = here, there, tie[k]
                loose += 1
    new_start, new_column, new_tie = rows_of(coarse_grid, coarse_size, row[:loose], other[:loose], of_pair[:loose])
    return Ties(new_across, new_along, new_outside, new_start, new_column, new_tie)


@njit(cache=True)
def seats(lines, m, label, cell):
    """Line and column of each unknown, and its place."""
    grid = grid_size(lines, m)
    places = np.flatnonzero(label >= 0)
    line, column = np.empty(places.size, dtype=np.int64), np.empty(places.size, dtype=np.int64)
    for k in range(places.size):
        line[k], column[k] = seat(places[k], m, grid, cell)
    return line, column, places


@njit(cache=True)
def band(lines, m, places, diagonal, ties):
    """Lower band of the matrix over its unknowns in the order of `places`, shape (width + 1, n)."""
    across, along, _, row_start, column, tie = ties
    s, grid = 2 * m + 1, grid_size(lines, m)
    number = np.full(diagonal.size, -1)
    for k in range(places.size):
        number[places[k]] = k
    widest = 0
    full = np.zeros((1, places.size))
    for is_filling in range(2):
        if is_filling:
            full = np.zeros((widest + 1, places.size))
        for k in range(places.size):
            p = places[k]
            full[0, k] = diagonal[p]
            first, last = (row_start[p - grid], row_start[p - grid + 1]) if p >= grid else (0, 2)
            for e in range(first, last):
                if p >= grid:
                    q, value = number[column[e]], tie[e]
                elif e == 0:
                    q, value = number[p + s], across[p]
                else:
                    q, value = number[p + m + 1 if p % s < m else p - m], along[p]
                if value == 0.0 or q < 0:
                    continue
                if is_filling:
                    full[abs(k - q), min(k, q)] = -value
                widest = max(widest, abs(k - q))
    return full
