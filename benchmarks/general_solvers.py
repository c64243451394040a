"""One steady linear solve by general-purpose libraries: those that are installed.

Goes in: a problem of model_problem.py. Comes out: functions that set up, solve and return the answer; and the time of
hypre on two processes, which have to be started apart: python benchmarks/general_solvers.py runs as one of them.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np
from model_problem import Problem, problem_of
from scipy.sparse import csc_matrix, csr_matrix, triu
from scipy.sparse.linalg import splu

TOLERANCE = 1e-10
LARGEST_DIRECT = 1_500_000  # unknowns beyond which direct solvers are left out
Way = Callable[[], np.ndarray]


def general_solvers(unknowns: int) -> dict[str, Callable[[Problem], Way]]:
    """Every method that is installed and bears so many unknowns, by its name: of a problem it makes what solves it."""
    found: dict[str, Callable[[Problem], Way]] = {}
    if unknowns <= LARGEST_DIRECT:
        found |= {"SciPy SuperLU, MMD_AT_PLUS_A": _by_minimum_degree, "SciPy SuperLU, COLAMD": _by_columns}
        if importlib.util.find_spec("sksparse"):
            found["CHOLMOD"] = _by_cholmod
        if importlib.util.find_spec("pypardiso"):
            found["Pardiso, positive definite"] = _by_pardiso
    if importlib.util.find_spec("pyamg"):
        found["PyAMG classical + CG"] = _by_pyamg
    if importlib.util.find_spec("petsc4py"):
        found["PETSc CG + hypre, 1 process"] = _by_hypre
    return found


def _by_minimum_degree(problem: Problem) -> Way:
    square = csc_matrix(problem.matrix)
    return lambda: splu(
        square, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    ).solve(problem.rhs)


def _by_columns(problem: Problem) -> Way:
    square = csc_matrix(problem.matrix)
    return lambda: splu(square).solve(problem.rhs)


def _by_cholmod(problem: Problem) -> Way:
    from sksparse.cholmod import cholesky

    square = csc_matrix(problem.matrix)
    return lambda: cholesky(square)(problem.rhs)


def _by_pyamg(problem: Problem) -> Way:
    import pyamg

    return lambda: pyamg.ruge_stuben_solver(problem.matrix).solve(problem.rhs, tol=TOLERANCE, accel="cg", maxiter=200)


def _by_pardiso(problem: Problem) -> Way:
    from pypardiso import PyPardisoSolver

    upper = csr_matrix(triu(problem.matrix))

    def solve():
        solver = PyPardisoSolver(mtype=2)
        x = solver.solve(upper, problem.rhs)
        solver.free_memory(everything=True)
        return x

    return solve


def _by_hypre(problem: Problem) -> Way:
    """Conjugate gradients with hypre's algebraic multigrid as it comes; each process takes its share of the rows."""
    from petsc4py import PETSc

    n, world = problem.rhs.size, PETSc.COMM_WORLD
    low, high = (n * part // world.size for part in (world.rank, world.rank + 1))
    mine = problem.matrix[low:high]
    rows = mine.indptr.astype(PETSc.IntType), mine.indices.astype(PETSc.IntType), mine.data

    def solve():
        a = PETSc.Mat().createAIJ(size=((high - low, n), (high - low, n)), csr=rows, comm=world)
        x, b = a.createVecs()
        b.setArray(problem.rhs[low:high])
        solver = PETSc.KSP().create(world)
        solver.setOperators(a)
        solver.setType("cg")
        solver.setNormType(PETSc.KSP.NormType.UNPRECONDITIONED)
        solver.getPC().setType("hypre")
        solver.setTolerances(rtol=TOLERANCE, max_it=200)
        solver.solve(b, x)
        answer = x.getArray().copy()
        for thing in (solver, a, x, b):
            thing.destroy()
        return answer

    return solve


def hypre_on_two(cells: int, repeats: int) -> list[float]:
    """Seconds of set-up and solution by hypre on two processes; empty if that cannot run here."""
    if not importlib.util.find_spec("petsc4py") or not shutil.which("mpiexec"):
        return []
    command = ["mpiexec", "-n", "2", sys.executable, __file__, "--cells", str(cells), "--repeats", str(repeats)]
    as_root = {"OMPI_ALLOW_RUN_AS_ROOT": "1", "OMPI_ALLOW_RUN_AS_ROOT_CONFIRM": "1"}
    child = subprocess.run(command, env=os.environ | as_root, capture_output=True, text=True, check=True)
    return [float(word) for word in child.stdout.split()]


def main() -> int:
    """As one of several processes: the first one prints the seconds of each repeat."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cells", type=int, required=True)
    parser.add_argument("--repeats", type=int, default=5)
    options = parser.parse_args()
    from petsc4py import PETSc

    problem = problem_of(options.cells)
    solve, world = _by_hypre(problem), PETSc.COMM_WORLD.tompi4py()
    for turn in range(options.repeats + 1):
        world.Barrier()
        begun = time.perf_counter()
        answer = solve()
        world.Barrier()
        if turn and world.rank == 0:
            print(time.perf_counter() - begun)
    x = np.concatenate(world.allgather(answer))
    residual = np.linalg.norm(problem.rhs - problem.matrix @ x) / np.linalg.norm(problem.rhs)
    return 0 if residual <= 2 * TOLERANCE else f"hypre on two processes: residual {residual:.1e}"


if __name__ == "__main__":
    sys.exit(main())
