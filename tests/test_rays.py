"""Rays in a plane section, against hand arithmetic and a plain search through all shapes."""

import math

import numpy as np
import pytest

from annulus.conduction.rays import GOLDEN, START_OFF, cast

LOWER, UPPER, SIDE, DISC_EAST, DISC_WEST = range(5)


def scene(discs=()):
    """Unit square's floor, ceiling and right side (the left side is open), and discs of two halves."""
    segments = np.array([(1.0, 0.0, 0.0, 1.0), (1.0, 1.0, 0.0, 1.0), (0.0, 1.0, 0.0, 1.0)])
    discs = np.array(discs, dtype=float).reshape(-1, 3)
    n = len(discs)
    half = np.tile([0.0, math.pi], n)
    patch = 3 + np.arange(2 * n)
    return segments, np.arange(3), discs, 2 * np.arange(n + 1), half, patch


def see(point, normal, rays, discs=()):
    return cast(np.array([point]), np.array([normal]), *scene(discs), rays, 1.0)[0]


def plainly(point, normal, rays, number, segments, segment_patch, discs, arc_first, arc_start, arc_patch):
    """The same by solving for every meeting point and taking the nearest."""
    found = []
    start = np.add(point, START_OFF * np.array(normal))
    for k in range(rays):
        sine = -1 + 2 * (k + (number * GOLDEN) % 1) / rays
        way = math.sqrt(1 - sine**2) * np.array(normal) + sine * np.array([-normal[1], normal[0]])
        meetings = []
        for (axis, position, low, high), patch in zip(segments, segment_patch, strict=True):
            a = int(axis)
            if way[a] == 0:
                continue
            t = (position - start[a]) / way[a]
            if t > 0 and low <= (start + t * way)[1 - a] <= high:
                meetings.append((t, patch))
        for d, (r, z, radius) in enumerate(discs):
            for t in np.roots([1.0, 2 * way @ (start - (r, z)), (start - (r, z)) @ (start - (r, z)) - radius**2]):
                if abs(t.imag) < 1e-12 and t.real > 0:
                    x, y = start + t.real * way - (r, z)
                    mine = slice(arc_first[d], arc_first[d + 1])
                    behind = (math.atan2(y, x) - arc_start[mine]) % (2 * math.pi)
                    meetings.append((t.real, arc_patch[mine][np.argmin(behind)]))
        found.append(min(meetings)[1] if meetings else -1)
    return np.array(found)


def test_half_the_rays_from_the_middle_of_a_floor_reach_a_ceiling_as_lambert_says():
    """By hand: the ceiling is seen up to sin = 0.5 / sqrt(1.25) each way; the right side takes the rest on its side."""
    hits = see((0.5, 0.0), (0.0, 1.0), 1000)
    assert (hits == UPPER).mean() == pytest.approx(0.5 / math.sqrt(1.25), abs=2e-3)
    assert (hits == SIDE).mean() == pytest.approx(0.5 - 0.25 / math.sqrt(1.25), abs=2e-3)
    assert (hits == -1).mean() == pytest.approx(0.5 - 0.25 / math.sqrt(1.25), abs=2e-3)
    assert not (hits == LOWER).any()


def test_a_ray_finds_the_near_side_of_a_disc_and_not_what_lies_behind():
    hits = see((0.5, 0.0), (0.0, 1.0), 1001, [(0.5, 0.5, 0.3)])
    # tangents from the point: sin = 0.3 / 0.5
    assert np.isin(hits, [DISC_EAST, DISC_WEST]).mean() == pytest.approx(0.6, abs=2e-3)
    # all meet the lower half, whose arc begins at pi
    assert not (hits == DISC_EAST).any()


def test_rays_leave_a_disc_without_meeting_it():
    hits = see((0.8, 0.5), (1.0, 0.0), 500, [(0.5, 0.5, 0.3)])
    assert not np.isin(hits, [DISC_EAST, DISC_WEST]).any()
    assert (hits == SIDE).mean() > 0.8


def test_offsets_differ_from_point_to_point():
    points = np.tile([0.2, 0.0], (2, 1))
    hits = cast(points, np.tile([0.0, 1.0], (2, 1)), *scene(), 7, 1.0)
    assert (hits[0] != hits[1]).any()


@pytest.mark.parametrize("seed", range(20))
def test_rays_meet_what_a_plain_search_finds(seed):
    rng = np.random.default_rng(seed)
    discs = [(x, y, rng.uniform(0.02, 0.12)) for x in (0.25, 0.75) for y in rng.uniform(0.15, 0.85, 1)]
    points = np.stack([rng.uniform(0.01, 0.99, 6), np.zeros(6)], axis=1)
    normals = np.tile([0.0, 1.0], (6, 1))
    whole = scene(discs)
    hits = cast(points, normals, *whole, 50, 1.0)
    for number, (point, row) in enumerate(zip(points, hits, strict=True)):
        assert (row == plainly(point, (0.0, 1.0), 50, number, *whole)).all()
