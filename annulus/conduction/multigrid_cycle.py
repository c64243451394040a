"""Cycles over the levels of a multigrid: compiled kernels.

Goes in: levels of `Rows` and how their pieces join. Comes out: approximate
solutions. Small levels are packed into one set of arrays and cycled through
without coming back to Python; large ones are smoothed in two halves side by
side. The halves are fixed, so that results do not depend on how many threads
there are.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from annulus.conduction.multigrid_rows import Rows, fall, restrict, rise, times
from annulus.conduction.vectors import inner, subtract

ENOUGH = 0.25  # a first step that leaves less than this of a residual needs no second
ACCELERATED = 4  # packed levels with a second step: further down it costs time and saves no outer step


class Packed(NamedTuple):
    """Small levels one after the other.

    Attributes
    ----------
    rows : tuple
        The arrays of `Rows`, each of all levels joined.
    block : ndarray of int32
        Joint piece of the next level that each piece joins.
    begin : ndarray of int64, shape (n_levels + 1, 7)
        Where each level's segments, shifts, values, row starts, single rows, entries of them, and unknowns begin.
    coarsest : ndarray, shape (n, n)
        Inverse of the matrix below the last level.
    work : ndarray, shape (5, unknowns of all levels and of the coarsest)
        Overwritten by every cycle.
    """

    rows: Rows
    block: NDArray[np.int32]
    begin: NDArray[np.int64]
    coarsest: NDArray[np.float64]
    work: NDArray[np.float64]


class Halves(NamedTuple):
    """What ties the two halves of a large level.

    Attributes
    ----------
    segment : int
        First segment of the second half.
    row, column, value : ndarray
        Entries between the halves.
    """

    segment: int
    row: NDArray[np.int32]
    column: NDArray[np.int32]
    value: NDArray[np.float64]


@njit(cache=True)
def _level(packed, depth):
    """Rows, blocks and the number of joint pieces of one packed level."""
    a, b = packed.begin[depth], packed.begin[depth + 1]
    rows = packed.rows
    level = Rows(
        rows.segment[a[0] : b[0]],
        rows.shift[a[1] : b[1]],
        rows.value[a[2] : b[2]],
        rows.row_start[a[3] : b[3]],
        rows.row_middle[a[4] : b[4]],
        rows.row_column[a[5] : b[5]],
        rows.row_value[a[5] : b[5]],
        rows.inverse[a[6] : b[6]],
        rows.diagonal[a[6] : b[6]],
    )
    last = depth + 2 == packed.begin.shape[0]
    joint = packed.coarsest.shape[0] if last else packed.begin[depth + 2, 6] - b[6]
    return level, packed.block[a[6] : b[6]], joint


@njit(cache=True)
def cycle(packed, rhs, is_accelerated):
    """One cycle from the first packed level down, or at most two steps of conjugate gradients around it.

    Goes down and up by a loop: compiled functions that call themselves cannot be kept on disk.
    """
    last = packed.begin.shape[0] - 1
    first_of = packed.begin[:, 6]
    given, rest, one, to_one, two = packed.work[0], packed.work[1], packed.work[2], packed.work[3], packed.work[4]
    energy, length = np.zeros(last + 1), np.zeros(last + 1)
    is_second = np.zeros(last + 1, dtype=np.bool_)
    given[: rhs.size] = rhs
    depth, is_descending = 0, True
    while depth >= 0:
        low = first_of[depth]
        if depth == last:
            size = packed.coarsest.shape[0]
            for k in range(size):
                one[low + k] = inner(packed.coarsest[k], given[low : low + size])
            depth, is_descending = depth - 1, False
            continue
        rows, block, joint = _level(packed, depth)
        segments, high = rows.segment.shape[0], first_of[depth + 1]
        target, x = given[low:high], one[low:high]
        if is_second[depth]:
            target, x = rest[low:high], two[low:high]
        below = slice(high, high + joint)
        if is_descending:
            rise(rows, 0, segments, target, x)
            given[below] = 0.0
            restrict(rows, 0, segments, x, block, given[below])
            depth += 1
            continue
        add(x, one[below], block)
        fall(rows, 0, segments, target, x)
        if depth == 0 and not is_accelerated:
            break
        to_x = to_one[low:high]
        if not is_second[depth]:
            energy[depth] = times(rows, 0, segments, x, to_x)
            length[depth] = inner(x, target) / energy[depth] if energy[depth] > 0.0 else 0.0
            left = subtract(target, length[depth], to_x, rest[low:high])
            if depth < ACCELERATED and left > ENOUGH * ENOUGH * inner(target, target) and energy[depth] > 0.0:
                is_second[depth], is_descending = True, True
                continue
            x *= length[depth]
        else:
            cross, gain = inner(x, to_x), inner(x, target)
            own = times(rows, 0, segments, x, to_x)
            combine(one[low:high], length[depth], energy[depth], cross, own, gain, x)
        is_second[depth] = False
        depth -= 1
    return one[: rhs.size].copy()


@njit(cache=True)
def add(x, correction, block):
    """Add what each block is corrected by."""
    for row in range(x.size):
        x[row] += correction[block[row]]


@njit(cache=True)
def combine(one, length, energy, cross, own, gain, two):
    """Best combination of two directions, into the first; `gain` is the second's product with what the first left."""
    own -= cross * cross / energy
    second = gain / own if own > 0.0 else 0.0
    first = length - cross * second / energy
    for row in range(one.size):
        one[row] = first * one[row] + second * two[row]


