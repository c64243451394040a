"""Kelvin to degrees Celsius and back, for results and pictures."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

ZERO_CELSIUS = 273.15  # [K], by definition of the degree Celsius

Temperature = TypeVar("Temperature", float, NDArray[np.float64])


def to_celsius(kelvin: Temperature) -> Temperature:
    """Degrees Celsius of a temperature in [K]."""
    return kelvin - ZERO_CELSIUS


def from_celsius(celsius: Temperature) -> Temperature:
    """Kelvin of a temperature in [degC]."""
    return celsius + ZERO_CELSIUS
