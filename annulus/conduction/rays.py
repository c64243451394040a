"""Who sees whom in a plane section: compiled ray casting.

Goes in: points with normals, straight segments and circles of the section.
Comes out: the patch that each diffuse ray from each point meets first.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GOLDEN = 0.6180339887498949  # spreads the offsets of the points' ray fans evenly
START_OFF = 1e-9  # of the section's size: how far off its own surface a ray starts


def cast(
    points: Floats,
    normals: Floats,
    segments: Floats,
    segment_patch: Ints,
    discs: Floats,
    arc_first: Ints,
    arc_start: Floats,
    arc_patch: Ints,
    rays: int,
    size: float,
) -> Ints:
    """Patch that each ray from each point meets first.

    Rays are even in the sine of their angle to the normal, which is Lambert's
    law in a plane section.

    Parameters
    ----------
    points, normals : ndarray, shape (n, 2)
        Where rays start, and the unit normal into the open space.
    segments : ndarray, shape (m, 4)
        Axis (0: constant r, 1: constant z), position, low, high.
    segment_patch : ndarray of int, shape (m,)
        Where segments of a line overlap, the lowest patch is met.
    discs : ndarray, shape (q, 3)
    arc_first : ndarray of int, shape (q + 1,)
        Where each disc's arcs begin in `arc_start` and `arc_patch`.
    arc_start : ndarray
        Angle at which an arc begins, from 0 to 2 pi, increasing along each disc. [rad]
    arc_patch : ndarray of int
        Patch of each arc; it reaches to the start of the next.
    rays : int
        From each point.
    size : float
        Size of the section. [m]

    Returns
    -------
    ndarray of int, shape (n, rays)
        -1 where a ray leaves the section.
    """
    order = np.lexsort((segments[:, 2], segments[:, 1], segments[:, 0]))
    segments = segments[order]
    lines, first = np.unique(segments[:, :2], axis=0, return_index=True)
    longest = np.zeros(len(lines))
    if len(lines):
        longest = np.maximum.reduceat(segments[:, 3] - segments[:, 2], first)
    return _cast(
        points,
        normals,
        np.column_stack([lines, longest]),
        np.append(first, len(segments)),
        np.ascontiguousarray(segments[:, 2:]),
        segment_patch[order],
        discs,
        arc_first,
        arc_start,
        arc_patch,
        rays,
        size,
    )


@njit(cache=True)
def _cast(
    points, normals, lines, line_first, segments, segment_patch, discs, arc_first, arc_start, arc_patch, rays, size
):
    """`cast` over lines (axis, position, longest segment) and the segments (low, high) of each, by their low ends."""
    hits = np.empty((points.shape[0], rays), dtype=np.int64)
    for p in range(points.shape[0]):
        nr, nz = normals[p]
        r0 = points[p, 0] + START_OFF * size * nr
        z0 = points[p, 1] + START_OFF * size * nz
        offset = (p * GOLDEN) % 1.0
        for k in range(rays):
            sine = -1.0 + 2.0 * ((k + offset) / rays)
            cosine = math.sqrt(max(1.0 - sine * sine, 0.0))
            dr = cosine * nr - sine * nz
            dz = cosine * nz + sine * nr
            patch, best = _first_segment(r0, z0, dr, dz, lines, line_first, segments, segment_patch)
            hits[p, k] = _first_arc(r0, z0, dr, dz, patch, best, discs, arc_first, arc_start, arc_patch)
    return hits


@njit(cache=True)
def _first_segment(r0, z0, dr, dz, lines, line_first, segments, segment_patch):
    """Patch of the segment that a ray meets first, or -1, and how far it is."""
    best = np.inf
    patch = -1
    for m in range(lines.shape[0]):
        is_r = lines[m, 0] == 0.0
        along, across = (dr, dz) if is_r else (dz, dr)
        if along == 0.0:
            continue
        here, there = (r0, z0) if is_r else (z0, r0)
        t = (lines[m, 1] - here) / along
        if not 0.0 < t < best:
            continue
        place = there + t * across
        first, last = line_first[m], line_first[m + 1]
        k = first + np.searchsorted(segments[first:last, 0], place, side="right") - 1
        found = -1
        while k >= first and segments[k, 0] >= place - lines[m, 2]:
            if place <= segments[k, 1] and (found < 0 or segment_patch[k] < found):
                found = segment_patch[k]
            k -= 1
        if found >= 0:
            best, patch = t, found
    return patch, best


@njit(cache=True)
def _first_arc(r0, z0, dr, dz, patch, best, discs, arc_first, arc_start, arc_patch):
    """Patch of the arc that a ray meets nearer than `best`, else the patch given."""
    for d in range(discs.shape[0]):
        x, y, radius = r0 - discs[d, 0], z0 - discs[d, 1], discs[d, 2]
        half = x * dr + y * dz
        root = half * half - (x * x + y * y - radius * radius)
        if root <= 0.0 or half >= 0.0:
            continue
        t = -half - math.sqrt(root)
        if 0.0 < t < best:
            best = t
            angle = math.atan2(y + t * dz, x + t * dr) % (2.0 * math.pi)
            first, last = arc_first[d], arc_first[d + 1]
            place = np.searchsorted(arc_start[first:last], angle, side="right") - 1
            patch = arc_patch[first + place] if place >= 0 else arc_patch[last - 1]
    return patch
