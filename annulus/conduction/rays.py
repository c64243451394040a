"""Who sees whom in a plane section: compiled ray casting.

Goes in: points with normals, straight segments and circles of the section.
Comes out: the patch that each diffuse ray from each point meets first.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

GOLDEN = 0.6180339887498949  # spreads the offsets of the points' ray fans evenly
START_OFF = 1e-9  # of the section's size: how far off its own surface a ray starts


@njit(cache=True)
def cast(points, normals, segments, segment_patch, discs, arc_first, arc_start, arc_patch, rays, size):
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
            hits[p, k] = _first_hit(r0, z0, dr, dz, segments, segment_patch, discs, arc_first, arc_start, arc_patch)
    return hits


@njit(cache=True)
def _first_hit(r0, z0, dr, dz, segments, segment_patch, discs, arc_first, arc_start, arc_patch):
    """Patch that a ray meets first, or -1."""
    best = np.inf
    patch = -1
    for m in range(segments.shape[0]):
        along, across = (dr, dz) if segments[m, 0] == 0.0 else (dz, dr)
        if along == 0.0:
            continue
        here, there = (r0, z0) if segments[m, 0] == 0.0 else (z0, r0)
        t = (segments[m, 1] - here) / along
        if 0.0 < t < best:
            place = there + t * across
            if segments[m, 2] <= place <= segments[m, 3]:
                best = t
                patch = segment_patch[m]
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
