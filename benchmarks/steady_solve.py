"""One steady linear solve, set-up to answer: annulus beside general-purpose libraries, in the same run.

Run: python benchmarks/steady_solve.py [--cells 60000 240000 960000] [--repeats 5]
(peers that are not installed are left out; pip install -e ".[peers]" brings them)

The model problem of benchmarks/model_problem.py: r 75-125 mm, z 0-300 mm, equal cells, sixteen copper rings.
Five-point equations to a relative residual of 1e-10. Set-up and solution are timed together, methods in turn; medians
are printed with their ratio to annulus, and in products of the same matrix by annulus's own kernel, the fastest here.
Then cost and memory a cell of annulus alone: the most that set-up and solution take beside the matrix and what was
imported, each size in a process of its own.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("GOMP_SPINCOUNT", "0")  # as the command line's OMP_WAIT_POLICY, but for annulus's threads alone

import numba
import numpy as np
from measuring import in_turn, machine, median, spread
from model_problem import Problem, model_problem
from scipy.sparse import csc_matrix, csr_matrix, triu
from scipy.sparse.linalg import splu

from annulus.conduction.multigrid import Multigrid

TOLERANCE = 1e-10
LARGEST_DIRECT = 1_500_000  # unknowns beyond which direct solvers of SciPy and Pardiso are left out
OURS = "annulus multigrid + CG"
HEIGHT, TURNS = 0.300, 16


def problem_of(cells: int) -> Problem:
    """Six times as many cells along the flue as across."""
    nr = round((cells / 6) ** 0.5)
    return model_problem(nr, 6 * nr, TURNS, HEIGHT)


def by_multigrid(problem: Problem) -> np.ndarray:
    """Set-up and solution by annulus."""
    hierarchy = Multigrid(problem.matrix, problem.shape, problem.first, problem.region)
    return hierarchy.solve(problem.rhs, np.zeros(problem.rhs.size), TOLERANCE).x


def methods(problem: Problem) -> dict[str, Callable[[], np.ndarray]]:
    """Every method that is installed, as a function that sets up, solves and returns the answer."""
    matrix, rhs = problem.matrix, problem.rhs
    found: dict[str, Callable[[], np.ndarray]] = {OURS: lambda: by_multigrid(problem)}
    if rhs.size <= LARGEST_DIRECT:
        square = csc_matrix(matrix)
        found["SciPy SuperLU, MMD_AT_PLUS_A"] = lambda: splu(
            square, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        ).solve(rhs)
        found["SciPy SuperLU, COLAMD"] = lambda: splu(square).solve(rhs)
        if importlib.util.find_spec("pypardiso"):
            from pypardiso import PyPardisoSolver

            upper = csr_matrix(triu(matrix))

            def pardiso():
                solver = PyPardisoSolver(mtype=2)
                x = solver.solve(upper, rhs)
                solver.free_memory(everything=True)
                return x

            found["Pardiso, positive definite"] = pardiso
    if importlib.util.find_spec("pyamg"):
        import pyamg

        found["PyAMG classical + CG"] = lambda: pyamg.ruge_stuben_solver(matrix).solve(
            rhs, tol=TOLERANCE, accel="cg", maxiter=200
        )
    return found


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
        ways = methods(problem)
        for name, way in ways.items():
            checked(name, way, problem)
        hierarchy = Multigrid(problem.matrix, problem.shape, problem.first, problem.region)
        vector = hierarchy.laid_out(problem.rhs)
        unit = min(in_turn({"unit": lambda h=hierarchy, v=vector: h.product(v)}, 41)["unit"])
        del hierarchy
        times = in_turn(ways, options.repeats)
        count = problem.rhs.size
        ours = median(times[OURS])
        print(f"\n{count} unknowns; one product with the matrix {1e3 * unit:.3f} ms")
        print(f"{'set-up and solution':<32}{'median, s':>11}{'spread':>9}{'to annulus':>12}{'products':>10}")
        for name, seconds in times.items():
            middle = median(seconds)
            ratio = f"{middle / ours:>11.2f}x{middle / unit:>10.0f}"
            print(f"{name:<32}{middle:>11.3f}{spread(seconds):>8.2f}x{ratio}", flush=True)
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
