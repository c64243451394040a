"""Flexible conjugate gradients around a cycle, in the levels' precision: passes over vectors, compiled.

Goes in: what the cycle made of a residual. Comes out: the next direction, the
solution (in double) and the residual (in the levels' precision). Large vectors
are worked on in two halves side by side, always the same halves, so that
results do not depend on how many threads there are.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from annulus.conduction.vectors import inner

ALONG, TURN, ADVANCE = range(3)  # what one pass does


class Course(NamedTuple):
    """Vectors of the iteration, each of shape (n,).

    Attributes
    ----------
    x : ndarray of float64
        Solution.
    rest : ndarray
        Its residual, over the length that this had when it was last computed.
    new : ndarray
        What the cycle made of it.
    ahead, to_ahead : ndarray
        Direction and its product with the matrix.
    """

    x: NDArray[np.float64]
    rest: NDArray
    new: NDArray
    ahead: NDArray
    to_ahead: NDArray


def along(course: Course, is_wide: bool) -> float:
    """Product of what the cycle made and the last direction's product."""
    return _pass(course, is_wide, ALONG, 0.0, 0.0)


def turn(course: Course, is_wide: bool, back: float) -> float:
    """Make what the cycle made, less `back` of the last direction, the direction; returns its product with the rest."""
    return _pass(course, is_wide, TURN, back, 0.0)


def advance(course: Course, is_wide: bool, length: float, size: float) -> float:
    """Go along the direction; `size` is what the rest was divided by. Returns the rest's length, squared."""
    return _pass(course, is_wide, ADVANCE, length, size * length)


@njit(cache=True)
def _pass(course, is_wide, what, factor, far):
    if is_wide:
        return _both_at_once(course, what, factor, far)
    return _part(course, np.int64(0), course.x.size, what, factor, far)


@njit(cache=True, parallel=True)
def _both_at_once(course, what, factor, far):
    total, cut = np.zeros(2), course.x.size // 2
    for half in prange(2):
        total[half] = _part(course, np.int64(half) * cut, cut if half == 0 else course.x.size, what, factor, far)
    return total[0] + total[1]


@njit(cache=True)
def _part(course, low, high, what, factor, far):
    x, rest, new = course.x[low:high], course.rest[low:high], course.new[low:high]
    ahead, to_ahead = course.ahead[low:high], course.to_ahead[low:high]
    if what == ALONG:
        return inner(new, to_ahead)
    if what == TURN:
        return _turn(ahead, factor, new, rest)
    return _advance(x, far, ahead, rest, factor, to_ahead)


@njit(cache=True, fastmath={"reassoc", "contract"})
def _turn(ahead, back, new, rest):
    total = 0.0
    for k in range(ahead.size):
        turned = new[k] - back * ahead[k]
        ahead[k] = turned
        total += turned * rest[k]
    return total


@njit(cache=True, fastmath={"reassoc", "contract"})
def _advance(x, far, ahead, rest, length, to_ahead):
    total = 0.0
    for k in range(x.size):
        x[k] += far * ahead[k]
        left = rest[k] - length * to_ahead[k]
        rest[k] = left
        total += left * left
    return total
