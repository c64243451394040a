"""Faces of a grid: fixed places, grading, refinement, refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from annulus.conduction.grid import Grid, graded_faces, uniform_grid
from annulus.errors import GeometryError


def constant(size):
    return lambda x: np.full(x.shape, size)


def test_even_cells_fill_a_hand_sized_interval():
    """From 0 to 1 in steps of at most 0.3, with a face at 0.5: two cells of 0.25 on either side."""
    assert graded_faces([0.0, 0.5, 1.0], constant(0.3)) == pytest.approx([0.0, 0.25, 0.5, 0.75, 1.0])


def test_cells_that_grow_with_distance_grow_geometrically():
    """Size x/2 from 1 to 8: the integral of 2 dx / x is 2 ln 8 = 4.16, so 5 cells, each 8^(1/5) times the last."""
    faces = graded_faces([1.0, 8.0], lambda x: 0.5 * x)
    assert faces.size == 6
    # linear interpolation between 400 samples of a curved integral: 1e-3 at the wide end
    assert faces == pytest.approx(8.0 ** (np.arange(6) / 5), rel=1e-3)


@given(
    ends=st.lists(st.floats(0.0, 1.0), min_size=2, max_size=6, unique_by=lambda x: round(x, 3)),
    size=st.floats(0.01, 0.5),
    growth=st.floats(0.0, 0.5),
)
def test_every_fixed_place_is_a_face_and_no_cell_exceeds_the_wish(ends, size, growth):
    def wished(x):
        return size + growth * x

    faces = graded_faces(ends, wished)
    assert np.all(np.diff(faces) > 0)
    assert set(ends) <= set(faces)
    # the wish is met on average over a cell; a linear size differs from its mean by a few percent at most
    assert np.all(np.diff(faces) <= wished(faces[1:]) * (1 + 1e-3))


@given(fineness=st.integers(2, 4), size=st.floats(0.02, 0.3))
def test_finer_faces_hold_all_coarser_ones(fineness, size):
    def wished(x):
        return size * (1 + x)

    coarse, fine = graded_faces([0.0, 0.3, 1.0], wished), graded_faces([0.0, 0.3, 1.0], wished, fineness)
    assert fine[::fineness] == pytest.approx(coarse, abs=1e-14)


def test_mirrored_wish_gives_mirrored_faces():
    def wished(x):
        return 0.02 + 0.1 * np.abs(x - 0.5)

    faces = graded_faces([0.0, 0.5, 1.0], wished)
    assert 1 - faces[::-1] == pytest.approx(faces, abs=1e-12)


def test_uniform_grid_counts_cells_and_knows_its_coordinates():
    grid = uniform_grid((1.0, 2.0), (0.0, 3.0), (4, 6), "plane")
    assert grid.shape == (4, 6)
    assert not grid.is_cylindrical
    assert np.diff(grid.r_face) == pytest.approx(0.25)
    assert np.diff(grid.z_face) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("r_face", "z_face", "coordinates", "reason"),
    [
        ([0.0, 1.0, 1.0], [0.0, 1.0], "plane", "r_face"),
        ([0.0, 1.0], [0.0], "plane", "z_face"),
        ([0.0, float("nan")], [0.0, 1.0], "plane", "r_face"),
        ([-0.1, 1.0], [0.0, 1.0], "cylindrical", "inside the axis"),
        ([0.0, 1.0], [0.0, 1.0], "spherical", "spherical"),
    ],
)
def test_impossible_faces_are_refused_with_their_reason(r_face, z_face, coordinates, reason):
    with pytest.raises(GeometryError, match=reason):
        Grid(np.array(r_face), np.array(z_face), coordinates)


def test_one_fixed_face_is_not_enough():
    with pytest.raises(GeometryError, match="two different fixed faces"):
        graded_faces([0.5, 0.5], constant(0.1))
