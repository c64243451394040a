"""The chimney above the described flue: gas and wall at its top, draught left at the bottom of the flue.

Goes in: a case with a chimney, the gas that leaves the flue and the gas in it.
Comes out: a `ChimneyTop`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.case import Case, Chimney
from annulus.errors import ConvergenceError
from annulus.films import atmospheric_pressure, gas_film
from annulus.films.pipe_convection import LAMINAR_END, TURBULENT_START, reynolds
from annulus.films.properties import GRAVITY
from annulus.heater.gas_path import BareFlue, GasSupply

Floats = NDArray[np.float64]

AIR_CONSTANT = 287.055  # [J/(kg K)], dry air, ISO 2533 (quoted from memory)
OUTSIDE_FILM = 23.0  # [W/(m2 K)], chimney in the open, EN 13384-1 (quoted from memory)
ROUGHNESS = 1e-3  # [m], welded steel with soot, EN 13384-1's figure for steel flues (quoted from memory)
LONGEST_SEGMENT = 0.25  # [m] of chimney with one wall temperature; halving it moves the top gas by under 0.1 K
MAX_ROUNDS = 200
SETTLED = 1e-8  # [K], change of the wall's temperature between rounds


@dataclass(frozen=True)
class ChimneyTop:
    """What a chimney makes of the gas.

    Attributes
    ----------
    gas, wall : float
        Gas and inner wall at the top. [K]
    draught : float
        Left at the bottom of the described flue: lift of the hot gas over flue and chimney,
        less friction, bends and the speed at which it leaves. [Pa]
    """

    gas: float
    wall: float
    draught: float


def pass_chimney(
    case: Case, chimney: Chimney, supply: GasSupply, section_gas: Floats, below: BareFlue, above: BareFlue
) -> ChimneyTop:
    """Gas through the chimney, and the draught of flue and chimney together.

    The chimney's outside has the film of the open air on the area of its
    inside, which is slightly too little; the resistance of its wall rules.

    Parameters
    ----------
    case : Case
    chimney : Chimney
    supply : GasSupply
    section_gas : ndarray, shape (n_bands + 1,)
        Gas along the coil section, bottom first. [K]
    below, above : BareFlue
        Bare lengths of flue.

    Returns
    -------
    ChimneyTop

    Raises
    ------
    ConvergenceError
        If the wall's temperature does not settle.
    """
    bore = chimney.inner_diameter or case.flue.inner_diameter
    outdoors = chimney.outdoor_temperature
    segments = math.ceil(chimney.height / LONGEST_SEGMENT)
    step = chimney.height / segments
    area = math.pi * bore * step
    gas, wall = np.full(segments + 1, above.gas_out), np.full(segments, above.gas_out)
    for _ in range(MAX_ROUNDS):
        middle = 0.5 * (gas[1:] + gas[:-1])
        inner = 1 / (
            case.fire.gas_multiplier * gas_film(supply.flow, bore, chimney.height, middle, wall, supply.gas).total
        )
        across = inner + chimney.resistance + 1 / OUTSIDE_FILM
        units = np.cumsum(area / across / (supply.flow * supply.gas.cp(middle)))
        gas[1:] = outdoors + (gas[0] - outdoors) * np.exp(-units)
        middle = 0.5 * (gas[1:] + gas[:-1])
        settled = middle - (middle - outdoors) * inner / across
        change = float(np.abs(settled - wall).max())
        wall = 0.5 * (wall + settled)
        if change < SETTLED * max(1.0, above.gas_out):
            break
    else:
        raise ConvergenceError(f"chimney: wall still moves by {change:.1e} K after {MAX_ROUNDS} rounds", field=gas)
    bands = section_gas.size - 1
    along = np.concatenate([[supply.temperature, below.gas_out], section_gas[1:], [above.gas_out]])
    lengths = np.array([case.flue.bare_below, *[case.height / bands] * bands, case.flue.bare_above])
    draught = _draught(case, supply, outdoors, lengths, 0.5 * (along[1:] + along[:-1]), case.flue.inner_diameter)
    draught += _draught(case, supply, outdoors, np.full(segments, step), middle, bore)
    top_wall = gas[-1] - (gas[-1] - outdoors) * inner[-1] / across[-1]
    leaving = (chimney.losses + 1.0) * float(_dynamic_pressure(supply, middle[-1], bore))
    return ChimneyTop(float(gas[-1]), float(top_wall), draught - leaving)


def _draught(case: Case, supply: GasSupply, outdoors: float, lengths: Floats, gas: Floats, bore: float) -> float:
    """Lift of lengths of hot gas [K] less their friction. [Pa]"""
    air = atmospheric_pressure(case.room.altitude) / (AIR_CONSTANT * outdoors)
    lift = GRAVITY * lengths * (air - supply.gas.density(gas))
    rubs = friction_factor(reynolds(supply.flow, bore, supply.gas.viscosity(gas)), ROUGHNESS / bore)
    return float((lift - rubs * lengths / bore * _dynamic_pressure(supply, gas, bore)).sum())


def _dynamic_pressure(supply: GasSupply, gas: Floats, bore: float) -> Floats:
    speed_density = supply.flow / (math.pi * bore**2 / 4)
    return np.asarray(0.5 * speed_density**2 / supply.gas.density(gas))


def friction_factor(reynolds_number: ArrayLike, roughness: float) -> Floats:
    """Darcy friction factor of a pipe; between laminar and turbulent flow a straight line.

    Parameters
    ----------
    reynolds_number : array_like
        Positive. [-]
    roughness : float
        Relative to the diameter. [-]

    Returns
    -------
    ndarray, of the shape of `reynolds_number`

    References
    ----------
    Laminar 64/Re; S. E. Haaland, J. Fluids Eng. 105, 1983, 89-90 (from memory, checked against `fluids`).
    """

    number = np.asarray(reynolds_number, dtype=float)
    turbulent = (-1.8 * np.log10((roughness / 3.7) ** 1.11 + 6.9 / np.maximum(number, TURBULENT_START))) ** -2
    share = np.clip((number - LAMINAR_END) / (TURBULENT_START - LAMINAR_END), 0.0, 1.0)
    return np.asarray((1 - share) * 64.0 / np.minimum(number, LAMINAR_END) + share * turbulent)
