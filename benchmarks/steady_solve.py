"""One steady linear solve, assembly excluded: annulus beside general-purpose libraries, in the same run.

Run: python benchmarks/steady_solve.py [--cells 60000 240000 960000] [--repeats 5]
(peers that are not installed are left out; pip install -e ".[peers]" brings them)

The model problem: cylindrical, r 75-125 mm, z 0-300 mm, equal cells, the material of each cell by its middle; flue wall
k 45, filler 0.3, shroud 45, insulation 0.08, jacket 45, sixteen copper rings k 390 with water inside; films on the
flue, the bores and the outside. Five-point equations to a relative residual of 1e-10. Set-up and solution are timed
together, methods in turn, medians printed with their ratio to annulus; then the limit: products of the same matrix.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import platform
import statistics
import sys
import time
from collections.abc import Callable

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numba
import numpy as np
import scipy
from scipy.sparse import csc_matrix, csr_matrix
from scipy.sparse.linalg import splu

from annulus.conduction import multigrid_kernels as kernels
from annulus.conduction.multigrid import Multigrid
from annulus.conduction.solvers import conjugate_gradients

TOLERANCE = 1e-10
LARGEST_DIRECT = 1_500_000  # unknowns beyond which direct solvers are left out
R_IN, R_OUT, HEIGHT = 0.075, 0.125, 0.300  # [m]
LAYERS = ((0.0765, 45.0), (0.093, 0.3), (0.094, 45.0), (0.1245, 0.08), (R_OUT, 45.0))  # outer radius, conductivity
TURNS, PITCH, CENTRE = 16, 0.017, 0.08315
RADIUS, BORE, COPPER = 6.35e-3, 5.55e-3, 390.0
FLUE_FILM, WATER_FILM, ROOM_FILM = (30.0, 550.0), (2000.0, 40.0), (10.0, 20.0)  # [W/(m2 K)], [degC]


def model_problem(cells: int) -> tuple[csr_matrix, np.ndarray, tuple[int, int], np.ndarray, np.ndarray]:
    """Matrix, right-hand side, grid shape, first unknown of each cell, region of each unknown."""
    nr = round((cells / 6) ** 0.5)
    nz = 6 * nr
    r, z = np.linspace(R_IN, R_OUT, nr + 1), np.linspace(0.0, HEIGHT, nz + 1)
    middle, height = 0.5 * (r[1:] + r[:-1]), 0.5 * (z[1:] + z[:-1])
    layer = np.searchsorted([edge for edge, _ in LAYERS], middle)
    region = np.repeat(layer[:, None], nz, axis=1)
    k = np.array([value for _, value in LAYERS])[region]
    turn = np.clip((height / PITCH).astype(int), 0, TURNS - 1)
    apart = np.hypot(middle[:, None] - CENTRE, (height - (turn + 0.5) * PITCH)[None, :])
    ring, water = apart < RADIUS, apart < BORE
    k[ring] = COPPER
    region = np.where(ring, len(LAYERS) + turn[None, :], region)
    number = np.full(region.shape, -1)
    number[~water] = np.arange(np.count_nonzero(~water))
    count = int(number.max()) + 1
    diagonal, rhs = np.zeros(count), np.zeros(count)
    entries: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []

    def film(where, conductance, temperature):
        np.add.at(diagonal, where, conductance)
        np.add.at(rhs, where, conductance * temperature)

    def join(one, other, path_one, path_other, area):
        wet_one, wet_other = water[one], water[other]
        k_one, k_other = k[one], k[other]
        dry = ~wet_one & ~wet_other
        g = (area / (path_one / k_one + path_other / k_other))[dry]
        a, b = number[one][dry], number[other][dry]
        entries.extend([(a, b, -g), (b, a, -g), (a, a, g), (b, b, g)])
        for wet, cell, path, conductivity in (
            (wet_other & ~wet_one, one, path_one, k_one),
            (wet_one & ~wet_other, other, path_other, k_other),
        ):
            film(number[cell][wet], (area / (path / conductivity + 1 / WATER_FILM[0]))[wet], WATER_FILM[1])

    dz = z[1] - z[0]
    face = r[1:-1, None]
    inner, outer = face * np.log(face / middle[:-1, None]), face * np.log(middle[1:, None] / face)
    wide = (nr - 1, nz)
    join(np.s_[:-1, :], np.s_[1:, :], *(np.broadcast_to(a, wide) for a in (inner, outer, 2 * np.pi * face * dz)))
    ring_area = np.broadcast_to(np.pi * (r[1:, None] ** 2 - r[:-1, None] ** 2), (nr, nz - 1))
    half = np.full((nr, nz - 1), dz / 2)
    join(np.s_[:, :-1], np.s_[:, 1:], half, half, ring_area)
    for row, radius, (h, ambient) in ((0, r[0], FLUE_FILM), (nr - 1, r[-1], ROOM_FILM)):
        path = radius * abs(np.log(middle[row] / radius))
        film(number[row], 2 * np.pi * radius * dz / (path / k[row] + 1 / h), ambient)
    rows, columns, values = (np.concatenate(part) for part in zip(*entries, strict=True))
    own = np.arange(count)
    matrix = csr_matrix(
        (np.concatenate([values, diagonal]), (np.concatenate([rows, own]), np.concatenate([columns, own]))),
        (count, count),
    )
    matrix.sort_indices()
    first = np.concatenate([[0], np.cumsum(~water.ravel())])
    return matrix, rhs, (nr, nz), first, region[~water]


def methods(problem) -> dict[str, Callable[[], np.ndarray]]:
    """Every method that is installed, as a function that sets up and solves."""
    matrix, rhs, shape, first, region = problem

    def multigrid():
        cycle = Multigrid(matrix, shape, first, region)
        return conjugate_gradients(matrix, rhs, cycle, np.zeros(rhs.size), TOLERANCE).x

    found: dict[str, Callable[[], np.ndarray]] = {"annulus multigrid + CG": multigrid}
    if rhs.size <= LARGEST_DIRECT:
        square = csc_matrix(matrix)
        found["SciPy SuperLU, MMD_AT_PLUS_A"] = lambda: splu(
            square, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        ).solve(rhs)
        found["SciPy SuperLU, COLAMD"] = lambda: splu(square).solve(rhs)
        if importlib.util.find_spec("pypardiso"):
            from pypardiso import PyPardisoSolver
            from scipy.sparse import triu

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


def main() -> int:
    """Print one table per size."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cells", type=int, nargs="+", default=[60_000, 240_000, 960_000])
    parser.add_argument("--repeats", type=int, default=5)
    options = parser.parse_args()
    print(
        f"Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}, "
        f"numba {numba.__version__} on {numba.get_num_threads()} threads, {platform.machine()}, {os.cpu_count()} cores"
    )
    for cells in options.cells:
        problem = model_problem(cells)
        matrix, rhs = problem[:2]
        ways = methods(problem)
        times: dict[str, list[float]] = {name: [] for name in ways}
        for turn in range(options.repeats + 1):  # the first turn warms up
            for name, solve in ways.items():
                begun = time.perf_counter()
                x = solve()
                took = time.perf_counter() - begun
                residual = np.linalg.norm(rhs - matrix @ x) / np.linalg.norm(rhs)
                if residual > 2 * TOLERANCE:
                    raise SystemExit(f"{name}: residual {residual:.1e} is above {TOLERANCE:g}")
                if turn:
                    times[name].append(took)
        rows = matrix.indptr.astype(np.int32), matrix.indices.astype(np.int32), matrix.data
        units = []
        for _ in range(21):
            begun = time.perf_counter()
            kernels.multiply(*rows, rhs)
            units.append(time.perf_counter() - begun)
        unit = statistics.median(units)
        ours = statistics.median(times["annulus multigrid + CG"])
        print(f"\n{rhs.size} unknowns; one product with the matrix {1e3 * unit:.2f} ms")
        print(f"{'set-up and solution':<32}{'median, s':>11}{'spread':>9}{'to annulus':>12}{'products':>10}")
        for name, seconds in times.items():
            middle = statistics.median(seconds)
            spread = max(seconds) / min(seconds)
            print(f"{name:<32}{middle:>11.3f}{spread:>8.2f}x{middle / ours:>11.2f}x{middle / unit:>10.0f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
