"""Rows of a level, laid out so that long stretches of them are smoothed side by side: compiled kernels.

Goes in: a matrix in rows, and the line of the grid that each row lies on. Comes
out: `Rows`. Of each line, every second unknown comes first, then the others, so
that neighbours in a line are far apart; where the grid is plain, a stretch of
rows has its neighbours at fixed shifts and its values shift by shift. What is
left, about the circles, is kept row by row.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from annulus.conduction.vectors import inner

LEAST_STRETCH = 12  # rows below which shifts cost more than they save
MOST_SHIFTS = 8  # neighbours of a row in a stretch
LONGEST = 1 << 14  # rows of a stretch


class Rows(NamedTuple):
    """Matrix of one level.

    Attributes
    ----------
    segment : ndarray of int64, shape (n_segments, 6)
        First row, row after the last; of a stretch: place of its shifts, how many of them go back, how many there
        are, place of its values. Of single rows: place in `row_start`, then -1 for the number of shifts.
    shift : ndarray of int64
        From a row of a stretch to its neighbours, increasing.
    value : ndarray
        Of a stretch, shift by shift.
    row_start, row_middle, row_column, row_value : ndarray
        Single rows: where each begins, its first later column, columns but the diagonal.
    inverse, diagonal : ndarray, shape (n,)
    """

    segment: NDArray[np.int64]
    shift: NDArray[np.int64]
    value: NDArray[np.float64]
    row_start: NDArray[np.int32]
    row_middle: NDArray[np.int32]
    row_column: NDArray[np.int32]
    row_value: NDArray[np.float64]
    inverse: NDArray[np.float64]
    diagonal: NDArray[np.float64]


@njit(cache=True)
def order_lines(line):
    """Every second unknown of each line, then the others; and the first place of a line past the middle."""
    n = line.size
    order = np.empty(n, dtype=np.int32)
    filled = begin = 0
    middle = n
    while begin < n:
        if middle == n and 2 * begin >= n:
            middle = begin
        end = begin
        while end < n and line[end] == line[begin]:
            end += 1
        for first in (begin, begin + 1):
            for p in range(first, end, 2):
                order[filled] = p
                filled += 1
        begin = end
    return order, middle


@njit(cache=True)
def _read(row, natural, start, column, value, place, middle, columns, values):
    """Neighbours of a row in order, those on the other side of `middle` left out; their number and the diagonal."""
    found = 0
    diagonal = 0.0
    for m in range(start[natural], start[natural + 1]):
        c = place[column[m]]
        if c == row:
            diagonal = value[m]
            continue
        if (c < middle) != (row < middle):
            continue
        b = found
        while b > 0 and columns[b - 1] > c:
            columns[b] = columns[b - 1]
            values[b] = values[b - 1]
            b -= 1
        columns[b] = c
        values[b] = value[m]
        found += 1
    return found, diagonal


@njit(cache=True)
def lay_out_rows(start, column, value, order, middle):
    """Stretches and single rows of a matrix in a new order.

    Returns
    -------
    tuple
        The arrays of `Rows`.
    place : ndarray of int32, shape (n,)
        New number of each unknown.
    cross_row, cross_column, cross_value : ndarray
        Entries that tie the two sides of `middle`, left out of the rows.
    """
    n = order.size
    most = 0
    place = np.empty(n, dtype=np.int32)
    for p in range(n):
        place[order[p]] = p
        most = max(most, start[p + 1] - start[p])
    crossing = 0
    for p in range(n if middle < n else 0):
        for m in range(start[p], start[p + 1]):
            crossing += (place[column[m]] < middle) != (place[p] < middle)
    cross_row, cross_column = np.empty(crossing, dtype=np.int32), np.empty(crossing, dtype=np.int32)
    cross_value = np.empty(crossing)
    crossing = 0
    for p in range(n if middle < n else 0):
        for m in range(start[p], start[p + 1]):
            if (place[column[m]] < middle) != (place[p] < middle):
                cross_row[crossing], cross_column[crossing] = place[p], place[column[m]]
                cross_value[crossing] = value[m]
                crossing += 1

    segment = np.empty((n, 6), dtype=np.int64)  # the most there can be; pages that stay untouched cost nothing
    shift = np.empty(value.size, dtype=np.int64)
    laid = np.empty(value.size)
    row_start, row_middle = np.zeros(n + 1, dtype=np.int32), np.empty(n, dtype=np.int32)
    row_column, row_value = np.empty(value.size, dtype=np.int32), np.empty(value.size)
    inverse, diagonal = np.empty(n), np.empty(n)
    columns, values = np.empty(most, dtype=np.int64), np.empty(most)
    shifts = np.empty(most, dtype=np.int64)
    held = np.empty((LONGEST, MOST_SHIFTS))
    segments = shifted = filled = singles = entries = 0
    row = 0
    while row < n:
        found, diagonal[row] = _read(row, order[row], start, column, value, place, middle, columns, values)
        limit = LONGEST
        for m in range(found):
            shifts[m] = columns[m] - row
            limit = min(limit, abs(shifts[m]))
        length = 1
        if found <= MOST_SHIFTS:
            for m in range(found):
                held[0, m] = values[m]
            number = found
            while length < limit and row + length < n and row + length != middle:
                next_row = row + length
                found, own = _read(next_row, order[next_row], start, column, value, place, middle, columns, values)
                same = found == number
                for m in range(found if same else 0):
                    same = same and columns[m] - next_row == shifts[m]
                if not same:
                    break
                diagonal[next_row] = own
                for m in range(number):
                    held[length, m] = values[m]
                length += 1
            found = number
        if length >= LEAST_STRETCH:
            back = 0
            for m in range(found):
                back += shifts[m] < 0
                shift[shifted + m] = shifts[m]
                for k in range(length):
                    laid[filled + m * length + k] = held[k, m]
            segment[segments] = (row, row + length, shifted, back, found, filled)
            segments += 1
            shifted += found
            filled += length * found
        else:
            if segments == 0 or segment[segments - 1, 4] >= 0 or row == middle:
                segment[segments] = (row, row, singles, 0, -1, 0)
                segments += 1
            segment[segments - 1, 1] = row + length
            for one in range(row, row + length):
                found, own = _read(one, order[one], start, column, value, place, middle, columns, values)
                row_middle[singles] = entries + found
                for m in range(found):
                    row_column[entries + m], row_value[entries + m] = columns[m], values[m]
                    if columns[m] > one:
                        row_middle[singles] = min(row_middle[singles], entries + m)
                entries += found
                singles += 1
                row_start[singles] = entries
        row += length
    for p in range(n):
        inverse[p] = 1.0 / diagonal[p]
    rows = (
        segment[:segments].copy(),
        shift[:shifted].copy(),
        laid[:filled],
        row_start[: singles + 1].copy(),
        row_middle[:singles].copy(),
        row_column[:entries].copy(),
        row_value[:entries].copy(),
        inverse,
        diagonal,
    )
    return rows, place, cross_row, cross_column, cross_value


@njit(cache=True)
def rise(rows, first, last, rhs, x):
    """Gauss-Seidel from zero over segments first to last, rows rising: later rows count as zero."""
    for s in range(first, last):
        begin, end, where, back, number, at = rows.segment[s]
        if number < 0:
            for row in range(begin, end):
                k = where + row - begin
                total = rhs[row]
                for m in range(rows.row_start[k], rows.row_middle[k]):
                    total -= rows.row_value[m] * x[rows.row_column[m]]
                x[row] = total * rows.inverse[row]
            continue
        size = end - begin
        here, given, inverse = x[begin:end], rhs[begin:end], rows.inverse[begin:end]
        if back == 1:
            a = begin + rows.shift[where]
            x0, v0 = x[a : a + size], rows.value[at : at + size]
            for k in range(size):
                here[k] = (given[k] - v0[k] * x0[k]) * inverse[k]
        elif back == 3:
            a, b, c = begin + rows.shift[where], begin + rows.shift[where + 1], begin + rows.shift[where + 2]
            x0, x1, x2 = x[a : a + size], x[b : b + size], x[c : c + size]
            v0, v1 = rows.value[at : at + size], rows.value[at + size : at + 2 * size]
            v2 = rows.value[at + 2 * size : at + 3 * size]
            for k in range(size):
                here[k] = (given[k] - v0[k] * x0[k] - v1[k] * x1[k] - v2[k] * x2[k]) * inverse[k]
        else:
            for k in range(size):
                here[k] = given[k]
            _subtract(rows, where, 0, back, at, begin, size, x, here)
            for k in range(size):
                here[k] *= inverse[k]


@njit(cache=True)
def _subtract(rows, where, low, high, at, begin, size, x, total):
    """Take shifts low to high of a stretch from a total."""
    for m in range(low, high):
        a = begin + rows.shift[where + m]
        there, value = x[a : a + size], rows.value[at + m * size : at + (m + 1) * size]
        for k in range(size):
            total[k] -= value[k] * there[k]


@njit(cache=True)
def restrict(rows, first, last, x, block, coarse):
    """Add what `rise` left of the residual to the blocks: the later columns of each row."""
    scratch = np.empty(LONGEST)
    for s in range(first, last):
        begin, end, where, back, number, at = rows.segment[s]
        if number < 0:
            for row in range(begin, end):
                k = where + row - begin
                left = 0.0
                for m in range(rows.row_middle[k], rows.row_start[k + 1]):
                    left -= rows.row_value[m] * x[rows.row_column[m]]
                coarse[block[row]] += left
            continue
        size = end - begin
        total = scratch[:size]
        if number - back == 1:
            a, at_a = begin + rows.shift[where + back], at + back * size
            x0, v0 = x[a : a + size], rows.value[at_a : at_a + size]
            for k in range(size):
                total[k] = -v0[k] * x0[k]
        elif number - back == 3:
            a, b = begin + rows.shift[where + back], begin + rows.shift[where + back + 1]
            c, at_a = begin + rows.shift[where + back + 2], at + back * size
            x0, x1, x2 = x[a : a + size], x[b : b + size], x[c : c + size]
            v0, v1 = rows.value[at_a : at_a + size], rows.value[at_a + size : at_a + 2 * size]
            v2 = rows.value[at_a + 2 * size : at_a + 3 * size]
            for k in range(size):
                total[k] = -v0[k] * x0[k] - v1[k] * x1[k] - v2[k] * x2[k]
        else:
            for k in range(size):
                total[k] = 0.0
            _subtract(rows, where, back, number, at, begin, size, x, total)
        of_stretch = block[begin:end]
        for k in range(size):
            coarse[of_stretch[k]] += total[k]


@njit(cache=True)
def fall(rows, first, last, rhs, x):
    """Gauss-Seidel over segments last to first, rows falling, all columns."""
    for back in range(last - first):
        begin, end, where, _, number, at = rows.segment[last - 1 - back]
        if number < 0:
            for back_row in range(end - begin):
                row = end - 1 - back_row
                k = where + row - begin
                total = rhs[row]
                for m in range(rows.row_start[k], rows.row_start[k + 1]):
                    total -= rows.row_value[m] * x[rows.row_column[m]]
                x[row] = total * rows.inverse[row]
            continue
        size = end - begin
        here, given, inverse = x[begin:end], rhs[begin:end], rows.inverse[begin:end]
        if number == 4:
            x0, x1, x2, x3, v0, v1, v2, v3 = _four(rows, where, at, begin, size, x)
            for k in range(size):
                total = given[k] - v0[k] * x0[k] - v1[k] * x1[k] - v2[k] * x2[k] - v3[k] * x3[k]
                here[k] = total * inverse[k]
        else:
            for k in range(size):
                here[k] = given[k]
            _subtract(rows, where, 0, number, at, begin, size, x, here)
            for k in range(size):
                here[k] *= inverse[k]


@njit(cache=True)
def _four(rows, where, at, begin, size, x):
    """The four neighbours of a stretch and their values."""
    a, b = begin + rows.shift[where], begin + rows.shift[where + 1]
    c, d = begin + rows.shift[where + 2], begin + rows.shift[where + 3]
    return (
        x[a : a + size],
        x[b : b + size],
        x[c : c + size],
        x[d : d + size],
        rows.value[at : at + size],
        rows.value[at + size : at + 2 * size],
        rows.value[at + 2 * size : at + 3 * size],
        rows.value[at + 3 * size : at + 4 * size],
    )


@njit(cache=True)
def times(rows, first, last, x, y):
    """y = A x over segments first to last; returns y x."""
    energy = 0.0
    for s in range(first, last):
        begin, end, where, _, number, at = rows.segment[s]
        if number < 0:
            for row in range(begin, end):
                k = where + row - begin
                total = rows.diagonal[row] * x[row]
                for m in range(rows.row_start[k], rows.row_start[k + 1]):
                    total += rows.row_value[m] * x[rows.row_column[m]]
                y[row] = total
                energy += total * x[row]
            continue
        size = end - begin
        here, own, diagonal = y[begin:end], x[begin:end], rows.diagonal[begin:end]
        if number == 4:
            x0, x1, x2, x3, v0, v1, v2, v3 = _four(rows, where, at, begin, size, x)
            for k in range(size):
                here[k] = diagonal[k] * own[k] + v0[k] * x0[k] + v1[k] * x1[k] + v2[k] * x2[k] + v3[k] * x3[k]
        else:
            for k in range(size):
                here[k] = -diagonal[k] * own[k]
            _subtract(rows, where, 0, number, at, begin, size, x, here)
            for k in range(size):
                here[k] = -here[k]
        energy += inner(here, own)
    return energy
