"""Water inside a wound tube: film coefficient, pressure gradient, onset of boiling.

Goes in: water flow, bore, winding diameter, temperatures turn by turn. Comes
out: a `WaterFilm`, or pascal per metre of tube. Still water has no film here:
a flow of zero is an error, because boiling and natural convection then rule.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.errors import InputError
from annulus.films import water
from annulus.films.pipe_convection import reynolds
from annulus.films.properties import Values, first_beyond

TURBULENT_SPAN = 1.5  # laminar turns turbulent between Re_crit and 1.5 Re_crit; there the laws differ by a third
HIGH_REYNOLDS, HIGH_SPAN = 22000.0, 1.2  # where Schmidt changes formula; slid over Re to 1.2 Re
MOST_RATIO = 0.2  # bore over winding diameter of the coils measured
MOST_REYNOLDS = 1.5e5
COLEBROOK_ROUNDS = 10  # fixed-point rounds from an explicit start; 4e-7 after six at Re 4000, its slowest


@dataclass(frozen=True)
class WaterFilm:
    """Film in the bore, one value per turn.

    Attributes
    ----------
    coefficient : ndarray
        Refers to bore surface minus bulk water. [W/(m2 K)]
    reynolds : ndarray
        At the bulk temperature.
    in_range : ndarray of bool
    range_note : str
        What lies outside, in words; empty if nothing does.
    """

    coefficient: NDArray[np.float64]
    reynolds: NDArray[np.float64]
    in_range: NDArray[np.bool_]
    range_note: str


def _slide(number: ArrayLike, start: Values, end: Values) -> Values:
    """Smooth step from 0 at `start` to 1 at `end`, in the logarithm."""
    place = np.clip(np.log(np.asarray(number, dtype=float) / start) / np.log(end / start), 0.0, 1.0)
    return place**2 * (3.0 - 2.0 * place)


def critical_reynolds(ratio: Values) -> Values:
    """Reynolds number up to which flow in a coil stays laminar; ratio = bore / winding diameter.

    References
    ----------
    E. F. Schmidt, Chemie Ingenieur Technik 39, 1967, 781-789; checked against `fluids`.
    """
    return 2300.0 * (1.0 + 8.6 * ratio**0.45)


def nusselt_laminar(re: ArrayLike, pr: ArrayLike, ratio: Values) -> Values:
    """Laminar flow in a coil, Nu = 3.66 + 0.08 [1 + 0.8 r^0.9] Re^m Pr^(1/3), r = ratio.

    References
    ----------
    E. F. Schmidt as above; VDI Heat Atlas, sec. Gc.
    """
    exponent = 0.5 + 0.2903 * ratio**0.194
    return 3.66 + 0.08 * (1.0 + 0.8 * ratio**0.9) * np.asarray(re, dtype=float) ** exponent * np.cbrt(pr)


def nusselt_turbulent(re: ArrayLike, pr: ArrayLike, ratio: Values) -> Values:
    """Turbulent flow in a coil: one formula below Re 22 000, another above 26 400, slid between.

    References
    ----------
    E. F. Schmidt as above; checked against `ht`.
    """
    flow = np.asarray(re, dtype=float)
    low = (1.0 + 14.8 * (1.0 + ratio) * ratio ** (1 / 3)) * flow ** (0.8 - 0.22 * ratio**0.1)
    high = (1.0 + 3.6 * (1.0 - ratio) * ratio**0.8) * flow**0.8
    weight = _slide(flow, HIGH_REYNOLDS, HIGH_SPAN * HIGH_REYNOLDS)
    return 0.023 * ((1.0 - weight) * low + weight * high) * np.cbrt(pr)


def nusselt_coil(re: ArrayLike, pr: ArrayLike, ratio: Values) -> Values:
    """Any flow in a coil: laminar to Re_crit, turbulent from 1.5 Re_crit, slid between."""
    start = critical_reynolds(ratio)
    weight = _slide(re, start, TURBULENT_SPAN * start)
    return (1.0 - weight) * nusselt_laminar(re, pr, ratio) + weight * nusselt_turbulent(re, pr, ratio)


def water_film(
    mass_flow: ArrayLike,
    bore: Values,
    coil_diameter: Values,
    bulk_temperature: ArrayLike,
    wall_temperature: ArrayLike,
) -> WaterFilm:
    """Film coefficient between water and the bore of a wound tube, developed flow.

    Schmidt's Nusselt number at the bulk temperature, times (Pr / Pr_wall)^0.14 for the
    thinner water at a warmer wall. The thermal entrance (stronger in the first
    turn) is left out.

    Parameters
    ----------
    mass_flow : float or ndarray
        Through this tube; positive, either direction. Of many flows a column, shape (n_flows, 1); so are the
        other numbers then. [kg/s]
    bore : float or ndarray
        Inner diameter of the tube. [m]
    coil_diameter : float or ndarray
        Between tube centres across the winding. [m]
    bulk_temperature, wall_temperature : float or ndarray
        Water and bore surface, turn by turn. [K]

    Returns
    -------
    WaterFilm
        Arrays of the broadcast shape of the two temperatures. Range: Re < 1.5e5, bore up
        to 0.2 of the winding, water 273.16 to 510 K.

    Raises
    ------
    InputError
        On a flow or size that is not positive, a bore not below the winding
        diameter, or a temperature that is not positive kelvin.
    """
    bulk, wall = np.broadcast_arrays(
        np.asarray(bulk_temperature, dtype=float), np.asarray(wall_temperature, dtype=float)
    )
    _check(mass_flow, bore, coil_diameter, bulk, wall)
    ratio = bore / coil_diameter
    number = reynolds(mass_flow, bore, water.viscosity(bulk))
    pr = water.prandtl(bulk)

    nusselt = nusselt_coil(number, pr, ratio) * (pr / water.prandtl(wall)) ** 0.14
    coefficient = nusselt * water.conductivity(bulk) / bore

    everywhere = np.ones(bulk.shape, dtype=bool)
    rules = [
        (number > MOST_REYNOLDS, "Reynolds number above 1.5e5"),
        (everywhere & (ratio > MOST_RATIO), "bore above 0.2 of the winding diameter"),
        (~(water.in_range(bulk) & water.in_range(wall)), "water or bore outside 273.16-510 K"),
    ]
    outside = np.any([where for where, _ in rules], axis=0)
    return WaterFilm(
        coefficient=np.asarray(coefficient),
        reynolds=np.asarray(number),
        in_range=np.asarray(~outside),
        range_note="; ".join(words for where, words in rules if np.any(where)),
    )


def friction_straight(re: ArrayLike, relative_roughness: float = 0.0) -> Values:
    """Darcy friction factor of a straight turbulent pipe (Colebrook and White 1939); Re > 2300."""
    flow = np.asarray(re, dtype=float)
    inverse_root = -1.8 * np.log10((relative_roughness / 3.7) ** 1.11 + 6.9 / flow)
    for _ in range(COLEBROOK_ROUNDS):
        inverse_root = -2.0 * np.log10(relative_roughness / 3.7 + 2.51 * inverse_root / flow)
    return inverse_root**-2


def friction_laminar(re: ArrayLike, ratio: Values) -> Values:
    """Darcy friction factor of laminar flow in a coil (E. F. Schmidt as above; checked against `fluids`)."""
    flow = np.asarray(re, dtype=float)
    return 64.0 / flow * (1.0 + 0.14 * ratio**0.97 * flow ** (1.0 - 0.644 * ratio**0.312))


def friction_turbulent(re: ArrayLike, ratio: Values, relative_roughness: float = 0.0) -> Values:
    """Darcy friction factor of turbulent flow in a coil (E. F. Schmidt; checked against `fluids`).

    Two formulas, slid over each other between Re 22 000 and 26 400.
    """
    flow = np.asarray(re, dtype=float)
    low = 1.0 + 2.88e4 / flow * ratio**0.62
    high = 1.0 + 0.0823 * (1.0 + ratio) * ratio**0.53 * flow**0.25
    weight = _slide(flow, HIGH_REYNOLDS, HIGH_SPAN * HIGH_REYNOLDS)
    straight = friction_straight(np.maximum(flow, 2300.0), relative_roughness)
    return straight * ((1.0 - weight) * low + weight * high)


def friction_coil(re: ArrayLike, ratio: Values, relative_roughness: float = 0.0) -> Values:
    """Darcy friction factor of any flow in a coil, slid from laminar to turbulent like `nusselt_coil`."""
    start = critical_reynolds(ratio)
    weight = _slide(re, start, TURBULENT_SPAN * start)
    turbulent = friction_turbulent(re, ratio, relative_roughness)
    return (1.0 - weight) * friction_laminar(re, ratio) + weight * turbulent


def pressure_gradient(
    mass_flow: float,
    bore: Values,
    coil_diameter: Values,
    temperature: ArrayLike,
    roughness: float = 1.5e-6,
) -> Values:
    """Friction pressure drop per metre of wound tube. [Pa/m]

    Parameters
    ----------
    mass_flow : float
        Positive. [kg/s]
    bore, coil_diameter : float or ndarray
        As `water_film`; of pieces of a loop one each. [m]
    temperature : float or ndarray
        Bulk water. [K]
    roughness : float
        Of the bore; drawn copper by default. [m]

    Raises
    ------
    InputError
        As `water_film`.
    """
    bulk = np.asarray(temperature, dtype=float)
    _check(mass_flow, bore, coil_diameter, bulk, bulk)
    number = reynolds(mass_flow, bore, water.viscosity(bulk))
    factor = friction_coil(number, bore / coil_diameter, roughness / bore)
    flux = mass_flow / (0.25 * np.pi * bore**2)
    return factor / bore * flux**2 / (2.0 * water.density(bulk))


def boiling_onset_flux(pressure: float, superheat: ArrayLike) -> Values:
    """Heat flux at which bubbles start on a wall `superheat` above boiling. [W/m2]

    q = 1082 p^1.156 [1.799 (T_wall - T_sat)]^(2.16 / p^0.0234), p in bar; 1 to 138 bar.

    Parameters
    ----------
    pressure : float
        Absolute. [Pa]
    superheat : float or ndarray
        Wall minus boiling temperature, not negative. [K]

    References
    ----------
    A. E. Bergles, W. M. Rohsenow, J. Heat Transfer 86, 1964, 365-372, in the SI form of
    Collier & Thome; from memory.
    """
    over = np.asarray(superheat, dtype=float)
    if not (pressure > 0.0 and np.all(over >= 0.0)):
        raise InputError(f"boiling onset: pressure {pressure} Pa must be positive and superheat not negative")
    bar = pressure * 1e-5
    return 1082.0 * bar**1.156 * (1.799 * over) ** (2.16 / bar**0.0234)


def _check(
    mass_flow: ArrayLike,
    bore: Values,
    coil_diameter: Values,
    bulk: NDArray[np.float64],
    wall: NDArray[np.float64],
) -> None:
    faults = []
    beyond = first_beyond(mass_flow, 0.0, float("inf"))
    if beyond == 0.0:
        faults.append(
            "water flow 0 kg/s: standing water has no flow film; "
            "use the stagnation path, or was the flow rounded to zero?"
        )
    elif beyond is not None:
        faults.append(f"water flow {beyond} kg/s must be positive; the direction is given apart")
    if not np.all((bore > 0.0) & (bore < coil_diameter) & (coil_diameter < float("inf"))):
        faults.append(
            f"bore {bore} m and winding diameter {coil_diameter} m: both positive, the bore the smaller;"
            " was a radius or the outer diameter given?"
        )
    for name, field in (("water", bulk), ("bore surface", wall)):
        if not np.all(np.isfinite(field) & (field > 0.0)):
            faults.append(f"{name} temperature must be positive kelvin everywhere; did an iteration diverge?")
    if faults:
        raise InputError("water film: " + "; ".join(faults))
