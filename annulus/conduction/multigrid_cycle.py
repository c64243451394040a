"""Cycles over the levels of a multigrid: compiled kernels.

Goes in: levels. Comes out: approximate solutions. Large levels are worked on
in two halves side by side, small ones in the same halves one after the other,
so that results do not depend on threads.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from annulus.conduction.multigrid_blocks import correct, correct_last, restrict, restrict_last
from annulus.conduction.multigrid_level import (
    Level,
    fall,
    fall_first,
    grid_size,
    put_back,
    rise,
    rise_last,
    times,
    times_last,
)
from annulus.conduction.vectors import inner, subtract

JUST_STORED = 4  # unknowns of a band that are still on their way to memory
RISE, RESTRICT, CORRECT, FALL = range(4)  # what is done to a level in two halves


class Factor(NamedTuple):
    """Cholesky factor of a band.

    Attributes
    ----------
    lower, upper : ndarray, shape (n, width)
        Rows that end before the diagonal, and those of the transpose, which begin behind it; `JUST_STORED` or wider.
    inverse : ndarray, shape (n,)
        One over the diagonal.
    place : ndarray of int64, shape (n,)
        Places of the unknowns.
    """

    lower: NDArray
    upper: NDArray
    inverse: NDArray
    place: NDArray[np.int64]


class Packed(NamedTuple):
    """Levels one after the other, in single precision where that will do.

    Attributes
    ----------
    shape : ndarray of int64, shape (n_levels, 2)
        Lines and width of each.
    begin : ndarray of int64, shape (n_levels + 1, 5)
        Where each level's unknowns, unknowns beside the grid, their ties, lines of blocks, and mixed blocks begin.
    level : tuple
        The arrays of `Level`, each of all levels joined.
    factor : Factor
        Of the matrix below the last level.
    places : int
        How many places that level has.
    work : ndarray, shape (5, places of all levels)
        Overwritten by every cycle.
    on_one_thread : int
        Places up to which a level is worked on by one thread.
    accelerated : int
        Levels below the first that may take a second step.
    """

    shape: NDArray[np.int64]
    begin: NDArray[np.int64]
    level: Level
    factor: Factor
    places: int
    work: NDArray
    on_one_thread: int
    accelerated: int


@njit(inline="always")
def level_at(packed, depth):
    """One packed level."""
    a, b = packed.begin[depth], packed.begin[depth + 1]
    all_of = packed.level
    return Level(
        packed.shape[depth, 0],
        packed.shape[depth, 1],
        all_of.across[a[0] : b[0]],
        all_of.along[a[0] : b[0]],
        all_of.outside[a[0] : b[0]],
        all_of.inverse[a[0] : b[0]],
        all_of.row_start[a[1] + depth : b[1] + depth + 1],
        all_of.column[a[2] : b[2]],
        all_of.tie[a[2] : b[2]],
        all_of.first_line[a[3] + depth : b[3] + depth + 1],
        all_of.joint[a[1] : b[1]],
        all_of.joint_of_column[a[2] : b[2]],
        all_of.mixed_start[a[3] + depth : b[3] + depth + 1],
        all_of.mixed[a[4] : b[4]],
        all_of.mixed_joint[a[4] : b[4]],
    )


@njit(cache=True)
def cycle(packed):
    """One cycle: on levels below the first, at most two steps of conjugate gradients around the cycle from there down.

    The right-hand side begins the first row of `work`, the answer the third.
    Goes down and up by a loop: compiled functions that call themselves cannot be kept on disk.
    """
    last = packed.shape.shape[0]
    first_of = packed.begin[:, 0]
    given, rest, one, to_one, two = packed.work[0], packed.work[1], packed.work[2], packed.work[3], packed.work[4]
    energy, length = np.zeros(last + 1), np.zeros(last + 1)
    is_second = np.zeros(last + 1, dtype=np.bool_)
    depth, is_descending = 0, last > 0  # the constant True would have everything compiled once more
    while True:
        low = first_of[depth]
        if depth == last:
            _solve_directly(packed.factor, given[low:], one[low:])
            depth, is_descending = depth - 1, False
            continue
        level, high = level_at(packed, depth), first_of[depth + 1]
        is_wide = high - low > packed.on_one_thread
        target, x_here = given[low:high], one[low:high]
        if is_second[depth]:
            target, x_here = rest[low:high], two[low:high]
        below = slice(high, first_of[depth + 2] if depth + 1 < last else high + packed.places)
        if is_descending:
            smooth(level, is_wide, is_descending, target, x_here, given[below])
            depth += 1
            continue
        smooth(level, is_wide, is_descending, target, x_here, one[below])
        if depth == 0:
            break
        to_x = to_one[low:high]
        if not is_second[depth]:
            energy[depth] = product(level, is_wide, x_here, to_x)
            length[depth] = inner(x_here, target) / energy[depth] if energy[depth] > 0.0 else 0.0
            if depth <= packed.accelerated and energy[depth] > 0.0:
                subtract(target, length[depth], to_x, rest[low:high])
                is_second[depth], is_descending = True, True
                continue
            x_here *= length[depth]
        else:
            cross, gain = inner(x_here, to_x), inner(x_here, target)
            own = product(level, is_wide, x_here, to_x)
            _combine(one[low:high], length[depth], energy[depth], cross, own, gain, x_here)
        is_second[depth] = False
        depth -= 1


@njit(inline="always")
def _solve_directly(factor, rhs, x):
    """Forward and backward through the band.

    The last few unknowns are taken one by one: a vector that holds what has just been stored would wait for it.
    """
    lower, upper, inverse, place = factor
    count, width = lower.shape
    far = width - JUST_STORED
    y = np.zeros(count + 2 * width, lower.dtype)
    for k in range(count):
        rest = _less(rhs[place[k]], lower[k, :far], y[k : k + far])
        for m in range(JUST_STORED):
            rest -= lower[k, far + m] * y[k + far + m]
        y[width + k] = rest * inverse[k]
    for back in range(count):
        k = count - 1 - back
        here = width + k
        rest = _less(y[here], upper[k, JUST_STORED:], y[here + 1 + JUST_STORED : here + 1 + width])
        for m in range(JUST_STORED):
            rest -= upper[k, JUST_STORED - 1 - m] * y[here + JUST_STORED - m]
        y[here] = rest * inverse[k]
        x[place[k]] = y[here]


@njit(cache=True, fastmath={"reassoc", "contract"})
def _less(rest, a, b):
    """A number less the sum of products, in their own precision."""
    for k in range(a.size):
        rest -= a[k] * b[k]
    return rest


@njit(inline="always")
def _combine(one, length, energy, cross, own, gain, two):
    """Best combination of two directions, into the first; `gain` is the second's product with what the first left."""
    own -= cross * cross / energy
    second = gain / own if own > 0.0 else 0.0
    first = length - cross * second / energy
    for row in range(one.size):
        one[row] = first * one[row] + second * two[row]


