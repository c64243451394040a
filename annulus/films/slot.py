"""Air that circulates in a tall upright slot: how many times still air it conducts.

Goes in: wall temperatures, width and height of the slot, air pressure. Comes
out: the Nusselt number on the width, by which the conductivity of still air
is multiplied.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from annulus.errors import InputError
from annulus.films.natural import softened
from annulus.films.properties import (
    GRAVITY,
    Values,
    air_conductivity,
    air_density,
    air_heat_capacity,
    air_viscosity,
    series,
)

RAYLEIGH_RANGE = (1e2, 2e7)
ASPECT_RANGE = (5.0, 110.0)  # height over width
SEA_LEVEL_PRESSURE = 101325.0  # [Pa]


def nusselt_slot(rayleigh: ArrayLike, aspect: ArrayLike) -> Values:
    """Mean Nusselt number of air in a tall upright slot with isothermal walls, on its width.

    The largest of three laws: one cell that turns over slowly, boundary layers,
    turbulence. Never below 1. Continuous, with a bend where one law takes over.

    Range: Rayleigh number on the width 1e2 to 2e7, height over width 5 to 110, plane
    walls, insulated ends, air; the same laws go on outside (`range_note`).

    Parameters
    ----------
    rayleigh : float or ndarray
        On the width and the difference between the walls.
    aspect : float or ndarray
        Height over width.

    References
    ----------
    S. M. ElSherbiny, G. D. Raithby, K. G. T. Hollands, J. Heat Transfer 104, 1982, 96-102.
    From memory; the coefficients agree with a published program that quotes them after
    A. F. Mills, Heat Transfer.
    """
    ra = np.maximum(np.asarray(rayleigh, dtype=float), 1e-6)  # keeps 6310 / Ra finite; the number is 1 long before
    turbulent = 0.0605 * np.cbrt(ra)
    cell = 0.104 * ra**0.293 / (1.0 + (6310.0 / ra) ** 1.36)
    layers = 0.242 * (ra / np.asarray(aspect, dtype=float)) ** 0.272
    # cbrt(1 + cell^3), but what the power adds to 1 is found first: a cube root may fall by a last bit where it is flat
    slow = 1.0 + np.expm1(np.log1p(cell**3) / 3.0)
    return np.maximum(np.maximum(slow, turbulent), layers)


def slot_rayleigh(hot: ArrayLike, cold: ArrayLike, width: float, pressure: float = SEA_LEVEL_PRESSURE) -> Values:
    """Rayleigh number of air between two upright walls, on the width; properties at the mean temperature.

    Parameters
    ----------
    hot, cold : float or ndarray
        Of the walls; either may be the warmer. [K]
    width : float
        Positive. [m]
    pressure : float
        Absolute. [Pa]

    Raises
    ------
    InputError
        If a temperature, the width or the pressure is not positive.
    """
    one, other = np.asarray(hot, dtype=float), np.asarray(cold, dtype=float)
    if not (np.all(one > 0) and np.all(other > 0)):
        raise InputError("slot: wall temperatures must be positive kelvin; was degC given?")
    if not (0 < width < np.inf and 0 < pressure < np.inf):
        raise InputError(f"slot: width {width} m and pressure {pressure} Pa must be positive and finite")
    mean = 0.5 * (one + other)
    viscosity, density = air_viscosity(mean), air_density(mean, pressure)
    diffusivity = air_conductivity(mean) / (density * air_heat_capacity(mean))
    return GRAVITY * softened(one - other) / mean * width**3 / (viscosity / density * diffusivity)


def range_note(hot: float, cold: float, width: float, height: float, pressure: float = SEA_LEVEL_PRESSURE) -> str:
    """What lies outside the range of `nusselt_slot`, in words; empty if nothing does or if air stands still."""
    rayleigh, aspect = float(slot_rayleigh(hot, cold, width, pressure)), height / width
    notes = []
    if rayleigh > RAYLEIGH_RANGE[1]:
        notes.append(f"Rayleigh number {rayleigh:.1e} of the cavity above {RAYLEIGH_RANGE[1]:g}")
    moves = nusselt_slot(rayleigh, aspect) > 1.01
    if moves and not ASPECT_RANGE[0] <= aspect <= ASPECT_RANGE[1]:
        notes.append(f"cavity {aspect:.3g} times as high as wide, not {ASPECT_RANGE[0]:g} to {ASPECT_RANGE[1]:g}")
    if not bool(series("air_viscosity").in_range(0.5 * (hot + cold))):
        notes.append("cavity outside the 250-2000 K of the air properties")
    return "; ".join(notes)
