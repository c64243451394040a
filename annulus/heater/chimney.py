"""The chimney above the described flue: gas and wall at its top, draught left at the bottom of the flue.

Goes in: a case with a chimney, the gas that leaves the flue and the gas in it.
Comes out: a `ChimneyTop`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
        for n in range(segments):
            capacity = supply.flow * float(supply.gas.cp(middle[n]))
            gas[n + 1] = outdoors + (gas[n] - outdoors) * math.exp(-area / across[n] / capacity)
        middle = 0.5 * (gas[1:] + gas[:-1])
        settled = middle - (middle - outdoors) * inner / across
        change = float(np.abs(settled - wall).max())
        wall = 0.5 * (wall + settled)
        if change < SETTLED * max(1.0, above.gas_out):
            break
    else:
        raise ConvergenceError(f"chimney: wall still moves by {change:.1e} K after {MAX_ROUNDS} rounds", field=gas)
    flue = [
        (case.flue.bare_below, 0.5 * (supply.temperature + below.gas_out)),
        *((case.height / (section_gas.size - 1), T) for T in 0.5 * (section_gas[1:] + section_gas[:-1])),
        (case.flue.bare_above, 0.5 * (section_gas[-1] + above.gas_out)),
    ]
    draught = sum(_draught(case, supply, outdoors, length, float(T), case.flue.inner_diameter) for length, T in flue)
    draught += sum(_draught(case, supply, outdoors, step, float(T), bore) for T in middle)
    top_wall = gas[-1] - (gas[-1] - outdoors) * inner[-1] / across[-1]
    leaving = (chimney.losses + 1.0) * _dynamic_pressure(supply, float(middle[-1]), bore)
    return ChimneyTop(float(gas[-1]), float(top_wall), float(draught - leaving))


def _draught(case: Case, supply: GasSupply, outdoors: float, length: float, T: float, bore: float) -> float:
    """Lift of one length of hot gas less its friction. [Pa]"""
    air = atmospheric_pressure(case.room.altitude) / (AIR_CONSTANT * outdoors)
    lift = GRAVITY * length * (air - float(supply.gas.density(T)))
    number = float(reynolds(supply.flow, bore, supply.gas.viscosity(T)))
    return lift - friction_factor(number, ROUGHNESS / bore) * length / bore * _dynamic_pressure(supply, T, bore)


def _dynamic_pressure(supply: GasSupply, T: float, bore: float) -> float:
    speed_density = supply.flow / (math.pi * bore**2 / 4)
    return 0.5 * speed_density**2 / float(supply.gas.density(T))


def friction_factor(reynolds_number: float, roughness: float) -> float:
    """Darcy friction factor of a pipe; between laminar and turbulent flow a straight line.

    Parameters
    ----------
    reynolds_number : float
        Positive. [-]
    roughness : float
        Relative to the diameter. [-]

    References
    ----------
    Laminar 64/Re; S. E. Haaland, J. Fluids Eng. 105, 1983, 89-90 (from memory, checked against `fluids`).
    """

    def turbulent(number: float) -> float:
        return (-1.8 * math.log10((roughness / 3.7) ** 1.11 + 6.9 / number)) ** -2

    if reynolds_number <= LAMINAR_END:
        return 64.0 / reynolds_number
    if reynolds_number >= TURBULENT_START:
        return turbulent(reynolds_number)
    share = (reynolds_number - LAMINAR_END) / (TURBULENT_START - LAMINAR_END)
    return (1 - share) * 64.0 / LAMINAR_END + share * turbulent(TURBULENT_START)
