"""From a level of the multigrid to the next and back: compiled kernels.

Goes in: what `rise` left in x; a correction of the next level. Comes out: its
residual summed over blocks of cells; x with the correction.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from annulus.conduction.multigrid_level import grid_size


@njit(inline="always")
def _later(level, e):
    """Where a line's ties to the next line in the order of `rise` begin, and that line."""
    s = 2 * level.width + 1
    middle = (level.lines // 2 + 1) * s
    if e < middle:
        return e, e + s
    if e > middle:
        return e - s, e - s
    return (level.lines + 1) * s, (level.lines + 1) * s  # an empty line: the middle one is the last


@njit(inline="always")
def restrict(level, first, last, x, coarse):
    """Sum what `rise` left of the residual over blocks, into lines first to last of the next level."""
    m, s = level.width, 2 * level.width + 1
    width = (m + 1) // 2
    across, along = level.across, level.along
    left = np.zeros(2 * width, x.dtype)
    for block_line in range(first, last):
        left[:] = 0.0
        for line in range(level.first_line[block_line], level.first_line[block_line + 1]):
            e = (line + 1) * s
            tied, later = _later(level, e)
            _add_left_over(
                left[:m],
                across[tied : tied + m],
                x[later : later + m],
                along[e : e + m],
                x[e + m + 1 : e + s],
                along[e + m : e + 2 * m],
                x[e + m : e + 2 * m],
                across[tied + m + 1 : tied + s],
                x[later + m + 1 : later + s],
            )
        a = (block_line + 1) * (2 * width + 1)
        for j in range(width):
            coarse[a + j] = left[2 * j]
            coarse[a + width + 1 + j] = left[2 * j + 1]
        _restrict_mixed(level, block_line, x, coarse)


@njit(inline="always")
def _add_left_over(left, a, x_a, b, x_b, c, x_c, d, x_d):
    for j in range(left.size):
        left[j] += a[j] * x_a[j] + b[j] * x_b[j] + c[j] * x_c[j] + d[j] * x_d[j]


@njit(inline="always")
def _joint_place(level, block_line, e):
    """Place on the grid of the next level of the block that begins at e."""
    j = e - (level.first_line[block_line] + 1) * (2 * level.width + 1)
    width = (level.width + 1) // 2
    return (block_line + 1) * (2 * width + 1) + j // 2 + (j % 2) * (width + 1)


@njit(inline="always")
def _restrict_mixed(level, block_line, x, coarse):
    """Each cell of a mixed block to what it joins."""
    m, s = level.width, 2 * level.width + 1
    for q in range(level.mixed_start[block_line], level.mixed_start[block_line + 1]):
        first = level.mixed[q]
        coarse[_joint_place(level, block_line, first)] = 0.0
        for corner in range(4):
            joint = level.mixed_joint[q, corner]
            if joint < 0:
                continue
            p = first + (corner // 2) * s + (corner % 2) * (m + 1)
            e = (level.first_line[block_line] + 1 + corner // 2) * s
            tied, later = _later(level, e)
            left = level.across[tied + p - e] * x[later + p - e]
            if corner % 2 == 0:
                left += level.along[p] * x[p + m + 1] + level.along[p + m] * x[p + m]
            coarse[joint] += left


@njit(inline="always")
def restrict_last(level, x, coarse):
    """Add what the unknowns beside the grid left of the residual, in their rows and in the grid's."""
    grid = grid_size(level.lines, level.width)
    for n in range(level.row_start.size - 1):
        p = grid + n
        for k in range(level.row_start[n], level.row_start[n + 1]):
            q = level.column[k]
            if q < grid:
                coarse[level.joint_of_column[k]] += level.tie[k] * x[p]
            elif q > p:
                coarse[level.joint[n]] += level.tie[k] * x[q]


@njit(inline="always")
def correct(level, first, last, correction, x):
    """Add what each block is corrected by, lines first to last of the next level."""
    m, s = level.width, 2 * level.width + 1
    width = (m + 1) // 2
    more = np.empty(2 * width, x.dtype)
    for block_line in range(first, last):
        low, high = level.mixed_start[block_line], level.mixed_start[block_line + 1]
        kept = np.empty((high - low, 4), x.dtype)
        for q in range(low, high):
            for corner in range(4):
                p = level.mixed[q] + (corner // 2) * s + (corner % 2) * (m + 1)
                kept[q - low, corner] = x[p]
        a = (block_line + 1) * (2 * width + 1)
        for j in range(width):
            more[2 * j] = correction[a + j]
            more[2 * j + 1] = correction[a + width + 1 + j]
        for line in range(level.first_line[block_line], level.first_line[block_line + 1]):
            e = (line + 1) * s
            _add(x[e : e + m], more[:m])
            _add(x[e + m + 1 : e + s], more[:m])
        for q in range(low, high):
            for corner in range(4):
                p = level.mixed[q] + (corner // 2) * s + (corner % 2) * (m + 1)
                joint = level.mixed_joint[q, corner]
                x[p] = kept[q - low, corner] + (correction[joint] if joint >= 0 else 0.0)


@njit(inline="always")
def _add(x, more):
    for j in range(x.size):
        x[j] += more[j]


@njit(inline="always")
def correct_last(level, correction, x):
    """The same for the unknowns beside the grid."""
    grid = grid_size(level.lines, level.width)
    for n in range(level.joint.size):
        x[grid + n] += correction[level.joint[n]]
