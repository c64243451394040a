"""Which unknowns of the multigrid join: compiled kernels.

Goes in: links of a network, which pieces lie in which cell and region. Comes out:
the same matrix as grid and rows beside it, and what each unknown joins.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from annulus.conduction.multigrid_level import Ties, grid_size, seat
from annulus.conduction.multigrid_rows import longer, rows_of

STRONG = 0.2  # of a piece's strongest tie: weaker ties do not join pieces of one region


@njit(cache=True)
def lay_out(lines, cells, piece_start, region, links, outside_of):
    """Network on pieces as grid and rows beside it: the first piece of each cell lies on the grid.

    Returns
    -------
    place : ndarray of int32, shape (n_pieces,)
        Place of each piece.
    label, cell : ndarray of int32
        Region of each place, -1 for none; and of each unknown beside the grid, its cell.
    ties : Ties
    strays : int
        Links between pieces of cells that do not touch: must be none.
    """
    m = (cells + 1) // 2
    s, grid = 2 * m + 1, grid_size(lines, m)
    filled = 0
    for c in range(lines * cells):
        filled += piece_start[c + 1] > piece_start[c]
    size = grid + region.size - filled
    place = np.empty(region.size, dtype=np.int32)
    label, cell = np.full(size, -1, dtype=np.int32), np.empty(size - grid, dtype=np.int32)
    is_even = np.zeros(grid, dtype=np.bool_)
    across, along, outside = np.zeros(size), np.zeros(size), np.zeros(size)
    beside = grid
    for i in range(lines):
        for j in range(cells):
            c = i * cells + j
            for p in range(piece_start[c], piece_start[c + 1]):
                if p == piece_start[c]:
                    here = (i + 1) * s + j // 2 + (j % 2) * (m + 1)
                    is_even[here] = j % 2 == 0
                else:
                    here = beside
                    cell[beside - grid] = i * 2 * m + j
                    beside += 1
                place[p], label[here], outside[here] = here, region[p], outside_of[p]
    loose = strays = 0
    row, other, of_pair = np.empty(64, dtype=np.int32), np.empty(64, dtype=np.int32), np.empty(64)
    link_a, link_b, conductance = links
    for n in range(link_a.size):
        here, there, value = place[link_a[n]], place[link_b[n]], conductance[n]
        low, high = min(here, there), max(here, there)
        if high >= grid:
            if loose == row.size:
                row, other, of_pair = longer(row), longer(other), longer(of_pair)
            row[loose], other[loose], of_pair[loose] = low, high, value
            loose += 1
            line, column = seat(low, m, grid, cell)
            other_line, other_column = seat(high, m, grid, cell)
            strays += abs(line - other_line) + abs(column - other_column) > 1
        elif high - low == s:
            across[low] += value
        elif is_even[low] and high - low == m + 1:
            along[low] += value
        elif is_even[low] and high - low == m:  # from an odd cell the next one in the line lies before it
            along[high] += value
        else:
            strays += 1
    rows = rows_of(grid, size, row[:loose], other[:loose], of_pair[:loose])
    return place, label, cell, Ties(across, along, outside, *rows), strays


@njit(cache=True)
def largest_of_label(label, diagonal):
    """Largest diagonal of each region."""
    most = 0
    for p in range(label.size):
        most = max(most, label[p])
    largest = np.zeros(most + 1)
    for p in range(label.size):
        if label[p] >= 0 and diagonal[p] > largest[label[p]]:
            largest[label[p]] = diagonal[p]
    return largest


@njit(cache=True)
def _strongest(p, grid, m, label, of_own, ties):
    """Strongest tie of an unknown to another of its label; `of_own`: that of each cell to unknowns beside the grid."""
    across, along, _, row_start, column, tie = ties
    if p >= grid:
        most = 0.0
        for k in range(row_start[p - grid], row_start[p - grid + 1]):
            if label[column[k]] == label[p]:
                most = max(most, tie[k])
        return most
    s = 2 * m + 1
    right, left = (p + m + 1, p + m) if p % s < m else (p - m, p - m - 1)
    most = of_own[p]
    if label[p + s] == label[p]:
        most = max(most, across[p])
    if label[p - s] == label[p]:
        most = max(most, across[p - s])
    if label[right] == label[p]:
        most = max(most, along[p])
    if label[left] == label[p]:
        most = max(most, along[left])
    return most


@njit(cache=True)
def _between(p, q, grid, m, ties):
    """Conductance between two unknowns of a block."""
    across, along, _, row_start, column, tie = ties
    if p < q:
        p, q = q, p
    if p >= grid:
        for k in range(row_start[p - grid], row_start[p - grid + 1]):
            if column[k] == q:
                return tie[k]
        return 0.0
    if p - q == 2 * m + 1:
        return across[q]
    return along[q] if p - q == m + 1 else 0.0


@njit(cache=True)
def pair_lines(lines, m, label, across, along):
    """First of the one or two lines that make each line of the next level.

    Two lines stay apart where most of their cells would not join: at the face of a layer, or where cells are long.
    """
    s = 2 * m + 1
    first = np.empty(lines + 1, dtype=np.int32)
    count = line = 0
    while line < lines:
        first[count] = line
        count += 1
        e = (line + 1) * s
        both = apart = 0
        for p in range(e, e + s if line + 1 < lines else e):
            is_both = label[p] >= 0 and label[p + s] >= 0
            both += is_both
            apart += is_both and (label[p] != label[p + s] or across[p] < STRONG * min(along[p], along[p + s]))
        line += 2 if 2 * apart <= both else 1
    first[count] = lines
    return first[: count + 1].copy()


@njit(cache=True)
def _grow(near, found, strong, members, grid, m, label, of_own, ties):
    """Number what joins among the unknowns of a block, and count each's members; returns how many they make."""
    count = near.size
    for t in range(count):
        found[t] = -1
        strong[t] = STRONG * _strongest(near[t], grid, m, label, of_own, ties)
    joints = 0
    for seed in range(count):
        if found[seed] >= 0:
            continue
        found[seed] = joints
        members[joints] = 1
        grown = True
        while grown:
            grown = False
            for t in range(seed + 1, count):
                if found[t] >= 0 or label[near[t]] != label[near[seed]]:
                    continue
                for u in range(count):
                    if found[u] == joints:
                        value = _between(near[t], near[u], grid, m, ties)
                        if value > 0.0 and value >= min(strong[t], strong[u]):
                            found[t] = joints
                            members[joints] += 1
                            grown = True
                            break
        joints += 1
    return joints


