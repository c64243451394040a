"""The steady heater with films, radiation and k(T) at the default grid: seconds of compute in the bath-house cases.

Run: python benchmarks/steady_heater.py [--repeats 7]

Nothing that is installed answers the same question, so the times stand beside what a general library needs for one
linear solve of the same section: SciPy's SuperLU as it comes, on the coupled first-order matrix of the last round.
Compute is from a validated case to a heater whose loops close, on the default grid, without start-up and pictures.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from measuring import in_turn, machine, median, spread
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from annulus.case import load
from annulus.heater import solve_heater
from annulus.heater.model import prepare
from annulus.heater.steady import DEFAULT_FINENESS

CASES = Path(__file__).resolve().parent.parent / "cases"


def main() -> int:
    """Print one line a case."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=7)
    options = parser.parse_args()
    print(machine())
    print(
        f"\n{'case':<22}{'pieces':>8}{'rounds':>8}{'factors':>9}{'ready, s':>10}{'solved, s':>11}{'best, s':>9}", end=""
    )
    print(f"{'spread':>9}{'SuperLU once, s':>17}{'ratio':>8}")
    for file in sorted(CASES.glob("bath-house-*/case.toml")):
        case = load(file)
        heater = solve_heater(case)
        matrix = csc_matrix(heater.field.network.base_matrix)
        ways = {
            "ready": lambda case=case: prepare(case, DEFAULT_FINENESS),
            "solved": lambda case=case: solve_heater(case),
            "once": lambda matrix=matrix: splu(matrix).solve(matrix.diagonal()),
        }
        times = in_turn(ways, options.repeats)
        ready, solved, once = (median(seconds) for seconds in times.values())
        field = heater.field
        print(
            f"{file.parent.name:<22}{field.pieces.count:>8}{field.rounds:>8}{field.factorisations:>9}{ready:>10.3f}",
            end="",
        )
        print(f"{solved:>11.3f}{min(times['solved']):>9.3f}{spread(times['solved']):>8.2f}x{once:>17.3f}", end="")
        print(f"{solved / once:>7.1f}x", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
