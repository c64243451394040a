"""Films: how gas, water and room exchange heat with a surface. Scalar laws, no grid.

Goes in: flows, sizes and temperatures, SI and kelvin, one number or arrays.
Comes out: film coefficients, convective and radiative apart, with a note when a
published range is left. `water` holds the properties of the liquid.
"""

from annulus.films import water
from annulus.films.gas import FlueGas, FlueGases
from annulus.films.gas_side import DEFAULT_LAW, LAWS, SOOTED_WALL, GasFilm, gas_film
from annulus.films.room import RoomFilm, atmospheric_pressure, room_film
from annulus.films.water_side import WaterFilm, boiling_onset_flux, pressure_gradient, water_film
from annulus.films.wood import (
    Fire,
    dry_from_wet,
    excess_air_of_gas,
    gas_from_wood,
    gas_per_wood,
    lower_heating_value,
    stoichiometric_air,
    wet_from_dry,
)

__all__ = [
    "DEFAULT_LAW",
    "LAWS",
    "SOOTED_WALL",
    "Fire",
    "FlueGas",
    "FlueGases",
    "GasFilm",
    "RoomFilm",
    "WaterFilm",
    "atmospheric_pressure",
    "boiling_onset_flux",
    "dry_from_wet",
    "excess_air_of_gas",
    "gas_film",
    "gas_from_wood",
    "gas_per_wood",
    "lower_heating_value",
    "pressure_gradient",
    "room_film",
    "stoichiometric_air",
    "water",
    "water_film",
    "wet_from_dry",
]
