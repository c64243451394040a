"""From a level of the multigrid to the next and back: compiled kernels.

Goes in: what `rise` left in x; a correction of the next level. Comes out: its
residual summed over blocks of cells; x with the correction.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from annulus.conduction.multigrid_level import ONE, grid_size, places_of


@njit(inline="always")
def _later(level, line):
    """Line that holds a line's ties to the next one in the order of `rise`, and that line."""
    middle = level.lines // 2
    if line < middle:
        return line, line + 1
    if line > middle:
        return line - 1, line - 1
    return level.lines, level.lines  # an empty line: the middle one is the last


@njit(inline="always")
def restrict(level, first, last, x, coarse):
    """Sum what `rise` left of the residual over blocks, into lines first to last of the next level."""
    across, along, width = level.across, level.along, np.uint64((level.width + 1) // 2)
    left = np.zeros(2 * ((level.width + 1) // 2), x.dtype)
    for block_line in range(first, last):
        left[:] = 0.0
        for line in range(level.first_line[block_line], level.first_line[block_line + 1]):
            m, _, even, odd = places_of(level, line)
            tied_line, later_line = _later(level, line)
            _, _, tied, tied_odd = places_of(level, tied_line)
            _, _, later, later_odd = places_of(level, later_line)
            for j in range(m):
                total = left[j] + across[tied + j] * x[later + j] + along[even + j] * x[odd + j]
                total = total + along[even + m + j] * x[even + m + j]
                left[j] = total + across[tied_odd + j] * x[later_odd + j]
        begin = np.uint64(block_line + 1) * (width + width + ONE)
        for j in range(width):
            coarse[begin + j] = left[j + j]
            coarse[begin + width + ONE + j] = left[j + j + ONE]
        _restrict_mixed(level, block_line, x, coarse)


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
            line = level.first_line[block_line] + corner // 2
            tied, later = _later(level, line)
            left = level.across[p + (tied - line) * s] * x[p + (later - line) * s]
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
    width = np.uint64((m + 1) // 2)
    more = np.empty(2 * ((m + 1) // 2), x.dtype)
    for block_line in range(first, last):
        low, high = level.mixed_start[block_line], level.mixed_start[block_line + 1]
        kept = np.empty((high - low, 4), x.dtype)
        for q in range(low, high):
            for corner in range(4):
                p = level.mixed[q] + (corner // 2) * s + (corner % 2) * (m + 1)
                kept[q - low, corner] = x[p]
        begin = np.uint64(block_line + 1) * (width + width + ONE)
        for j in range(width):
            more[j + j] = correction[begin + j]
            more[j + j + ONE] = correction[begin + width + ONE + j]
        for line in range(level.first_line[block_line], level.first_line[block_line + 1]):
            wide, _, even, odd = places_of(level, line)
            for j in range(wide):
                x[even + j] += more[j]
                x[odd + j] += more[j]
        for q in range(low, high):
            for corner in range(4):
                p = level.mixed[q] + (corner // 2) * s + (corner % 2) * (m + 1)
                joint = level.mixed_joint[q, corner]
                x[p] = kept[q - low, corner] + (correction[joint] if joint >= 0 else 0.0)


@njit(inline="always")
def correct_last(level, correction, x):
    """The same for the unknowns beside the grid."""
    grid = grid_size(level.lines, level.width)
    for n in range(level.joint.size):
        x[grid + n] += correction[level.joint[n]]
