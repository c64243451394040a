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

from annulus.conduction.multigrid_blocks import correct, correct_beside, restrict, restrict_beside
from annulus.conduction.multigrid_level import (
    At,
    clear_middle,
    fall_beside,
    grid_size,
    level_at,
    put_back,
    relax,
    rise,
    rise_beside,
    times,
    times_beside,
)
from annulus.conduction.vectors import inner, subtract

JUST_STORED = 4  # unknowns of a band that are still on their way to memory
RISE, RESTRICT, CORRECT, FALL, TIMES = range(5)  # what is done to a level
BETWEEN = 2  # the part of a level that is neither half: its middle line and the unknowns beside the grid


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
    begin : ndarray of int64, shape (n_levels + 2,)
        Where each level's unknowns begin in a vector of all, those of the level below the last, and the end.
    where, reals, wholes : ndarray
        See `At`; a row of `where` for each level.
    factor : Factor
        Of the matrix below the last level.
    work : ndarray, shape (5, begin[-1])
        Overwritten by every cycle.
    on_one_thread : int
        Places up to which a level is worked on by one thread.
    accelerated : int
        Levels below the first that may take a second step.
    """

    begin: NDArray[np.int64]
    where: NDArray[np.int64]
    reals: NDArray
    wholes: NDArray[np.int32]
    factor: Factor
    work: NDArray
    on_one_thread: int
    accelerated: int


@njit(cache=True)
def cycle(packed):
    """One cycle: on levels below the first, at most two steps of conjugate gradients around the cycle from there down.

    The right-hand side begins the first row of `work`, the answer the third, its product with the matrix the fourth.
    Goes down and up by a loop: compiled functions that call themselves cannot be kept on disk.
    """
    last, first_of = packed.where.shape[0], packed.begin
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
        at, high = At(packed.where[depth], packed.reals, packed.wholes), first_of[depth + 1]
        is_wide = high - low > packed.on_one_thread
        target, x_here = given[low:high], one[low:high]
        if is_second[depth]:
            target, x_here = rest[low:high], two[low:high]
        other = (given if is_descending else one)[high : first_of[depth + 2]]
        for step in range(2):
            _do(at, is_wide, step if is_descending else 2 + step, target, x_here, other)
        if is_descending:
            depth += 1
            continue
        to_x = to_one[low:high]
        cross, gain = inner(x_here, to_x) if is_second[depth] else 0.0, inner(x_here, target)
        own = _do(at, is_wide, np.int64(TIMES), x_here, x_here, to_x)  # a plain constant would compile once more
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
def _do(at, is_wide, what, rhs, x, other):
    """Do one thing to a whole level: in both halves and then between them; where it falls, between them first.

    Descending: Gauss-Seidel from zero into x, then the residual summed over blocks into `other`. Ascending: `other`,
    the correction of the next level, added to x, then Gauss-Seidel the other way round; rhs is left as it was. Or the
    product of x into `other`; its product with x is returned.
    """
    total = 0.0
    for turn in range(3):
        part = (turn + BETWEEN) % 3 if what == FALL else turn
        if part == BETWEEN or not is_wide:
            total += _part(at, what, part, rhs, x, other)
        elif part == 0:
            total += _both_at_once(at, what, rhs, x, other)
    if what == FALL:
        put_back(at, rhs)
    return total


@njit(cache=True)
def _part(at, what, part, rhs, x, other):
    """Do it in one half, which can be done beside the other, or between them."""
    level = level_at(at)
    lines, width, blocks = level.lines, level.width, level.first_line.size - 1
    middle, is_half = lines // 2, part < BETWEEN
    first, last = (0, blocks // 2) if part == 0 else (blocks // 2, blocks)
    if what == RISE and is_half:
        rise(level, part, rhs, x)
    elif what in (RISE, FALL):
        begin, step, count = (middle - 1, -1, middle) if part == 0 else (middle + 1, 1, lines - 1 - middle)
        if not is_half:
            begin, count = middle, 1
            if what == FALL:
                fall_beside(level, rhs, x)
            else:
                clear_middle(level, x)
        relax(level, begin, step, count, what == RISE, rhs, x)
        if what == RISE:
            rise_beside(level, rhs, x)
            other[grid_size(blocks, (width + 1) // 2) :] = 0.0  # sums of residuals begin
    elif what == RESTRICT:
        if is_half:
            restrict(level, first, last, x, other)
        else:
            restrict_beside(level, x, other)
    elif what == CORRECT:
        if is_half:
            correct(level, first, last, other, x)
        else:
            correct_beside(level, other, x)
    else:
        outside = level.outside
        if not is_half:
            return times_beside(grid_size(lines, width), outside, level.row_start, level.column, level.tie, x, other)
        first, last = part * middle, lines if part else middle
        return times(width, level.across, level.along, outside, first, last, x, other)
    return 0.0


@njit(cache=True, parallel=True)
def _both_at_once(at, what, rhs, x, other):
    total = np.zeros(2)
    for half in prange(2):
        total[half] = _part(at, what, np.int64(half), rhs, x, other)
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
