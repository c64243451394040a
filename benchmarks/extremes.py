"""Heaters, sections, marches, burns at their ends: a right answer with its bar, or a named error?

Run: python benchmarks/extremes.py --heaters 400 --plain 100 --burns 20 --sections 400 --marches 60 --seed 1

Heaters: conductivities over eight decades, no flow of gas or water or next to
none, no temperature difference at all, one turn to 200, turns a micrometre
apart, tubes on the flue or a nanometre off, cavities and films thinner than a
cell, gas as hot as the laws reach, water just below boiling. Each is solved on
the coarse pair of grids. A fault is a traceback, a number that is not finite, a
balance that does not close to round-off of its terms, heat that flows uphill,
a rise of the water that its heat capacity does not explain, a
temperature beyond those of gas, water and room by more than its bar,
insulation beyond its law's range that is not told, or (for every
`--judge-every`th) a heat to the water that a grid twice as fine moves by more
than ten bars. Plain: layers without a coil against the closed form of a
cylinder. Burns: such heaters with a tank, on ports.

Sections: random layers and tubes, plane and cylindrical, conductivities over
eight decades. A fault is heat lost beyond round-off of its terms, a base field
beyond its ambients, conductances that are not reciprocal. Marches: the same
sections in time; every step must keep its heat, and every temperature its range
to what the scheme can be proved to keep.
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

from annulus.burn import summarise_burn
from annulus.burn.fast import FastBurner
from annulus.case import Case, loads
from annulus.errors import AnnulusError
from annulus.heater import solve_heater, summarise
from annulus.heater.precision import error_key, with_errors
from annulus.verification.properties import (
    FINE_OVERSHOOT,
    FIRE,
    ROOM,
    ROUND_OFF,
    base_field,
    base_port_conductances,
    first_order,
    overshoot,
    skew,
    solve,
    throughput,
    warm_up,
)
from annulus.verification.random_sections import random_section

TEMPERATURES = ("wall_min_C", "wall_max_C", "tube_max_C", "filler_max_C", "insulation_max_C", "outside_max_C")
SLACK = 0.01  # of the span: what a coarse second-order grid may overstep (see V29 in `annulus verify`)
BARS = 10.0  # by which a finer grid may move a heat: one result in a thousand of the error-bar study moves more
CLOSED = 1e-9  # of the throughput
SURE = 1e-3  # of the throughput: a section that loses more digits must be refused
EXACT = 1e-6  # of the heat through plain layers, whose closed form the grid meets; gas cools by less than that
WATER_HEAT = 4.18e3, 0.02  # [J/(kg K)] and its share of change from 0 to 100 degC (steam tables, from memory)
FINER = 4
TOLD_FROM = 1.0  # [K] beyond a law's range
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
        turns=rng.choice((1, 1, 2, 3, 5)) if rng.random() < 0.98 else rng.choice((60, 200)),
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
        gas_flow=often("9.8 g/s", "0 g/s", "1e-6 g/s", "0.01 g/s", "1 kg/s", "100 kg/s"),
        flow=often("3 L/min", "0 L/min", "1e-6 L/min", "0.01 L/min", "1000 L/min", "100000 L/min"),
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
    wrong = _physics(case, outcome)
    if wrong:
        return "FAULT", wrong
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


def _physics(case: Case, outcome: Mapping[str, Any]) -> str:
    """What is wrong with a solved heater by laws that the solver does not use; empty if nothing."""
    assert case.water is not None and case.insulation is not None  # every drawn heater has both
    scale = max(abs(outcome["heat_from_gas_W"] - outcome["heat_from_bare_flue_W"]), 1.0)  # as the balance is told
    lost = outcome["balance_error"] * scale
    large = max(
        case.water.flow * WATER_HEAT[0] * (outcome["water_in_C"] + 273.15),
        outcome["gas_flow_kg_s"] * 1.5e3 * (outcome["gas_in_C"] + 273.15),
    )  # [W], whose differences the streams' balances are
    unknown = outcome["rounding_W"] + 1e-15 * large
    if lost > CLOSED * scale + 3 * unknown:
        return f"balance misses {lost:.1e} W, round-off explains {unknown:.1e} W"
    heat, bar = outcome["heat_to_water_W"], outcome["heat_to_water_error_W"] + 3 * unknown
    warmer = [outcome[key] - outcome["water_in_C"] for key in ("gas_in_C", "room_C")]
    if (min(warmer) >= 0 and heat < -bar) or (max(warmer) <= 0 and heat > bar):
        return f"heat to the water {heat} W flows uphill"
    rise = outcome["water_out_C"] - outcome["water_in_C"]
    expected = case.water.flow * WATER_HEAT[0] * rise
    if abs(heat - expected) > WATER_HEAT[1] * abs(expected) + bar:
        return f"water rises by {rise} K, which takes {expected} W, not {heat} W"
    law = case.material(case.insulation.material).conductivity
    hottest = outcome["insulation_max_C"] + 273.15
    if hottest > law.T_max + TOLD_FROM and not any("wool" in note for note in outcome["beyond_published_range"]):
        return f"insulation at {hottest:.0f} K is beyond its law's {law.T_max:.0f} K and nothing says so"
    return ""


PLAIN_HEIGHT, PLAIN_RADII = 0.12, (0.075, 0.077, 0.100, 0.101, 0.151)  # [m]
PLAIN_FILMS = 30.0, 10.0  # [W/(m2 K)], inside and outside
PLAIN = """
title = "Plain layers"
invented = true
[flue]
material = "wall"
inner_diameter = "150 mm"
wall = "2 mm"
height = "0.12 m"
[filler]
material = "grain"
[shroud]
material = "sheet"
sheet = "1 mm"
clearance = "23 mm"
[insulation]
material = "wool"
thickness = "50 mm"
[fire]
gas_temperature = "420 degC"
gas_flow = "9000 kg/s"
film_coefficient = "30 W/m2K"
[room]
temperature = "18 degC"
film_coefficient = "10 W/m2K"
ends = "insulated"
"""


def try_plain(seed: int) -> tuple[str, str]:
    """Layers without a coil, conductivities over eight decades, against the closed form of a cylinder."""
    rng = random.Random(seed)
    text, resistances = PLAIN, [1 / (PLAIN_FILMS[0] * PLAIN_RADII[0]), 1 / (PLAIN_FILMS[1] * PLAIN_RADII[-1])]
    layers = (("wall", "metal"), ("grain", "filler"), ("sheet", "metal"), ("wool", "insulation"))
    for (name, family), inner, outer in zip(layers, PLAIN_RADII[:-1], PLAIN_RADII[1:], strict=True):
        k = float(f"{10 ** rng.uniform(-DECADES / 2, DECADES / 2):.6g}")
        text += MATERIAL.format(name=name, family=family, k=f"{k:.6g}")
        resistances.append(math.log(outer / inner) / k)
    heater = solve_heater(loads(text), 1)
    found = summarise(heater)["heat_to_room_W"]
    exact = 2 * math.pi * PLAIN_HEIGHT * (420.0 - 18.0) / sum(resistances)
    if abs(found - exact) > EXACT * exact + heater.field.rounding:
        return "FAULT", f"{found} W pass layers that let {exact} W pass"
    return "agrees", ""


TANK = """
[tank]
volume = "10 L"
start_temperature = "8 degC"
target_temperature = "30 degC"
[burn]
duration = "1 h"
"""


def try_burn(text: str) -> tuple[str, str]:
    """Ending of one burn on ports, and what is wrong with it if that is a fault."""
    try:
        march = FastBurner(loads(text + TANK), 1).first.march
        outcome = summarise_burn(march)
    except AnnulusError as refusal:
        return type(refusal).__name__, "" if len(str(refusal)) > 30 else f"says too little: {refusal}"
    bad = not_finite(outcome)
    if bad:
        return "FAULT", f"not finite: {bad}"
    if not outcome["worst_step_imbalance"] <= CLOSED:
        return "FAULT", f"a step loses {outcome['worst_step_imbalance']:.1e} of its heat"
    ends = outcome["gas_in_C"], outcome["room_C"], 8.0
    span = max(ends) - min(ends)
    for key in ("wall_min_C", "wall_max_C", "tube_max_C", "outside_max_C", "tank_C", "water_out_C"):
        if not min(ends) - SLACK * span <= outcome[key] <= max(ends) + SLACK * span:
            return "FAULT", f"{key} = {outcome[key]} is beyond {ends}"
    return outcome["ended"], ""


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
    lost, through = abs(field.imbalance), throughput(field, section)
    if not lost <= field.rounding:
        return (
            "FAULT",
            f"heat lost: {lost:.1e} W, round-off explains {field.rounding:.1e} W; throughput {through:.1e} W",
        )
    if not field.rounding <= SURE * through:
        return "FAULT", f"round-off of {field.rounding:.1e} W in a throughput of {through:.1e} W was told as a result"
    beyond = overshoot(base_field(section, pieces), section, pieces)
    if not beyond <= 1e-9:
        return "FAULT", f"base field beyond its ambients by {beyond:.1e}"
    crooked = skew(base_port_conductances(section, pieces))
    if not crooked <= 1e-8:
        return "FAULT", f"base conductances not reciprocal by {crooked:.1e}"
    return f"{coordinates}: holds", ""


def try_march(seed: int) -> tuple[str, str]:
    """Conservation and range at every step of one section that warms from room temperature.

    On the first-order matrix the range holds to what the scheme can be proved to keep. On the second-order one that is
    solved, what a coarse grid leaves beyond it must be gone on a grid four times finer.
    """
    coordinates = "plane" if seed % 2 else "cylindrical"
    section = random_section(seed, cells=10, decades=DECADES, coordinates=coordinates)
    pieces = section.cut()
    kept, beyond = warm_up(section, first_order(pieces))
    if beyond > ROUND_OFF * (FIRE - ROOM):
        return (
            "FAULT",
            f"first order: a temperature {beyond:.2e} K further beyond the ambients than its steps' errors explain",
        )
    history, beyond = warm_up(section, pieces)
    worst = max(float(np.abs(one.imbalance).max()) for one in (kept, history))
    if not worst <= CLOSED:
        return "FAULT", f"a step loses {worst:.1e} of its heat"
    if beyond > ROUND_OFF * (FIRE - ROOM):
        _, finer = warm_up(section, section.cut(FINER))
        if finer > FINE_OVERSHOOT * (FIRE - ROOM):
            return "FAULT", f"{beyond:.2f} K beyond its range, and {finer:.2f} K on a grid {FINER} times finer"
        return f"{coordinates}: holds on a finer grid", ""
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
    """Try all kinds; print counts and every fault."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--heaters", type=int, default=400)
    parser.add_argument("--plain", type=int, default=100)
    parser.add_argument("--burns", type=int, default=20)
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
    faults += count("plain", range(first, first + options.plain), try_plain, str)
    faults += count("burn", range(first, first + options.burns), lambda n: try_burn(heater(n)), heater)
    faults += count("section", range(first, first + options.sections), try_section, str)
    faults += count("march", range(first, first + options.marches), try_march, str)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
