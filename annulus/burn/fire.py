"""The fire over time: what enters the flue at each instant, and what wood it takes.

Goes in: a `Case`. Comes out: a `Schedule`: the fire at any instant of a burn, and
the instants at which it jumps or bends.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.errors import InputError
from annulus.films import FlueGas, excess_air_of_gas, gas_per_wood, lower_heating_value, stoichiometric_air
from annulus.films.gas import HIGHEST
from annulus.heater.gas_path import GasSupply, gas_supply

Floats = NDArray[np.float64]

MOST_EXCESS_AIR = 30.0  # of the gas's composition; with more air it is air
STEPS_PER_FLAMING = 2.5  # steps resolve the rise of a reload's fire


@dataclass(frozen=True)
class Fire:
    """A fire at one instant.

    Attributes
    ----------
    supply : GasSupply
        What enters the flue.
    wood_rate : float
        Wet wood burnt. [kg/s]
    fired_power : float
        Wood rate times its lower heating value. [W]
    """

    supply: GasSupply
    wood_rate: float
    fired_power: float


class Schedule(Protocol):
    """A fire that goes its way in time.

    Attributes
    ----------
    jumps, bends : tuple of float
        Instants at which the fire changes at once, or only its slope. [s]
    longest_step : float
        Over which the fire does not turn. [s]
    """

    @property
    def jumps(self) -> tuple[float, ...]: ...
    @property
    def bends(self) -> tuple[float, ...]: ...
    @property
    def longest_step(self) -> float: ...

    def at(self, time: float) -> Fire:
        """The fire at a time; at a jump itself, that after it. [s]"""
        ...


class SteadyFire:
    """The fire of the case, all the time."""

    jumps: tuple[float, ...] = ()
    bends: tuple[float, ...] = ()
    longest_step = math.inf

    def __init__(self, case: Case):
        self.fire = fire_of(case, gas_supply(case))

    def at(self, time: float) -> Fire:
        """The same at any time."""
        return self.fire


def fire_of(case: Case, supply: GasSupply) -> Fire:
    """Wood that a gas flow takes: that of the case's moisture and excess air."""
    rate = supply.flow / gas_per_wood(case.fire.moisture_wet, case.fire.excess_air)
    return Fire(supply, rate, rate * lower_heating_value(case.fire.moisture_wet))


class TableFire:
    """Gas temperature and flow by a table, straight between its rows, constant beyond its ends.

    Over the table as much wood burns as makes the gas with the case's moisture and excess air; at
    every instant it burns as the gas brings heat, flow x (enthalpy - that of the room): the stove keeps the same share
    of its power before the flue. So gas is richest in products when it is hottest, and thin when the fire is low.
    Where a table has gas hotter than all its air could burn for, the gas is that of the least air.

    No source for the even share: a heavy stove keeps more of a young fire and gives some back to a dying one. The
    heat is that of gas of the mean composition, per kelvin within 4 % of that of the least air and of air alone.
    """

    jumps: tuple[float, ...] = ()
    longest_step = math.inf

    def __init__(self, case: Case):
        assert case.burn is not None  # checked with the case
        self._supply, self._moisture = gas_supply(case), case.fire.moisture_wet
        self._time, self._temperature, self._flow = np.array(case.burn.table).T
        self._wood = self._wood_of(case)
        self._heating = lower_heating_value(self._moisture)
        self.bends = tuple(self._time.tolist())

    def _wood_of(self, case: Case) -> Floats:
        """Wood that burns at the rows, which the heat of the gas shares out. [kg/s]"""
        gas = self._supply.gas
        heat = self._flow * np.maximum(gas.enthalpy(self._temperature) - gas.enthalpy(case.room.temperature), 0.0)
        even = self._flow / gas_per_wood(self._moisture, case.fire.excess_air)
        brought = np.trapezoid(heat, self._time)
        if brought == 0.0:
            return even  # gas that is nowhere above the room tells nothing of when it burnt
        return np.asarray(heat * (np.trapezoid(even, self._time) / brought))

    def at(self, time: float) -> Fire:
        """The fire between two rows."""
        rows = self._temperature, self._flow, self._wood
        temperature, flow, wood = (float(np.interp(time, self._time, values)) for values in rows)
        excess = excess_air_of_gas(self._moisture, flow / wood) if wood > 0 else math.inf
        gas = _gas(self._moisture, min(max(excess, 1.0), MOST_EXCESS_AIR), self._supply.gas.pressure)
        power = wood * self._heating
        return Fire(GasSupply(gas, flow, temperature, power), wood, power)


