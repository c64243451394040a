"""How many designs a minute? A sweep of the demonstration heater beside plain direct solves of the same designs.

Run: python benchmarks/sweep_speed.py [--designs 200] [--plain 6] [--jobs 2]

The designs: cases/bath-house-sand (30 turns, every film computed) over gap, clearance of the shroud and contact
resistance, each on the default pair of grids with its error bars; start of the processes counted. Plain means: the
same equations on the same two grids, one design after another in one process, each round of films and conductivities
solved by scipy's sparse direct solver from nothing. The plain ones are a sample spread evenly over the designs; the
heat to the water must agree between both to 1e-8. Exit status 1 if it does not.
"""

from __future__ import annotations

import argparse
import os
import platform
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from unittest import mock

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numba
import numpy as np
import scipy
from scipy.sparse import csc_matrix, csr_matrix
from scipy.sparse.linalg import spsolve

from annulus.case import Case, load_tree
from annulus.heater import steady, summarise
from annulus.studies.designs import Design, make_designs
from annulus.studies.models import steady_result
from annulus.studies.sweep import run_sweep
from annulus.studies.vary import read_variation
from annulus.studies.workers import available_cores, process_pool

CASE = Path(__file__).parent.parent / "cases" / "bath-house-sand"
AGREE = 1e-8  # of the heat to the water
STEPS = 8  # contacts; gaps and clearances share the rest evenly


def designs_of(count: int) -> list[Design]:
    """About so many designs, spread over three variables."""
    each = max(2, round((count / STEPS) ** 0.5))
    vary = (
        f"coil.gap = 0.2 mm .. 2 mm x {each}",
        f"shroud.clearance = 2 mm .. 20 mm x {each}",
        f"contacts.tube-filler = 1e-5 .. 1e-2 m2K/W x {STEPS} by ratio",
    )
    return make_designs(load_tree(CASE)[0], [read_variation(words) for words in vary])


def solve_directly(matrix: csr_matrix) -> Callable[[np.ndarray], np.ndarray]:
    """One solve from nothing."""
    return lambda rhs: np.asarray(spsolve(csc_matrix(matrix), rhs))


def plain_heat(case: Case) -> float:
    """Heat to the water on the finer of both grids, both solved the plain way. [W]"""
    with (
        mock.patch.object(steady, "factor", solve_directly),
        mock.patch.object(steady, "_is_slow", lambda *of_rounds: True),
    ):
        for fineness in (steady.DEFAULT_FINENESS // 2, steady.DEFAULT_FINENESS):
            outcome = summarise(steady.solve_heater(case, fineness))
    return outcome["heat_to_water_W"]


def time_sweep(designs: list[Design], jobs: int) -> tuple[float, float, list[float]]:
    """Seconds of the sweep by the clock and of its processors, and the heats to the water. [s], [s], [W]"""
    folder = Path(tempfile.mkdtemp())
    try:
        begun, used = time.perf_counter(), _processor_seconds()
        with process_pool(jobs) as pool:
            rows = run_sweep(designs, pool, folder)
        took = time.perf_counter() - begun
        return took, _processor_seconds() - used, [row["results"]["heat_to_water_W"] for row in rows]
    finally:
        shutil.rmtree(folder)


def _processor_seconds() -> float:
    """Of this process and of those it has waited for. [s]"""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def time_plain(cases: list[Case]) -> tuple[float, float, list[float]]:
    """Seconds a design of the plain way by the clock and of the processor, and the heats to the water. [s], [s], [W]"""
    begun, used = time.perf_counter(), _processor_seconds()
    heats = [plain_heat(case) for case in cases]
    took, spent = time.perf_counter() - begun, _processor_seconds() - used
    return took / len(cases), spent / len(cases), heats


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--designs", type=int, default=200)
    parser.add_argument("--plain", type=int, default=6)
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    print(f"{platform.machine()}, {available_cores()} cores, load {os.getloadavg()[0]:.1f} before, python ", end="")
    print(f"{platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}, numba {numba.__version__}")

    designs = designs_of(options.designs)
    cases = [design.case for design in designs if design.case is not None]
    assert len(cases) == len(designs)  # all of these fit
    steady_result(cases[0])  # compiles
    seconds, spent, heats = time_sweep(designs, options.jobs)
    sample = np.unique(np.linspace(0, len(cases) - 1, options.plain).round().astype(int))
    plain, plain_spent, expected = time_plain([cases[n] for n in sample])

    each = seconds / len(designs)
    print(f"sweep: {len(designs)} designs in {seconds:.1f} s on {options.jobs} processes: {60 / each:.0f} a minute")
    print(f"plain, one at a time: {plain:.2f} s a design ({len(sample)} of them): {60 / plain:.1f} a minute")
    print(f"ratio by the clock: {plain / each:.1f}")
    own = spent / len(designs)
    print(f"processor time, which a busy machine moves less: {own:.2f} s and {plain_spent:.2f} s a design, ", end="")
    print(f"ratio {plain_spent / own:.1f}; on {options.jobs} idle cores {60 * options.jobs / own:.0f} designs a minute")
    off = max(abs(heats[n] / heat - 1) for n, heat in zip(sample, expected, strict=True))
    print(f"heat to the water agrees to {off:.0e}")
    return 0 if off <= AGREE else 1


if __name__ == "__main__":
    sys.exit(main())
