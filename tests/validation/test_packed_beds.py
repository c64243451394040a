"""Packed beds against published numbers and against the model recomputed by others.

"Fact sheet" is the project's own collection; its numbers, and those of V27 in
`annulus verify`, were computed independently of this code from the published
equations: P. Zehner, E. U. Schluender, Chem. Ing. Tech. 42 (1970) 933 and
R. Bauer, E. U. Schluender, Int. Chem. Eng. 18 (1978) 181.
"""

import math

import pytest

from annulus.materials import bed_conductivity, conductivity_bounds, find
from annulus.materials.bed import relative_conductivity
from annulus.verification.laws import BEDS

IN_AIR = ("glass in air", "quartz sand in air", "steel shot in air")


@pytest.mark.parametrize("name", IN_AIR)
def test_published_beds_in_air_lie_between_the_bounds(name):
    fluid, solid, porosity, _ = BEDS[name]
    low, high = conductivity_bounds(solid, fluid, porosity)
    assert low < fluid * relative_conductivity(solid / fluid, porosity) < high


def test_model_falls_just_below_the_bound_where_grain_and_fluid_are_alike():
    """V27, glass in water: the published model itself gives 0.8728 where no mixture can be under 0.8804."""
    low, _ = conductivity_bounds(1.1, 0.6, 0.38)
    assert low == pytest.approx(0.8804020, rel=1e-6)  # 0.6 * 2.92 / 1.99 by hand
    assert 0.99 * low < 0.6 * relative_conductivity(1.1 / 0.6, 0.38) < low


# Fact sheet 2.1: no contact, no radiation, k_G = 1, Cf = 1.25; printed to four decimals.
@pytest.mark.parametrize(
    "kp, porosity, expected",
    [
        (10, 0.40, 3.6427),
        (40, 0.40, 6.5536),
        (100, 0.40, 8.8870),
        (1000, 0.40, 15.4675),
        (100, 0.36, 10.2331),
        (100, 0.45, 7.4697),
        (100, 0.50, 6.2831),
        (100, 0.60, 4.4215),
    ],
)
def test_relative_conductivity_meets_the_tabulated_values(kp, porosity, expected):
    assert relative_conductivity(kp, porosity) == pytest.approx(expected, abs=0.6e-4)


@pytest.mark.parametrize("kp, expected", [(10, 4.4117), (40, 8.1696), (100, 11.1820), (1000, 19.6774)])
def test_core_of_the_cell_meets_the_tabulated_values(kp, expected):
    """Fact sheet 2.1, k_c at e = 0.40; the core follows from the bed because k_G = 1 and k_r = 0."""
    share = math.sqrt(0.6)
    core = (relative_conductivity(kp, 0.40) - (1.0 - share)) / share
    assert core == pytest.approx(expected, abs=0.6e-4)


def test_full_model_with_radiation_and_contact_meets_the_worked_bed():
    """Fact sheet 2.1: k_s 4.56, k_f 0.0456, e 0.40, 3 mm, 600 K, E 0.8, phi 0.0077, k_G = 1."""
    bed = bed_conductivity(600.0, 4.56, 0.0456, 0.40, 3e-3, 0.8, flattening=0.0077, accommodation=None)
    assert bed == pytest.approx(0.53571, abs=0.6e-5)
    assert bed / 0.0456 == pytest.approx(11.7480, abs=0.6e-4)


def test_glass_beads_lie_where_they_were_measured():
    """Fact sheet 2.1, from memory there: 1 mm beads, e 0.39, air at 300 K, measured 0.17-0.21 W/mK."""
    bed = bed_conductivity(300.0, 1.1, 0.026, 0.39, 1e-3, 0.9)
    assert 0.17 < bed < 0.21


# Fact sheet 1.4, computed there with the same model and its author's choice of grains: at 30 and 230 degC.
@pytest.mark.parametrize("packing, cold, warm", [("loose", 0.25, 0.30), ("vibrated", 0.33, 0.38)])
def test_library_sand_meets_the_listed_beds(packing, cold, warm):
    law = find("quartz sand", packing).conductivity
    assert law(303.15) == pytest.approx(cold, rel=0.03)  # the list is rounded to 2-4 %
    assert law(503.15) == pytest.approx(warm, rel=0.05)
