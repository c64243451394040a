"""One level of the multigrid, its sweeps and its products: compiled kernels.

Goes in: conductances of a level, and vectors in its layout. Comes out: smoothed vectors and products.

One unknown of each cell lies on a plain grid: line by line, of each line the
even cells, a place that stays empty, then the odd ones; and an empty line on
either side. So neighbours are at fixed places whatever the section is, and the
even or odd cells of a line, of which no two touch, are relaxed at once. Other
unknowns of cells with several come after the grid, with rows of their own.
Lines are relaxed from both ends towards the middle one: two halves that need
nothing of each other, for two threads.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

MIDDLE = 2  # the part that is neither half: the middle line
ONE = np.uint64(1)  # places are counted without sign: so loops need no care for indices from the end
NOTHING = 1e-25  # of a right-hand side of 1: what is less than this counts as zero, before it takes a slow denormal


class Ties(NamedTuple):
    """Matrix of one level; see `Level`."""

    across: NDArray[np.float64]
    along: NDArray[np.float64]
    outside: NDArray[np.float64]
    row_start: NDArray[np.int32]
    column: NDArray[np.int32]
    tie: NDArray[np.float64]


class Level(NamedTuple):
    """Matrix of one level, and where its unknowns go on the next.

    Attributes
    ----------
    lines, width : int
        Lines of cells, and even cells of a line: each has 2 width places; what is no cell has no ties.
    across, along : ndarray, shape (n,)
        Conductance from each cell of the grid to the one on the next line, and to the next in its line.
    outside : ndarray, shape (n,)
        Conductance from each unknown to what is no unknown: the sum of its row. Products take differences along ties,
        so that a part held by little keeps its level in single precision.
    inverse : ndarray, shape (n,)
        One over the diagonal of the matrix; zero where there is no unknown.
    row_start, column, tie : ndarray
        Conductances of the unknowns beside the grid; those to one another in both rows.
    first_line : ndarray of int32, shape (coarse lines + 1,)
        First of the one or two lines that make each line of the next level.
    joint, joint_of_column : ndarray of int32
        Unknown of the next level that each of these joins, and each of their columns.
    mixed_start, mixed, mixed_joint : ndarray of int32, shapes (coarse lines + 1,), (n_mixed,), (n_mixed, 4)
        Blocks of 2 x 2 (or 1 x 2) cells whose cells join different unknowns, by lines of the next level: first cell;
        what even and odd one of the first line, then of the second, join, -1 for no unknown.
    """

    lines: int
    width: int
    across: NDArray
    along: NDArray
    outside: NDArray
    inverse: NDArray
    row_start: NDArray[np.int32]
    column: NDArray[np.int32]
    tie: NDArray
    first_line: NDArray[np.int32]
    joint: NDArray[np.int32]
    joint_of_column: NDArray[np.int32]
    mixed_start: NDArray[np.int32]
    mixed: NDArray[np.int32]
    mixed_joint: NDArray[np.int32]


@njit(inline="always")
def grid_size(lines, width):
    """Places of the plain grid with its empty ones."""
    return (lines + 2) * (2 * width + 1)


@njit(cache=True)
def seat(place, m, grid, cell):
    """Line and column of an unknown."""
    if place >= grid:
        return cell[place - grid] // (2 * m), cell[place - grid] % (2 * m)
    s = 2 * m + 1
    j = place % s
    return place // s - 1, 2 * j if j < m else 2 * (j - m - 1) + 1


@njit(inline="always")
def places_of(level, line):
    """Width, places from a line to the next, and where a line's even and odd cells begin."""
    m = np.uint64(level.width)
    s = m + m + ONE
    even = np.uint64(line + 1) * s
    return m, s, even, even + m + ONE


@njit(inline="always")
def rise(level, half, rhs, x):
    """Gauss-Seidel from zero over the lines of a half, towards the middle one, in which x is zero."""
    across, along, inverse, middle = level.across, level.along, level.inverse, level.lines // 2
    for n in range(middle if half == 0 else level.lines - 1 - middle):
        m, s, even, odd = places_of(level, n if half == 0 else level.lines - 1 - n)
        before = even - s if half == 0 else even + s
        tied = min(before, even)
        for j in range(m):
            new = (rhs[even + j] + across[tied + j] * x[before + j]) * inverse[even + j]
            x[even + j] = new if abs(new) > NOTHING else 0.0
        before, tied = before + m + ONE, tied + m + ONE
        for j in range(m):
            total = rhs[odd + j] + across[tied + j] * x[before + j]
            total = total + along[even + j] * x[even + j] + along[odd + j] * x[even + ONE + j]
            new = total * inverse[odd + j]
            x[odd + j] = new if abs(new) > NOTHING else 0.0


