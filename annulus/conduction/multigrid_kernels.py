"""Multigrid on pieces: compiled kernels over rows.

Goes in: rows of a matrix with increasing columns. Comes out: coarser matrices,
smoothed vectors. Large levels are smoothed in a fixed number of chunks of rows
side by side, each by Gauss-Seidel within itself, so that results do not depend
on how many threads there are.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange

CHUNKS = 2  # of rows that are smoothed side by side
STRONG = 0.2  # of a piece's strongest tie: weaker ties do not join pieces of one region


@njit(cache=True)
def find_middle(start, column):
    """Place of the diagonal in every row."""
    middle = np.empty(start.size - 1, dtype=np.int32)
    for row in range(start.size - 1):
        for m in range(start[row], start[row + 1]):
            if column[m] == row:
                middle[row] = m
    return middle


@njit(cache=True)
def join_blocks(nr, nz, first, label, start, column, value):
    """Join pieces of one label that are strongly tied within blocks of 2 x 2 cells.

    Returns
    -------
    block : ndarray of int32, shape (n,)
    coarse_first : ndarray of int32, shape (coarse cells + 1,)
    coarse_label : ndarray of int32, shape (joint,)
    joint : int
        Number of coarse pieces.
    """
    n = label.size
    strongest = np.zeros(n)
    for row in range(n):
        for m in range(start[row], start[row + 1]):
            if column[m] != row and label[column[m]] == label[row]:
                strongest[row] = max(strongest[row], -value[m])
    block = np.full(n, -1, dtype=np.int32)
    coarse_nr, coarse_nz = (nr + 1) // 2, (nz + 1) // 2
    coarse_first = np.zeros(coarse_nr * coarse_nz + 1, dtype=np.int32)
    coarse_label = np.empty(n, dtype=np.int32)
    most = 0
    for c in range(nr * nz):
        most = max(most, first[c + 1] - first[c])
    member = np.empty(4 * most, dtype=np.int32)
    joint = 0
    for ci in range(coarse_nr):
        for cj in range(coarse_nz):
            count = 0
            for i in range(2 * ci, min(2 * ci + 2, nr)):
                for j in range(2 * cj, min(2 * cj + 2, nz)):
                    for p in range(first[i * nz + j], first[i * nz + j + 1]):
                        member[count] = p
                        count += 1
            for s in range(count):
                seed = member[s]
                if block[seed] >= 0:
                    continue
                block[seed] = joint
                coarse_label[joint] = label[seed]
                grown = True
                while grown:
                    grown = False
                    for t in range(s + 1, count):
                        p = member[t]
                        if block[p] >= 0 or label[p] != label[seed]:
                            continue
                        for m in range(start[p], start[p + 1]):
                            q = column[m]
                            if q != p and block[q] == joint and -value[m] >= STRONG * min(strongest[p], strongest[q]):
                                block[p] = joint
                                grown = True
                                break
                joint += 1
            coarse_first[ci * coarse_nz + cj + 1] = joint
    return block, coarse_first, coarse_label[:joint].copy(), joint


@njit(cache=True)
def coarse_matrix(start, column, value, block, joint):
    """Sum rows and columns of joined pieces (Galerkin with constants)."""
    n = block.size
    size = np.zeros(joint + 1, dtype=np.int32)
    for row in range(n):
        size[block[row] + 1] += 1
    for c in range(joint):
        size[c + 1] += size[c]
    place = size[:-1].copy()
    rows = np.empty(n, dtype=np.int32)
    for row in range(n):
        rows[place[block[row]]] = row
        place[block[row]] += 1
    seen = np.full(joint, -1, dtype=np.int32)
    new_start = np.zeros(joint + 1, dtype=np.int32)
    new_column = np.empty(column.size, dtype=np.int32)
    new_value = np.empty(column.size)
    filled = 0
    for c in range(joint):
        begin = filled
        for m in range(size[c], size[c + 1]):
            row = rows[m]
            for k in range(start[row], start[row + 1]):
                other = block[column[k]]
                if seen[other] < begin:
                    seen[other] = filled
                    new_column[filled] = other
                    new_value[filled] = value[k]
                    filled += 1
                else:
                    new_value[seen[other]] += value[k]
        for a in range(begin + 1, filled):  # columns in order; rows are short
            key, entry = new_column[a], new_value[a]
            b = a - 1
            while b >= begin and new_column[b] > key:
                new_column[b + 1] = new_column[b]
                new_value[b + 1] = new_value[b]
                b -= 1
            new_column[b + 1] = key
            new_value[b + 1] = entry
        new_start[c + 1] = filled
    return new_start, new_column[:filled].copy(), new_value[:filled].copy()


@njit(cache=True)
def bandwidth(start, column):
    """Farthest column from the diagonal."""
    widest = 0
    for row in range(start.size - 1):
        widest = max(widest, row - column[start[row]], column[start[row + 1] - 1] - row)
    return widest


@njit(cache=True)
def _bounds(chunk, n):
    """First row of a chunk and of the next."""
    return chunk * n // CHUNKS, (chunk + 1) * n // CHUNKS


@njit(cache=True)
def _rise(start, column, value, middle, inverse, rhs, x, low, high):
    """Gauss-Seidel from zero, rows rising; every earlier column belongs to the same chunk."""
    for row in range(low, high):
        total = rhs[row]
        for m in range(start[row], middle[row]):
            total -= value[m] * x[column[m]]
        x[row] = total * inverse[row]


@njit(cache=True)
def _rise_at_edge(start, column, value, middle, inverse, rhs, x, first, low, high):
    """`_rise` for rows that may look into the chunk before, which counts as zero."""
    for row in range(low, high):
        total = rhs[row]
        for m in range(start[row], middle[row]):
            if column[m] >= first:
                total -= value[m] * x[column[m]]
        x[row] = total * inverse[row]


@njit(cache=True)
def _restrict(start, column, value, middle, x, block, coarse, low, high):
    """Add what `_rise` left of the residual to the blocks: the columns a row had not yet seen."""
    for row in range(low, high):
        total = x[row] * 0
        for m in range(middle[row] + 1, start[row + 1]):
            total -= value[m] * x[column[m]]
        coarse[block[row]] += total


@njit(cache=True)
def _restrict_before(start, column, value, middle, x, block, coarse, first, low, high):
    """The same for the columns that `_rise_at_edge` left out."""
    for row in range(low, high):
        for m in range(start[row], middle[row]):
            if column[m] < first:
                coarse[block[row]] -= value[m] * x[column[m]]


@njit(cache=True)
def _fall(start, column, value, middle, inverse, rhs, x, low, high):
    """Gauss-Seidel, rows falling, all columns in the same chunk."""
    for back in range(high - low):
        row = high - 1 - back
        total = rhs[row]
        for m in range(start[row], middle[row]):
            total -= value[m] * x[column[m]]
        for m in range(middle[row] + 1, start[row + 1]):
            total -= value[m] * x[column[m]]
        x[row] = total * inverse[row]


@njit(cache=True)
def _fall_at_edge(start, column, value, middle, inverse, rhs, x, old, first, last, low, high):
    """`_fall` for rows that may look into another chunk, where the old values count."""
    for back in range(high - low):
        row = high - 1 - back
        total = rhs[row]
        for m in range(start[row], start[row + 1]):
            c = column[m]
            if c != row:
                total -= value[m] * (x[c] if first <= c < last else old[c])
        x[row] = total * inverse[row]


@njit(cache=True)
def _multiply_rows(start, column, value, x, y, low, high):
    for row in range(low, high):
        total = x[row] * 0
        for m in range(start[row], start[row + 1]):
            total += value[m] * x[column[m]]
        y[row] = total


@njit(cache=True, parallel=True)
def multiply(start, column, value, x):
    """Matrix times vector, chunks side by side."""
    y = np.empty_like(x)
    for chunk in prange(CHUNKS):
        low, high = _bounds(chunk, x.size)
        _multiply_rows(start, column, value, x, y, low, high)
    return y


@njit(cache=True, parallel=True)
def smooth_down(start, column, value, middle, inverse, band, rhs, block, joint):
    """Gauss-Seidel from zero; returns x and the residual summed over blocks."""
    n = rhs.size
    x = np.empty_like(rhs)
    coarse = np.zeros((CHUNKS, joint), dtype=rhs.dtype)
    for chunk in prange(CHUNKS):
        low, high = _bounds(chunk, n)
        inner = min(low + band, high) if chunk > 0 else low
        _rise_at_edge(start, column, value, middle, inverse, rhs, x, low, low, inner)
        _rise(start, column, value, middle, inverse, rhs, x, inner, high)
    for chunk in prange(CHUNKS):
        low, high = _bounds(chunk, n)
        _restrict(start, column, value, middle, x, block, coarse[chunk], low, high)
        _restrict_before(start, column, value, middle, x, block, coarse[chunk], low, low, min(low + band, high))
    total = coarse[0]
    for chunk in range(1, CHUNKS):
        total += coarse[chunk]
    return x, total


@njit(cache=True, parallel=True)
def smooth_up(start, column, value, middle, inverse, band, rhs, x, correction, block):
    """Add the coarse correction to x, then Gauss-Seidel the other way round; changes x."""
    n = rhs.size
    old = np.empty_like(x)
    for chunk in prange(CHUNKS):
        low, high = _bounds(chunk, n)
        for row in range(low, high):
            x[row] += correction[block[row]]
            old[row] = x[row]
    for chunk in prange(CHUNKS):
        low, high = _bounds(chunk, n)
        bottom, top = min(low + band, high), max(high - band, low)
        if bottom >= top:
            _fall_at_edge(start, column, value, middle, inverse, rhs, x, old, low, high, low, high)
        else:
            _fall_at_edge(start, column, value, middle, inverse, rhs, x, old, low, high, top, high)
            _fall(start, column, value, middle, inverse, rhs, x, bottom, top)
            _fall_at_edge(start, column, value, middle, inverse, rhs, x, old, low, high, low, bottom)


@njit(cache=True)
def multiply_small(start, column, value, x):
    """`multiply` on one thread."""
    y = np.empty_like(x)
    _multiply_rows(start, column, value, x, y, 0, x.size)
    return y


@njit(cache=True)
def smooth_down_small(start, column, value, middle, inverse, band, rhs, block, joint):
    """`smooth_down` on one thread, in one chunk."""
    n = rhs.size
    x = np.empty_like(rhs)
    coarse = np.zeros(joint, dtype=rhs.dtype)
    _rise(start, column, value, middle, inverse, rhs, x, 0, n)
    _restrict(start, column, value, middle, x, block, coarse, 0, n)
    return x, coarse


@njit(cache=True)
def smooth_up_small(start, column, value, middle, inverse, band, rhs, x, correction, block):
    """`smooth_up` on one thread, in one chunk."""
    for row in range(rhs.size):
        x[row] += correction[block[row]]
    _fall(start, column, value, middle, inverse, rhs, x, 0, rhs.size)


@njit(cache=True)
def first_step(start, column, value, one, rhs):
    """Best length of a first direction, what it leaves, and its product with the matrix.

    Returns
    -------
    to_one, rest : ndarray
    energy, length : float
        one A one, and the multiple of `one` to take.
    left : float
        |rest|^2 / |rhs|^2.
    """
    n = rhs.size
    to_one = np.empty_like(rhs)
    energy = gain = size = 0.0
    for row in range(n):
        total = one[row] * 0
        for m in range(start[row], start[row + 1]):
            total += value[m] * one[column[m]]
        to_one[row] = total
        energy += total * one[row]
        gain += one[row] * rhs[row]
        size += rhs[row] * rhs[row]
    length = gain / energy if energy > 0.0 else 0.0
    rest = np.empty_like(rhs)
    left = 0.0
    for row in range(n):
        rest[row] = rhs[row] - length * to_one[row]
        left += rest[row] * rest[row]
    return to_one, rest, energy, length, (left / size if size > 0.0 else 0.0)


@njit(cache=True)
def second_step(start, column, value, one, to_one, energy, length, two, rest):
    """Best combination of two directions after `first_step`."""
    cross = own = gain = 0.0
    for row in range(rest.size):
        total = two[row] * 0
        for m in range(start[row], start[row + 1]):
            total += value[m] * two[column[m]]
        own += total * two[row]
        cross += two[row] * to_one[row]
        gain += two[row] * rest[row]
    own -= cross * cross / energy
    second = gain / own if own > 0.0 else 0.0
    first = length - cross * second / energy
    result = np.empty_like(one)
    for row in range(rest.size):
        result[row] = first * one[row] + second * two[row]
    return result
