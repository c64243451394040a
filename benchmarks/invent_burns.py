"""Invented burns whose truth is the burn model itself, with drawn parameters, probes and faults.

Goes in: a case, true values, a random generator. Comes out: a `Course` and its log.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from make_logs import PLAIN

from annulus.burn.fast import FastBurner
from annulus.burn.outcome import time_to_target
from annulus.burn.readings import readings
from annulus.burn.record import Now
from annulus.case import Case
from annulus.films import excess_air_of_gas, gas_per_wood
from annulus.heater.gas_path import pass_bare_flue
from annulus.logs.parameters import GAS_FLOW, PROBE_ABOVE, PROBE_BELOW, PROBE_OUT, PROBE_TANK, with_values
from annulus.logs.priors import Prior
from annulus.logs.synthetic import NOISE, Course, Sheet, capped, constant, write_down

FINE = 10.0  # [s]
LOAD, EVERY = 1.0, 1200.0  # [kg], [s]


def draw(priors: Sequence[Prior], rng: np.random.Generator) -> dict[str, float]:
    """True values from the priors."""
    return {prior.name: prior.value(float(np.clip(rng.normal(), -1.9, 1.9))) for prior in priors}


def true_case(case: Case, values: Mapping[str, float]) -> Case:
    """The heater as it truly is; more gas from the same wood means more air."""
    true = with_values(case, values, fire_is_stated=False)
    wood = case.fire
    gas = values[GAS_FLOW] * gas_per_wood(wood.moisture_wet, wood.excess_air)
    excess = excess_air_of_gas(wood.moisture_wet, gas)
    return true.model_copy(update={"fire": true.fire.model_copy(update={"excess_air": excess})})


def invent_burn(case: Case, values: Mapping[str, float], hours: float, burners: dict[str, FastBurner]) -> Course:
    """True course of a burn of the bath-house: loads of wood for some hours."""
    true = true_case(case, values)
    assert true.burn is not None  # a tank brings it along
    changes: dict[str, Any] = {
        "fire": "reloads",
        "reload": LOAD,
        "reload_every": EVERY,
        "until": "duration",
        "duration": 3600.0 * hours,
    }
    true = true.model_copy(update={"burn": true.burn.model_copy(update=changes)})
    march = burner_of(true, burners).burn(true)
    moments = [march.first, *(step.end for step in march.steps)]
    seen = [probes(now) for now in moments]
    at = np.array([now.time for now in moments])
    time = np.arange(0.0, 3600.0 * hours + FINE, FINE)
    named = {name: np.interp(time, at, [one[name] for one in seen]) for name in seen[0]}
    wood = np.zeros(time.size)
    wood[:: round(EVERY / FINE)] = LOAD
    wood[-1] = 0.0
    assert case.water is not None and case.water.flow is not None  # pumped
    tank = named["tank_mean"]
    risen = values[PROBE_TANK] * (tank - tank[0]) / (tank[-1] - tank[0])  # what a probe reads wrong grows with the rise
    channels = {
        "gas_below": named["gas_below"] + values[PROBE_BELOW],
        "gas_above": named["gas_above"] + values[PROBE_ABOVE],
        "water_in": named["tank_bottom"] + risen,
        "water_out": named["water_out"] + values[PROBE_OUT],
        "tank_top": named["tank_top"] + risen,
        "tank_bottom": named["tank_bottom"] + risen,
        "flow": np.full(time.size, case.water.flow),  # as the builder notes it
        "wood": wood,
    }
    return Course(time, channels, {"heater": "burn model", "values": dict(values)})


def probes(now: Now) -> dict[str, float]:
    """Readings of a moment, gas where its probes are: before the bare pipe below the coil, behind that above it."""
    seen, leaving = readings(now), now.leaving
    above = pass_bare_flue(now.moment.system.case, *leaving, now.moment.system.case.flue.bare_above)
    return {**seen, "gas_below": leaving.supply.temperature, "gas_above": above.gas_out}


def true_time(case: Case, values: Mapping[str, float], burners: dict[str, FastBurner]) -> float:
    """Time to target of a case in its own fire, at true values. [s]"""
    true = with_values(case, values)
    found = time_to_target(burner_of(true, burners).burn(true))
    assert found is not None  # designs of the benchmark come to their target
    return found


def burner_of(case: Case, burners: dict[str, FastBurner]) -> FastBurner:
    """Ports of a case's section, made once."""
    key = repr((case.flue, case.coil, case.filler, case.shroud, case.insulation, case.contacts, case.materials))
    if key not in burners:
        assert case.burn is not None  # a tank brings it along
        steady = case.model_copy(update={"burn": case.burn.model_copy(update={"fire": "constant"})})
        burners[key] = FastBurner(steady, 1)
    return burners[key]


def minutes_of(course: Course, rng: np.random.Generator, noise: Mapping[str, float] = NOISE) -> Sheet:
    """A minute's log of a course."""
    return write_down(course, PLAIN, 60.0, rng, noise=noise)


def end_probe(sheet: Sheet, role: str, share: float) -> float:
    """A probe that ends below this share of its readings; how much hotter those were, in the mean. [K]"""
    column = sheet.headings[role]
    true = np.array([float(row.cells[column]) for row in sheet.rows])
    limit = float(np.round(np.quantile(true, 1.0 - share)))
    for row in sheet.rows:
        row.cells[column] = capped(limit)(row.cells[column])
    return float(np.mean(true[true > limit]) - limit)


def plant_faults(sheet: Sheet, rng: np.random.Generator) -> Sheet:
    """The same log with faults drawn at random."""
    n = len(sheet.rows)
    place = int(rng.integers(n // 3, n // 2))
    sheet.plant("missing", "water_out", range(place, place + 5), constant(""))
    for _ in range(3):
        row = int(rng.integers(20, n - 20))
        sheet.plant("spike", "gas_above", [row], constant("901.0"))
    sheet.plant("fault code", "tank_top", range(20, 24), constant("-127.0"))
    sheet.plant("unreadable", "gas_below", [int(rng.integers(30, 60))], constant("err"))
    start = int(rng.integers(n // 2, n - 30))
    if start % 20 in (0, 19, 18, 17, 16, 15):
        start += 7  # a gap that swallows a load is another story: its wood is lost
    sheet.lose(start, start + 4)
    return sheet
