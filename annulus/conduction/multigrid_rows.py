"""Rows of the unknowns beside the grid of a multigrid level: compiled kernels.

Goes in: pairs of unknowns and the conductance between them. Comes out: a row
for each unknown beside the grid.
"""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True)
def longer(a):
    """Twice the room, what stood there kept."""
    more = np.empty(2 * a.size, a.dtype)
    for k in range(a.size):  # a slice would have its message of unequal sizes compiled along
        more[k] = a[k]
    return more


@njit(cache=True)
def rows_of(grid, size, row, other, of_pair):
    """Where each row begins, columns and conductances, out of pairs of unknowns; equal pairs summed."""
    count = np.zeros(size - grid + 1, dtype=np.int32)
    for t in range(row.size):
        for p in (row[t], other[t]):
            if p >= grid:
                count[p - grid + 1] += 1
    for n in range(size - grid):
        count[n + 1] += count[n]
    filled = count[:-1].copy()
    column, tie = np.empty(count[-1], dtype=np.int32), np.empty(count[-1])
    for t in range(row.size):
        for p, q in ((row[t], other[t]), (other[t], row[t])):
            if p < grid:
                continue
            n = p - grid
            k = count[n]
            while k < filled[n] and column[k] != q:
                k += 1
            if k == filled[n]:
                column[k], tie[k] = q, 0.0
                filled[n] += 1
            tie[k] += of_pair[t]
    start = np.zeros(size - grid + 1, dtype=np.int32)
    end = 0
    for n in range(size - grid):
        for k in range(count[n], filled[n]):
            column[end], tie[end] = column[k], tie[k]
            end += 1
        start[n + 1] = end
    return start, column[:end].copy(), tie[:end].copy()
