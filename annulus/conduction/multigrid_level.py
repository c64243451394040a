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
    """Matrix of one level, and where its unknowns go on the next; in compiled kernels with all arrays cut out of `At`.

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
    tie, row_start, column : ndarray
        Conductances of the unknowns beside the grid; those to one another in both rows.
    kept : ndarray, of the size of `tie`
        Room for what a sweep puts aside.
    first_line : ndarray of int32, shape (coarse lines + 1,)
        First of the one or two lines that make each line of the next level.
    joint, joint_of_column : ndarray of int32
        Unknown of the next level that each of these joins, and each of their columns.
    mixed_start, mixed, mixed_joint : ndarray of int32, shapes (coarse lines + 1,), (n_mixed,), (4 n_mixed,)
        Blocks of 2 x 2 (or 1 x 2) cells whose cells join different unknowns, by lines of the next level: first cell;
        what even and odd one of the first line, then of the second, join, -1 for no unknown.
    """

    lines: int
    width: int
    across: NDArray
    along: NDArray
    outside: NDArray
    inverse: NDArray
    tie: NDArray
    kept: NDArray
    row_start: NDArray[np.int32]
    column: NDArray[np.int32]
    first_line: NDArray[np.int32]
    joint: NDArray[np.int32]
    joint_of_column: NDArray[np.int32]
    mixed_start: NDArray[np.int32]
    mixed: NDArray[np.int32]
    mixed_joint: NDArray[np.int32]


REALS, WHOLES = Level._fields[2:8], Level._fields[8:]  # numbers, and whole numbers, after the two sizes
KEPT, COLUMN = 2 + REALS.index("kept"), 3 + len(REALS) + WHOLES.index("column")  # where `At.where` has these


class At(NamedTuple):
    """One of several levels whose arrays lie one after the other in two: kernels that take three arrays compile soon.

    Attributes
    ----------
    where : ndarray of int64, shape (18,)
        Lines and width; where its `REALS` begin, and the end; where its `WHOLES` begin, and the end.
    reals : ndarray
        In the precision of the cycle.
    wholes : ndarray of int32
    """

    where: NDArray[np.int64]
    reals: NDArray
    wholes: NDArray[np.int32]


@njit(inline="always")
def level_at(at):
    """Its arrays, in the order of `REALS` and `WHOLES`."""
    where, reals, wholes = at
    return Level(
        where[0],
        where[1],
        reals[where[2] : where[3]],
        reals[where[3] : where[4]],
        reals[where[4] : where[5]],
        reals[where[5] : where[6]],
        reals[where[6] : where[7]],
        reals[where[7] : where[8]],
        wholes[where[9] : where[10]],
        wholes[where[10] : where[11]],
        wholes[where[11] : where[12]],
        wholes[where[12] : where[13]],
        wholes[where[13] : where[14]],
        wholes[where[14] : where[15]],
        wholes[where[15] : where[16]],
        wholes[where[16] : where[17]],
    )


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
def places_of(width, line):
    """Width, places from a line to the next, and where a line's even and odd cells begin."""
    m = np.uint64(width)
    s = m + m + ONE
    even = np.uint64(line + 1) * s
    return m, s, even, even + m + ONE


