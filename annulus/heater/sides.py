"""The three sides of a section and their films: gas, water and room, of one case or of many at once.

Goes in: cases. Comes out: a `GasSide`, `WaterSide` and `RoomSide`, each with the
numbers that its film law asks for. Of one case they are floats; `gather` makes
columns of shape (n_cases, 1) of them, and films then take one row of temperatures a case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.films import FlueGas, FlueGases, atmospheric_pressure, gas_film, room_film, water_film
from annulus.films.gas import GasLaws
from annulus.section import Turn

Floats = NDArray[np.float64]
Value = Any  # a float of one case, a column of many


@dataclass(frozen=True)
class GasSide:
    """Gas in the flue. `fixed` is the film that a case may state instead of a law. [W/(m2 K)]"""

    gas: GasLaws
    flow: Value
    diameter: Value
    heated_length: Value
    flame_emissivity: Value
    multiplier: Value
    fixed: Value

    @classmethod
    def of(cls, case: Case, gas: FlueGas, flow: float) -> GasSide:
        """Of one case."""
        fire, flue = case.fire, case.flue
        return cls(
            gas,
            flow,
            flue.inner_diameter,
            heated_length(case),
            fire.flame_emissivity,
            fire.gas_multiplier,
            fire.film_coefficient,
        )

    def film(self, gas: Floats, wall: Floats) -> Floats:
        """Convective plus radiative, times the case's multiplier, by bands. [W/(m2 K)]"""
        if self.fixed is not None:
            return np.full(np.shape(gas), self.fixed)
        film = gas_film(
            self.flow,
            self.diameter,
            self.heated_length,
            gas,
            wall,
            self.gas,
            flame_emissivity=self.flame_emissivity,
        )
        return self.multiplier * film.total


@dataclass(frozen=True)
class WaterSide:
    """Water in the coil; `winding` is the diameter between tube centres. [m]"""

    flow: Value
    bore: Value
    winding: Value
    fixed: Value

    @classmethod
    def of(cls, case: Case, turns: Sequence[Turn]) -> WaterSide:
        """Of one case."""
        assert case.water is not None  # a case with a coil has water
        winding = 2 * float(np.mean([turn.r for turn in turns]))
        return cls(case.water.flow, 2 * turns[0].inner_radius, winding, case.water.film_coefficient)

    def film(self, bulk: Floats, bore: Floats) -> Floats:
        """By turns. [W/(m2 K)]"""
        if self.fixed is not None:
            return np.full(np.shape(bulk), self.fixed)
        return water_film(self.flow, self.bore, self.winding, bulk, bore).coefficient


@dataclass(frozen=True)
class RoomSide:
    """Air around the outside."""

    temperature: Value
    pressure: Value
    fixed: Value

    @classmethod
    def of(cls, case: Case) -> RoomSide:
        """Of one case."""
        return cls(case.room.temperature, atmospheric_pressure(case.room.altitude), case.room.film_coefficient)

    def film(self, surface: Floats, height: Value, emissivity: Floats | float) -> Floats:
        """Convective plus radiative, of surfaces of one height. [W/(m2 K)]"""
        if self.fixed is not None:
            return np.full(np.shape(surface), self.fixed)
        return room_film(surface, self.temperature, height, emissivity, self.pressure).total


Side = TypeVar("Side", GasSide, WaterSide, RoomSide)


def gather(sides: Sequence[Side]) -> Side:
    """Sides of many cases in one; either all have a fixed film or none."""
    first = sides[0]
    found: dict[str, Value] = {}
    for name in (field.name for field in fields(first)):
        values = [getattr(side, name) for side in sides]
        if name == "gas":
            found[name] = FlueGases.gather(values)
        else:
            found[name] = None if values[0] is None else np.array(values, dtype=float)[:, None]
    return type(first)(**found)


def take(side: Side, rows: NDArray[np.int64]) -> Side:
    """Some cases of many."""
    found: dict[str, Value] = {}
    for name in (field.name for field in fields(side)):
        value = getattr(side, name)
        if isinstance(value, FlueGases):
            found[name] = value.take(rows)
        else:
            found[name] = None if value is None else value[rows]
    return type(side)(**found)


def heated_length(case: Case) -> float:
    """Bare lengths and coil section together: the length that entrance effects refer to. [m]"""
    return case.flue.bare_below + case.height + case.flue.bare_above
