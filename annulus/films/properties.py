"""Fluid properties as quick, smooth series: species of flue gas, dry air.

Goes in: kelvin (one number or an array). Comes out: SI values of the same
shape. The coefficients lie in property_series.toml, fitted to CoolProp by
`fit_properties`; nothing heavy but the compiler is imported here.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files
from typing import Any

import numpy as np
from numba import njit
from numpy.polynomial.chebyshev import chebint
from numpy.typing import ArrayLike, NDArray

GAS_CONSTANT = 8.314462618  # J/(mol K), exact in the SI of 2019
GRAVITY = 9.80665  # m/s2, standard
STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), from the SI of 2019
REFERENCE_TEMPERATURE = 298.15  # K, where gas enthalpies are zero
MOLAR_MASS_AIR = 0.0289655  # kg/mol, dry air

BLOCK = 64  # places of a series summed side by side: they stay in the fastest cache

Values = Any  # a float for a float, an ndarray for an array


@njit(cache=True)
def _sum(place, low, high, coefficients):
    """Chebyshev series on [low, high] at each place, held beyond the ends, by Clenshaw's recurrence.

    Places and coefficients come by rows, one series a row. A block of places goes through the recurrence side by side.
    """
    rows, count = place.shape
    value = np.empty((rows, count))
    x, one, two = np.empty(BLOCK), np.empty(BLOCK), np.empty(BLOCK)
    for row in range(rows):
        of_row = coefficients[row]
        for first in range(0, count, BLOCK):
            size = min(BLOCK, count - first)
            for n in range(size):
                x[n] = 2.0 * (2.0 * min(max(place[row, first + n], low), high) - (low + high)) / (high - low)
                one[n], two[n] = 0.0, 0.0
            for m in range(of_row.size - 1, 0, -1):
                for n in range(size):
                    last = one[n]
                    one[n] = of_row[m] + x[n] * last - two[n]
                    two[n] = last
            for n in range(size):
                value[row, first + n] = of_row[0] + 0.5 * x[n] * one[n] - two[n]
    return value


def first_beyond(value: ArrayLike, low: float, high: float) -> float | None:
    """First of some values that does not lie between two bounds, the bounds excluded; None if all do."""
    if isinstance(value, float):
        return None if low < value < high else value
    given = np.asarray(value, dtype=float)
    beyond = given[~((given > low) & (given < high))]
    return float(beyond[0]) if beyond.size else None


@dataclass(frozen=True, eq=False)
class Series:
    """A Chebyshev series on [low, high]; outside it holds the value of the nearer end.

    Holding an end value keeps an iteration that strays on a finite, smooth
    path; whoever reports a result asks `in_range` first. Coefficients of shape
    (n_rows, n_terms) are many series, and places of shape (n_rows, n) are asked row by row.
    """

    low: float
    high: float
    coefficients: NDArray[np.float64]
    logarithmic: bool = False

    @cached_property
    def _primitive(self) -> NDArray[np.float64]:
        return np.asarray(chebint(self.coefficients, lbnd=-1.0, axis=-1))

    def __call__(self, place: ArrayLike) -> Values:
        """Value of the series. Same shape as `place`."""
        value = self._sum(place, self.coefficients)
        return np.exp(value) if self.logarithmic else value

    def integral(self, place: ArrayLike) -> Values:
        """Exact integral from `low`, straight on beyond the ends (where the value is held).

        Only for a series that is not logarithmic.
        """
        given = np.asarray(place, dtype=float)
        inside = 0.5 * (self.high - self.low) * self._sum(given, self._primitive)
        beyond = given - np.minimum(np.maximum(given, self.low), self.high)
        return inside + beyond * self._sum(given, self.coefficients) if beyond.any() else inside

    def in_range(self, place: ArrayLike) -> Values:
        """Whether each place lies on [low, high]."""
        given = np.asarray(place, dtype=float)
        return (given >= self.low) & (given <= self.high)

    def _sum(self, place: ArrayLike, coefficients: NDArray[np.float64]) -> NDArray[np.float64]:
        given = np.array(place, dtype=float, order="C")  # a copy, so that one compiled form serves all
        by_row = coefficients if coefficients.ndim == 2 else coefficients[None]
        if by_row.shape[0] > 1 and given.shape[:1] != by_row.shape[:1]:
            given = np.repeat(given.reshape(1, 1), by_row.shape[0], axis=0)
        return _sum(given.reshape(by_row.shape[0], -1), self.low, self.high, by_row).reshape(given.shape)


@cache
def _stored() -> dict[str, Any]:
    text = files("annulus.films").joinpath("property_series.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def series(name: str) -> Series:
    """The stored series of that name, for example "air_viscosity". KeyError if there is none."""
    entry = _stored()[name]
    return Series(
        low=entry["low"],
        high=entry["high"],
        coefficients=np.array(entry["coefficients"]),
        logarithmic=entry["logarithmic"],
    )


def air_heat_capacity(temperature: ArrayLike) -> Values:
    """Heat capacity of dry air as an ideal gas, 250 to 2000 K. [J/(kg K)]"""
    return series("air_heat_capacity")(temperature) / MOLAR_MASS_AIR


def air_enthalpy(temperature: ArrayLike) -> Values:
    """Enthalpy of dry air above 298.15 K, exact integral of `air_heat_capacity`. [J/kg]"""
    law = series("air_heat_capacity")
    return (law.integral(temperature) - law.integral(REFERENCE_TEMPERATURE)) / MOLAR_MASS_AIR


def air_viscosity(temperature: ArrayLike) -> Values:
    """Dynamic viscosity of dry air at 1 atm, 250 to 2000 K. [Pa s]

    References
    ----------
    E. W. Lemmon, R. T Jacobsen, Int. J. Thermophysics 25, 2004, 21-69, as coded in CoolProp.
    """
    return series("air_viscosity")(temperature)


def air_conductivity(temperature: ArrayLike) -> Values:
    """Thermal conductivity of dry air at 1 atm, 250 to 2000 K (source as `air_viscosity`). [W/(m K)]"""
    return series("air_conductivity")(temperature)


def air_density(temperature: ArrayLike, pressure: Values = 101325.0) -> Values:
    """Density of dry air as an ideal gas. [kg/m3]"""
    return pressure * MOLAR_MASS_AIR / (GAS_CONSTANT * np.asarray(temperature, dtype=float))