@njit(inline="always")
def relax(level, part, is_rising, rhs, x):
    """Gauss-Seidel with all neighbours: over the lines of a half away from the middle one, or in the middle one alone.

    Of each line the even cells first where it is rising, else the odd ones.
    """
    across, along, inverse, middle = level.across, level.along, level.inverse, level.lines // 2
    begin, step, count = middle, 1, 1
    if part != MIDDLE:
        step = -1 if part == 0 else 1
        begin, count = middle + step, middle if part == 0 else level.lines - 1 - middle
    for n in range(count):
        m, s, even, odd = places_of(level, begin + step * n)
        for turn in range(2):
            own, left = (odd, even) if is_rising == (turn == 1) else (even, even + m)
            for j in range(m):
                p, q = own + j, left + j
                total = rhs[p] + across[p - s] * x[p - s] + across[p] * x[p + s]
                new = (total + along[q] * x[q] + along[p] * x[q + ONE]) * inverse[p]
                x[p] = new if abs(new) > NOTHING else 0.0


@njit(inline="always")
def rise_beside(level, rhs, x):
    """Gauss-Seidel from zero in the unknowns beside the grid, the last to be relaxed."""
    grid = grid_size(level.lines, level.width)
    for n in range(level.row_start.size - 1):
        p = grid + n
        total = rhs[p]
        for k in range(level.row_start[n], level.row_start[n + 1]):
            if level.column[k] < p:
                total += level.tie[k] * x[level.column[k]]
        x[p] = total * level.inverse[p]


@njit(inline="always")
def fall_beside(level, rhs, x):
    """The same the other way round, with all neighbours.

    Adds to the right-hand side what the grid gets from unknowns beside it; returns what stood there before.
    """
    grid = grid_size(level.lines, level.width)
    kept = np.empty(level.column.size, rhs.dtype)
    for k in range(level.column.size):
        kept[k] = rhs[level.column[k]]
    for back in range(level.row_start.size - 1):
        n = level.row_start.size - 2 - back
        p = grid + n
        total = rhs[p]
        for k in range(level.row_start[n], level.row_start[n + 1]):
            total += level.tie[k] * x[level.column[k]]
        x[p] = total * level.inverse[p]
    for n in range(level.row_start.size - 1):
        for k in range(level.row_start[n], level.row_start[n + 1]):
            if level.column[k] < grid:
                rhs[level.column[k]] += level.tie[k] * x[grid + n]
    return kept


@njit(inline="always")
def put_back(level, kept, rhs):
    """Undo what `fall_beside` did to the right-hand side."""
    for k in range(level.column.size):
        rhs[level.column[k]] = kept[k]


@njit(cache=True, fastmath={"reassoc", "contract"})
def times(level, first, last, x, y):
    """y = A x over lines first to last, without the unknowns beside the grid; returns y x."""
    across, along, outside = level.across, level.along, level.outside
    energy = 0.0
    for line in range(first, last):
        m, s, even, odd = places_of(level, line)
        for is_odd in range(2):
            own, left = (odd, even) if is_odd else (even, even + m)
            for j in range(m):
                p, q = own + j, left + j
                here = x[p]
                total = outside[p] * here + across[p - s] * (here - x[p - s]) + across[p] * (here - x[p + s])
                total = total + along[q] * (here - x[q]) + along[p] * (here - x[q + ONE])
                y[p] = total
                energy += total * here
    return energy


@njit(inline="always")
def times_last(level, x, y):
    """The rows beside the grid, and what they add to others; returns what is to be added to y x."""
    grid = grid_size(level.lines, level.width)
    energy = 0.0
    for n in range(level.row_start.size - 1):
        p = grid + n
        total = level.outside[p] * x[p]
        for k in range(level.row_start[n], level.row_start[n + 1]):
            q = level.column[k]
            flow = level.tie[k] * (x[p] - x[q])
            total += flow
            if q < grid:
                y[q] -= flow
                energy -= flow * x[q]
        y[p] = total
        energy += total * x[p]
    return energy


@njit(cache=True)
def exact_product(level, x, y):
    """y = A x on one thread: what is needed a few times a solution is not worth compiling for two."""
    times(level, np.int64(0), level.lines, x, y)
    times_last(level, x, y)


@njit(cache=True)
def diagonal_of(lines, m, ties):
    """Diagonal of the matrix."""
    across, along, outside, row_start, column, tie = ties
    s, grid = 2 * m + 1, grid_size(lines, m)
    diagonal = outside.copy()
    for line in range(lines):
        for is_odd in range(2):
            own = (line + 1) * s + is_odd * (m + 1)
            left = own - m - 1 if is_odd else own + m
            for j in range(m):
                diagonal[own + j] += across[own + j - s] + across[own + j] + along[left + j] + along[own + j]
    for n in range(row_start.size - 1):
        for k in range(row_start[n], row_start[n + 1]):
            diagonal[grid + n] += tie[k]
            if column[k] < grid:
                diagonal[column[k]] += tie[k]
    return diagonal
