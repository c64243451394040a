"""The water: its film in each turn, and the heat that a stream carries per degree.

Goes in: a `Case`, its turns, temperatures of bores and water. Comes out: film
coefficients and heat capacity flows.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.films import water
from annulus.heater.sides import WaterSide
from annulus.section import Turn

Floats = NDArray[np.float64]

SMALL_STEP = 1e-3  # [K]; over less the mean of cp is exact to round-off


class Fluid(Protocol):
    """Whatever knows its heat capacity and enthalpy."""

    def cp(self, temperature): ...

    def enthalpy(self, temperature): ...


class _Water:
    """The property laws of water under the names that flue gas has."""

    cp = staticmethod(water.specific_heat)
    enthalpy = staticmethod(water.enthalpy)


WATER: Fluid = _Water()


def water_coefficient(case: Case, turns: Sequence[Turn], bore: Floats, wet: Floats) -> Floats:
    """Water-side film of each turn, bottom first. [W/(m2 K)]

    Parameters
    ----------
    case : Case
        With water.
    turns : sequence of Turn
    bore : ndarray, shape (n_turns,)
        Mean temperature of each turn's bore, bottom first. [K]
    wet : ndarray, shape (n_turns + 1,)
        Water at the inlet, then after each turn in the order of flow. [K]
    """
    assert case.water is not None  # a case with a coil has water
    return WaterSide.of(case, turns).film(bulk_by_turn(wet, case.water.direction), bore)


def bulk_by_turn(wet: Floats, direction: str) -> Floats:
    """Mean temperature of the water in each turn, bottom first, from that between turns in the order of flow. [K]"""
    bulk = 0.5 * (wet[..., 1:] + wet[..., :-1])
    return bulk[..., ::-1] if direction == "down" else bulk


def capacity_flow(flow: float | Floats, temperature: Floats, fluid: Fluid) -> Floats:
    """Mass flow times the heat capacity that makes enthalpy differences exact, by segments. [W/K]

    Parameters
    ----------
    flow : float or ndarray, shape (..., 1)
        [kg/s]
    temperature : ndarray, shape (..., n_segments + 1)
        At the segments' edges. [K]
    fluid : Fluid
    """
    step = np.diff(temperature)
    safe = np.abs(step) > SMALL_STEP
    secant = np.diff(fluid.enthalpy(temperature)) / np.where(safe, step, 1.0)
    return flow * np.where(safe, secant, fluid.cp(0.5 * (temperature[..., 1:] + temperature[..., :-1])))
