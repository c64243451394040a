"""Wood as fuel and the gas it makes."""

import numpy as np
import pytest

from annulus.errors import InputError
from annulus.films import (
    FlueGas,
    dry_from_wet,
    gas_from_wood,
    gas_per_wood,
    lower_heating_value,
    stoichiometric_air,
    wet_from_dry,
)
from annulus.films.properties import air_enthalpy
from annulus.films.stoichiometry import burn

# Computed by hand from C 49.7 H 6.1 O 43.1 N 0.2 ash 0.9 % of dry mass and LHV = 18.5 (1 - w) - 2.443 w:
# w, LHV MJ/kg, air kg/kg, gas at lambda 2 kg/kg, gas g/s per kW at lambda 2
TABLE = [
    (0.10, 16.41, 5.36, 11.7, 0.71),
    (0.15, 15.36, 5.06, 11.1, 0.72),
    (0.20, 14.31, 4.76, 10.5, 0.74),
    (0.25, 13.26, 4.46, 9.9, 0.75),
    (0.30, 12.22, 4.17, 9.3, 0.76),
    (0.40, 10.12, 3.57, 8.1, 0.80),
]


@pytest.mark.parametrize(("moisture", "heat", "air", "gas", "per_kilowatt"), TABLE)
def test_a_kilogram_of_wood_gives_the_tabled_heat_air_and_gas(moisture, heat, air, gas, per_kilowatt):
    # one unit of the last digit: the table rounds, and its air is 0.1 % leaner in argon
    assert lower_heating_value(moisture) / 1e6 == pytest.approx(heat, abs=0.006)
    assert stoichiometric_air(moisture) == pytest.approx(air, abs=0.01)
    assert gas_per_wood(moisture, 2.0) == pytest.approx(gas, abs=0.06)
    flow = gas_per_wood(moisture, 2.0) / lower_heating_value(moisture) * 1e6
    assert flow == pytest.approx(per_kilowatt, abs=0.006)


def test_dry_wood_needs_about_six_kilograms_of_air():
    # a published round 6; 5.95 from the elements
    assert stoichiometric_air(0.0) == pytest.approx(5.95, abs=0.01)


def test_moisture_bases_turn_into_one_another():
    assert wet_from_dry(0.20) == pytest.approx(1 / 6)
    assert dry_from_wet(wet_from_dry(0.35)) == pytest.approx(0.35)


def test_burning_conserves_every_element_and_the_mass():
    moisture, excess = 0.23, 1.7
    products = burn(moisture, excess)
    assert products.mass == pytest.approx(
        1.0 - 0.009 * (1 - moisture) + excess * stoichiometric_air(moisture), rel=1e-12
    )
    assert products.carbon_dioxide * 0.012011 == pytest.approx(0.497 * (1 - moisture))
    # hydrogen of the wood, plus that of its water: 2 x 1.008 / 18.015
    hydrogen = 0.061 * (1 - moisture) + moisture * 2 * 1.008 / 18.015
    assert products.water_vapour * 2 * 0.001008 == pytest.approx(hydrogen)


def test_gas_from_wood_closes_the_heat_balance():
    fire = gas_from_wood(3.0 / 3600, 0.18, 2.2, loss=0.55, air_temperature=278.15)
    air = 3.0 / 3600 * 2.2 * stoichiometric_air(0.18)
    brought = 0.45 * fire.fired_power + air * float(air_enthalpy(278.15))
    assert fire.mass_flow * float(fire.gas.enthalpy(fire.temperature)) == pytest.approx(brought, rel=1e-12)


def test_bath_house_burn_rate_gives_its_power_and_gas_flow():
    # by hand: 3.0 kg/h of birch at w = 0.18, lambda 2.2 -> 12.3 kW, 9.8 g/s
    fire = gas_from_wood(3.0 / 3600, 0.18, 2.2, loss=0.5)
    assert fire.fired_power == pytest.approx(12300, abs=50)
    assert fire.mass_flow == pytest.approx(9.8e-3, abs=0.05e-3)


def test_more_loss_and_more_air_both_make_cooler_gas():
    base = gas_from_wood(1e-3, 0.18, 2.2, 0.3).temperature
    assert gas_from_wood(1e-3, 0.18, 2.2, 0.4).temperature < base
    assert gas_from_wood(1e-3, 0.18, 3.0, 0.3).temperature < base


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ((1e-3, 18.0, 2.2, 0.3), "percentage"),
        ((1e-3, 0.18, 0.8, 0.3), "excess air"),
        ((1e-3, 0.18, 2.2, 1.0), "loss before the coil"),
        ((0.0, 0.18, 2.2, 0.3), "wood rate"),
        ((1e-3, 0.0, 1.0, 0.0), "too small"),
        ((1e-3, 0.18, 2.2, 0.3, 5.0), "combustion air"),
    ],
)
def test_an_impossible_fire_is_refused_with_its_reason(arguments, word):
    with pytest.raises(InputError, match=word):
        gas_from_wood(*arguments)


def test_a_negative_meter_reading_is_refused():
    with pytest.raises(InputError, match="negative"):
        wet_from_dry(-0.1)
    with pytest.raises(InputError, match="nan"):
        wet_from_dry(float("nan"))


def test_gas_temperature_is_the_inverse_of_its_enthalpy():
    gas = FlueGas(0.2, 1.8)
    places = np.linspace(255.0, 1990.0, 40)
    assert gas.temperature(gas.enthalpy(places)) == pytest.approx(places, rel=1e-12)
    assert float(gas.temperature(0.0)) == pytest.approx(298.15, rel=1e-14)
