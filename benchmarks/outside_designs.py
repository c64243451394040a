"""How long do many designs take that differ only outside the section: fire, water, room?

Run: python benchmarks/outside_designs.py [--designs 10000] [--checked 8] [--swept 64]

Designs of cases/bath-house-sand are drawn at random within the trade's ranges and
solved as arrays on the ports of one section (`annulus.heater.port_heater.solve_many`);
a few are solved again with all pieces, and the worst difference of the heat to the water is printed. Two processes of
one thread. Then a sweep over fire, water and room with its error bars, on shared ports in one thread, beside designs of
it computed by themselves: seconds of processor, and the worst difference of a heat flow and a temperature.
"""

from __future__ import annotations

import argparse
import os
import platform
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from functools import cache
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import numpy as np

from annulus.case import Case, load, load_tree
from annulus.errors import AnnulusError
from annulus.heater import solve_heater
from annulus.heater.port_heater import solve_many
from annulus.heater.ports import Ports
from annulus.studies.designs import compute, make_designs
from annulus.studies.models import steady_result
from annulus.studies.sweep import run_sweep
from annulus.studies.vary import read_variation

CASE = Path(__file__).parents[1] / "cases" / "bath-house-sand"
PROCESSES = 2
ALONE = 8  # designs of the sweep that are computed by themselves as well
SEED = 2026
RANGES = {  # shared by trade and demonstration: a mild to a hard fire, a trickle to a strong pump
    "gas_temperature": (573.0, 793.0),  # [K]
    "gas_flow": (0.005, 0.013),  # [kg/s]
    "flow": (0.015, 0.08),  # [kg/s]
    "inlet_temperature": (278.0, 328.0),  # [K]
}


def designs(count: int) -> list[Case]:
    """Cases that share the section of `CASE`."""
    case, rng = load(CASE), np.random.default_rng(SEED)
    made = []
    for _ in range(count):
        drawn = {key: float(rng.uniform(*span)) for key, span in RANGES.items()}
        fire = {key: drawn[key] for key in ("gas_temperature", "gas_flow")}
        water = {key: drawn[key] for key in ("flow", "inlet_temperature")}
        made.append(
            case.model_copy(
                update={"fire": case.fire.model_copy(update=fire), "water": case.water.model_copy(update=water)}
            )
        )
    return made


@cache
def ports() -> Ports:
    """Ports of the section, made once in every process."""
    return Ports(solve_heater(load(CASE)))


def heats(cases: list[Case]) -> tuple[list[float], float]:
    """Heat to the water of every case [W], and processor time without the ports' own making [s]."""
    water = ports().plan.water
    begun = time.process_time()
    states = solve_many(ports(), cases)
    seconds = time.process_time() - begun
    found = []
    for state in states:
        if isinstance(state, AnnulusError):
            raise state
        found.append(-float(state.flow[water].sum()))
    return found, seconds


def sweep(count: int) -> None:
    """Print what a design of a sweep costs on shared ports and by itself, and how far apart they are."""
    vary = (
        f"fire.gas_temperature = 300 degC .. 520 degC x {max(2, count // 8)}",
        "water.flow = 1 .. 5 L/min x 4",
        "room.temperature = 0, 15 degC",
    )
    made = make_designs(load_tree(CASE)[0], [read_variation(words) for words in vary])
    begun = time.process_time()
    with ThreadPoolExecutor(1) as executor, tempfile.TemporaryDirectory() as folder:
        rows = run_sweep(made, executor, Path(folder))
    together = (time.process_time() - begun) / len(made)
    picked = np.linspace(0, len(made) - 1, ALONE).astype(int)
    begun = time.process_time()
    by_itself = [compute(made[n].case, steady_result)["results"] for n in picked]
    alone = (time.process_time() - begun) / ALONE
    worst = {"W": 0.0, "C": 0.0}
    for n, one in zip(picked, by_itself, strict=True):
        scale = {"W": one["heat_from_gas_W"], "C": one["gas_in_C"] - one["room_C"]}
        for key, value in one.items():
            unit = key.rsplit("_", 1)[-1]
            if unit in scale and value is not None and "_error_" not in key and not key.endswith("_K_W"):
                worst[unit] = max(worst[unit], abs(rows[n]["results"][key] - value) / scale[unit])
    print(f"sweep of {len(made)} designs with error bars: {together:.3f} s of processor each, {alone:.3f} s by itself")
    print(f"worst difference: {worst['W']:.1e} of the heat from the gas, {worst['C']:.1e} of the span from room to gas")


def main() -> None:
    """Print designs per second and what the ports leave out."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--designs", type=int, default=10_000)
    parser.add_argument("--checked", type=int, default=8)
    parser.add_argument("--swept", type=int, default=64)
    options = parser.parse_args()
    count = options.designs
    cases = designs(count)
    heats(cases[:2])  # compiled code comes from the disk
    ports.cache_clear()
    begun = time.perf_counter()
    with ProcessPoolExecutor(PROCESSES) as pool:
        parts = list(pool.map(heats, [cases[n::PROCESSES] for n in range(PROCESSES)]))
    seconds = time.perf_counter() - begun
    found = np.empty(count)
    for n, (part, _) in enumerate(parts):
        found[n::PROCESSES] = part
    busy = sum(seconds for _, seconds in parts)
    checked = np.linspace(0, count - 1, options.checked).astype(int)
    worst = 0.0
    for n in checked:
        full = solve_heater(cases[n])
        exact = -float(full.field.surface_flow[full.model.water_surfaces].sum())
        worst = max(worst, abs(found[n] / exact - 1))
    print(f"{platform.processor() or platform.machine()}, {PROCESSES} processes, {count} designs, set-up included")
    print(f"{seconds:.1f} s in all; {1000 * busy / count:.2f} ms of processor a design, ports made before")
    print(f"heat to the water {found.min():.0f} to {found.max():.0f} W")
    print(f"against all pieces, {checked.size} designs: worst difference of the heat to the water {100 * worst:.4f} %")
    sweep(options.swept)


if __name__ == "__main__":
    main()
