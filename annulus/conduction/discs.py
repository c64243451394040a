"""Exact geometry of a disc and a rectangular cell: compiled kernels.

Goes in: one disc and one cell. Comes out: area and moments of their overlap,
and the arcs of the circle inside the cell with their area, middle and mean
normal. Arc integrals are trigonometric polynomials and are summed by Gauss's
rule on short arcs, exact to round-off.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

GAUSS_X, GAUSS_W = np.polynomial.legendre.leggauss(10)
LONGEST_ARC = math.pi / 4  # [rad]; ten Gauss points on this are exact to round-off up to cos(4 t)
SHORT_X, SHORT_W = np.polynomial.legendre.leggauss(6)
SHORT_ARC = 0.25  # [rad]; six points on this are, by the remainder of Gauss's rule (4e-16)
SHORTEST_ARC = 1e-11  # [rad]; below this an arc is a touching point
TOUCHING = 1.0 - 1e-12  # of the radius: a line farther off only touches; round-off cannot tell its two crossings apart
NONE, PART, WHOLE = 0, 1, 2  # of a cell that a disc covers
MAX_ARCS = 12  # a circle is cut at no more points than this
NEAR = 1e-3  # of a side of the cell: how far off a crossing may be left out, by far more than round-off


@njit(cache=True)
def half_chord(radius, d):
    """Half the chord of a circle at distance d from its centre, exact also close to a tangent."""
    return math.sqrt((radius - d) * (radius + d))


@njit(cache=True)
def arcs_in_cell(a, c, radius, r0, r1, z0, z1, starts, ends):
    """Fill `starts`, `ends` [rad] with the circle's arcs inside the cell; return their number.

    The circle is cut where it meets a side of the cell, or comes near one, and
    at those of its four extreme points that lie there; each part is judged by
    its middle, and parts that follow each other are joined. So a circle
    through a corner, or touching a side, needs no tolerance: what is cut too
    often is joined again, and a part holds no crossing.
    """
    cuts = np.empty(MAX_ARCS)
    over_r, over_z = NEAR * (r1 - r0), NEAR * (z1 - z0)
    low_r, high_r, low_z, high_z = r0 - over_r, r1 + over_r, z0 - over_z, z1 + over_z
    n = 0
    for quarter in range(4):
        r = a + (radius if quarter == 0 else -radius if quarter == 2 else 0.0)
        z = c + (radius if quarter == 1 else -radius if quarter == 3 else 0.0)
        if low_r < r < high_r and low_z < z < high_z:
            n = add_cut(0.5 * math.pi * quarter, cuts, n)
    for end in range(2):
        d = (r1 if end else r0) - a
        if abs(d) < radius * TOUCHING:
            half = half_chord(radius, d)
            if low_z < c + half < high_z:
                n = add_cut(math.atan2(half, d), cuts, n)
            if low_z < c - half < high_z:
                n = add_cut(2.0 * math.pi - math.atan2(half, d), cuts, n)
        d = (z1 if end else z0) - c
        if abs(d) < radius * TOUCHING:
            half = half_chord(radius, d)
            if low_r < a + half < high_r:
                n = add_cut(math.atan2(d, half) % (2.0 * math.pi), cuts, n)
            if low_r < a - half < high_r:
                n = add_cut(math.pi - math.atan2(d, half), cuts, n)
    found = 0
    for m in range(n):
        start = cuts[m]
        end = cuts[m + 1] if m + 1 < n else cuts[0] + 2.0 * math.pi
        if end - start < SHORTEST_ARC:
            continue
        middle = 0.5 * (start + end)
        r = a + radius * math.cos(middle)
        z = c + radius * math.sin(middle)
        if not (r0 < r < r1 and z0 < z < z1):
            continue
        if found > 0 and start - ends[found - 1] < SHORTEST_ARC:
            ends[found - 1] = end
        else:
            starts[found] = start
            ends[found] = end
            found += 1
    if found > 1 and ends[found - 1] - starts[0] > 2.0 * math.pi - SHORTEST_ARC:
        starts[0] = starts[found - 1] - 2.0 * math.pi
        found -= 1
    return found


@njit(cache=True)
def add_cut(angle, cuts, known):
    """Add an angle to `known` ones in order; returns their number."""
    place = known
    while place > 0 and cuts[place - 1] > angle:
        cuts[place] = cuts[place - 1]
        place -= 1
    cuts[place] = angle
    return known + 1


@njit(cache=True)
def arc_rule(length):
    """Gauss points and weights that sum an arc, or each of its parts, to round-off."""
    if length <= SHORT_ARC:
        return SHORT_X, SHORT_W
    return GAUSS_X, GAUSS_W


@njit(cache=True)
def coverage(a, c, radius, r0, r1, z0, z1):
    """Whether a disc covers a cell `WHOLE`, in `PART`, or in `NONE` of it."""
    far_r, far_z = max(abs(r0 - a), abs(r1 - a)), max(abs(z0 - c), abs(z1 - c))
    if far_r * far_r + far_z * far_z <= radius * radius:
        return WHOLE
    near_r, near_z = max(r0 - a, a - r1, 0.0), max(z0 - c, c - z1, 0.0)
    return NONE if near_r * near_r + near_z * near_z >= radius * radius else PART


@njit(cache=True)
def overlap_moments(a, c, radius, r0, r1, z0, z1):
    """Integrals of 1, x, y, x^2 and x y over disc and cell, (x, y) from the cell's middle.

    By Green's theorem around the overlap: sides of the cell inside the disc,
    then arcs of the circle inside the cell.
    """
    x0 = 0.5 * (r0 + r1)
    y0 = 0.5 * (z0 + z1)
    how = coverage(a, c, radius, r0, r1, z0, z1)
    if how == WHOLE:
        dr, dz = r1 - r0, z1 - z0
        return dr * dz, 0.0, 0.0, dr * dr * dr * dz / 12.0, 0.0
    if how == NONE:
        return 0.0, 0.0, 0.0, 0.0, 0.0
    area = mx = my = mxx = mxy = 0.0
    for side in range(2):
        line = r1 if side == 0 else r0
        sign = 1.0 if side == 0 else -1.0
        d = line - a
        if abs(d) >= radius * TOUCHING:
            continue
        half = half_chord(radius, d)
        low = max(z0, c - half) - y0
        high = min(z1, c + half) - y0
        if high <= low:
            continue
        x = line - x0
        length = sign * (high - low)
        square = sign * 0.5 * (high * high - low * low)
        area += x * length
        mx += 0.5 * x * x * length
        my += x * square
        mxx += x * x * x / 3.0 * length
        mxy += 0.5 * x * x * square
    starts = np.empty(MAX_ARCS)
    ends = np.empty(MAX_ARCS)
    n = arcs_in_cell(a, c, radius, r0, r1, z0, z1, starts, ends)
    for m in range(n):
        node, weight = arc_rule(ends[m] - starts[m])
        parts = math.ceil((ends[m] - starts[m]) / LONGEST_ARC)
        half = 0.5 * (ends[m] - starts[m]) / parts
        for part in range(parts):
            centre = starts[m] + (2 * part + 1) * half
            for g in range(node.size):
                t = centre + half * node[g]
                cos_t = math.cos(t)
                x = a - x0 + radius * cos_t
                y = c - y0 + radius * math.sin(t)
                dy = weight[g] * half * radius * cos_t
                area += x * dy
                mx += 0.5 * x * x * dy
                my += x * y * dy
                mxx += x * x * x / 3.0 * dy
                mxy += 0.5 * x * x * y * dy
    return area, mx, my, mxx, mxy


@njit(cache=True)
def arc_surface(a, c, radius, start, end, cylindrical):
    """Area, middle (r, z) and mean outward normal (r, z) of an arc's surface.

    Area is arc length in plane coordinates and the full ring in cylindrical
    ones; middle and normal are weighted by it.
    """
    node, share = arc_rule(end - start)
    parts = math.ceil((end - start) / LONGEST_ARC)
    half = 0.5 * (end - start) / parts
    area = mr = mz = nr = nz = 0.0
    for part in range(parts):
        centre = start + (2 * part + 1) * half
        for g in range(node.size):
            t = centre + half * node[g]
            cos_t = math.cos(t)
            sin_t = math.sin(t)
            r = a + radius * cos_t
            weight = share[g] * half * radius
            if cylindrical:
                weight *= 2.0 * math.pi * r
            area += weight
            mr += weight * r
            mz += weight * (c + radius * sin_t)
            nr += weight * cos_t
            nz += weight * sin_t
    size = math.sqrt(nr * nr + nz * nz)
    if size < 1e-9 * abs(area):  # a whole circle in one cell has no mean normal
        return area, mr / area, mz / area, 1.0, 0.0
    return area, mr / area, mz / area, nr / size, nz / size
