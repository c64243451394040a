"""The fire over time: what enters the flue at each instant, and what wood it takes.

Goes in: a `Case`. Comes out: a `Fire` for any instant of a burn, and the
instants at which it jumps or bends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from annulus.case import Case
from annulus.films import gas_per_wood, lower_heating_value
from annulus.heater.gas_path import GasSupply, gas_supply


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
    breaks : tuple of float
        Instants at which the fire jumps or bends, increasing, none at zero. [s]
    """

    @property
    def breaks(self) -> tuple[float, ...]: ...

    def at(self, time: float, part: int) -> Fire:
        """The fire at a time [s] as it is between two breaks: part 0 ends at the first one."""
        ...


class SteadyFire:
    """The fire of the case, all the time."""

    breaks: tuple[float, ...] = ()

    def __init__(self, case: Case):
        supply = gas_supply(case)
        moisture = case.fire.moisture_wet
        rate = case.fire.wood_rate or supply.flow / gas_per_wood(moisture, case.fire.excess_air)
        self._fire = Fire(supply, rate, rate * lower_heating_value(moisture))

    def at(self, time: float, part: int) -> Fire:
        """The same at any time."""
        return self._fire


def make_schedule(case: Case) -> Schedule:
    """Schedule of a case's fire."""
    return SteadyFire(case)