@njit(inline="always")
def rise(level, half, rhs, x):
    """Gauss-Seidel from zero over the lines of a half, towards the middle one, in which x is zero."""
    across, along, inverse, lines, width = level.across, level.along, level.inverse, level.lines, level.width
    for n in range(lines // 2 if half == 0 else lines - 1 - lines // 2):
        m, s, even, odd = places_of(width, n if half == 0 else lines - 1 - n)
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
def relax(level, first, step, count, is_rising, rhs, x):
    """Gauss-Seidel with all neighbours, line by line; of each the even cells first where it is rising, else the odd."""
    across, along, inverse = level.across, level.along, level.inverse
    for turn in range(2 * count):
        m, s, even, odd = places_of(level.width, first + step * (turn // 2))
        own, left = (odd, even) if is_rising == (turn % 2 == 1) else (even, even + m)
        for j in range(m):
            p, q = own + j, left + j
            total = rhs[p] + across[p - s] * x[p - s] + across[p] * x[p + s]
            new = (total + along[q] * x[q] + along[p] * x[q + ONE]) * inverse[p]
            x[p] = new if abs(new) > NOTHING else 0.0


@njit(inline="always")
def clear_middle(level, x):
    """Set the middle line to zero."""
    _, s, even, _ = places_of(level.width, level.lines // 2)
    for p in range(even, even + s):
        x[p] = 0.0


@njit(inline="always")
def rise_beside(level, rhs, x):
    """Gauss-Seidel from zero in the unknowns beside the grid, the last to be relaxed."""
    inverse, tie, row_start, column = level.inverse, level.tie, level.row_start, level.column
    grid = grid_size(level.lines, level.width)
    for n in range(row_start.size - 1):
        p = grid + n
        total = rhs[p]
        for k in range(row_start[n], row_start[n + 1]):
            if column[k] < p:
                total += tie[k] * x[column[k]]
        x[p] = total * inverse[p]


@njit(inline="always")
def fall_beside(level, rhs, x):
    """The same the other way round, with all neighbours.

    Adds to the right-hand side what the grid gets from unknowns beside it; keeps what stood there before.
    """
    inverse, tie, row_start, column = level.inverse, level.tie, level.row_start, level.column
    grid = grid_size(level.lines, level.width)
    for k in range(column.size):
        level.kept[k] = rhs[column[k]]
    for back in range(row_start.size - 1):
        n = row_start.size - 2 - back
        p = grid + n
        total = rhs[p]
        for k in range(row_start[n], row_start[n + 1]):
            total += tie[k] * x[column[k]]
        x[p] = total * inverse[p]
    for n in range(row_start.size - 1):
        for k in range(row_start[n], row_start[n + 1]):
            if column[k] < grid:
                rhs[column[k]] += tie[k] * x[grid + n]


@njit(inline="always")
def put_back(at, rhs):
    """Undo what `fall_beside` did to the right-hand side."""
    kept = at.reals[at.where[KEPT] : at.where[KEPT + 1]]
    column = at.wholes[at.where[COLUMN] : at.where[COLUMN + 1]]
    for k in range(column.size):
        rhs[column[k]] = kept[k]


@njit(cache=True, fastmath={"reassoc", "contract"})
def times(width, across, along, outside, first, last, x, y):
    """y = A x over lines first to last, without the unknowns beside the grid; returns y x."""
    energy = 0.0
    for turn in range(2 * first, 2 * last):
        m, s, even, odd = places_of(width, turn // 2)
        own, left = (even, even + m) if turn % 2 == 0 else (odd, even)
        for j in range(m):
            p, q = own + j, left + j
            here = x[p]
            total = outside[p] * here + across[p - s] * (here - x[p - s]) + across[p] * (here - x[p + s])
            total = total + along[q] * (here - x[q]) + along[p] * (here - x[q + ONE])
            y[p] = total
            energy += total * here
    return energy


@njit(inline="always")
def times_beside(grid, outside, row_start, column, tie, x, y):
    """The rows beside the grid, and what they add to others; returns what is to be added to y x."""
    energy = 0.0
    for n in range(row_start.size - 1):
        p = grid + n
        total = outside[p] * x[p]
        for k in range(row_start[n], row_start[n + 1]):
            q = column[k]
            flow = tie[k] * (x[p] - x[q])
            total += flow
            if q < grid:
                y[q] -= flow
                energy -= flow * x[q]
        y[p] = total
        energy += total * x[p]
    return energy


@njit(cache=True)
def exact_product(lines, width, ties, x, y):
    """y = A x on one thread: what is needed a few times a solution is not worth compiling for two."""
    across, along, outside, row_start, column, tie = ties
    times(width, across, along, outside, np.int64(0), lines, x, y)
    times_beside(grid_size(lines, width), outside, row_start, column, tie, x, y)


@njit(cache=True)
def diagonal_of(lines, m, ties):
    """Diagonal of the matrix."""
    across, along, outside, row_start, column, tie = ties
    s, grid = 2 * m + 1, grid_size(lines, m)
    diagonal = outside.copy()
    for turn in range(2 * lines):
        own = (turn // 2 + 1) * s + turn % 2 * (m + 1)
        left = own + m if turn % 2 == 0 else own - m - 1
        for j in range(m):
            diagonal[own + j] += across[own + j - s] + across[own + j] + along[left + j] + along[own + j]
    for n in range(row_start.size - 1):
        for k in range(row_start[n], row_start[n + 1]):
            diagonal[grid + n] += tie[k]
            if column[k] < grid:
                diagonal[column[k]] += tie[k]
    return diagonal
