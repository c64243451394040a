"""One step of a Krylov method around a cycle, in the levels' precision: passes over vectors, compiled.

Goes in: what the cycle made of a residual, and its product with the matrix.
Comes out: the next direction, the solution and the residual. Where the matrix
is symmetric, directions are conjugate in it (conjugate gradients); elsewhere
their products are orthogonal (the residual falls most); in both only to the
last one. Large vectors are worked on in two halves side by side, always the
same halves, so that results do not depend on how many threads there are.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from annulus.conduction.vectors import inner


class Course(NamedTuple):
    """Vectors of the iteration, each of shape (n,).

    Attributes
    ----------
    x : ndarray of float64
        Solution.
    rest : ndarray
        Its residual, over the length that this had when it was last computed.
    new, to_new : ndarray
        What the cycle made of it, and the product of that with the matrix.
    ahead : ndarray of float64
        Direction. Rounded to single precision it would no longer belong to its product.
    to_ahead : ndarray
        Its product with the matrix.
    """

    x: NDArray[np.float64]
    rest: NDArray
    new: NDArray
    to_new: NDArray
    ahead: NDArray[np.float64]
    to_ahead: NDArray


@njit(cache=True)
def along(course, is_symmetric):
    """Product of the last direction and the new one in the matrix, or of what the matrix makes of them."""
    return inner(course.new if is_symmetric else course.to_new, course.to_ahead)


@njit(cache=True)
def turn(course, is_symmetric, is_wide, back):
    """Take `back` of the last direction from the new one; returns its product with itself, and with the residual."""
    if is_wide:
        return _turn_in_halves(course, is_symmetric, back)
    return _turn(course, is_symmetric, np.int64(0), course.x.size, back)


@njit(cache=True)
def advance(course, is_wide, length, size):
    """Go along the direction; `size` is what the residual was divided by. Returns its length, squared."""
    if is_wide:
        return _advance_in_halves(course, length, size)
    return _advance(course, np.int64(0), course.x.size, length, size)


@njit(cache=True, parallel=True)
def _turn_in_halves(course, is_symmetric, back):
    own, gain, cut = np.zeros(2), np.zeros(2), course.x.size // 2
    for half in prange(2):
        low, high = np.int64(half) * cut, cut if half == 0 else course.x.size
        own[half], gain[half] = _turn(course, is_symmetric, low, high, back)
    return own[0] + own[1], gain[0] + gain[1]


@njit(cache=True, parallel=True)
def _advance_in_halves(course, length, size):
    total, cut = np.zeros(2), course.x.size // 2
    for half in prange(2):
        total[half] = _advance(course, np.int64(half) * cut, cut if half == 0 else course.x.size, length, size)
    return total[0] + total[1]


@njit(cache=True, fastmath={"reassoc", "contract"})
def _turn(course, is_symmetric, low, high, back):
    rest, new, to_new = course.rest[low:high], course.new[low:high], course.to_new[low:high]
    ahead, to_ahead = course.ahead[low:high], course.to_ahead[low:high]
    own = gain = 0.0
    for k in range(ahead.size):
        turned, to_turned = new[k] - back * ahead[k], to_new[k] - back * to_ahead[k]
        ahead[k], to_ahead[k] = turned, to_turned
        by = turned if is_symmetric else to_turned
        own += by * to_turned
        gain += by * rest[k]
    return own, gain


@njit(cache=True, fastmath={"reassoc", "contract"})
def _advance(course, low, high, length, size):
    x, rest = course.x[low:high], course.rest[low:high]
    ahead, to_ahead = course.ahead[low:high], course.to_ahead[low:high]
    total = 0.0
    for k in range(x.size):
        x[k] += length * size * ahead[k]
        left = rest[k] - length * to_ahead[k]
        rest[k] = left
        total += left * left
    return total


class Correction(NamedTuple):
    """Rows of a matrix that are not empty.

    Attributes
    ----------
    row : ndarray of int32, shape (n_rows,)
    start : ndarray of int32, shape (n_rows + 1,)
    column : ndarray of int32, shape (n_entries,)
    value : ndarray, shape (n_entries,)
    """

    row: NDArray[np.int32]
    start: NDArray[np.int32]
    column: NDArray[np.int32]
    value: NDArray[np.float64]


@njit(cache=True)
def add_correction(correction, x, y):
    """Add its product with x to y."""
    row, start, column, value = correction
    for n in range(row.size):
        total = 0.0
        for k in range(start[n], start[n + 1]):
            total += value[k] * x[column[k]]
        y[row[n]] += total
