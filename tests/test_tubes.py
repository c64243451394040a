"""Named tube sizes: rows, spellings, and the question that an ambiguous size gets."""

import math

import pytest

from annulus.errors import MaterialError
from annulus.materials import least_bend_radius, stock_coil, tube_names, tube_size, tubes

# EN 1057 (R220), ASTM B88 type L and ASTM B280, as quoted in the project's fact sheet, section 1.3
# (from memory there; outer diameters of B88 seen in public text).
ROWS = {
    "EN 1057 10 x 1": (10e-3, 1e-3),
    "EN 1057 10 x 0.8": (10e-3, 0.8e-3),
    "EN 1057 12 x 1": (12e-3, 1e-3),
    "EN 1057 15 x 1": (15e-3, 1e-3),
    "EN 1057 18 x 1": (18e-3, 1e-3),
    "EN 1057 22 x 1": (22e-3, 1e-3),
    "ASTM B88 L 1/4": (9.525e-3, 0.762e-3),
    "ASTM B88 L 3/8": (12.70e-3, 0.889e-3),
    "ASTM B88 L 1/2": (15.875e-3, 1.016e-3),
    "ASTM B88 L 5/8": (19.05e-3, 1.0668e-3),
    "ASTM B88 L 3/4": (22.225e-3, 1.143e-3),
    "ASTM B88 L 1": (28.575e-3, 1.27e-3),
    "ASTM B280 3/8": (9.525e-3, 0.8128e-3),
    "ASTM B280 1/2": (12.70e-3, 0.8128e-3),
    "ASTM B280 5/8": (15.875e-3, 0.889e-3),
    "ASTM B280 3/4 x 0.035": (19.05e-3, 0.889e-3),
    "ASTM B280 3/4 x 0.042": (19.05e-3, 1.0668e-3),
    "ASTM B280 7/8": (22.225e-3, 1.143e-3),
}


@pytest.mark.parametrize("name", ROWS)
def test_named_size_has_the_listed_diameter_and_wall(name):
    assert tube_size(name) == pytest.approx(ROWS[name], rel=1e-12)


def test_every_listed_size_is_checked_here():
    assert tube_names() == list(ROWS)


@pytest.mark.parametrize("tube", tubes(), ids=lambda tube: tube.name)
def test_listed_tube_is_a_tube_a_builder_can_wind(tube):
    assert 5e-3 < tube.outer_diameter < 30e-3
    assert 0.5e-3 < tube.wall < 2e-3
    assert tube.source and tube.mark in ("P+", "P", "C", "calc")


# Fact sheet 1.3: water held by a metre of tube, litres.
@pytest.mark.parametrize(
    "size, litres",
    [("10 x 1", 0.050), ("12 x 1", 0.079), ("15 x 1", 0.133), ("18 x 1", 0.201), ("22 x 1", 0.314)],
)
def test_metric_bore_holds_the_listed_water(size, litres):
    outer, wall = tube_size(f"EN 1057 {size}")
    assert 1000.0 * math.pi / 4.0 * (outer - 2.0 * wall) ** 2 == pytest.approx(litres, abs=0.0006)


def test_nominal_water_tube_is_an_eighth_of_an_inch_wider_than_its_name():
    for tube in tubes():
        if tube.standard == "ASTM B88 L":
            above, _, below = tube.size.partition("/")
            nominal = int(above) / int(below or 1)
            assert tube.outer_diameter == pytest.approx((nominal + 0.125) * 0.0254, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    ["EN 1057 15x1", "en1057 15 x 1", "EN 1057 15 × 1 mm", "EN 1057  15", "EN 1057 15 mm", " EN 1057 15 x 1 "],
)
def test_spelling_of_a_size_does_not_matter(text):
    assert tube_size(text) == (0.015, 0.001)


@pytest.mark.parametrize("text", ["1/2 in", "1/2", '1/2"', "1/2 inch"])
def test_bare_half_inch_is_asked_which_standard(text):
    with pytest.raises(MaterialError, match="which standard") as caught:
        tube_size(text)
    assert "'ASTM B88 L 1/2'" in str(caught.value)
    assert "'ASTM B280 1/2'" in str(caught.value)


def test_bare_metric_size_is_offered_its_standard():
    with pytest.raises(MaterialError, match="'EN 1057 15 x 1'"):
        tube_size("15 x 1")


@pytest.mark.parametrize("text, choices", [("EN 1057 10", 2), ("ASTM B280 3/4", 2)])
def test_size_with_several_walls_is_asked_which(text, choices):
    with pytest.raises(MaterialError, match="several walls") as caught:
        tube_size(text)
    assert str(caught.value).count(text) == 1 + choices


def test_unlisted_size_names_the_nearest():
    with pytest.raises(MaterialError, match="'EN 1057 15 x 1'"):
        tube_size("EN 1057 16 x 1")


@pytest.mark.parametrize("text", ["", "half inch copper", "ASTM B88 1/2", "EN 1057", "EN 10577 15 x 1"])
def test_what_is_no_listed_size_is_refused(text):
    with pytest.raises(MaterialError, match=r"tube_outer_diameter"):
        tube_size(text)


@pytest.mark.parametrize(
    "length, tube, sold",
    [
        (24.9, "EN 1057 15 x 1", "25 m"),
        (25.1, None, "50 m"),
        (18.0, "ASTM B280 3/8", "60 ft"),  # 59 ft
        (18.9, "astm b88 l 1/2", "100 ft"),  # 62 ft
        (31.0, "ASTM B280 3/8", None),  # 101.7 ft
    ],
)
def test_a_coil_is_sold_in_the_lengths_of_its_standard(length, tube, sold):
    assert stock_coil(length, tube) == sold


def test_bend_radius_by_hand():
    """Common practice, no source: 3-4 outer diameters for small tube, 6 at 22 mm."""
    assert least_bend_radius(0.015) == pytest.approx(0.060)
    assert least_bend_radius(0.022) == pytest.approx(0.132)
