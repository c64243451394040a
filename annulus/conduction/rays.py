"""Who sees whom in a plane section: compiled ray casting.

Goes in: points with normals, straight segments and circles of the section.
Comes out: the patch that each diffuse ray from each point meets first.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from annulus.conduction.ordered import number_up_to

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
    by_z = np.argsort(discs[:, 1], kind="stable")
    return _cast(
        points,
        normals,
        np.column_stack([lines, longest]),
        np.append(first, len(segments)),
        segments[:, 2].copy(),
        segments[:, 3].copy(),
        segment_patch[order],
        discs[by_z],
        discs[by_z, 1].copy(),
        discs[:, 2].max(initial=0.0),
        arc_first[by_z],
        arc_first[by_z + 1],
        arc_start,
        arc_patch,
        rays,
        size,
    )


@njit(cache=True)
def _cast(
    points,
    normals,
    lines,
    line_first,
    low,
    high,
    segment_patch,
    discs,
    height,
    widest,
    arc_first,
    arc_last,
    arc_start,
    arc_patch,
    rays,
    size,
):
    """`cast` over lines (axis, position, longest segment) with the segments of each by their low ends, and discs by z.

    Lines come first: how far they are tells which discs may be nearer. Rays of a point turn one way, so that where one
    meets a line is close to where the one before did.
    """
    near = line_first[:-1].copy()
    hits = np.empty((points.shape[0], rays), dtype=np.int64)
    for p in range(points.shape[0]):
        nr, nz = normals[p, 0], normals[p, 1]
        r0 = points[p, 0] + START_OFF * size * nr
        z0 = points[p, 1] + START_OFF * size * nz
        offset = (p * GOLDEN) % 1.0
        above = number_up_to(height, z0 - widest, 0, height.size)
        below = number_up_to(height, z0 + widest, above, height.size) + above - 1
        for k in range(rays):
            sine = -1.0 + 2.0 * ((k + offset) / rays)
            cosine = math.sqrt(max(1.0 - sine * sine, 0.0))
            dr = cosine * nr - sine * nz
            dz = cosine * nz + sine * nr
            patch, best = -1, np.inf
            for m in range(lines.shape[0]):
                is_r = lines[m, 0] == 0.0
                along, across = (dr, dz) if is_r else (dz, dr)
                here, there = (r0, z0) if is_r else (z0, r0)
                ahead = lines[m, 1] - here
                if along * ahead <= 0.0:
                    continue
                t = ahead / along
                if t >= best:
                    continue
                place = there + t * across
                first, n, found = line_first[m], near[m], -1
                while n + 1 < line_first[m + 1] and low[n + 1] <= place:
                    n += 1
                while n > first and low[n] > place:
                    n -= 1
                near[m] = n  # the last that begins no farther, or the first
                while n >= first and low[n] >= place - lines[m, 2]:
                    if low[n] <= place <= high[n] and (found < 0 or segment_patch[n] < found):
                        found = segment_patch[n]
                    n -= 1
                if found >= 0:
                    best, patch = t, found
            met = -1
            step = 1 if dz >= 0.0 else -1
            reach = widest + (best * abs(dz) if dz != 0.0 else 0.0)
            d = above if step > 0 else below
            while 0 <= d < height.size and (height[d] - z0) * step <= reach:
                x, y, radius = r0 - discs[d, 0], z0 - discs[d, 1], discs[d, 2]
                half = x * dr + y * dz
                root = half * half - (x * x + y * y - radius * radius)
                if root > 0.0 and half < 0.0:
                    t = -half - math.sqrt(root)
                    if 0.0 < t < best:
                        best, met = t, d
                        reach = widest + t * abs(dz)
                d += step
            if met >= 0:
                angle = math.atan2(z0 - discs[met, 1] + best * dz, r0 - discs[met, 0] + best * dr)
                if angle < 0.0:
                    angle += 2.0 * math.pi
                place = number_up_to(arc_start, angle, arc_first[met], arc_last[met])
                patch = arc_patch[arc_first[met] + place - 1] if place > 0 else arc_patch[arc_last[met] - 1]
            hits[p, k] = patch
    return hits
