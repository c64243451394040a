"""From a level of the multigrid to the next and back: compiled kernels.

Goes in: what `rise` left in x; a correction of the next level. Comes out: its
residual summed over blocks of cells; x with the correction.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from annulus.conduction.multigrid_level import ONE, grid_size, places_of


@njit(inline="always")
def _later(lines, line):
    """Line that holds a line's ties to the next one in the order of `rise`, and that line."""
    if line < lines // 2:
        return line, line + 1
    if line > lines // 2:
        return line - 1, line - 1
    return lines, lines  # an empty line: the middle one is the last


@njit(inline="always")
def restrict(level, first, last, x, coarse):
    """Sum what `rise` left of the residual over blocks, into lines first to last of the next level."""
    across, along, first_line = level.across, level.along, level.first_line
    lines, width = level.lines, level.width
    coarse_width = np.uint64((width + 1) // 2)
    left = np.zeros(2 * ((width + 1) // 2), x.dtype)
    for block_line in range(first, last):
        left[:] = 0.0
        for line in range(first_line[block_line], first_line[block_line + 1]):
            m, _, even, odd = places_of(width, line)
            tied_line, later_line = _later(lines, line)
            _, _, tied, tied_odd = places_of(width, tied_line)
            _, _, later, later_odd = places_of(width, later_line)
            for j in range(m):
                total = left[j] + across[tied + j] * x[later + j] + along[even + j] * x[odd + j]
                total = total + along[even + m + j] * x[even + m + j]
                left[j] = total + across[tied_odd + j] * x[later_odd + j]
        _, _, even, odd = places_of(coarse_width, block_line)
        for j in range(coarse_width):
            coarse[even + j] = left[j + j]
            coarse[odd + j] = left[j + j + ONE]
        _restrict_mixed(level, block_line, x, coarse)


@njit(inline="always")
def _corner(begin, corner, m):
    """Place of a cell of the block that begins so."""
    return begin + (corner // 2) * (2 * m + 1) + (corner % 2) * (m + 1)


@njit(inline="always")
def _restrict_mixed(level, block_line, x, coarse):
    """Each cell of a mixed block to what it joins."""
    across, along, first_line = level.across, level.along, level.first_line
    mixed_start, mixed, mixed_joint = level.mixed_start, level.mixed, level.mixed_joint
    lines, m = level.lines, level.width
    s, width = 2 * m + 1, (m + 1) // 2
    for q in range(mixed_start[block_line], mixed_start[block_line + 1]):
        begin = mixed[q]
        j = begin - (first_line[block_line] + 1) * s
        coarse[(block_line + 1) * (2 * width + 1) + j // 2 + (j % 2) * (width + 1)] = 0.0
        for corner in range(4):
            joint = mixed_joint[4 * q + corner]
            if joint < 0:
                continue
            p = _corner(begin, corner, m)
            line = first_line[block_line] + corner // 2
            tied, later = _later(lines, line)
            left = across[p + (tied - line) * s] * x[p + (later - line) * s]
            if corner % 2 == 0:
                left += along[p] * x[p + m + 1] + along[p + m] * x[p + m]
            coarse[joint] += left


@njit(inline="always")
def restrict_beside(level, x, coarse):
    """Add what the unknowns beside the grid left of the residual, in their rows and in the grid's."""
    tie, row_start, column = level.tie, level.row_start, level.column
    joint, joint_of_column, grid = level.joint, level.joint_of_column, grid_size(level.lines, level.width)
    for n in range(row_start.size - 1):
        p = grid + n
        for k in range(row_start[n], row_start[n + 1]):
            q = column[k]
            if q < grid:
                coarse[joint_of_column[k]] += tie[k] * x[p]
            elif q > p:
                coarse[joint[n]] += tie[k] * x[q]


@njit(inline="always")
def correct(level, first, last, correction, x):
    """Add what each block is corrected by, lines first to last of the next level."""
    first_line, mixed_start = level.first_line, level.mixed_start
    mixed, mixed_joint, m = level.mixed, level.mixed_joint, level.width
    width = np.uint64((m + 1) // 2)
    more = np.empty(2 * ((m + 1) // 2), x.dtype)
    for block_line in range(first, last):
        low, high = mixed_start[block_line], mixed_start[block_line + 1]
        kept = np.empty(4 * (high - low), x.dtype)
        for k in range(kept.size):
            kept[k] = x[_corner(mixed[low + k // 4], k % 4, m)]
        _, _, even, odd = places_of(width, block_line)
        for j in range(width):
            more[j + j] = correction[even + j]
            more[j + j + ONE] = correction[odd + j]
        for line in range(first_line[block_line], first_line[block_line + 1]):
            wide, _, even, odd = places_of(m, line)
            for j in range(wide):
                x[even + j] += more[j]
                x[odd + j] += more[j]
        for k in range(kept.size):
            joint = mixed_joint[4 * low + k]
            own = correction[joint] if joint >= 0 else 0.0
            x[_corner(mixed[low + k // 4], k % 4, m)] = kept[k] + own


@njit(inline="always")
def correct_beside(level, correction, x):
    """The same for the unknowns beside the grid."""
    joint, grid = level.joint, grid_size(level.lines, level.width)
    for n in range(joint.size):
        x[grid + n] += correction[joint[n]]
