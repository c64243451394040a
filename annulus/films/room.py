"""Outside of the wrap: natural convection and radiation to the room, and the air pressure there.

Goes in: surface and room temperature, height, emissivity, altitude. Comes out:
a `RoomFilm`, convective and radiative coefficient apart.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.errors import InputError
from annulus.films.natural import nusselt_vertical, smallest_plate_diameter, softened
from annulus.films.properties import (
    GRAVITY,
    STEFAN_BOLTZMANN,
    Values,
    air_conductivity,
    air_density,
    air_heat_capacity,
    air_viscosity,
    first_beyond,
    series,
)

MOST_RAYLEIGH = 1e12
LAPSE_RATE, SEA_LEVEL_TEMPERATURE, SEA_LEVEL_PRESSURE = 0.0065, 288.15, 101325.0  # K/m, K, Pa
PRESSURE_EXPONENT = 5.25588  # g M / (R x lapse rate) of the standard atmosphere
LOWEST_GROUND, HIGHEST_GROUND = -500.0, 11000.0  # m


class RoomFilm(NamedTuple):
    """Film coefficients on the outside; both refer to surface minus room. [W/(m2 K)]"""

    convective: NDArray[np.float64]
    radiative: NDArray[np.float64]

    @property
    def total(self) -> NDArray[np.float64]:
        """Convective plus radiative. [W/(m2 K)]"""
        return self.convective + self.radiative


def _grashof(surface: Values, room: Values, height: ArrayLike, pressure: Values) -> tuple[Values, Values]:
    """Grashof number on the height, and the film temperature it was taken at."""
    film = 0.5 * (surface + room)
    drive = softened(surface - room) / film
    flow = air_density(film, pressure) / air_viscosity(film)
    return GRAVITY * drive * np.asarray(height) ** 3 * flow**2, film


def room_film(
    surface_temperature: ArrayLike,
    room_temperature: ArrayLike,
    height: ArrayLike,
    emissivity: ArrayLike,
    pressure: Values = SEA_LEVEL_PRESSURE,
) -> RoomFilm:
    """Film between the upright outside of a wrap and still air, walls at room temperature.

    Convection: `nusselt_vertical` on the whole height, mean over it, air at the film
    temperature; a draught or a fan adds to it. Radiation: grey, to surroundings at room
    temperature, eps sigma (T_s^2 + T_r^2)(T_s + T_r), exact for the linear form.

    Parameters
    ----------
    surface_temperature, room_temperature : float or ndarray
        [K]
    height : float or ndarray
        Of the whole warm surface, positive. [m]
    emissivity : float or ndarray
        0 to 1.
    pressure : float or ndarray
        Absolute. [Pa]

    Returns
    -------
    RoomFilm
        Unpacks as (convective, radiative). Range: `range_note`.

    Raises
    ------
    InputError
        On a value outside the bounds above.
    """
    surface, room, shine = np.broadcast_arrays(
        np.asarray(surface_temperature, dtype=float),
        np.asarray(room_temperature, dtype=float),
        np.asarray(emissivity, dtype=float),
    )
    _check(surface, room, height, shine, pressure)
    grashof, film = _grashof(surface, room, height, pressure)
    conductivity = air_conductivity(film)
    prandtl = air_heat_capacity(film) * air_viscosity(film) / conductivity

    convective = nusselt_vertical(grashof * prandtl, prandtl) * conductivity / height
    radiative = shine * STEFAN_BOLTZMANN * (surface**2 + room**2) * (surface + room)
    return RoomFilm(np.asarray(convective), np.asarray(radiative))


def range_note(
    surface_temperature: ArrayLike,
    room_temperature: ArrayLike,
    height: float,
    diameter: float,
    pressure: float = SEA_LEVEL_PRESSURE,
) -> str:
    """What lies outside the range of `room_film`, in words; empty if nothing does.

    Parameters
    ----------
    surface_temperature, room_temperature : float or ndarray
        [K]
    height, diameter : float
        Of the upright cylinder. [m]
    pressure : float
        Absolute. [Pa]
    """
    surface = np.asarray(surface_temperature, dtype=float)
    room = np.asarray(room_temperature, dtype=float)
    _check(surface, room, height, np.zeros(1), pressure)
    grashof, film = _grashof(surface, room, height, pressure)

    notes = []
    # under ten kelvin the loss is too small for the curvature to be worth a word
    driven = np.abs(surface - room) > 10.0
    limit = float(np.max(np.where(driven, smallest_plate_diameter(height, grashof), 0.0)))
    if diameter < limit:
        notes.append(f"diameter {diameter:.3g} m under the {limit:.3g} m of a flat plate: a little more is lost")
    if np.any(grashof > MOST_RAYLEIGH):
        notes.append("Rayleigh number above 1e12")
    if not np.all(series("air_viscosity").in_range(film)):
        notes.append("film outside the 250-2000 K of the air properties")
    return "; ".join(notes)


def atmospheric_pressure(altitude: float) -> float:
    """Air pressure of the standard atmosphere, -500 to 11 000 m. [Pa]

    Parameters
    ----------
    altitude : float
        Above sea level. [m]

    Raises
    ------
    InputError
        Outside that range.

    References
    ----------
    ISO 2533:1975, troposphere; checked against `fluids`.
    """
    if not LOWEST_GROUND <= altitude <= HIGHEST_GROUND:
        raise InputError(f"altitude {altitude} m must lie between {LOWEST_GROUND:g} and {HIGHEST_GROUND:g} m")
    ratio = 1.0 - LAPSE_RATE * altitude / SEA_LEVEL_TEMPERATURE
    return float(SEA_LEVEL_PRESSURE * ratio**PRESSURE_EXPONENT)


def _check(
    surface: NDArray[np.float64],
    room: NDArray[np.float64],
    height: ArrayLike,
    emissivity: NDArray[np.float64],
    pressure: ArrayLike,
) -> None:
    faults = []
    for name, field in (("surface", surface), ("room", room)):
        if not np.all(np.isfinite(field) & (field > 0.0)):
            faults.append(f"{name} temperature must be positive kelvin everywhere; was degC given?")
    if (beyond := first_beyond(height, 0.0, float("inf"))) is not None:
        faults.append(f"height {beyond} m must be positive and finite")
    if not np.all((emissivity >= 0.0) & (emissivity <= 1.0)):
        faults.append(f"emissivity {emissivity} must lie between 0 and 1")
    if (beyond := first_beyond(pressure, 0.0, float("inf"))) is not None:
        faults.append(f"air pressure {beyond} Pa must be positive and finite")
    if faults:
        raise InputError("room film: " + "; ".join(faults))
