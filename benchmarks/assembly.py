"""From faces and circles to a matrix: annulus beside a staircase by array operations and a finite-element library.

Run: python benchmarks/assembly.py [--cells 60000 240000 960000] [--repeats 5]

annulus cuts the section (areas, volumes, contacts, shifts of second order), then fills the first-order matrix and the
right-hand side. The others get the same number of cells: the staircase of benchmarks/model_problem.py, and bilinear
elements of scikit-fem (extra `reference`) on a tensor mesh, material by the middles. Methods in turn, medians.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import sys

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from measuring import in_turn, machine, median, spread
from model_problem import BORE, CENTRE, COPPER, LAYERS, PITCH, R_IN, R_OUT, RADIUS, model_problem

from annulus.conduction.grid import uniform_grid
from annulus.conduction.network import connect
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import conductivity_of_pieces
from annulus.shapes import Disc, Rectangle

HEIGHT, TURNS = 0.300, 16
CUT, FILL = "annulus, cut", "annulus, cut and fill"


def regions() -> list[Painted]:
    """The section of the model problem; its last turn ends below the top."""
    edges = [R_IN] + [edge for edge, _ in LAYERS]
    painted = [Painted(f"layer {n}", Rectangle(edges[n], edges[n + 1], 0.0, HEIGHT)) for n in range(len(LAYERS))]
    for n in range(TURNS):
        z = (n + 0.5) * PITCH
        painted += [Painted(f"tube {n}", Disc(CENTRE, z, RADIUS)), Painted(f"bore {n}", Disc(CENTRE, z, BORE), False)]
    return painted


def main() -> int:
    """Print one table per size, then time a cell."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cells", type=int, nargs="+", default=[60_000, 240_000, 960_000])
    parser.add_argument("--repeats", type=int, default=5)
    options = parser.parse_args()
    print(machine())
    laws = {f"layer {n}": k for n, (_, k) in enumerate(LAYERS)} | {f"tube {n}": COPPER for n in range(TURNS)}
    each = []
    for cells in options.cells:
        nr = 100 * max(1, round((cells / 6) ** 0.5 / 100))  # layers lie on faces
        painted, grid = regions(), uniform_grid((R_IN, R_OUT), (0.0, HEIGHT), (nr, 6 * nr))

        def fill(grid=grid, painted=painted):
            pieces = cut_grid(grid, painted)
            h = np.where(pieces.surface_boundary == 0, 30.0, np.where(pieces.surface_boundary == 1, 10.0, 2000.0))
            h[(pieces.surface_boundary == 2) | (pieces.surface_boundary == 3)] = 0.0
            k = conductivity_of_pieces(pieces, laws, np.zeros(pieces.count))
            resistance = np.zeros((len(painted),) * 2)
            network = connect(pieces, k, resistance, h * 300.0, h)
            return network.base_matrix, network.drive

        ways = {
            CUT: lambda grid=grid, painted=painted: cut_grid(grid, painted),
            FILL: fill,
            "staircase, numpy": lambda nr=nr: model_problem(nr, 6 * nr, TURNS, HEIGHT),
        }
        if importlib.util.find_spec("skfem"):
            from skfem import Basis, BilinearForm, ElementQuad1, MeshQuad, asm
            from skfem.helpers import dot, grad

            @BilinearForm
            def conduction(u, v, w):
                return w.k * w.x[0] * dot(grad(u), grad(v))

            def bilinear(grid=grid, conduction=conduction):
                mesh = MeshQuad.init_tensor(grid.r_face, grid.z_face)
                basis = Basis(mesh, ElementQuad1(), intorder=2)
                middle = mesh.p[:, mesh.t].mean(axis=1)
                k = np.array([value for _, value in LAYERS])[np.searchsorted([e for e, _ in LAYERS], middle[0])]
                turn = np.clip(middle[1] // PITCH, 0, TURNS - 1)
                k[np.hypot(middle[0] - CENTRE, middle[1] - (turn + 0.5) * PITCH) < RADIUS] = COPPER
                return asm(conduction, basis, k=k[:, None] * np.ones(basis.dx.shape[1]))

            ways["scikit-fem, bilinear"] = bilinear
        times = in_turn(ways, options.repeats)
        count = 6 * nr * nr
        print(f"\n{count} cells{'':<18}{'median, ms':>11}{'spread':>9}{'to annulus':>12}{'ns a cell':>11}")
        for name, seconds in times.items():
            middle = median(seconds)
            ratio = f"{middle / median(times[FILL]):>11.2f}x{1e9 * middle / count:>11.0f}"
            print(f"{name:<30}{1e3 * middle:>11.2f}{spread(seconds):>8.2f}x{ratio}", flush=True)
        each.append(median(times[FILL]) / count)
    print(f"\ntime a cell, largest size over smallest: {each[-1] / each[0]:.2f}x")
    return 0


if __name__ == "__main__":
    sys.exit(main())
