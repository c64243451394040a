"""Who sees whom round open space: view factors with closed forms, and the sums that must hold in any section."""

import math

import numpy as np
import pytest
from enclosures import MM, touching_tubes, void_in_sand

from annulus.conduction import enclosure as rooms
from annulus.conduction.enclosure import enclose
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.errors import GeometryError
from annulus.shapes import Disc, Rectangle
from annulus.verification.cavities import between_layers, height_of, row_of_tubes, see, view_factor

SECTIONS = {
    "plates": lambda: (between_layers(20 * MM, 0.1, 20), "air"),
    "cylinders": lambda: (between_layers(16.5 * MM, 0.1, 20, 76.5 * MM, "cylindrical"), "air"),
    "row of tubes": lambda: (row_of_tubes(5, 13 * MM, 24), "air"),
    "tubes that touch the flue": lambda: (touching_tubes(), "air"),
    "void in sand": lambda: (void_in_sand(), "void"),
    "void in a ring of sand": lambda: (void_in_sand(coordinates="cylindrical", inner=0.08), "void"),
    "void about the axis": lambda: (void_in_sand(coordinates="cylindrical", inner=0.0), "void"),
}


@pytest.mark.parametrize("name", SECTIONS)
def test_rows_sum_to_areas_and_exchange_is_symmetric(name):
    """To 1e-6 by demand; 1e-9 is met."""
    pieces, air = SECTIONS[name]()
    found = see(pieces, air)
    np.testing.assert_allclose(found.exchange.sum(axis=1), found.area, rtol=1e-9)
    np.testing.assert_allclose(found.exchange, found.exchange.T, rtol=0, atol=1e-12 * found.area.max())
    assert found.exchange.min() >= -1e-9 * found.area.max()


@pytest.mark.parametrize("name", SECTIONS)
def test_patches_cover_every_surface_round_the_air_once(name):
    pieces, air = SECTIONS[name]()
    found = see(pieces, air)
    clear = pieces.region == pieces.region_index(air)
    between = clear[pieces.link_a] != clear[pieces.link_b]
    open_sides = clear[pieces.surface_piece]
    assert found.area.sum() == pytest.approx(
        pieces.links.area[between].sum() + pieces.surfaces.area[open_sides].sum(), rel=1e-12
    )
    assert sorted(found.link[found.link >= 0]) == list(np.flatnonzero(between))
    assert sorted(found.surface[found.surface >= 0]) == list(np.flatnonzero(open_sides))


@pytest.mark.parametrize("ratio", [1.1, 1.5, 2.0])
def test_neighbouring_cylinders_see_each_other_as_crossed_strings_say(ratio):
    pieces = row_of_tubes(5, ratio * 12 * MM, 48)
    found = see(pieces, patch=ratio * 3 * MM)
    exact = (math.sqrt(ratio**2 - 1) + math.asin(1 / ratio) - ratio) / math.pi
    assert view_factor(pieces, found, "tube 2", "tube 3") == pytest.approx(exact, rel=1e-2)
    assert view_factor(pieces, found, "tube 2", "tube 4") < 1e-12  # the third stands between


def test_a_cylinder_inside_another_sees_nothing_else():
    """Long concentric cylinders: inner to outer 1, outer to inner r1/r2, the rest of the outer on itself."""
    pieces = between_layers(16.5 * MM, 4.0, 20, 76.5 * MM, "cylindrical")
    found = see(pieces, patch=0.2)
    assert view_factor(pieces, found, "inside", "outside") == pytest.approx(1.0, abs=5e-3)
    assert view_factor(pieces, found, "outside", "inside") == pytest.approx(76.5 / 93, rel=5e-3)
    assert view_factor(pieces, found, "outside", "outside") == pytest.approx(1 - 76.5 / 93, rel=2e-2)


def test_walls_of_a_square_void_see_each_other_as_crossed_strings_say():
    """Opposite sides of a square channel: sqrt(2) - 1; adjacent ones: 1 - sqrt(2) / 2."""
    pieces = void_in_sand(cells=20)
    painted = [painted for painted in pieces.regions if painted.name != "tube"]
    found = see(cut_grid(pieces.grid, painted), "void", patch=1 * MM)
    assert found.count == 40
    left = np.flatnonzero(_upright(found, pieces.grid, painted, 5 * MM))
    right = np.flatnonzero(_upright(found, pieces.grid, painted, 15 * MM))
    factor = found.exchange[np.ix_(left, right)].sum() / found.area[left].sum()
    assert factor == pytest.approx(math.sqrt(2) - 1, rel=5e-3)
    rest = np.setdiff1d(np.arange(40), np.concatenate([left, right]))
    assert found.exchange[np.ix_(left, rest)].sum() / found.area[left].sum() == pytest.approx(
        2 - math.sqrt(2), rel=5e-3
    )


