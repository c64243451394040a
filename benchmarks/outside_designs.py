"""How long do many designs take that differ only outside the section: fire, water, room?

Run: python benchmarks/outside_designs.py [DESIGNS]   (default 10 000, on two processes of one thread)

Designs of cases/bath-house-sand are drawn at random within the trade's ranges and
solved as arrays on the ports of one section (`annulus.heater.port_heater.solve_many`);
a few are solved again with all pieces, and the worst difference of the heat to the water is printed.
"""

from __future__ import annotations

import os
import platform
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import numpy as np

from annulus.case import Case, load
from annulus.errors import AnnulusError
from annulus.heater import solve_heater
from annulus.heater.port_heater import solve_many
from annulus.heater.ports import Ports

CASE = Path(__file__).parents[1] / "cases" / "bath-house-sand"
PROCESSES = 2
CHECKED = 8
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


def main() -> None:
    """Print designs per second and what the ports leave out."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
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
    checked = np.linspace(0, count - 1, CHECKED).astype(int)
    worst = 0.0
    for n in checked:
        full = solve_heater(cases[n])
        exact = -float(full.field.surface_flow[full.model.water_surfaces].sum())
        worst = max(worst, abs(found[n] / exact - 1))
    print(f"{platform.processor() or platform.machine()}, {PROCESSES} processes, {count} designs, set-up included")
    print(f"{seconds:.1f} s in all; {1000 * busy / count:.2f} ms of processor a design, ports made before")
    print(f"heat to the water {found.min():.0f} to {found.max():.0f} W")
    print(f"against all pieces, {CHECKED} designs: worst difference of the heat to the water {100 * worst:.4f} %")


if __name__ == "__main__":
    main()
