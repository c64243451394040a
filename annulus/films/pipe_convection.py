"""Forced and buoyancy-opposed convection in a pipe: published Nusselt numbers, nothing else.

Goes in: Reynolds, Prandtl and Grashof numbers, diameter over heated length; one number or
arrays. Comes out: Nusselt numbers on the diameter, mean over the length.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from annulus.films.properties import Values

LAMINAR_END, TURBULENT_START = 2300.0, 4000.0  # Reynolds number; between them the two laws are blended


def reynolds(mass_flow: ArrayLike, diameter: ArrayLike, viscosity: ArrayLike) -> Values:
    """Reynolds number of a pipe flow, 4 m / (pi D mu)."""
    return 4.0 * np.asarray(mass_flow) / (np.pi * np.asarray(diameter) * np.asarray(viscosity, dtype=float))


def nusselt_laminar(re: ArrayLike, pr: ArrayLike, diameter_over_length: Values) -> Values:
    """Laminar mean over the length, developed velocity, growing temperature profile; Re < 2300.

    References
    ----------
    H. Hausen, Z. VDI Beiheft Verfahrenstechnik 4, 1943, 91-98; Incropera & DeWitt, 6th ed.,
    eq. 8.56. From memory, checked against `ht`.
    """
    graetz = np.asarray(re, dtype=float) * pr * diameter_over_length
    return 3.66 + 0.0668 * graetz / (1.0 + 0.04 * graetz ** (2 / 3))


def nusselt_gnielinski(re: ArrayLike, pr: ArrayLike, diameter_over_length: Values) -> Values:
    """Turbulent mean over the length; 4000 < Re < 1e6, 0.6 < Pr < 1000, L > D.

    References
    ----------
    V. Gnielinski in VDI Heat Atlas, 2nd ed., sec. G1, with Konakov's friction factor.
    From memory of that text.
    """
    flow, pr = np.asarray(re, dtype=float), np.asarray(pr, dtype=float)
    eighth = (1.8 * np.log10(flow) - 1.5) ** -2 / 8.0
    inner = eighth * flow * pr / (1.0 + 12.7 * np.sqrt(eighth) * (pr ** (2 / 3) - 1.0))
    return inner * (1.0 + diameter_over_length ** (2 / 3))


def nusselt_forced(re: ArrayLike, pr: ArrayLike, diameter_over_length: Values) -> Values:
    """Forced convection, mean over the length: laminar below Re 2300, turbulent above 4000.

    Between, a smooth step from one to the other (the Heat Atlas draws a straight line).
    """
    flow = np.asarray(re, dtype=float)
    slide = np.clip((flow - LAMINAR_END) / (TURBULENT_START - LAMINAR_END), 0.0, 1.0)
    weight = slide**2 * (3.0 - 2.0 * slide)
    # the turbulent formula has a pole at Re 6.8; its weight is zero wherever the floor acts
    turbulent = nusselt_gnielinski(np.maximum(flow, LAMINAR_END), pr, diameter_over_length)
    return (1.0 - weight) * nusselt_laminar(flow, pr, diameter_over_length) + weight * turbulent


def nusselt_en13384(re: ArrayLike, pr: ArrayLike, diameter_over_length: Values, friction_ratio: float = 1.0) -> Values:
    """Chimney standard: Nu = ratio^0.67 x 0.0214 (Re^0.8 - 100) Pr^0.4 [1 + (D/L)^0.67].

    Range: Re < 10 000 000, 0.6 < Pr < 1.5. Re below 2300 is taken as 2300, the standard's own rule,
    which leaves a corner there. No buoyancy.

    Parameters
    ----------
    re, pr : float or ndarray
    diameter_over_length : float
    friction_ratio : float
        Friction factor over that of the smooth pipe; counted up to 3.

    References
    ----------
    EN 13384-1:2015, sec. 5.8.3.2; quoted from memory.
    """
    flow = np.maximum(np.asarray(re, dtype=float), LAMINAR_END)
    entrance = 1.0 + diameter_over_length**0.67
    rough = min(friction_ratio, 3.0) ** 0.67
    return rough * 0.0214 * (flow**0.8 - 100.0) * np.asarray(pr, dtype=float) ** 0.4 * entrance


def mean_buoyancy(temperature_ratio: ArrayLike) -> Values:
    """(mean density between wall and bulk - bulk density) / bulk density, of an ideal gas.

    The argument is T_wall / T_gas; zero at 1, positive for a colder wall.
    """
    below = 1.0 - np.asarray(temperature_ratio, dtype=float)
    safe = np.where(np.abs(below) < 1e-4, 0.5, below)
    return np.where(np.abs(below) < 1e-4, below / 2.0 + below**2 / 3.0, -np.log1p(-safe) / safe - 1.0)


def opposed_factor(re: ArrayLike, pr: ArrayLike, grashof: ArrayLike) -> Values:
    """Turbulent buoyancy-opposed flow over forced: [1 + 4500 Gr / (Re^2.625 Pr^0.5)]^0.31.

    Grashof number on the diameter with the mean density difference (`mean_buoyancy`).
    Range: turbulent, Re > 2300 or so; Re below 2300 is taken as 2300, or the factor would run away.

    References
    ----------
    J. D. Jackson, W. B. Hall, in Turbulent Forced Convection in Channels and Bundles, vol. 2,
    Hemisphere, 1979, 613-640; from memory of the review by Jackson, Cotton and Axcell,
    Int. J. Heat Fluid Flow 10, 1989, 2-15.
    """
    flow = np.maximum(np.asarray(re, dtype=float), LAMINAR_END)
    return (1.0 + 4500.0 * np.asarray(grashof, dtype=float) / (flow**2.625 * np.sqrt(pr))) ** 0.31