@njit(cache=True)
def smooth(level, is_wide, is_descending, rhs, x, other):
    """Descending: Gauss-Seidel from zero into x, and the residual summed over blocks into `other`.

    Else add `other`, the correction of the next level, to x, then Gauss-Seidel the other way round; rhs is left as it
    was. Both as one function with one call of `_both`: it compiles in four fifths of the time of two.
    """
    kept = np.empty(0, rhs.dtype)
    for step in range(2):
        what = step if is_descending else 2 + step
        if what == RISE:
            other[grid_size(level.first_line.size - 1, (level.width + 1) // 2) :] = 0.0
        elif what == FALL:
            kept = fall_first(level, rhs, x)
        _both(level, is_wide, what, rhs, x, other)
        if what == RISE:
            rise_last(level, rhs, x)
        elif what == RESTRICT:
            restrict_last(level, x, other)
        elif what == CORRECT:
            correct_last(level, other, x)
        else:
            put_back(level, kept, rhs)


@njit(cache=True)
def product(level, is_wide, x, y):
    """y = A x; returns y x."""
    energy = _times_in_halves(level, x, y) if is_wide else times(level, np.int64(0), level.lines, x, y)
    return energy + times_last(level, x, y)


@njit(cache=True)
def _part(level, what, half, rhs, x, other):
    """One half of what can be done in two at once."""
    lines = level.first_line.size - 1
    first, last = (0, lines // 2) if half == 0 else (lines // 2, lines)
    if what == RISE:
        rise(level, half, rhs, x)
    elif what == RESTRICT:
        restrict(level, first, last, x, other)
    elif what == CORRECT:
        correct(level, first, last, other, x)
    else:
        fall(level, half, rhs, x)


@njit(inline="always")
def _both(level, is_wide, what, rhs, x, other):
    if is_wide:
        _both_at_once(level, what, rhs, x, other)
    else:
        for half in range(2):
            _part(level, what, half, rhs, x, other)


@njit(cache=True, parallel=True)
def _both_at_once(level, what, rhs, x, other):
    for half in prange(2):
        _part(level, what, np.int64(half), rhs, x, other)


@njit(cache=True, parallel=True)
def _times_in_halves(level, x, y):
    energy, cut = np.zeros(2), level.lines // 2
    for half in prange(2):
        energy[half] = times(level, np.int64(half) * cut, cut if half == 0 else level.lines, x, y)
    return energy[0] + energy[1]


@njit(cache=True)
def put_in(rhs, scaled):
    """Put a vector over its length into one of the levels' precision; returns that length."""
    size, over = _length(rhs)
    for k in range(rhs.size):
        scaled[k] = rhs[k] * over
    return size


@njit(cache=True)
def put_in_places(rhs, place, scaled):
    """The same into places."""
    size, over = _length(rhs)
    for k in range(rhs.size):
        scaled[place[k]] = rhs[k] * over
    return size


@njit(inline="always")
def _length(rhs):
    size = np.sqrt(inner(rhs, rhs))
    return size, 1.0 / size if size > 0.0 else 0.0


@njit(cache=True)
def take_out_of_places(scaled, place, size):
    """The same from places."""
    x = np.empty(place.size)
    for k in range(x.size):
        x[k] = scaled[place[k]] * size
    return x


@njit(cache=True)
def spread(x, place, size):
    """A vector in its places, zero elsewhere."""
    y = np.zeros(size)
    for k in range(x.size):
        y[place[k]] = x[k]
    return y