@njit(cache=True)
def join(lines, m, label, cell, diagonal, ties):
    """Join unknowns of one label that are strongly tied within blocks of 2 x 2 cells.

    Returns
    -------
    parent : ndarray of int32, shape (n,)
        Unknown of the next level that each joins, -1 for no unknown.
    coarse_label, coarse_cell : ndarray of int32
        As came in, of the next level.
    first_line, mixed_start, mixed, mixed_joint : ndarray
        See `Level`.
    """
    across, along, _, row_start, column, tie = ties
    s, grid, size = 2 * m + 1, grid_size(lines, m), label.size
    first_line = pair_lines(lines, m, label, across, along)
    coarse_lines, coarse_m = first_line.size - 1, (m + 1) // 2
    coarse_s, coarse_grid = 2 * coarse_m + 1, grid_size(coarse_lines, coarse_m)
    of_own = np.zeros(grid)
    for n in range(size - grid):
        for k in range(row_start[n], row_start[n + 1]):
            q = column[k]
            if q < grid and label[q] == label[grid + n]:
                of_own[q] = max(of_own[q], tie[k])
    parent = np.full(size, -1, dtype=np.int32)
    on_grid = np.full(coarse_grid, -1, dtype=np.int32)
    beside, beside_cell = np.empty(size, dtype=np.int32), np.empty(size, dtype=np.int32)
    mixed_start = np.zeros(coarse_lines + 1, dtype=np.int32)
    mixed, mixed_joint = np.empty(coarse_grid, dtype=np.int32), np.empty(4 * coarse_grid, dtype=np.int32)
    near, found = np.empty(4 + size - grid, dtype=np.int32), np.empty(4 + size - grid, dtype=np.int32)
    strong = np.empty(4 + size - grid)
    members = np.empty(4 + size - grid, dtype=np.int32)
    extra = mixes = 0
    upper = lower = 0  # next of the unknowns beside the grid, in either line of the blocks
    for block_line in range(coarse_lines):
        line, end_line = first_line[block_line], first_line[block_line + 1]
        upper = lower
        while lower < cell.size and cell[lower] < (line + 1) * 2 * m:
            lower += 1
        end_upper = lower
        end_lower = lower
        while end_lower < cell.size and cell[end_lower] < end_line * 2 * m:
            end_lower += 1
        is_pair = end_line == line + 2
        for block in range(m):
            first = (line + 1) * s + block
            place = (block_line + 1) * coarse_s + block // 2 + (block % 2) * (coarse_m + 1)
            own = extra_here = 0
            while upper < end_upper and cell[upper] - line * 2 * m < 2 * block + 2:
                near[4 + extra_here] = grid + upper
                extra_here += 1
                upper += 1
            while lower < end_lower and cell[lower] - (line + 1) * 2 * m < 2 * block + 2:
                near[4 + extra_here] = grid + lower
                extra_here += 1
                lower += 1
            a, b = first, first + m + 1
            c, d = (a + s, b + s) if is_pair else (0, 0)  # place 0 is empty
            # no tie is stronger than the diagonal: what is strong against it joins for sure
            if (
                extra_here == 0
                and label[a] >= 0
                and label[a] == label[b]
                and along[a] >= STRONG * min(diagonal[a], diagonal[b])
            ):
                if not is_pair:
                    parent[a] = parent[b] = place
                    on_grid[place] = label[a]
                    continue
                if label[a] == label[c] == label[d]:
                    strong_ties = (along[c] >= STRONG * min(diagonal[c], diagonal[d])) + (
                        across[a] >= STRONG * min(diagonal[a], diagonal[c])
                    )
                    if strong_ties + (across[b] >= STRONG * min(diagonal[b], diagonal[d])) >= 2:
                        parent[a] = parent[b] = parent[c] = parent[d] = place
                        on_grid[place] = label[a]
                        continue
            for p in (a, b, c, d):
                if label[p] >= 0:
                    near[own] = p
                    own += 1
            for k in range(extra_here):
                near[own + k] = near[4 + k]
            count = own + extra_here
            if count == 0:
                continue
            joints = _grow(near[:count], found, strong, members, grid, m, label, of_own, ties)
            largest = 0
            for t in range(joints):
                if members[t] > members[largest]:
                    largest = t
            is_mixed = False
            base = extra
            for t in range(count):
                number = found[t]
                if number == largest:
                    parent[near[t]] = place
                    on_grid[place] = label[near[t]]
                    continue
                is_mixed = is_mixed or t < own
                k = base + number - (number > largest)
                parent[near[t]] = coarse_grid + k
                beside[k], beside_cell[k] = label[near[t]], block_line * 2 * coarse_m + block
            extra += joints - 1
            if is_mixed:
                mixed[mixes] = first
                k = 4 * mixes
                mixed_joint[k], mixed_joint[k + 1] = parent[a], parent[b]
                mixed_joint[k + 2], mixed_joint[k + 3] = parent[c], parent[d]
                mixes += 1
        lower = end_lower
        mixed_start[block_line + 1] = mixes
    coarse_label = np.empty(coarse_grid + extra, dtype=np.int32)
    for p in range(coarse_grid):
        coarse_label[p] = on_grid[p]
    for p in range(extra):
        coarse_label[coarse_grid + p] = beside[p]
    return (
        parent,
        coarse_label,
        beside_cell[:extra].copy(),
        first_line,
        mixed_start,
        mixed[:mixes].copy(),
        mixed_joint[: 4 * mixes].copy(),
    )
