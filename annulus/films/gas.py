"""Flue gas of a wood fire: composition, heat capacity, enthalpy, transport, dew point.

Goes in: moisture, excess air, pressure. Comes out: a frozen `FlueGas` whose
laws take kelvin, one number or an array, and answer in SI; or `FlueGases`, the
gases of many fires, whose laws take a row of kelvins for each. Mixture of ideal
gases; viscosity and conductivity are those of dry air, which flue gas meets
within about 5 %, the Prandtl number made of them within about 15 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.errors import InputError
from annulus.films import water
from annulus.films.properties import (
    GAS_CONSTANT,
    REFERENCE_TEMPERATURE,
    Series,
    Values,
    air_conductivity,
    air_viscosity,
    series,
)
from annulus.films.stoichiometry import Products, burn

SPECIES = ("carbon_dioxide", "water_vapour", "nitrogen", "oxygen", "argon")
NEWTON_STEPS = 12  # the enthalpy curve is almost straight; five steps reach round-off
LOWEST, HIGHEST = 250.0, 2000.0  # K, range of the property series


@lru_cache(maxsize=256)
def _mixture(products: Products) -> Series:
    """Heat capacity of the mixture per kilogram, as one series. [J/(kg K)]"""
    shares = [getattr(products, name) / products.mass for name in SPECIES]
    parts = [series(f"{name}_heat_capacity") for name in SPECIES]
    total = np.sum([share * part.coefficients for share, part in zip(shares, parts, strict=True)], axis=0)
    return Series(low=parts[0].low, high=parts[0].high, coefficients=total)


@dataclass(frozen=True, eq=False)
class GasLaws:
    """Laws of flue gas, from 250 to 2000 K (`in_range`); beyond, heat capacity and transport keep their end values.

    Dissociation (above some 1800 K) is left out.

    Attributes
    ----------
    heat : Series
        Heat capacity. [J/(kg K)]
    weight : float or ndarray
        Pressure times mean molar mass. [Pa kg/mol]
    p_co2, p_h2o : float or ndarray
        Partial pressures. [Pa]
    """

    heat: Series = field(init=False, repr=False, compare=False)
    weight: Values = field(init=False, repr=False, compare=False)
    p_co2: Values = field(init=False, repr=False, compare=False)
    p_h2o: Values = field(init=False, repr=False, compare=False)

    def in_range(self, temperature: ArrayLike) -> Values:
        """Whether the laws hold at these temperatures. [K]"""
        return self.heat.in_range(temperature)

    def cp(self, temperature: ArrayLike) -> Values:
        """Heat capacity at constant pressure. [J/(kg K)]"""
        return self.heat(temperature)

    def enthalpy(self, temperature: ArrayLike) -> Values:
        """Enthalpy above 298.15 K, water as vapour; the exact integral of `cp`. [J/kg]"""
        return self.heat.integral(temperature) - self._datum

    @cached_property
    def _datum(self) -> Values:
        return self.heat.integral(REFERENCE_TEMPERATURE)

    def temperature(self, enthalpy: ArrayLike) -> Values:
        """Temperature of a given enthalpy, inverse of `enthalpy` to round-off. [K]"""
        wanted = np.asarray(enthalpy, dtype=float)
        guess = REFERENCE_TEMPERATURE + wanted / 1100.0
        for _ in range(NEWTON_STEPS):
            step = (wanted - self.enthalpy(guess)) / self.cp(guess)
            guess = guess + step
            if np.all(np.abs(step) < 1e-10 * np.abs(guess)):
                break
        return guess

    def viscosity(self, temperature: ArrayLike) -> Values:
        """Dynamic viscosity, of dry air. [Pa s]"""
        return air_viscosity(temperature)

    def conductivity(self, temperature: ArrayLike) -> Values:
        """Thermal conductivity, of dry air. [W/(m K)]"""
        return air_conductivity(temperature)

    def density(self, temperature: ArrayLike) -> Values:
        """Density, ideal gas. [kg/m3]"""
        return self.weight / (GAS_CONSTANT * np.asarray(temperature, dtype=float))

    def prandtl(self, temperature: ArrayLike) -> Values:
        """Prandtl number of the laws above."""
        return self.cp(temperature) * self.viscosity(temperature) / self.conductivity(temperature)


@dataclass(frozen=True)
class FlueGas(GasLaws):
    """Gas of a complete wood fire.

    Parameters
    ----------
    moisture_wet : float
        Water over total mass of the wood, 0 to 0.7.
    excess_air : float
        Air supplied over air needed, 1 or more.
    pressure : float
        Absolute pressure. [Pa]

    Raises
    ------
    InputError
        If a value lies outside its range.
    """

    moisture_wet: float
    excess_air: float
    pressure: float = 101325.0
    products: Products = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if not 0.0 < self.pressure < float("inf"):
            raise InputError(f"gas pressure {self.pressure} Pa must be positive and finite (absolute, not gauge)")
        products = burn(self.moisture_wet, self.excess_air)
        found = {
            "products": products,
            "heat": _mixture(products),
            "weight": self.pressure * products.mass / products.moles,
            "p_co2": self.pressure * products.carbon_dioxide / products.moles,
            "p_h2o": self.pressure * products.water_vapour / products.moles,
        }
        for name, value in found.items():
            object.__setattr__(self, name, value)

    @property
    def molar_mass(self) -> float:
        """Mean molar mass. [kg/mol]"""
        return self.products.mass / self.products.moles

    @property
    def dew_point(self) -> float:
        """Temperature at which water vapour begins to condense; acids condense hotter. [K]"""
        return float(water.dew_point(self.p_h2o))


@dataclass(frozen=True, eq=False)
class FlueGases(GasLaws):
    """Gases of many fires, one a row: columns of shape (n_gases, 1), a series with as many rows."""

    heat: Series
    weight: Values
    p_co2: Values
    p_h2o: Values

    @classmethod
    def gather(cls, gases: Sequence[FlueGas]) -> FlueGases:
        """Many gases in one."""
        series_of = [gas.heat for gas in gases]
        rows = np.stack([one.coefficients for one in series_of])
        numbers = [(gas.weight, gas.p_co2, gas.p_h2o) for gas in gases]
        return cls(Series(series_of[0].low, series_of[0].high, rows), *np.array(numbers).T[:, :, None])

    def take(self, rows: NDArray[np.int64]) -> FlueGases:
        """Some of them."""
        heat = Series(self.heat.low, self.heat.high, self.heat.coefficients[rows])
        return FlueGases(heat, self.weight[rows], self.p_co2[rows], self.p_h2o[rows])
