"""The matrix of the next level of the multigrid, and the band of the last.

Goes in: the ties of a level, and what each unknown joins. Comes out: the ties
of the next one; or a small level as a band in which it can be factored.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from annulus.conduction.multigrid_level import Ties, grid_size
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


def seats(lines, m, label, cell):
    """Line and column of each unknown, and its place."""
    grid, s = grid_size(lines, m), 2 * m + 1
    places = np.flatnonzero(label >= 0)
    inside = places[places < grid]
    beside = cell[places[inside.size :] - grid]
    within = inside % s
    column = np.where(within < m, 2 * within, 2 * (within - m - 1) + 1)
    return (
        np.concatenate([inside // s - 1, beside // (2 * m)]),
        np.concatenate([column, beside % (2 * m)]),
        places,
    )


def band(lines, m, places, diagonal, ties):
    """Lower band of the matrix over its unknowns in the order of `places`, shape (width + 1, n)."""
    grid, s = grid_size(lines, m), 2 * m + 1
    number = np.full(diagonal.size, -1)
    number[places] = np.arange(places.size)
    up, level = np.flatnonzero(ties.across[:grid]), np.flatnonzero(ties.along[:grid])
    right = level + np.where(level % s < m, m + 1, -m)
    beside = grid + np.repeat(np.arange(ties.row_start.size - 1), np.diff(ties.row_start))
    one = number[np.concatenate([up, level, beside])]
    other = number[np.concatenate([up + s, right, ties.column])]
    value = np.concatenate([ties.across[up], ties.along[level], ties.tie])
    full = np.zeros((np.abs(one - other).max(initial=0) + 1, places.size))
    full[0] = diagonal[places]
    full[np.abs(one - other), np.minimum(one, other)] = -value
    return full
