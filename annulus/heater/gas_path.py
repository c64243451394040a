"""The gas: what the fire delivers, and what bare lengths of flue take from it.

Goes in: a `Case`. Comes out: gas flow and temperature at the bottom of the
described flue, and the gas after a bare length with the heat lost to the room.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.case import Case
from annulus.errors import ConvergenceError, InputError
from annulus.films import FlueGas, FlueGases, atmospheric_pressure
from annulus.films.wood import HeatedGas, at_temperature, heat_of_wood
from annulus.heater.sides import GasSide, RoomSide, gather

Floats = NDArray[np.float64]

LONGEST_SEGMENT = 0.05  # [m] of bare flue with one wall temperature
MAX_ROUNDS = 200  # 4 times the worst seen over 50-900 degC gas and 0.5-30 g/s
SHARES = 0.2, 1.2  # least and most of a miss that a round takes
SETTLED = 1e-10  # [K], change of the wall's temperature between rounds


@dataclass(frozen=True)
class GasSupply:
    """Gas that enters the bottom of the flue.

    Attributes
    ----------
    gas : FlueGas
    flow : float
        [kg/s]
    temperature : float
        [K]
    fired_power : float or None
        Wood rate times lower heating value, where the case states the wood. [W]
    """

    gas: FlueGas
    flow: float
    temperature: float
    fired_power: float | None


@dataclass(frozen=True)
class BareFlue:
    """A length of flue without coil.

    Attributes
    ----------
    gas_out : float
        [K]
    heat : float
        From the gas to the room. [W]
    wall, outside : ndarray, shape (n_segments,)
        Inner and outer face of the wall, bottom first. [K]
    """

    gas_out: float
    heat: float
    wall: Floats
    outside: Floats


def gas_supply(case: Case) -> GasSupply:
    """Gas flow and temperature from the fire table of a case; combustion air is room air.

    Raises
    ------
    InputError
        If the gas of its wood lies outside the range of the gas laws.
    """
    (found,) = gas_supplies([case])
    if isinstance(found, InputError):
        raise found
    return found


def gas_supplies(cases: Sequence[Case]) -> list[GasSupply | InputError]:
    """Of each case what `gas_supply` gives or raises, all temperatures found together."""
    found: dict[int, GasSupply | InputError] = {}
    heated: dict[int, HeatedGas] = {}
    for n, case in enumerate(cases):
        try:
            fire, pressure = case.fire, atmospheric_pressure(case.room.altitude)
            if fire.wood_rate is None:
                assert fire.gas_flow is not None and fire.gas_temperature is not None  # it holds one form or the other
                gas = FlueGas(fire.moisture_wet, fire.excess_air, pressure)
                found[n] = GasSupply(gas, fire.gas_flow, fire.gas_temperature, None)
                continue
            heated[n] = heat_of_wood(
                fire.wood_rate,
                fire.moisture_wet,
                fire.excess_air,
                fire.loss_before_coil or 0.0,
                air_temperature=case.room.temperature,
                pressure=pressure,
            )
        except InputError as error:
            found[n] = error
    if heated:
        enthalpy = np.array([[one.enthalpy] for one in heated.values()])
        temperatures = FlueGases.gather([one.gas for one in heated.values()]).temperature(enthalpy)[:, 0]
        for (n, one), temperature in zip(heated.items(), temperatures, strict=True):
            try:
                burnt = at_temperature(one, float(temperature))
                found[n] = GasSupply(burnt.gas, burnt.mass_flow, burnt.temperature, burnt.fired_power)
            except InputError as error:
                found[n] = error
    return [found[n] for n in range(len(cases))]


def gas_coefficient(case: Case, supply: GasSupply, gas: Floats, wall: Floats) -> Floats:
    """Gas-side film times the case's multiplier, convective plus radiative, by bands. [W/(m2 K)]"""
    return GasSide.of(case, supply.gas, supply.flow).film(gas, wall)


def room_coefficient(case: Case, surface: Floats, height: float, emissivity: Floats | float) -> Floats:
    """Film between an outside surface and the room, convective plus radiative. [W/(m2 K)]"""
    return RoomSide.of(case).film(surface, height, emissivity)


def pass_bare_flue(
    case: Case,
    supply: GasSupply,
    gas_in: float,
    length: float,
    near: BareFlue | None = None,
    settled: float = SETTLED,
) -> BareFlue:
    """Gas along a bare length of flue; each segment's gas falls exponentially to the room.

    Heat along the wall is left out: 2 mm of steel carries some 0.05 W per
    kelvin and metre of height, against 5 W/K into the room.

    Parameters
    ----------
    case : Case
    supply : GasSupply
    gas_in : float
        [K]
    length : float
        Zero gives back the gas unchanged. [m]
    near : BareFlue, optional
        The same length a moment before, to start from.
    settled : float
        Change of the wall between rounds that ends them, of the gas temperature.

    Raises
    ------
    ConvergenceError
        If the wall's temperature does not settle.
    """
    if length == 0.0:
        return BareFlue(gas_in, 0.0, np.empty(0), np.empty(0))
    gas_side, room_side = gather([GasSide.of(case, supply.gas, supply.flow)]), gather([RoomSide.of(case)])
    start = None if near is None else np.stack([near.wall, near.outside])[:, None]
    at, along = np.array([[gas_in]]), np.array([[length]])
    return pass_bare_flues(case, gas_side, room_side, at, along, start, settled).row(0)


