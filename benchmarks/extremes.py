"""Heaters and sections at the ends of what can be described: a right answer with its bar, or a named error?

Run: python benchmarks/extremes.py --heaters 400 --sections 400 --marches 60 --seed 1

Heaters: conductivities over eight decades, next to no flow of gas or water, no
temperature difference at all, one turn or many, turns a micrometre apart,
tubes on the flue or a nanometre off, cavities and films thinner than a cell,
gas as hot as the laws reach, water just below boiling. Each is solved on the
coarse pair of grids. A fault is a traceback, a number that is not finite, a
balance that does not close, a temperature beyond those of gas, water and room
by more than its bar, or (for every `--judge-every`th) a heat to the water that
a grid twice as fine moves by more than ten bars.

Sections: random layers and tubes, plane and cylindrical, conductivities over
eight decades. A fault is heat that is lost, a base field beyond its ambients,
conductances that are not reciprocal. Marches: the same sections in time; every
step must keep its heat and every temperature its range.
Ends with status 1 if there was any fault.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from annulus.case import Case, loads
from annulus.conduction.boundaries import Film
from annulus.conduction.transient import march
from annulus.errors import AnnulusError
from annulus.heater import solve_heater, summarise
from annulus.heater.precision import error_key, with_errors
from annulus.verification.properties import (
    COARSE_OVERSHOOT,
    FIRE,
    ROOM,
    base_field,
    base_port_conductances,
    overshoot,
    skew,
    solve,
    throughput,
)
from annulus.verification.random_sections import random_section

TEMPERATURES = ("wall_min_C", "wall_max_C", "tube_max_C", "filler_max_C", "insulation_max_C", "outside_max_C")
SLACK = 0.01  # of the span: what a coarse second-order grid may overstep (see V29 in `annulus verify`)
BARS = 10.0  # by which a finer grid may move a heat: one result in a thousand of the error-bar study moves more
CLOSED = 1e-9  # of the throughput
ROUND_OFF = 1e-15  # of the terms that cancel in a balance, where these are far larger than what passes
DECADES = 8.0

BASE = """
title = "Extreme"
invented = true
[flue]
material = "wall"
inner_diameter = "150 mm"
wall = "2 mm"
bare_above = "{bare}"
[coil]
material = "tube"
tube_outer_diameter = "15 mm"
tube_wall = "1 mm"
turns = {turns}
pitch = "{pitch}"
gap = "{gap}"
[filler]
material = "{filler}"
film_at_flue = "{film}"
strip_under_tubes = "{strip}"
[shroud]
material = "sheet"
sheet = "{sheet}"
clearance = "{clearance}"
[insulation]
material = "mineral wool"
thickness = "{wool}"
[fire]
gas_temperature = "{gas}"
gas_flow = "{gas_flow}"
[water]
flow = "{flow}"
inlet_temperature = "{inlet}"
direction = "{direction}"
[room]
temperature = "{room}"
ends = "{ends}"
"""
MATERIAL = """
[materials."{name}"]
family = "{family}"
conductivity = "{k} W/mK"
density = "2000 kg/m3"
heat_capacity = "800 J/kgK"
emissivity = 0.8
"""


def draw_heater(rng: random.Random) -> str:
    """Text of a heater with some of its numbers at their ends."""

    def often(usual: str, *extremes: str) -> str:
        return rng.choice(extremes) if rng.random() < 0.3 else usual

    alike = rng.random() < 0.05  # no temperature difference at all
    filler = often("grain", "still air")
    text = BASE.format(
        bare=often("0 m", "1 mm", "3 m"),
        turns=rng.choice((1, 1, 2, 3, 5, *((60,) if rng.random() < 0.05 else ()))),
        pitch=often("30 mm", "15 mm", "15.001 mm", "15.000001 mm", "200 mm"),
        gap=often("0.5 mm", "0 mm", "1 um", "0.001 um", "20 mm"),
        filler=filler,
        film=often("0 mm", "1 um", "0.002 um", "0.3 mm") if filler == "grain" else "0 mm",
        strip=often("0 mm", "1 um", "0.1 mm") if filler == "grain" else "0 mm",
        sheet=often("1 mm", "1 um", "20 mm"),
        clearance=often("8 mm", "0 mm", "1 um", "0.01 um", "150 mm"),
        wool=often("50 mm", "0.1 mm", "1 m"),
        gas="18 degC"
        if alike
        else often("420 degC", "18.000001 degC", "19 degC", "1700 degC", "2500 degC", "-20 degC"),
        gas_flow=often("9.8 g/s", "1e-6 g/s", "0.01 g/s", "1 kg/s", "100 kg/s"),
        flow=often("3 L/min", "1e-6 L/min", "0.01 L/min", "1000 L/min", "100000 L/min"),
        inlet="18 degC" if alike else often("8 degC", "0 degC", "99 degC", "18 degC"),
        direction=rng.choice(("up", "down")),
        room="18 degC" if alike else often("18 degC", "-60 degC", "300 degC"),
        ends=rng.choice(("open", "insulated")),
    )
    for name, family in (("wall", "metal"), ("tube", "metal"), ("sheet", "metal"), ("grain", "filler")):
        k = 10 ** rng.uniform(-DECADES / 2, DECADES / 2) if rng.random() < 0.5 else 50.0 if family == "metal" else 0.35
        text += MATERIAL.format(name=name, family=family, k=f"{k:.6g}")
    return text


def try_heater(text: str, judge: bool) -> tuple[str, str]:
    """Ending of one heater, and what is wrong with it if that is a fault."""
    try:
        case = loads(text)
        coarse = solve_heater(case, 1)
        fine = solve_heater(case, 2, near=coarse)
        outcome = with_errors(summarise(fine), summarise(coarse), _touches(case))
    except AnnulusError as refusal:
        return type(refusal).__name__, "" if len(str(refusal)) > 30 else f"says too little: {refusal}"
    bad = not_finite(outcome)
    if bad:
        return "FAULT", f"not finite: {bad}"
    if not outcome["balance_error"] <= CLOSED:
        return "FAULT", f"balance {outcome['balance_error']:.1e}"
    parts = outcome["heat_to_water_W"] + outcome["heat_to_room_W"]
    if abs(outcome["heat_from_gas_W"] - parts) > 1e-6 * max(1.0, abs(parts), abs(outcome["heat_to_water_W"])):
        return "FAULT", f"heat from gas {outcome['heat_from_gas_W']} is not {parts}"
    ends = [outcome[key] for key in ("gas_in_C", "water_in_C", "room_C")]
    span = max(ends) - min(ends)
    for key in TEMPERATURES:
        value, error = outcome[key], outcome.get(error_key(key)) or 0.0
        if value is not None and not (
            min(ends) - SLACK * span - error - 1e-6 <= value <= max(ends) + SLACK * span + error + 1e-6
        ):
            return "FAULT", f"{key} = {value} is beyond {ends} by more than its bar of {error}"
    if judge:
        finer = summarise(solve_heater(case, 4, near=fine))["heat_to_water_W"]
        moved, bar = abs(finer - outcome["heat_to_water_W"]), outcome["heat_to_water_error_W"]
        if moved > BARS * bar:
            return "FAULT", f"heat to the water {outcome['heat_to_water_W']} moves by {moved:.3g} W, bar {bar:.3g} W"
    return "solved", ""


def not_finite(outcome: Mapping[str, Any]) -> list[str]:
    """Names of results that are no finite numbers, or hold one that is not."""
    found = []
    for key, value in outcome.items():
        entries = value if isinstance(value, list) else [value]
        if any(isinstance(entry, float) and not math.isfinite(entry) for entry in entries):
            found.append(key)
    return found


def _touches(case: Case) -> bool:
    return case.coil is not None and min(case.coil.gap) == 0


def try_section(seed: int) -> tuple[str, str]:
    """Laws on one random section over eight decades, steady."""
    coordinates = "plane" if seed % 2 else "cylindrical"
    section = random_section(seed, decades=DECADES, coordinates=coordinates)
    pieces = section.cut()
    field = solve(section, pieces)
    network = section.connect(pieces)
    terms = float(network.surface_conductance.sum() + network.link_conductance.sum())  # [W], of ambients of 1 K
    lost = abs(field.imbalance)
    if not lost <= max(CLOSED * throughput(field, section), ROUND_OFF * terms):
        return "FAULT", f"heat lost: {lost:.1e} W of a throughput of {throughput(field, section):.1e} W"
    beyond = overshoot(base_field(section, pieces), section, pieces)
    if not beyond <= 1e-9:
        return "FAULT", f"base field beyond its ambients by {beyond:.1e}"
    crooked = skew(base_port_conductances(section, pieces))
    if not crooked <= 1e-8:
        return "FAULT", f"base conductances not reciprocal by {crooked:.1e}"
    return f"{coordinates}: holds", ""


def try_march(seed: int) -> tuple[str, str]:
    """Conservation and range at every step of one section that warms from room temperature."""
    coordinates = "plane" if seed % 2 else "cylindrical"
    section = random_section(seed, cells=10, decades=DECADES, coordinates=coordinates)
    pieces = section.cut()
    here = {painted.name for painted in pieces.regions}
    films = {
        name: Film(film.coefficient, ROOM + (FIRE - ROOM) * film.ambient)
        for name, film in section.films.items()
        if name in pieces.boundaries
    }
    history = march(
        pieces,
        section.conductivity,
        dict.fromkeys(section.conductivity, 2e6),
        films,
        ROOM,
        [10.0, 1000.0, 100_000.0],
        contacts={pair: value for pair, value in section.contacts.items() if set(pair) <= here},
        tolerance=0.5,
    )
    worst = float(np.abs(history.imbalance).max())
    if not worst <= CLOSED:
        return "FAULT", f"a step loses {worst:.1e} of its heat"
    ambient = [ROOM, *(film.ambient for name, film in films.items() if pieces.boundary_surfaces(name).size)]
    found = history.temperature
    beyond = max(float(found.max()) - max(ambient), min(ambient) - float(found.min()))
    if beyond > COARSE_OVERSHOOT * (FIRE - ROOM):
        return "FAULT", f"a temperature beyond the ambients by {beyond:.2f} K"
    return f"{coordinates}: holds", ""


def count(name: str, numbers: range, attempt: Callable[[int], tuple[str, str]], show: Callable[[int], str]) -> int:
    """Try all; print endings and faults; how many faults."""
    endings: Counter[str] = Counter()
    begun = time.perf_counter()
    for n in numbers:
        try:
            ending, wrong = attempt(n)
        except AnnulusError as refusal:
            ending, wrong = type(refusal).__name__, ""
        except Exception as fault:  # whatever else gets out is a fault of the program: that is what is looked for
            ending, wrong = "FAULT", "".join(traceback.format_exception(fault)[-3:])
        if wrong:
            ending = "FAULT"
            print(f"{name} {n}: {wrong}\n{show(n)}\n", flush=True)
        endings[ending] += 1
    print(f"{name}: {len(numbers)} tried in {time.perf_counter() - begun:.0f} s")
    for ending, times in endings.most_common():
        print(f"{times:7d}  {ending}")
    return endings["FAULT"]


def main() -> int:
    """Try all three kinds; print counts and every fault."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--heaters", type=int, default=400)
    parser.add_argument("--sections", type=int, default=400)
    parser.add_argument("--marches", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--judge-every", type=int, default=8, help="solve one in so many on a finer grid as well")
    options = parser.parse_args()
    first = options.seed * 100_000

    def heater(n: int) -> str:
        return draw_heater(random.Random(n))

    faults = count(
        "heater",
        range(first, first + options.heaters),
        lambda n: try_heater(heater(n), n % options.judge_every == 0),
        heater,
    )
    faults += count("section", range(first, first + options.sections), try_section, str)
    faults += count("march", range(first, first + options.marches), try_march, str)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
