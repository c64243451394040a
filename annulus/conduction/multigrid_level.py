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

from annulus.conduction.vectors import inner

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
def rise(level, half, rhs, x):
    """Gauss-Seidel from zero over the lines of a half, towards the middle one."""
    m, middle = level.width, level.lines // 2
    s = 2 * m + 1
    across, along, inverse = level.across, level.along, level.inverse
    for n in range(middle if half == 0 else level.lines - 1 - middle):
        e = (n + 1) * s if half == 0 else (level.lines - n) * s
        o = e + m + 1
        before = e - s if half == 0 else e + s
        tied = min(before, e)
        _from_before(x[e : e + m], rhs[e : e + m], across[tied : tied + m], x[before : before + m], inverse[e : e + m])
        _from_three(
            x[o : o + m],
            rhs[o : o + m],
            across[tied + m + 1 : tied + s],
            x[before + m + 1 : before + s],
            along[e : e + m],
            x[e : e + m],
            along[o : o + m],
            x[e + 1 : e + m + 1],
            inverse[o : o + m],
        )


@njit(inline="always")
def _from_before(x, rhs, across, before, inverse):
    for j in range(x.size):
        new = (rhs[j] + across[j] * before[j]) * inverse[j]
        x[j] = new if abs(new) > NOTHING else 0.0


@njit(inline="always")
def _from_three(x, rhs, across, before, left, x_left, right, x_right, inverse):
    for j in range(x.size):
        new = (rhs[j] + across[j] * before[j] + left[j] * x_left[j] + right[j] * x_right[j]) * inverse[j]
        x[j] = new if abs(new) > NOTHING else 0.0


@njit(inline="always")
def rise_last(level, rhs, x):
    """The same in the middle line, then in the unknowns beside the grid."""
    s, grid = 2 * level.width + 1, grid_size(level.lines, level.width)
    e = (level.lines // 2 + 1) * s
    x[e : e + s] = 0.0
    _relax_even(level, e, rhs, x)
    _relax_odd(level, e, rhs, x)
    for n in range(level.row_start.size - 1):
        p = grid + n
        total = rhs[p]
        for k in range(level.row_start[n], level.row_start[n + 1]):
            if level.column[k] < p:
                total += level.tie[k] * x[level.column[k]]
        x[p] = total * level.inverse[p]


@njit(inline="always")
def fall_first(level, rhs, x):
    """Gauss-Seidel the other way round in what `rise_last` did.

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
    e = (level.lines // 2 + 1) * (2 * level.width + 1)
    _relax_odd(level, e, rhs, x)
    _relax_even(level, e, rhs, x)
    return kept


@njit(inline="always")
def fall(level, half, rhs, x):
    """Gauss-Seidel over the lines of a half, away from the middle one, with all neighbours."""
    middle, s = level.lines // 2, 2 * level.width + 1
    for n in range(middle if half == 0 else level.lines - 1 - middle):
        e = (middle - n) * s if half == 0 else (middle + 2 + n) * s
        _relax_odd(level, e, rhs, x)
        _relax_even(level, e, rhs, x)


@njit(inline="always")
def put_back(level, kept, rhs):
    """Undo what `fall_first` did to the right-hand side."""
    for k in range(level.column.size):
        rhs[level.column[k]] = kept[k]


@njit(inline="always")
def _relax_even(level, e, rhs, x):
    m = level.width
    s = 2 * m + 1
    _from_four(
        x[e : e + m],
        rhs[e : e + m],
        level.across[e - s : e - s + m],
        x[e - s : e - s + m],
        level.across[e : e + m],
        x[e + s : e + s + m],
        level.along[e + m : e + 2 * m],
        x[e + m : e + 2 * m],
        level.along[e : e + m],
        x[e + m + 1 : e + s],
        level.inverse[e : e + m],
    )


@njit(inline="always")
def _relax_odd(level, e, rhs, x):
    m = level.width
    s = 2 * m + 1
    o = e + m + 1
    _from_four(
        x[o : o + m],
        rhs[o : o + m],
        level.across[o - s : e],
        x[o - s : e],
        level.across[o : o + m],
        x[o + s : o + s + m],
        level.along[e : e + m],
        x[e : e + m],
        level.along[o : o + m],
        x[e + 1 : e + m + 1],
        level.inverse[o : o + m],
    )


@njit(inline="always")
def _from_four(x, rhs, up, x_up, down, x_down, left, x_left, right, x_right, inverse):
    for j in range(x.size):
        total = rhs[j] + up[j] * x_up[j] + down[j] * x_down[j] + left[j] * x_left[j] + right[j] * x_right[j]
        new = total * inverse[j]
        x[j] = new if abs(new) > NOTHING else 0.0


@njit(cache=True)
def times(level, first, last, x, y):
    """y = A x over lines first to last, without the unknowns beside the grid; returns y x."""
    m, s = level.width, 2 * level.width + 1
    across, along, outside = level.across, level.along, level.outside
    energy = 0.0
    for line in range(first, last):
        e = (line + 1) * s
        o = e + m + 1
        _product(
            y[e : e + m],
            outside[e : e + m],
            x[e : e + m],
            across[e - s : e - s + m],
            x[e - s : e - s + m],
            across[e : e + m],
            x[e + s : e + s + m],
            along[e + m : e + 2 * m],
            x[e + m : e + 2 * m],
            along[e : e + m],
            x[o : o + m],
        )
        _product(
            y[o : o + m],
            outside[o : o + m],
            x[o : o + m],
            across[o - s : e],
            x[o - s : e],
            across[o : o + m],
            x[o + s : o + s + m],
            along[e : e + m],
            x[e : e + m],
            along[o : o + m],
            x[e + 1 : e + m + 1],
        )
        energy += inner(y[e : e + m], x[e : e + m]) + inner(y[o : o + m], x[o : o + m])
    return energy


@njit(inline="always")
def _product(y, outside, x, up, x_up, down, x_down, left, x_left, right, x_right):
    for j in range(x.size):
        total = outside[j] * x[j] + up[j] * (x[j] - x_up[j]) + down[j] * (x[j] - x_down[j])
        y[j] = total + left[j] * (x[j] - x_left[j]) + right[j] * (x[j] - x_right[j])


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
        e = (line + 1) * s
        o = e + m + 1
        _add_four(diagonal[e : e + m], across[e - s :], across[e:], along[e + m :], along[e:])
        _add_four(diagonal[o : o + m], across[o - s :], across[o:], along[e:], along[o:])
    for n in range(row_start.size - 1):
        for k in range(row_start[n], row_start[n + 1]):
            diagonal[grid + n] += tie[k]
            if column[k] < grid:
                diagonal[column[k]] += tie[k]
    return diagonal


@njit(inline="always")
def _add_four(to, a, b, c, d):
    for j in range(to.size):
        to[j] += a[j] + b[j] + c[j] + d[j]