def _upright(found, grid, painted, r):
    """Patches on a face of constant r."""
    links = cut_grid(grid, painted).links
    on = np.abs(links.r[found.link] - r) < 1e-12
    return np.bincount(found.patch, on, found.count) > 0


def test_finer_patches_see_the_same():
    pieces = touching_tubes()
    coarse, fine = see(pieces, patch=3 * MM, sectors=16), see(pieces, patch=1.5 * MM, sectors=32)
    assert fine.count > 1.7 * coarse.count
    for there in ("shroud", "tube 1", "flue"):
        assert view_factor(pieces, fine, "flue", there) == pytest.approx(
            view_factor(pieces, coarse, "flue", there), rel=2e-2, abs=1e-3
        )


def test_the_flue_does_not_see_itself():
    """A convex wall; the shroud round it sees its own far side."""
    pieces = touching_tubes()
    found = see(pieces)
    assert view_factor(pieces, found, "flue", "flue") == pytest.approx(0.0, abs=1e-9)
    assert view_factor(pieces, found, "shroud", "shroud") > 0.01


def test_two_cavities_do_not_see_each_other():
    painted = [
        Painted("sand", Rectangle(0, 20 * MM, 0, 20 * MM)),
        Painted("left", Rectangle(4 * MM, 8 * MM, 4 * MM, 16 * MM)),
        Painted("right", Rectangle(12 * MM, 16 * MM, 4 * MM, 16 * MM)),
    ]
    pieces = cut_grid(uniform_grid((0, 20 * MM), (0, 20 * MM), (10, 10), "plane"), painted)
    found = enclose(pieces, ["left", "right"], np.linspace(0, 20 * MM, 6), np.linspace(0, 20 * MM, 6), 8)
    z = pieces.links
    first = np.bincount(found.patch, z.r[found.link] < 10 * MM, found.count) > 0
    assert found.exchange[np.ix_(first, ~first)].max() < 1e-15
    np.testing.assert_allclose(found.exchange.sum(axis=1), found.area, rtol=1e-9)


def test_no_air_has_no_enclosure():
    pieces = void_in_sand()
    assert enclose(pieces, [], pieces.grid.r_face, pieces.grid.z_face, 8) is None


def test_a_disc_of_air_is_refused():
    pieces = cut_grid(
        uniform_grid((0, 1), (0, 1), (8, 8), "plane"),
        [Painted("sand", Rectangle(0, 1, 0, 1)), Painted("bubble", Disc(0.5, 0.5, 0.2))],
    )
    with pytest.raises(GeometryError, match=r"'bubble'.*disc of open space"):
        enclose(pieces, ["bubble"], np.linspace(0, 1, 3), np.linspace(0, 1, 3), 8)


def test_rays_that_get_lost_are_an_error(monkeypatch):
    """One ray in a hundred may slip through a corner; here every one does."""
    monkeypatch.setattr(rooms, "cast", lambda points, *rest: np.full((len(points), rooms.RAYS), -1))
    with pytest.raises(GeometryError, match=r"100.0 % of the rays leave the section"):
        see(void_in_sand(), "void")


def test_a_surface_that_sees_nothing_is_an_error():
    with pytest.raises(GeometryError, match="sees nothing"):
        rooms._balance(np.array([[0.0, 0.0], [0.0, 1.0]]), np.ones(2))


def test_balancing_keeps_symmetry_and_reaches_the_lengths():
    rng = np.random.default_rng(4)
    seen = rng.uniform(0.5, 1.0, (6, 6))
    seen = seen + seen.T
    length = rng.uniform(1.0, 2.0, 6)
    balanced = rooms._balance(seen, length)
    np.testing.assert_allclose(balanced.sum(axis=1), length, rtol=1e-12)
    np.testing.assert_allclose(balanced, balanced.T, rtol=0, atol=1e-15)


def test_a_patch_belongs_to_one_open_space():
    """A tube that reaches across the air from side to side parts it; sectors that straddle a side are split."""
    painted = [Painted("air", Rectangle(0, 10 * MM, 0, 30 * MM)), Painted("tube", Disc(5 * MM, 15 * MM, 5 * MM))]
    pieces = cut_grid(uniform_grid((0, 10 * MM), (0, 30 * MM), (20, 60), "plane"), painted)
    found = see(pieces, patch=3 * MM, sectors=7)
    height = height_of(pieces, found)
    lower, upper = height < 15 * MM, height > 15 * MM
    assert found.exchange[np.ix_(lower, upper)].max() == 0.0
    z = np.where(found.link >= 0, pieces.links.z[found.link], pieces.surfaces.z[found.surface])
    for patch in range(found.count):
        mine = z[found.patch == patch] - 15 * MM
        assert (mine > 0).all() or (mine < 0).all()
