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
    MIDDLE,
    Level,
    fall_beside,
    grid_size,
    places_of,
    put_back,
    relax,
    rise,
    rise_beside,
    times,
    times_last,
)
from annulus.conduction.vectors import inner, subtract

JUST_STORED = 4  # unknowns of a band that are still on their way to memory
RISE, RESTRICT, CORRECT, FALL, TIMES = range(5)  # what is done to a level in two halves


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

    The right-hand side begins the first row of `work`, the answer the third, its product with the matrix the fourth.
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
        _smooth(level, is_wide, is_descending, target, x_here, given[below] if is_descending else one[below])
        if is_descending:
            depth += 1
            continue
        to_x = to_one[low:high]
        cross, gain = inner(x_here, to_x) if is_second[depth] else 0.0, inner(x_here, target)
        own = _product(level, is_wide, x_here, to_x)
        if depth == 0:
            break
        if not is_second[depth]:
            energy[depth], length[depth] = own, gain / own if own > 0.0 else 0.0
            if depth <= packed.accelerated and own > 0.0:
                subtract(target, length[depth], to_x, rest[low:high])
                is_second[depth], is_descending = True, True
                continue
            x_here *= length[depth]
        else:
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


@njit(inline="always")
def _smooth(level, is_wide, is_descending, rhs, x, other):
    """Descending: Gauss-Seidel from zero into x, and the residual summed over blocks into `other`.

    Else add `other`, the correction of the next level, to x, then Gauss-Seidel the other way round; rhs is left as it
    was. Both as one function with one call of `_on_grid`, which compiles in less time.
    """
    kept = np.empty(0, rhs.dtype)
    for step in range(2):
        what = step if is_descending else 2 + step
        if what == RISE:
            other[grid_size(level.first_line.size - 1, (level.width + 1) // 2) :] = 0.0
            _, s, middle, _ = places_of(level, level.lines // 2)
            for p in range(middle, middle + s):
                x[p] = 0.0
        elif what == FALL:
            kept = fall_beside(level, rhs, x)
        _on_grid(level, is_wide, what, rhs, x, other)
        if what == RISE:
            rise_beside(level, rhs, x)
        elif what == RESTRICT:
            restrict_last(level, x, other)
        elif what == CORRECT:
            correct_last(level, other, x)
        else:
            put_back(level, kept, rhs)


@njit(inline="always")
def _product(level, is_wide, x, y):
    """y = A x; returns y x."""
    return _on_grid(level, is_wide, np.int64(TIMES), x, x, y) + times_last(level, x, y)  # a constant compiles anew


@njit(inline="always")
def _on_grid(level, is_wide, what, rhs, x, other):
    """All that is done on the grid: in both halves, and then in the middle line; where it falls, there first."""
    total = 0.0
    for turn in range(3):
        part = (turn + MIDDLE) % 3 if what == FALL else turn
        if part == MIDDLE or not is_wide:
            total += _part(level, what, part, rhs, x, other)
        elif part == 0:
            total += _both_at_once(level, what, rhs, x, other)
    return total


@njit(cache=True)
def _part(level, what, part, rhs, x, other):
    """One half of what can be done in two at once, or the middle line; returns a product's product with x."""
    lines, middle = level.first_line.size - 1, level.lines // 2
    if what == FALL or (what == RISE and part == MIDDLE):
        relax(level, part, what == RISE, rhs, x)
    elif what == RISE:
        rise(level, part, rhs, x)
    elif part < MIDDLE:
        first, last = (0, lines // 2) if part == 0 else (lines // 2, lines)
        if what == RESTRICT:
            restrict(level, first, last, x, other)
        elif what == CORRECT:
            correct(level, first, last, other, x)
        else:
            return times(level, part * middle, level.lines if part else middle, x, other)
    return 0.0


@njit(cache=True, parallel=True)
def _both_at_once(level, what, rhs, x, other):
    total = np.zeros(2)
    for half in prange(2):
        total[half] = _part(level, what, np.int64(half), rhs, x, other)
    return total[0] + total[1]


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