class ReloadedFire:
    """Loads of wood, each with its own rise and fall; the air stays the same.

    A load burns at m [(1 - c) t/f^2 exp(-t/f) + c t/g^2 exp(-t/g)], c the share of its mass that
    burns as charcoal: flames are brightest f after loading, charcoal g after. Air is that of the case's excess
    air at the mean rate, so the gas is hot where much burns and diluted
    where little does. The share of the power that the stove gives off before the flue is that of the case.

    No source: the curve is the simplest with a rise and two time scales, set so
    that flames take half an hour and charcoal an hour and a half, as common practice has it.
    """

    jumps: tuple[float, ...] = ()

    def __init__(self, case: Case):
        assert case.burn is not None  # checked with the case
        burn, fire = case.burn, case.fire
        steady = fire_of(case, gas_supply(case))
        room = case.room.temperature
        gas = steady.supply.gas
        available = steady.supply.flow * float(gas.enthalpy(steady.supply.temperature) - gas.enthalpy(room))
        self._kept = available / steady.fired_power  # share of the fired power that the gas brings to the flue
        self._burn, self._moisture, self._room = burn, fire.moisture_wet, room
        self._pressure = gas.pressure
        self._air = fire.excess_air * stoichiometric_air(fire.moisture_wet) * burn.reload / burn.reload_every
        count = burn.reloads if burn.reloads is not None else math.ceil(burn.duration / burn.reload_every)
        self._loads = burn.reload_every * np.arange(count)
        self.bends = tuple(self._loads[1:].tolist())
        self.longest_step = burn.flaming_time / STEPS_PER_FLAMING

    def rate(self, time: float) -> float:
        """Wood that burns. [kg/s]"""
        age = np.maximum(time - self._loads, 0.0)
        burn = self._burn
        flames = age / burn.flaming_time**2 * np.exp(-age / burn.flaming_time)
        charcoal = age / burn.charcoal_time**2 * np.exp(-age / burn.charcoal_time)
        share = burn.charcoal_share
        return burn.reload * float(((1 - share) * flames + share * charcoal).sum())

    def at(self, time: float) -> Fire:
        """Gas from the balance of the wood that burns and the air."""
        rate = self.rate(time)
        least_air = stoichiometric_air(self._moisture)
        excess = self._air / (rate * least_air) if rate > 0 else math.inf
        if excess < 1.0:
            raise InputError(
                f"burn.reload: at {time / 60:.0f} min the wood burns faster than its air allows (excess air "
                f"{excess:.2f}); smaller loads, more often, or more fire.excess_air"
            )
        gas = _gas(self._moisture, min(excess, MOST_EXCESS_AIR), self._pressure)
        flow = self._air + rate * (gas_per_wood(self._moisture, 1.0) - least_air)
        power = rate * lower_heating_value(self._moisture)
        brought = power * self._kept / flow + float(gas.enthalpy(self._room))
        temperature = float(gas.temperature(brought))
        if temperature > HIGHEST:
            raise InputError(f"burn.reload: at {time / 60:.0f} min the gas would reach {temperature:.0f} K; less wood")
        return Fire(GasSupply(gas, flow, temperature, power), rate, power)


@lru_cache(maxsize=4096)
def _gas(moisture: float, excess_air: float, pressure: float) -> FlueGas:
    return FlueGas(moisture, excess_air, pressure)


def make_schedule(case: Case) -> Schedule:
    """Schedule of a case's fire."""
    assert case.burn is not None  # a tank brings [burn] along
    kinds: dict[str, Callable[[Case], Schedule]] = {"constant": SteadyFire, "table": TableFire, "reloads": ReloadedFire}
    return kinds[case.burn.fire](case)
