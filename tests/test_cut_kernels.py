"""Compiled cut kernels beside plain NumPy twins that know nothing of arcs."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from annulus.conduction.discs import MAX_ARCS, arc_surface, arcs_in_cell, overlap_moments

part = st.floats(-1.2, 1.2, allow_subnormal=False)
length = st.floats(0.05, 2.0)


def moments_by_quadrature(a, c, radius, r0, r1, z0, z1):
    """Integrals of 1, x, y, x^2, x y about the cell's middle, by strips of constant r.

    The strip at r holds the chord of the circle cut to the cell; the places
    where the chord meets a corner or the circle ends are breaks. A cosine map
    at each break takes the square roots away.
    """
    breaks = [r0, r1, a - radius, a + radius]
    for z in (z0, z1):
        if abs(z - c) < radius:
            half = math.sqrt(radius**2 - (z - c) ** 2)
            breaks += [a - half, a + half]
    breaks = np.unique(np.clip(breaks, r0, r1))
    node, weight = np.polynomial.legendre.leggauss(60)
    total = np.zeros(5)
    for low, high in pairwise(breaks):
        angle = 0.5 * math.pi * (node + 1)
        r = 0.5 * (low + high) - 0.5 * (high - low) * np.cos(angle)
        w = weight * 0.5 * math.pi * 0.5 * (high - low) * np.sin(angle)
        half = np.sqrt(np.clip(radius**2 - (r - a) ** 2, 0.0, None))
        bottom, top = np.clip([c - half, c + half], z0, z1)
        x, y0 = r - 0.5 * (r0 + r1), 0.5 * (z0 + z1)
        height, tilt = top - bottom, 0.5 * ((top - y0) ** 2 - (bottom - y0) ** 2)
        total += [w @ height, w @ (x * height), w @ tilt, w @ (x * x * height), w @ (x * tilt)]
    return total


def arc_length_by_sampling(a, c, radius, r0, r1, z0, z1, samples=20_000):
    angle = 2 * math.pi * (np.arange(samples) + 0.5) / samples
    r, z = a + radius * np.cos(angle), c + radius * np.sin(angle)
    return 2 * math.pi * radius * ((r > r0) & (r < r1) & (z > z0) & (z < z1)).mean()


def arcs(a, c, radius, r0, r1, z0, z1):
    starts, ends = np.empty(MAX_ARCS), np.empty(MAX_ARCS)
    found = arcs_in_cell(a, c, radius, r0, r1, z0, z1, starts, ends)
    return list(zip(starts[:found], ends[:found], strict=True))


def test_a_quarter_disc_has_its_known_moments():
    """Unit disc at the corner of the unit cell; moments about (1/2, 1/2) written out.

    Area pi/4; integral of r 1/3, of r^2 pi/16, of r z 1/8 (school integrals).
    """
    quarter = math.pi / 4
    middle = 1 / 3 - quarter / 2
    square = math.pi / 16 - 1 / 3 + quarter / 4
    product = 1 / 8 - 1 / 3 + quarter / 4
    found = overlap_moments(0.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0)
    assert found == pytest.approx([quarter, middle, middle, square, product], abs=1e-15)


@given(a=part, c=part, radius=length, width=length, height=length)
@example(a=1.0, c=0.3, radius=1.0, width=1.0, height=1.0)  # touches the side r = 0
@example(a=0.6, c=0.8, radius=1.0, width=2.0, height=2.0)  # through the corner
@example(a=0.5, c=0.5, radius=0.5, width=1.0, height=1.0)  # inscribed
@example(a=0.5, c=0.5, radius=math.sqrt(0.5), width=1.0, height=1.0)  # circumscribed
@example(a=0.5, c=0.5, radius=0.2, width=1.0, height=1.0)  # wholly inside
def test_moments_of_overlap_are_those_of_plain_quadrature(a, c, radius, width, height):
    cell = (0.0, width, 0.0, height)
    found = overlap_moments(a, c, radius, *cell)
    expected = moments_by_quadrature(a, c, radius, *cell)
    size = max(width, height, radius)
    # quadrature with its square roots mapped away is good to some 1e-11 of the largest lengths
    assert np.array(found) == pytest.approx(expected, abs=2e-10 * max(1.0, size**4))


@given(a=part, c=part, radius=length, width=length, height=length)
def test_arcs_in_a_cell_have_the_length_of_the_circle_inside_it(a, c, radius, width, height):
    cell = (0.0, width, 0.0, height)
    found = arcs(a, c, radius, *cell)
    total = sum(end - start for start, end in found) * radius
    # up to eight ends of arcs fall between sampled points
    assert total == pytest.approx(arc_length_by_sampling(a, c, radius, *cell), abs=8 * 2 * math.pi * radius / 20_000)


@given(a=st.floats(1.0, 3.0), c=part, radius=st.floats(0.05, 0.9), start=st.floats(0.0, 6.0), run=st.floats(1e-3, 6.0))
def test_ring_of_an_arc_has_the_area_middle_and_normal_of_fine_sums(a, c, radius, start, run):
    end = start + min(run, 2 * math.pi)
    angle = start + (end - start) * (np.arange(4000) + 0.5) / 4000
    r, z = a + radius * np.cos(angle), c + radius * np.sin(angle)
    weight = 2 * math.pi * r * radius * (end - start) / 4000
    area, mr, mz, nr, nz = arc_surface(a, c, radius, start, end, True)
    assert area == pytest.approx(weight.sum(), rel=1e-6)
    assert (mr, mz) == pytest.approx((np.average(r, weights=weight), np.average(z, weights=weight)), abs=1e-6)
    mean = np.array([weight @ np.cos(angle), weight @ np.sin(angle)])
    assert (nr, nz) == pytest.approx(mean / np.hypot(*mean), abs=1e-5 * area / np.hypot(*mean))


def test_whole_circle_in_a_cell_is_one_arc_and_a_touching_one_none():
    (whole,) = arcs(0.5, 0.5, 0.2, 0.0, 1.0, 0.0, 1.0)
    assert whole[1] - whole[0] == pytest.approx(2 * math.pi)
    assert arcs(-0.5, 0.5, 0.5, 0.0, 1.0, 0.0, 1.0) == []


def test_circle_that_crosses_all_four_sides_leaves_four_arcs():
    """Half-diagonal 0.707 > radius 0.6 > half-side 0.5: an arc at every corner."""
    found = arcs(0.5, 0.5, 0.6, 0.0, 1.0, 0.0, 1.0)
    opening = math.pi / 2 - 2 * math.acos(0.5 / 0.6)
    assert len(found) == 4
    assert [end - start for start, end in found] == pytest.approx([opening] * 4)


def test_a_tube_that_touches_a_side_to_round_off_leaves_no_sliver_behind_it():
    """Regression: a circle of 7.5 mm that meets a face at r = 0.08 m overlapped the cell beyond, without any arc."""
    beyond = overlap_moments(0.0875, 0.015, 0.0075, 0.07925, 0.08, 0.014, 0.015)
    assert beyond[0] == 0.0
    for shift in (0.0, 1e-17, 1e-16, -1e-16):
        halves = [overlap_moments(0.0875 + shift, 0.015, 0.0075, 0.08, 0.1, z, z + 0.015)[0] for z in (0.0, 0.015)]
        assert sum(halves) == pytest.approx(math.pi * 0.0075**2, rel=1e-12)
