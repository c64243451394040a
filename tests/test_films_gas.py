"""Flue gas: composition, heat capacity, dew point."""

import dataclasses

import numpy as np
import pytest

from annulus.errors import InputError
from annulus.films import FlueGas

# Computed with an open library for w = 0.2, lambda 2: degC, J/(kg K)
HEAT_CAPACITY = [(100, 1061), (200, 1085), (300, 1113), (400, 1143), (500, 1172), (600, 1200)]

# By hand, dry combustion air: w, water dew point degC at lambda 1.5 / 2 / 3
DEW_POINTS = [
    (0.10, (47, 42, 35)),
    (0.15, (49, 44, 37)),
    (0.20, (51, 46, 38)),
    (0.25, (52, 47, 40)),
    (0.30, (54, 49, 42)),
    (0.40, (58, 53, 46)),
]


@pytest.mark.parametrize(("celsius", "expected"), HEAT_CAPACITY)
def test_heat_capacity_meets_the_table(celsius, expected):
    # 0.4 %: the table's air has no argon, which is light on heat capacity
    assert float(FlueGas(0.2, 2.0).cp(celsius + 273.15)) == pytest.approx(expected, rel=4e-3)


@pytest.mark.parametrize(("moisture", "expected"), DEW_POINTS)
def test_dew_point_meets_the_table(moisture, expected):
    computed = [FlueGas(moisture, excess).dew_point - 273.15 for excess in (1.5, 2.0, 3.0)]
    assert computed == pytest.approx(expected, abs=0.6)  # table in whole degrees


def test_gas_too_thin_to_wet_a_wall_has_the_dew_point_of_freezing_and_no_refusal():
    """The last charcoal in much air, on a mountain: less vapour than over ice at 0 degC (612 Pa)."""
    thin = FlueGas(0.0, 60.0, pressure=79e3)
    assert thin.p_h2o < 600.0
    assert thin.dew_point == pytest.approx(273.16, abs=0.01)


def test_dry_gas_shows_the_carbon_dioxide_and_oxygen_of_its_excess_air():
    # by hand: CO2 20.3 % / lambda of the dry gas; O2 7.0 / 10.5 / 12.6 / 14.0 %
    for excess, oxygen in ((1.5, 7.0), (2.0, 10.5), (2.5, 12.6), (3.0, 14.0)):
        products = FlueGas(0.2, excess).products
        dry = products.moles - products.water_vapour
        assert 100 * products.carbon_dioxide / dry == pytest.approx(20.3 / excess, abs=0.06)
        assert 100 * products.oxygen / dry == pytest.approx(oxygen, abs=0.06)


def test_molar_mass_and_density_are_those_of_the_mixture():
    gas = FlueGas(0.2, 2.0)
    assert gas.molar_mass == pytest.approx(0.0290, abs=5e-5)
    # ideal gas by hand: 101325 x 0.02898 / (8.3145 x 500)
    assert float(gas.density(500.0)) == pytest.approx(0.7063, rel=1e-3)
    assert float(FlueGas(0.2, 2.0, 90e3).density(500.0)) == pytest.approx(0.7063 * 90 / 101.325, rel=1e-3)


def test_enthalpy_is_the_integral_of_heat_capacity():
    gas = FlueGas(0.18, 2.2)
    nodes, weights = np.polynomial.legendre.leggauss(40)
    places = 0.5 * (1400.0 + 300.0) + 0.5 * (1400.0 - 300.0) * nodes
    quadrature = 0.5 * (1400.0 - 300.0) * np.sum(weights * gas.cp(places))
    assert gas.enthalpy(1400.0) - gas.enthalpy(300.0) == pytest.approx(quadrature, rel=1e-12)


def test_much_excess_air_turns_the_gas_into_air():
    from annulus.films.properties import air_heat_capacity

    thin = FlueGas(0.2, 1e5)
    assert float(thin.cp(700.0)) == pytest.approx(float(air_heat_capacity(700.0)), rel=1e-3)


def test_prandtl_number_is_that_of_a_gas():
    # air 0.70-0.73; the vapour lifts the heat capacity by up to a tenth, the transport stays that of air
    number = FlueGas(0.2, 2.0).prandtl(np.linspace(300, 1200, 10))
    assert number.min() > 0.70 and number.max() < 0.82


def test_range_of_the_laws_is_told():
    assert list(FlueGas(0.2, 2.0).in_range([249.0, 251.0, 1999.0, 2001.0])) == [False, True, True, False]


def test_gas_is_frozen_and_equal_by_value():
    gas = FlueGas(0.2, 2.0)
    assert gas == FlueGas(0.2, 2.0) and hash(gas) == hash(FlueGas(0.2, 2.0))
    with pytest.raises(dataclasses.FrozenInstanceError):
        gas.pressure = 1e5


def test_impossible_gas_is_refused_with_all_faults():
    with pytest.raises(InputError, match=r"moisture 18.*excess air 0\.5"):
        FlueGas(18, 0.5)
    with pytest.raises(InputError, match="absolute"):
        FlueGas(0.2, 2.0, 0.0)