def bare_segments(length: float) -> int:
    """Segments of a bare length, each with one wall temperature."""
    return math.ceil(length / LONGEST_SEGMENT)


@dataclass(frozen=True)
class BareFlues:
    """Bare lengths of many cases; arrays as in `BareFlue`, one row a case."""

    gas_out: Floats
    heat: Floats
    wall: Floats
    outside: Floats

    def row(self, n: int) -> BareFlue:
        """One of them."""
        return BareFlue(float(self.gas_out[n]), float(self.heat[n]), self.wall[n], self.outside[n])


def pass_flue_above(case: Case, supplies: Sequence[GasSupply], gas_in: ArrayLike) -> BareFlues:
    """Gas along the bare length above the section, of many supplies that enter it at temperatures [K]; one row each.

    As `pass_bare_flue`; supplies must be at least one.
    """
    length = case.flue.bare_above
    entering = np.array(gas_in, dtype=float)
    if length == 0.0:
        none = np.empty((entering.size, 0))
        return BareFlues(entering, np.zeros(entering.size), none, none)
    gas_side = gather([GasSide.of(case, supply.gas, supply.flow) for supply in supplies])
    room_side = gather([RoomSide.of(case)] * entering.size)
    lengths = np.full((entering.size, 1), length)
    return pass_bare_flues(case, gas_side, room_side, entering[:, None], lengths)


def pass_bare_flues(
    case: Case,
    gas_side: GasSide,
    room_side: RoomSide,
    gas_in: Floats,
    length: Floats,
    start: Floats | None = None,
    settled: float = SETTLED,
) -> BareFlues:
    """Gas along the bare lengths of many cases with one flue; as `pass_bare_flue`.

    Parameters
    ----------
    case : Case
        Its flue counts, but for bare lengths.
    gas_side, room_side : GasSide, RoomSide
        Columns, shape (n_cases, 1).
    gas_in, length : ndarray, shape (n_cases, 1)
        [K]; [m], all of as many segments.
    start : ndarray, shape (2, n_cases, n_segments), optional
        Inner and outer face of the wall, to start from. [K]
    settled : float

    Raises
    ------
    ConvergenceError
        If the wall's temperature does not settle in one of them.
    """
    n_cases, segments = gas_in.shape[0], bare_segments(float(length[0, 0]))
    step = length / segments
    r_in, r_out = case.flue.inner_diameter / 2, case.flue.outer_radius
    area_in, area_out = 2 * math.pi * r_in * step, 2 * math.pi * r_out * step
    room = room_side.temperature
    material = case.material(case.flue.material)
    soot = case.flue.soot_thickness / case.flue.soot_conductivity / area_in
    wall = np.full((2, n_cases, segments), 0.5 * (gas_in + room)) if start is None else start  # inside and outside
    miss = np.zeros_like(wall)
    share = np.full_like(wall, 0.5)  # of the miss, that is taken
    changes: list[Floats] = []
    is_open = np.ones(n_cases, dtype=bool)
    gas = np.repeat(gas_in, segments + 1, axis=1)
    found = BareFlues(np.empty(n_cases), np.empty(n_cases), *np.empty_like(wall))
    for _ in range(MAX_ROUNDS):
        middle = 0.5 * (gas[:, 1:] + gas[:, :-1])
        inner = 1 / (gas_side.film(middle, wall[0]) * area_in) + soot
        across = math.log(r_out / r_in) / (2 * math.pi * step * material.conductivity(wall.mean(axis=0)))
        outer = 1 / (room_side.film(wall[1], length, case.flue.emissivity) * area_out)
        units = np.cumsum(1 / (inner + across + outer) / (gas_side.flow * gas_side.gas.cp(middle)), axis=1)
        gas[:, 1:] = room + (gas_in - room) * np.exp(-units)
        heat = gas_side.flow * -np.diff(gas_side.gas.enthalpy(gas))
        new = np.stack([0.5 * (gas[:, 1:] + gas[:, :-1]) - heat * inner, room + heat * outer])
        before, miss = miss, new - wall
        changes.append(np.abs(miss).max(axis=(0, 2)))
        done = is_open & (changes[-1] < settled * np.maximum(1.0, np.abs(gas_in[:, 0])))
        found.gas_out[done], found.heat[done] = gas[done, -1], heat[done].sum(axis=1)
        found.wall[done], found.outside[done] = wall[:, done]
        is_open &= ~done
        if not is_open.any():
            return found
        if len(changes) > 1:
            share = _secant(share, before, miss)
        wall = wall + share * miss
    first = int(np.flatnonzero(is_open)[0])
    raise ConvergenceError(
        f"bare flue: wall still moves by {changes[-1][first]:.1e} K after {MAX_ROUNDS} rounds",
        residuals=[float(change[first]) for change in changes],
        field=gas[first],
    )


def _secant(share: Floats, before: Floats, miss: Floats) -> Floats:
    """Share of the miss to take next, entry by entry, from the misses before and after a share was taken."""
    fall = before - miss
    told = np.abs(fall) > 0.1 * np.abs(before)
    return np.where(told, np.clip(share * before / np.where(told, fall, 1.0), *SHARES), share)
