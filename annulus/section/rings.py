"""Exact volumes of bodies of revolution made of rectangles and discs.

Goes in: shapes in the (r, z) plane. Comes out: volumes swept around the axis.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from annulus.shapes import Disc, Rectangle


def rectangle_volume(rectangle: Rectangle) -> float:
    """Volume of a rectangle turned around the axis. [m3]"""
    r0, r1 = rectangle.r_min, rectangle.r_max
    return math.pi * (r1 - r0) * (r1 + r0) * (rectangle.z_max - rectangle.z_min)


def disc_volume(disc: Disc, inside: Rectangle) -> float:
    """Volume of the part of a disc inside a rectangle, turned around the axis.

    Parameters
    ----------
    disc : Disc
    inside : Rectangle

    Returns
    -------
    float
        [m3]

    Notes
    -----
    Integral of 2 pi r (top - bottom) dr; between the radii where the circle
    crosses the rectangle's level sides, top and bottom are either a side or the
    circle, and both have closed primitives.

    References
    ----------
    Pappus's second theorem is the special case of a whole disc:
    V = 2 pi r_c * pi R^2.
    """
    R = disc.radius
    start, end = max(inside.r_min, disc.r - R), min(inside.r_max, disc.r + R)
    if start >= end or abs(disc.z - min(max(disc.z, inside.z_min), inside.z_max)) >= R:
        return 0.0

    cuts = {start, end}
    for level in (inside.z_min, inside.z_max):
        reach = math.sqrt(max(R**2 - (level - disc.z) ** 2, 0.0))
        cuts.update(r for r in (disc.r - reach, disc.r + reach) if start < r < end)

    total = 0.0
    for r0, r1 in itertools.pairwise(sorted(cuts)):
        u = (r0 + r1) / 2 - disc.r
        half = math.sqrt(max(R**2 - u**2, 0.0))
        top_is_arc, bottom_is_arc = disc.z + half < inside.z_max, disc.z - half > inside.z_min
        top = disc.z if top_is_arc else inside.z_max
        bottom = disc.z if bottom_is_arc else inside.z_min
        arcs = top_is_arc + bottom_is_arc
        if top - bottom + arcs * half > 0:
            total += (top - bottom) * (r1**2 - r0**2) / 2 + arcs * (_arc(disc, r1) - _arc(disc, r0))
    return 2 * math.pi * total


def union(rectangles: Sequence[Rectangle], inside: Rectangle) -> list[Rectangle]:
    """Disjoint rectangles that together cover the given ones inside another.

    Parameters
    ----------
    rectangles : sequence of Rectangle
        May overlap.
    inside : Rectangle

    Returns
    -------
    list of Rectangle
    """
    clipped = [c for c in (clip(rectangle, inside) for rectangle in rectangles) if c is not None]
    levels = sorted({z for c in clipped for z in (c.z_min, c.z_max)})
    pieces = []
    for z0, z1 in itertools.pairwise(levels):
        spans = sorted((c.r_min, c.r_max) for c in clipped if c.z_min <= z0 and c.z_max >= z1)
        merged: list[tuple[float, float]] = []
        for r0, r1 in spans:
            if merged and r0 <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(r1, merged[-1][1]))
            else:
                merged.append((r0, r1))
        pieces += [Rectangle(r0, r1, z0, z1) for r0, r1 in merged]
    return pieces


def clip(rectangle: Rectangle, inside: Rectangle) -> Rectangle | None:
    """Part of a rectangle inside another; None if there is none."""
    r0, r1 = max(rectangle.r_min, inside.r_min), min(rectangle.r_max, inside.r_max)
    z0, z1 = max(rectangle.z_min, inside.z_min), min(rectangle.z_max, inside.z_max)
    return Rectangle(r0, r1, z0, z1) if r0 < r1 and z0 < z1 else None


def _arc(disc: Disc, r: float) -> float:
    """Primitive of r sqrt(R^2 - (r - r_c)^2)."""
    R = disc.radius
    u = min(max(r - disc.r, -R), R)
    square = (R - u) * (R + u)  # keeps its digits near the ends, where R^2 - u^2 loses half of them
    half = math.sqrt(square)
    return -(square * half) / 3 + disc.r * (u * half + R**2 * math.atan2(u, half)) / 2
