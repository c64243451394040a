"""One steady linear solve, set-up to answer: annulus beside general-purpose libraries, in the same run.

Run: python benchmarks/steady_solve.py [--cells 60000 240000 960000] [--repeats 5]
(peers that are not installed are left out; pip install -e ".[peers]" brings most, CHOLMOD and hypre need the system's
SuiteSparse and PETSc: scikit-sparse, petsc4py, mpi4py)

The model problem of benchmarks/model_problem.py: r 75-125 mm, z 0-300 mm, equal cells, sixteen copper rings.
Five-point equations to a relative residual of 1e-10. Set-up and solution are timed together, methods in turn; medians
are printed with their ratio to annulus, and in products of the same matrix by annulus's own kernel, the fastest here.
Then assembly to answer: annulus cuts its circles, the fastest library that runs in this process gets the same problem
as a staircase assembled with NumPy, and hypre on two processes counts half of that assembly, as if it were shared.
Then cost and memory a cell of annulus alone: the most that set-up and solution take beside the matrix and what was
imported, each size in a process of its own.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("GOMP_SPINCOUNT", "0")  # as the command line's OMP_WAIT_POLICY, but for annulus's threads alone

import numba
import numpy as np
from general_solvers import TOLERANCE, general_solvers, hypre_on_two
from measuring import in_turn, machine, median, spread
from model_problem import Problem, network_of, problem_of
from numba import njit, prange

from annulus.conduction.multigrid import ON_ONE_THREAD, Multigrid, multigrid_of
from annulus.conduction.multigrid_level import times

OURS = "annulus multigrid + CG"


@njit
def in_one(lines, width, across, along, outside, x, y):
    """One product with the matrix by the kernel of the cycles, on one thread."""
    times(width, across, along, outside, np.int64(0), lines, x, y)


@njit(parallel=True)
def in_halves(lines, width, across, along, outside, x, y):
    """The same on two, as the cycles do it on large levels."""
    for half in prange(2):
        cut = lines // 2
        times(width, across, along, outside, np.int64(half) * cut, lines if half else cut, x, y)


def by_multigrid(problem: Problem) -> np.ndarray:
    """Set-up and solution by annulus."""
    hierarchy = Multigrid(problem.shape, problem.first, problem.region, problem.links, problem.outside)
    return hierarchy.solve(problem.rhs, np.zeros(problem.rhs.size), TOLERANCE).x


def from_faces(cells: int) -> np.ndarray:
    """From the faces of a grid and the shapes of the parts to the answer, by annulus."""
    network = network_of(cells)
    pieces = network.pieces
    hierarchy = multigrid_of(network)
    return hierarchy.solve(network.drive, np.zeros(pieces.count), TOLERANCE).x


def checked(name: str, way: Callable[[], np.ndarray], problem: Problem) -> None:
    """Refuse a method whose answer is not one."""
    residual = np.linalg.norm(problem.rhs - problem.matrix @ way()) / np.linalg.norm(problem.rhs)
    if residual > 2 * TOLERANCE:
        raise SystemExit(f"{name}: residual {residual:.1e} is above {TOLERANCE:g}")


def memory(cells: int) -> int:
    """Bytes that set-up and solution take at most beside the matrix; for a process of its own (Linux)."""
    by_multigrid(problem_of(60_000))
    problem = problem_of(cells)
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # the peak counts from here

    def field(name: str) -> int:
        lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
        return 1024 * next(int(line.split()[1]) for line in lines if line.startswith(name))

    before = field("VmRSS")
    by_multigrid(problem)
    return field("VmHWM") - before


def main() -> int:
    """Print one table per size, then annulus alone."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cells", type=int, nargs="+", default=[60_000, 240_000, 960_000])
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--memory-of", type=int, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.memory_of:
        print(memory(options.memory_of))
        return 0
    print(machine())
    print(f"numba on {numba.get_num_threads()} threads")
    summary = []
    for cells in options.cells:
        problem = problem_of(cells)
        peers = general_solvers(problem.rhs.size)
        ways = {OURS: lambda p=problem: by_multigrid(p)} | {name: make(problem) for name, make in peers.items()}
        for name, way in ways.items():
            checked(name, way, problem)
        hierarchy = Multigrid(problem.shape, problem.first, problem.region, problem.links, problem.outside)
        vector = hierarchy.laid_out(problem.rhs)
        ties = hierarchy.ties
        if ties.tie.size:
            raise SystemExit("the model problem has one piece a cell")
        one = *hierarchy.shape, ties.across, ties.along, ties.outside, vector, np.zeros_like(vector)
        way = in_halves if problem.rhs.size > ON_ONE_THREAD else in_one
        unit = median(in_turn({"unit": lambda args=one, way=way: way(*args)}, 41)["unit"])
        del hierarchy
        times = in_turn(ways, options.repeats)
        on_two = hypre_on_two(cells, options.repeats)
        times |= {"PETSc CG + hypre, 2 processes": on_two} if on_two else {}
        count = problem.rhs.size
        ours = median(times[OURS])
        print(f"\n{count} unknowns; one product with the matrix {1e3 * unit:.3f} ms")
        print(f"{'set-up and solution':<32}{'median, s':>11}{'spread':>9}{'to annulus':>12}{'products':>10}")
        for name, seconds in times.items():
            middle = median(seconds)
            ratio = f"{middle / ours:>11.2f}x{middle / unit:>10.0f}"
            print(f"{name:<32}{middle:>11.3f}{spread(seconds):>8.2f}x{ratio}", flush=True)
        fastest = min(peers, key=lambda name, t=times: median(t[name]))
        whole = {
            "annulus, faces to answer": lambda n=cells: from_faces(n),
            f"NumPy, {fastest}": lambda n=cells, make=peers[fastest]: make(problem_of(n))(),
        }
        if on_two:
            whole["NumPy's assembly alone"] = lambda n=cells: problem_of(n)
        whole_times = {name: median(seconds) for name, seconds in in_turn(whole, options.repeats).items()}
        if on_two:
            whole_times["half of it, hypre, 2 processes"] = 0.5 * whole_times["NumPy's assembly alone"] + median(on_two)
        for name, seconds in whole_times.items():
            ratio = seconds / whole_times["annulus, faces to answer"]
            print(f"{name:<40}{seconds:>11.3f}{ratio:>12.2f}x", flush=True)
        child = subprocess.run(
            [sys.executable, __file__, "--memory-of", str(cells)],
            env=os.environ | {"MALLOC_MMAP_THRESHOLD_": "65536"},  # what is freed goes back at once
            capture_output=True,
            text=True,
            check=True,
        )
        summary.append((count, ours, min(times[OURS]), int(child.stdout)))
    print(f"\n{'annulus, unknowns':<20}{'median, us a cell':>18}{'best, us a cell':>17}{'bytes a cell':>14}")
    for count, seconds, best, peak in summary:
        print(f"{count:<20}{1e6 * seconds / count:>18.3f}{1e6 * best / count:>17.3f}{peak / count:>14.0f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
