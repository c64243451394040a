"""Coarser levels of pieces: compiled kernels over rows.

Goes in: rows of a matrix, which pieces lie in which cell, region and line.
Comes out: which pieces join, and the matrix of the joined ones.
"""

from __future__ import annotations

import numpy as np
from numba import njit

STRONG = 0.2  # of a piece's strongest tie: weaker ties do not join pieces of one region


@njit(cache=True)
def join_blocks(nr, nz, first, member, label, line, start, column, value):
    """Join pieces of one label that are strongly tied within blocks of 2 x 2 cells.

    Parameters
    ----------
    first, member : ndarray of int32
        The pieces of cell c are member[first[c] : first[c + 1]].
    label, line : ndarray of int32, shape (n,)
        Region of each piece, and the line of cells in which it begins; lines do not fall.
    start, column, value : ndarray
        Rows of the matrix.

    Returns
    -------
    block : ndarray of int32, shape (n,)
        Joint piece of each piece, numbered by their first pieces.
    coarse_first, coarse_member, coarse_label, coarse_line : ndarray of int32
        The same as came in, of the joint pieces.
    """
    n = label.size
    strongest = np.zeros(n)
    for row in range(n):
        for m in range(start[row], start[row + 1]):
            if column[m] != row and label[column[m]] == label[row]:
                strongest[row] = max(strongest[row], -value[m])
    found = np.full(n, -1, dtype=np.int32)
    coarse_nr, coarse_nz = (nr + 1) // 2, (nz + 1) // 2
    coarse_first = np.zeros(coarse_nr * coarse_nz + 1, dtype=np.int32)
    most = 0
    for c in range(nr * nz):
        most = max(most, first[c + 1] - first[c])
    near = np.empty(4 * most, dtype=np.int32)
    joint = 0
    for ci in range(coarse_nr):
        for cj in range(coarse_nz):
            count = 0
            for i in range(2 * ci, min(2 * ci + 2, nr)):
                for j in range(2 * cj, min(2 * cj + 2, nz)):
                    for m in range(first[i * nz + j], first[i * nz + j + 1]):
                        near[count] = member[m]
                        count += 1
            for s in range(count):
                seed = near[s]
                if found[seed] >= 0:
                    continue
                found[seed] = joint
                grown = True
                while grown:
                    grown = False
                    for t in range(s + 1, count):
                        p = near[t]
                        if found[p] >= 0 or label[p] != label[seed]:
                            continue
                        for m in range(start[p], start[p + 1]):
                            q = column[m]
                            if q != p and found[q] == joint and -value[m] >= STRONG * min(strongest[p], strongest[q]):
                                found[p] = joint
                                grown = True
                                break
                joint += 1
            coarse_first[ci * coarse_nz + cj + 1] = joint
    number = np.full(joint, -1, dtype=np.int32)
    block = np.empty(n, dtype=np.int32)
    coarse_label, coarse_line = np.empty(joint, dtype=np.int32), np.empty(joint, dtype=np.int32)
    numbered = 0
    for p in range(n):
        if number[found[p]] < 0:
            number[found[p]] = numbered
            coarse_label[numbered], coarse_line[numbered] = label[p], line[p]
            numbered += 1
        block[p] = number[found[p]]
    return block, coarse_first, number, coarse_label, coarse_line


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
