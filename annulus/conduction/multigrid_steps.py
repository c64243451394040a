"""One step of a Krylov method around a cycle, in the levels' precision: passes over vectors, compiled.

Goes in: what the cycle made of a residual, and its product with the matrix.
Comes out: the next direction, the solution and the residual. Where the matrix
is symmetric, directions are conjugate in it (conjugate gradients); elsewhere
their products are orthogonal (the residual falls most); in both only to the
last one.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
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


@njit(cache=True, fastmath={"reassoc", "contract"})
def turn(course, is_symmetric, back):
    """Take `back` of the last direction from the new one; returns its product with itself, and with the residual."""
    _, rest, new, to_new, ahead, to_ahead = course
    own = gain = 0.0
    for k in range(ahead.size):
        turned, to_turned = new[k] - back * ahead[k], to_new[k] - back * to_ahead[k]
        ahead[k], to_ahead[k] = turned, to_turned
        by = turned if is_symmetric else to_turned
        own += by * to_turned
        gain += by * rest[k]
    return own, gain


@njit(cache=True, fastmath={"reassoc", "contract"})
def advance(course, length, size):
    """Go along the direction; `size` is what the residual was divided by. Returns its length, squared."""
    x, rest, _, _, ahead, to_ahead = course
    total = 0.0
    for k in range(x.size):
        x[k] += length * size * ahead[k]
        left = rest[k] - length * to_ahead[k]
        rest[k] = left
        total += left * left
    return total
