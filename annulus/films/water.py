"""Liquid water: heat capacity, enthalpy, density, transport, and where it boils.

Goes in: kelvin or pascal, one number or an array. Comes out: SI values of the
same shape. Values are those of the liquid on its saturation line; pressure of
a few bar shifts them by less than 0.1 %. Range 273.16 to 510 K (`in_range`);
outside, end values are held and enthalpy runs on straight.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from annulus.errors import InputError
from annulus.films.properties import Values, series


def specific_heat(temperature: ArrayLike) -> Values:
    """Heat capacity at constant pressure. [J/(kg K)]

    References
    ----------
    IAPWS-IF97 (revised release, 2007), as coded in CoolProp; also density and saturation below.
    """
    return series("water_heat_capacity")(temperature)


def enthalpy(temperature: ArrayLike) -> Values:
    """Enthalpy above the triple point, exact integral of `specific_heat`. [J/kg]"""
    return series("water_heat_capacity").integral(temperature)


def density(temperature: ArrayLike) -> Values:
    """Density. [kg/m3]"""
    return series("water_density")(temperature)


def viscosity(temperature: ArrayLike) -> Values:
    """Dynamic viscosity, IAPWS 2008 as coded in CoolProp. [Pa s]"""
    return series("water_viscosity")(temperature)


def conductivity(temperature: ArrayLike) -> Values:
    """Thermal conductivity, IAPWS as coded in CoolProp. [W/(m K)]"""
    return series("water_conductivity")(temperature)


def prandtl(temperature: ArrayLike) -> Values:
    """Prandtl number of the laws above."""
    return specific_heat(temperature) * viscosity(temperature) / conductivity(temperature)


def in_range(temperature: ArrayLike) -> Values:
    """Whether the laws hold at these temperatures: 273.16 to 510 K."""
    return series("water_heat_capacity").in_range(temperature)


def saturation_temperature(pressure: ArrayLike) -> Values:
    """Boiling temperature at an absolute pressure of 612 Pa to 31 bar. [K]

    Raises
    ------
    InputError
        If a pressure lies outside that range.
    """
    given = np.asarray(pressure, dtype=float)
    law = series("water_saturation_temperature")
    low, high = np.exp(law.low), np.exp(law.high)
    if not np.all((given >= low) & (given <= high)):
        raise InputError(
            f"pressure {given} Pa: liquid water boils only between {low:.0f} Pa and {high:.3g} Pa here;"
            " was gauge pressure given for absolute, or bar for pascal?"
        )
    return law(np.log(given))


def dew_point(pressure: ArrayLike) -> Values:
    """Temperature at which vapour of this partial pressure begins to condense to liquid. [K]

    Vapour thinner than at the triple point (612 Pa) only freezes out, below 0 degC, where no flue wall with
    water behind it is: the triple point is given for it.

    Raises
    ------
    InputError
        If a pressure is above the range of `saturation_temperature`.
    """
    lowest = float(np.exp(series("water_saturation_temperature").low))
    return saturation_temperature(np.maximum(np.asarray(pressure, dtype=float), lowest))


def saturation_pressure(temperature: ArrayLike) -> Values:
    """Absolute pressure at which water of this temperature boils, 273.16 to 510 K. [Pa]

    Raises
    ------
    InputError
        If a temperature lies outside that range.
    """
    law = series("water_saturation_pressure")
    given = np.asarray(temperature, dtype=float)
    if not np.all(law.in_range(given)):
        raise InputError(f"temperature {given} K must lie between {law.low:g} and {law.high:g} K")
    return law(given)
