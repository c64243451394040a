"""What probes would read in the burns of some logs, for any values of the parameters.

Goes in: observations. Comes out: a `Predictor`, to be fitted. Burns run on ports;
a section that was met before keeps its ports, and values that differ in a probe's own offset alone
take no new burn.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from annulus.burn.fast import FastBurner
from annulus.burn.outcome import time_to_target
from annulus.burn.readings import readings
from annulus.burn.record import March
from annulus.case import Case
from annulus.errors import ConvergenceError
from annulus.films import excess_air_of_gas, gas_per_wood
from annulus.heater.gas_path import gas_supply, pass_flue_above
from annulus.heater.ports import SECTION
from annulus.logs.observing import COLDEST_GAS, Observation, hotter_name, means
from annulus.logs.parameters import GAS_FLOW, OFFSETS, PROBE_BELOW, with_values

Floats = NDArray[np.float64]
Course = dict[str, Floats]

FINENESS = 1  # of the grid: far finer than what a log can tell
TOLERANCE = 2.0  # [K], of a step; knots of the fire keep steps short
LEAST_RISE = 1.0  # [K]
SECTIONS_KEPT, BURNS_KEPT = 12, 64
OF_BURN = {"tank": "tank_mean", "water_out": "water_out", "gas_above": "gas_above"}


class Predictor:
    """Predicts the readings of all observations.

    Parameters
    ----------
    observations : sequence of Observation
    """

    def __init__(self, observations: Sequence[Observation]):
        self.observations = tuple(observations)
        self._burners: OrderedDict[str, FastBurner] = OrderedDict()
        self._courses: OrderedDict[tuple[object, ...], Course] = OrderedDict()
        self._times: dict[str, float | None] = {}

    @property
    def measured(self) -> Floats:
        """Readings of all logs in one row."""
        return np.concatenate([one.measured for one in self.observations])

    @property
    def scale(self) -> Floats:
        """Errors in the same order."""
        return np.concatenate([one.scale for one in self.observations])

    @property
    def is_least(self) -> NDArray[np.bool_]:
        """True for a reading at the end of its probe, in the same order."""
        return np.concatenate([one.is_least for one in self.observations])

    def __call__(self, values: Mapping[str, float]) -> Floats:
        """Readings of all logs in one row, at some values. [K]"""
        found = []
        for one in self.observations:
            course = self.course(one, values)
            for channel in one.readings:
                read = course[OF_BURN[channel]]
                # the tank's probe gives its own start: what it reads wrong grows with the rise
                share = _risen(read) if channel == "tank" else 1.0
                found.append(read + share * values[OFFSETS[channel]])
        return np.concatenate(found)

    def course(self, one: Observation, values: Mapping[str, float]) -> Course:
        """Mean temperatures over the spans of an observation by name. [K]"""
        offsets = OFFSETS.values()
        key = (one.name, *(values[name] for name in values if name not in offsets))
        if key not in self._courses:
            case = with_fire(one, values)
            course = _means_of(self._burn(case), one.edges)
            course["gas_above"] = at_probe_above(case, course["gas_above"])
            self._courses[key] = course
            if len(self._courses) > BURNS_KEPT:
                self._courses.popitem(last=False)
        return self._courses[key]

    def time_to_target(self, case: Case, values: Mapping[str, float]) -> float:
        """Time to target of a case in its own fire. [s]

        Raises
        ------
        ConvergenceError
            If the target is not reached in the time that the case gives it.
        """
        changed = with_values(case, values)
        key = repr(changed)
        if key not in self._times:
            self._times[key] = time_to_target(self._burn(changed))
        reached = self._times[key]
        if reached is None:
            raise ConvergenceError("the next burn does not come to its target; give it more time in [burn] duration")
        return reached

    def _burn(self, case: Case) -> March:
        """March a case on the ports of its section."""
        key = repr([getattr(case, part) for part in (*SECTION, "flue", "room")])
        if key not in self._burners:
            self._burners[key] = FastBurner(_in_steady_fire(case), FINENESS)
            if len(self._burners) > SECTIONS_KEPT:
                self._burners.popitem(last=False)
        self._burners.move_to_end(key)
        return self._burners[key].burn(case, TOLERANCE)


def _risen(tank: Floats) -> Floats:
    """Rise since the first span, of that to the last. [-]"""
    return np.asarray((tank - tank[0]) / max(float(tank[-1] - tank[0]), LEAST_RISE), dtype=np.float64)


def with_fire(one: Observation, values: Mapping[str, float]) -> Case:
    """The observation's case at some values: its fire as the probe should have read it, more gas with more air."""
    case = with_values(one.case, values, fire_is_stated=False)
    assert case.burn is not None  # made with the observation
    fire = one.fire.copy()
    if one.hotter_share.any():
        fire[:, 1] += one.hotter_share * values[hotter_name(one.name)]
    fire[:, 1] = np.maximum(fire[:, 1] - values[PROBE_BELOW], COLDEST_GAS)
    fire[:, 2] *= values[GAS_FLOW]
    burn = case.burn.model_copy(update={"table": tuple(tuple(row) for row in fire.tolist())})
    wood = case.fire
    gas = values[GAS_FLOW] * gas_per_wood(wood.moisture_wet, wood.excess_air)  # the same wood with more air or less
    thinned = wood.model_copy(update={"excess_air": max(1.0, excess_air_of_gas(wood.moisture_wet, gas))})
    return case.model_copy(update={"burn": burn, "fire": thinned})


def at_probe_above(case: Case, gas: Floats) -> Floats:
    """Gas above the coil as the probe meets it, behind the bare pipe. [K]"""
    assert case.burn is not None  # made with the observation
    supply = replace(gas_supply(case), flow=case.burn.table[0][2])
    return pass_flue_above(case, [supply] * gas.size, gas).gas_out


def _in_steady_fire(case: Case) -> Case:
    """The case in the fire that its file states: enough to make a basis about."""
    assert case.burn is not None  # as above
    return case.model_copy(update={"burn": case.burn.model_copy(update={"fire": "constant"})})


def _means_of(march: March, edges: Floats) -> Course:
    """Mean readings of a march over spans, straight between its steps."""
    moments = [march.first, *(step.end for step in march.steps)]
    seen = [readings(now) for now in moments]
    time = np.array([now.time for now in moments])
    return {name: means(time, np.array([one[name] for one in seen]), edges) for name in seen[-1]}
