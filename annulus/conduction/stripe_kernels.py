"""Following heat from cell to cell on conservative flows: compiled kernels.

Goes in: for each cell the runs that bound it (parts of its faces, arcs of
discs that are cut out of it), each with the heat that leaves through it.
Comes out: those runs in walking order with a heat-flow function along them,
and lines of constant heat flow. `stripe_body.py` prepares the arrays.

A run carries its heat evenly over its area, so a point on it is named by the
fraction of its heat that lies before it, counted as one walks round the cell
with the cell on the left. The neighbour counts the same run the other way.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from annulus.conduction.contacts import ARC, R_FACE

SAME_PLACE = 1e-9  # of a cell's side: a run may begin this far before the last one ends
CORNERS = 4.0  # length of a walk round a cell, each side counted as 1
INSIDE = 1e-9  # of a chord: a shorter part of it within a disc is a touch
RIM_POINTS = 3  # points that lead a line along a rim inside one cell
NEWTON_STEPS = 30  # 5 times what an arc needs whose ring is as wide as its hole


@njit(cache=True)
def walk_cells(cell_start, begin, end, out):
    """Order of the runs as one walks round each cell, and the heat-flow function at their beginnings.

    Runs of one cell may close to several loops, where a disc cuts the cell
    in parts. Each loop is turned to begin at its greatest value and the loops
    are put one behind the other: heat that enters a part leaves from the same
    part as far as it can, and what a part has too much (its piece reaches
    into another part of the cell) leaves from the others.

    Parameters
    ----------
    cell_start : ndarray of int, shape (n_cells + 1,)
        Where the runs of each cell begin.
    begin, end : ndarray, shape (n_runs,)
        Places on the cell's perimeter, 0 to 4, anticlockwise from its lower left corner.
    out : ndarray, shape (n_runs,)
        Heat that leaves the cell. [W]

    Returns
    -------
    order : ndarray of int, shape (n_runs,)
        Run at each place of the walk.
    share : ndarray, shape (n_runs,)
        Heat that leaves, by place of the walk; entering heat scaled so that each cell closes. [W]
    level : ndarray, shape (n_runs,)
        Heat that has left between the beginning of the walk and that of the run. [W]
    unclosed : float
        Sum over cells of the heat that did not close. [W]
    """
    n = begin.size
    order = np.empty(n, dtype=np.int64)
    share = np.zeros(n)
    level = np.zeros(n)
    used = np.zeros(n, dtype=np.bool_)
    loop = np.empty(n, dtype=np.int64)
    unclosed = 0.0
    done = 0
    for cell in range(cell_start.size - 1):
        s, e = cell_start[cell], cell_start[cell + 1]
        for k in range(s, e):
            if used[k]:
                continue
            length = 0
            current = k
            while True:
                used[current] = True
                loop[length] = current
                length += 1
                best = k
                nearest = 2.0 * CORNERS
                for m in range(s, e):
                    if used[m] and m != k:
                        continue
                    ahead = (begin[m] - end[current] + SAME_PLACE) % CORNERS
                    if ahead < nearest:
                        nearest = ahead
                        best = m
                if best == k:
                    break
                current = best
            total = 0.0
            greatest = 0.0
            top = 0
            for m in range(length):
                total += out[loop[m]]
                if total > greatest:
                    greatest = total
                    top = m + 1
            for m in range(length):
                order[done] = loop[(top + m) % length]
                done += 1
        entering = leaving = 0.0
        for k in range(s, e):
            leaving += max(out[k], 0.0)
            entering -= min(out[k], 0.0)
        unclosed += abs(entering - leaving)
        scale = leaving / entering if entering > 0.0 and leaving > 0.0 else 1.0
        total = 0.0
        for k in range(s, e):
            level[k] = total
            share[k] = out[order[k]] * (scale if out[order[k]] < 0.0 else 1.0)
            total += share[k]
    return order, share, level, unclosed


@njit(cache=True)
def place_on_run(whole, real, fraction, cylindrical):
    """Point (r, z) of a run before which a fraction of its area lies."""
    t = 1.0 - fraction if whole[1] else fraction
    fixed, start, end, a, c, radius = real
    if whole[0] == R_FACE:
        return fixed, start + t * (end - start)
    if whole[0] != ARC:
        if cylindrical:
            return math.sqrt(start * start + t * (end * end - start * start)), fixed
        return start + t * (end - start), fixed
    angle = start + t * (end - start)
    if cylindrical:
        sine = radius * math.sin(start)
        wanted = t * (a * (end - start) + radius * math.sin(end) - sine)
        for _ in range(NEWTON_STEPS):
            miss = a * (angle - start) + radius * math.sin(angle) - sine - wanted
            step = miss / (a + radius * math.cos(angle))
            angle = min(max(angle - step, start), end)
            if abs(step) < 1e-14:
                break
    return a + radius * math.cos(angle), c + radius * math.sin(angle)


@njit(cache=True)
def place_on_runs(runs, fractions, whole, real, cylindrical):
    """Points of many runs, shape (n, 2). [m]"""
    points = np.empty((runs.size, 2))
    for n in range(runs.size):
        points[n, 0], points[n, 1] = place_on_run(whole[runs[n]], real[runs[n]], fractions[n], cylindrical)
    return points


@njit(cache=True)
def leave_cell(run, fraction, whole, share, level):
    """Run and fraction at which the heat leaves that enters a cell at a point; run -1 if nothing leaves.

    Walks on from the point to the first run where the heat-flow function
    is back at its value: entering heat opens a bracket, leaving heat closes
    the last one opened.
    """
    first, last = whole[run, 3], whole[run, 4]
    value = level[run] + fraction * share[run]
    exit_run = -1
    for n in range(1, last - first):
        m = run + n
        if m >= last:
            m -= last - first
        if share[m] <= 0.0:
            continue
        exit_run = m
        if level[m] + share[m] >= value:
            return m, min(max((value - level[m]) / share[m], 0.0), 1.0)
    return exit_run, 1.0


@njit(cache=True)
def lead_round(r0, z0, r1, z1, first, last, whole, real, path, at, keep):
    """Lead the chord of one cell along the rims of discs that it would cut; returns the next place in `path`."""
    for m in range(first, last):
        if whole[m, 0] != ARC:
            continue
        a, c, radius = real[m, 3], real[m, 4], real[m, 5]
        dr, dz = r1 - r0, z1 - z0
        length2 = dr * dr + dz * dz
        if length2 == 0.0:
            continue
        nearest = -((r0 - a) * dr + (z0 - c) * dz) / length2
        gap2 = (r0 + nearest * dr - a) ** 2 + (z0 + nearest * dz - c) ** 2
        if gap2 >= radius * radius:
            continue
        half = math.sqrt((radius * radius - gap2) / length2)
        enter, leave = max(nearest - half, 0.0), min(nearest + half, 1.0)
        if leave - enter < INSIDE:
            continue
        for q in range(RIM_POINTS + 2):
            t = enter + (leave - enter) * q / (RIM_POINTS + 1)
            x, y = r0 + t * dr - a, z0 + t * dz - c
            size = math.sqrt(x * x + y * y)
            if size == 0.0:
                continue
            if keep:
                path[at, 0] = a + radius * x / size
                path[at, 1] = c + radius * y / size
            at += 1
        return at
    return at


@njit(cache=True)
def follow(runs, fractions, whole, real, share, level, cylindrical, longest, keep, path, path_start):
    """Follow lines downstream from where they enter the body.

    Parameters
    ----------
    runs, fractions : ndarray, shape (n_lines,)
        Where lines enter; heat must enter there.
    whole : ndarray of int, shape (n_runs, 5)
        Kind, whether walked from `end` to `start`, the same run seen from the
        neighbour (-1 if heat ends there), first run of the cell, one past its last run.
    real : ndarray, shape (n_runs, 6)
        Fixed coordinate of a face; start and end; centre (r, z) and radius of an arc.
    share, level : ndarray, shape (n_runs,)
        See `walk_cells`.
    longest : int
        Number of cells after which a line counts as lost.
    keep : bool
        Write points to `path` at `path_start`; otherwise only count them.

    Returns
    -------
    end_run : ndarray of int, shape (n_lines,)
        Run at which a line leaves the body, -1 if it is lost.
    end_fraction : ndarray, shape (n_lines,)
    points : ndarray of int, shape (n_lines,)
        Number of points of each line.
    """
    end_run = np.full(runs.size, -1, dtype=np.int64)
    end_fraction = np.zeros(runs.size)
    points = np.zeros(runs.size, dtype=np.int64)
    for line in range(runs.size):
        run, fraction = runs[line], fractions[line]
        at = path_start[line] if keep else 0
        begun = at
        r0, z0 = place_on_run(whole[run], real[run], fraction, cylindrical)
        if keep:
            path[at, 0], path[at, 1] = r0, z0
        at += 1
        for _ in range(longest):
            first, last = whole[run, 3], whole[run, 4]
            run, fraction = leave_cell(run, fraction, whole, share, level)
            if run < 0:
                break
            r1, z1 = place_on_run(whole[run], real[run], fraction, cylindrical)
            at = lead_round(r0, z0, r1, z1, first, last, whole, real, path, at, keep)
            if keep:
                path[at, 0], path[at, 1] = r1, z1
            at += 1
            r0, z0 = r1, z1
            if whole[run, 2] < 0:
                end_run[line], end_fraction[line] = run, fraction
                break
            run, fraction = whole[run, 2], 1.0 - fraction
        points[line] = at - begun
    return end_run, end_fraction, points
