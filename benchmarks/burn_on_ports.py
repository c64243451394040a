"""A burn on ports beside the burn of all pieces: seconds, and how far apart they end.

Run: python benchmarks/burn_on_ports.py [CASE ...]   (default: every case with a tank)

For each case at the default grid: the full march, the set-up of the ports, a burn on them
once set up (median of 5), the ratio, and the difference of time to target and heat, beside what the ports say they
leave out.
"""

from __future__ import annotations

import os
import platform
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from annulus.burn import run_burn, summarise_burn
from annulus.burn.fast import FastBurner
from annulus.burn.run import FINENESS
from annulus.case import load

CASES = Path(__file__).parents[1] / "cases"
REPEATS = 5
KEYS = ("time_to_target_s", "mean_heat_to_water_W", "up_chimney_J")


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds that some work took, and what it gave."""
    begun = time.perf_counter()
    found = work()
    return time.perf_counter() - begun, found


def main() -> None:
    """Print one line a case."""
    paths = [Path(name) for name in sys.argv[1:]] or sorted(path.parent for path in CASES.glob("*/case.toml"))
    cases = {path.name: load(path) for path in paths}
    cases = {name: case for name, case in cases.items() if case.tank is not None}
    first = next(iter(cases.values()))
    FastBurner(first, 1)  # compiled code comes from the disk
    print(f"{platform.machine()}, Python {platform.python_version()}, one process; seconds")
    print("case                     full   set-up     burn    ratio   differences of time, heat, chimney      left out")
    for name, case in cases.items():
        full_seconds, full = timed(lambda case=case: run_burn(case, FINENESS))
        setup, burner = timed(lambda case=case: FastBurner(case, FINENESS))
        repeats = [timed(lambda case=case, burner=burner: burner.burn(case)) for _ in range(REPEATS)]
        seconds = statistics.median(taken for taken, _ in repeats)
        whole, reduced = summarise_burn(full.march), summarise_burn(repeats[-1][1])
        apart = [
            "      -  " if None in (whole[key], reduced[key]) else f"{100 * (reduced[key] / whole[key] - 1):+.4f} %"
            for key in KEYS
        ]
        share = f"{100 * burner.first.share:.3f} % of the span"
        print(
            f"{name:<20} {full_seconds:8.2f} {setup:8.2f} {seconds:8.2f} {full_seconds / seconds:8.1f}   "
            f"{'  '.join(apart)}   {share}"
        )


if __name__ == "__main__":
    main()
