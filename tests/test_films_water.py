"""Liquid water properties and boiling."""

import numpy as np
import pytest

from annulus.errors import InputError
from annulus.films import water

# Computed with an open library at 1 atm: degC, rho, mu 1e-6, k, Pr
TABLE = np.array(
    [
        [10, 999.7, 1306, 0.579, 9.47],
        [20, 998.2, 1002, 0.598, 7.01],
        [40, 992.2, 653, 0.629, 4.34],
        [60, 983.2, 466, 0.651, 3.00],
        [80, 971.8, 354, 0.667, 2.23],
        [90, 965.3, 314, 0.673, 1.96],
    ]
)


def test_properties_meet_the_table():
    kelvin = TABLE[:, 0] + 273.15
    assert water.density(kelvin) == pytest.approx(TABLE[:, 1], abs=0.1)
    assert water.viscosity(kelvin) * 1e6 == pytest.approx(TABLE[:, 2], abs=0.6)
    assert water.conductivity(kelvin) == pytest.approx(TABLE[:, 3], rel=4e-3)  # two IAPWS editions
    assert water.prandtl(kelvin) == pytest.approx(TABLE[:, 4], rel=5e-3)


def test_enthalpy_meets_the_saturation_table():
    # IAPWS-IF97 saturated liquid, from memory: h'(373.15 K) = 419.10 kJ/kg; along the saturation line dh differs from
    # cp dT by v dp, 0.1 kJ/kg here
    assert float(water.enthalpy(373.15)) == pytest.approx(419.10e3, abs=200.0)
    assert float(water.enthalpy(273.16)) == pytest.approx(0.0, abs=1e-6)


def test_enthalpy_rises_by_the_heat_capacity():
    places = np.array([280.0, 320.0, 360.0])
    slope = (water.enthalpy(places + 1e-3) - water.enthalpy(places - 1e-3)) / 2e-3
    assert slope == pytest.approx(water.specific_heat(places), rel=1e-8)


def test_saturation_temperature_and_pressure_are_inverse():
    kelvin = np.linspace(275.0, 509.0, 30)
    assert water.saturation_temperature(water.saturation_pressure(kelvin)) == pytest.approx(kelvin, abs=1e-5)


def test_range_is_told():
    assert list(water.in_range([270.0, 280.0, 509.0, 520.0])) == [False, True, True, False]


@pytest.mark.parametrize("pressure", [1.0, 2.0e7, float("nan")])
def test_a_pressure_without_boiling_point_is_refused(pressure):
    with pytest.raises(InputError, match="absolute"):
        water.saturation_temperature(pressure)


def test_a_temperature_without_boiling_pressure_is_refused():
    with pytest.raises(InputError, match=r"273\.16"):
        water.saturation_pressure(np.array([300.0, 260.0]))