@njit(cache=True)
def product(packed, x):
    """Matrix of the first packed level times a vector; there must be one."""
    rows, _, _ = _level(packed, 0)
    y = np.empty_like(x)
    times(rows, 0, rows.segment.shape[0], x, y)
    return y


@njit(cache=True)
def _half(rows, halves, half):
    """Segments and rows of one half."""
    count = rows.segment.shape[0]
    first, last = (0, halves.segment) if half == 0 else (halves.segment, count)
    return first, last, rows.segment[first, 0], rows.segment[last - 1, 1]


@njit(cache=True, parallel=True)
def smooth_down(rows, halves, rhs, block, joint):
    """Gauss-Seidel from zero, halves side by side; returns x and the residual summed over blocks."""
    x = np.empty_like(rhs)
    coarse = np.zeros((2, joint))
    for half in prange(2):
        first, last, _, _ = _half(rows, halves, half)
        rise(rows, first, last, rhs, x)
        restrict(rows, first, last, x, block, coarse[half])
    total = coarse[0]
    for k in range(joint):
        total[k] += coarse[1, k]
    for m in range(halves.row.size):
        total[block[halves.row[m]]] -= halves.value[m] * x[halves.column[m]]
    return x, total


@njit(cache=True, parallel=True)
def smooth_up(rows, halves, rhs, x, correction, block):
    """Add the coarse correction to x, then Gauss-Seidel the other way round; changes x."""
    for half in prange(2):
        _, _, begin, end = _half(rows, halves, half)
        add(x[begin:end], correction, block[begin:end])
    kept = rhs[halves.row]
    for m in range(halves.row.size):  # each half sees the other as it was
        rhs[halves.row[m]] -= halves.value[m] * x[halves.column[m]]
    for half in prange(2):
        first, last, _, _ = _half(rows, halves, half)
        fall(rows, first, last, rhs, x)
    for m in range(halves.row.size):
        rhs[halves.row[m]] = kept[m]


@njit(cache=True, parallel=True)
def wide_times(rows, halves, x, y):
    """y = A x; returns y x."""
    energy = np.zeros(2)
    for half in prange(2):
        first, last, _, _ = _half(rows, halves, half)
        energy[half] = times(rows, first, last, x, y)
    total = energy[0] + energy[1]
    for m in range(halves.row.size):
        more = halves.value[m] * x[halves.column[m]]
        y[halves.row[m]] += more
        total += more * x[halves.row[m]]
    return total
