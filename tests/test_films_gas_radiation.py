"""Gas radiation: limits, smoothness, soot."""

import numpy as np
import pytest

from annulus.films import FlueGas
from annulus.films.gas_radiation import (
    COLDEST,
    emissivity_carbon_dioxide,
    emissivity_water,
    gas_absorptivity,
    gas_emissivity,
    overlap,
    radiative_coefficient,
    radiative_flux,
)
from annulus.films.properties import STEFAN_BOLTZMANN

GAS = FlueGas(0.2, 2.0)


def test_equal_temperatures_exchange_nothing():
    for temperature in (300.0, 450.0, 473.15, 490.0, 800.0):
        black = STEFAN_BOLTZMANN * temperature**4
        flux = radiative_flux(GAS, 0.15, temperature, temperature, 0.95, 0.05)
        assert abs(float(flux)) < 1e-13 * black


def test_absorptivity_equals_emissivity_at_equal_temperatures():
    places = np.linspace(280.0, 1500.0, 20)
    assert gas_absorptivity(places, places, 1.7, 1.3) == pytest.approx(gas_emissivity(places, 1.7, 1.3))


def test_coefficient_times_difference_is_the_flux():
    hot, wall = np.array([350.0, 700.0, 400.0]), np.array([330.0, 340.0, 450.0])
    flux = radiative_flux(GAS, 0.15, hot, wall, 0.95)
    assert radiative_coefficient(GAS, 0.15, hot, wall, 0.95) * (hot - wall) == pytest.approx(flux, rel=1e-12)


@pytest.mark.parametrize("wall", [330.0, 420.0, 480.0, 700.0])
def test_coefficient_has_a_limit_where_gas_meets_wall(wall):
    # derivative of the flux by a wide central difference, against the value at zero difference
    step = 1.0
    slope = (
        radiative_flux(GAS, 0.15, wall + step, wall, 0.95) - radiative_flux(GAS, 0.15, wall - step, wall, 0.95)
    ) / (2 * step)
    assert float(radiative_coefficient(GAS, 0.15, wall, wall, 0.95)) == pytest.approx(float(slope), rel=1e-4)


@pytest.mark.parametrize("wall", [330.0, 480.0])
def test_coefficient_runs_smoothly_through_equal_temperatures(wall):
    difference = np.linspace(-2.0, 2.0, 401)
    curve = radiative_coefficient(GAS, 0.15, wall + difference, wall, 0.95)
    steps = np.diff(curve)
    # a smooth curve of 4 K is straight within a hundredth of its slope; a jump or a pole is not
    assert steps == pytest.approx(np.full(steps.size, steps.mean()), rel=2e-2)
    assert np.all(curve > 0)


def test_holding_the_fit_below_its_range_leaves_no_kink():
    places = np.linspace(COLDEST - 60.0, COLDEST + 60.0, 1201)
    slope = np.gradient(gas_emissivity(places, 1.7, 1.3), places)
    # a corner would jump by the slope of the fit, about 1e-4 per kelvin, within one 0.1 K step
    assert np.max(np.abs(np.diff(slope))) < 2e-6
    assert gas_emissivity(300.0, 1.7, 1.3) == gas_emissivity(420.0, 1.7, 1.3)


def test_black_soot_makes_the_gas_black():
    hot, wall = 900.0, 400.0
    expected = 0.5 * (1 + 0.9) * STEFAN_BOLTZMANN * (hot**4 - wall**4)
    assert float(radiative_flux(GAS, 0.15, hot, wall, 0.9, 1.0)) == pytest.approx(expected, rel=1e-12)


def test_soot_adds_as_one_more_grey_layer():
    hot, wall = 900.0, 400.0
    clear = float(radiative_flux(GAS, 0.15, hot, wall, 1.0))
    black = STEFAN_BOLTZMANN * (hot**4 - wall**4)
    # q(f) = (1 - f) q_clear + f q_black follows from 1 - (1 - e)(1 - f)
    assert float(radiative_flux(GAS, 0.15, hot, wall, 1.0, 0.1)) == pytest.approx(0.9 * clear + 0.1 * black)


def test_gas_without_either_species_neither_emits_nor_absorbs():
    assert float(emissivity_water(900.0, 0.0)) < 1e-5
    assert float(emissivity_carbon_dioxide(900.0, 0.0)) < 1e-8
    assert float(overlap(0.0, 0.0)) == 0.0


def test_overlap_vanishes_for_thin_gas_and_grows_without_a_jump():
    assert float(overlap(0.5, 0.49)) == 0.0
    assert 0.0 < float(overlap(0.52, 0.5)) < 1e-5


def test_wider_pipe_and_hotter_gas_radiate_more():
    wide = [float(radiative_coefficient(GAS, d, 700.0, 393.0, 0.95)) for d in (0.1, 0.125, 0.15, 0.2)]
    hot = [float(radiative_coefficient(GAS, 0.15, t, 393.0, 0.95)) for t in (500.0, 600.0, 700.0, 900.0)]
    assert wide == sorted(wide) and hot == sorted(hot)
