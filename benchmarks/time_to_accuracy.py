"""Time to a resistance that is right: annulus, a staircase with the fastest peer solver, and finite elements.

Run: pip install -e ".[peers,reference]"; python benchmarks/time_to_accuracy.py [--repeats 5] [--curve FILE.png]

The quantity is the resistance R from the flue's inner face to the water, of eight copper tubes in filler of
0.3 W/(m K) (annulus/verification/coil_section.py; the reference is the finest quadratic mesh of
coil_section_references.toml, known to 2e-6). All methods know the whole section: no mirror plane is used.

- annulus: cut cells, from faces to R; and the pair of grids that it always computes for its error bars, R
  extrapolated as second order from cells of size h and h/2, the time of both.
- staircase: equal cells, material by their middles, five-point equations assembled by array operations; SuperLU in the
  order of minimum degree, Pardiso and PyAMG, the fastest of them at each size.
- finite elements: gmsh meshes the section (sizes that grow from the gaps), scikit-fem assembles curved quadratic
  triangles, the faster of SuperLU and Pardiso solves. Meshing counts.

A method's time to an accuracy is that of its cheapest run from which on every finer run is within it too: a lucky
crossing does not count. Times are medians, methods in turn.
"""

from __future__ import annotations

import argparse
import os
import sys
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import gmsh
import matplotlib
import numpy as np
import pyamg
import reference_coil_section as finite
from measuring import in_turn, machine, median
from model_problem import model_problem
from pypardiso import PyPardisoSolver
from scipy.sparse import csc_matrix, csr_matrix, triu
from scipy.sparse.linalg import splu
from skfem import Basis, ElementTriP2, MeshTri2, asm

import annulus.verification
from annulus.conduction.grid import Grid, graded_faces
from annulus.verification import coil_section

matplotlib.use("Agg")

ACCURACIES = (1e-3, 2e-4)
MM = 1e-3
REFERENCES = Path(annulus.verification.__file__).with_name("coil_section_references.toml")
EXACT = tomllib.loads(REFERENCES.read_text(encoding="utf-8"))["plain"]["resistance"]  # [K/W]
HEIGHT = coil_section.CoilSection(0.3).height

# annulus: cells in the gap, in the cavity and in the insulation [mm], and how fast they grow
IN_GAP, IN_CAVITY, LARGEST, GROWTH = 0.15, 1.0, 3.0, 0.2
ALONG = 0.5  # [mm] along the flue
COARSENESS = (2.8, 2.4, 2.0, 1.4, 1.0, 0.7, 0.5, 0.35)  # of those sizes; the pair has them and their halves
STAIRCASE = (100, 200, 300, 400, 500)  # cells across 50 mm; layers lie on faces
TOLERANCE = 1e-10
# finite elements: widest triangle and size at the gap [mm], growth from there; then all of them scaled
MESHES = tuple((scale, 3.0, 0.3, 0.3) for scale in (2.8, 2.4, 2.0, 1.4, 1.0, 0.8, 0.6, 0.4))


@dataclass(frozen=True)
class GradedSection(coil_section.CoilSection):
    """The section on cells that grow from the gap between tube and flue."""

    coarseness: float = 1.0

    def grid(self, fineness: int) -> Grid:
        def radial(r):
            from_gap = np.maximum(np.abs(r - 76.65 * MM) - 0.15 * MM, 0.0)
            size = np.minimum(IN_GAP * MM + GROWTH * from_gap, IN_CAVITY * MM)
            size = np.where(r < 76.5 * MM, np.minimum(size, 0.5 * MM), size)
            outside = np.minimum(IN_CAVITY * MM + GROWTH * np.abs(r - 94 * MM), LARGEST * MM)
            return self.coarseness * np.where(r > 93 * MM, outside, size)

        blocks = self.pitch * np.arange(9)
        faces = graded_faces(coil_section.RADII, radial, fineness)
        along = graded_faces(
            (*blocks, *self.middle), lambda z: np.full(z.shape, self.coarseness * ALONG * MM), fineness
        )
        return Grid(faces, along)


@dataclass
class Run:
    """One run of a method; `resistance` is set each time that it runs. [K/W]"""

    what: str
    compute: Callable[[], float]
    resistance: float = float("nan")

    def __call__(self) -> None:
        self.resistance = self.compute()

    @property
    def error(self) -> float:
        return abs(self.resistance / EXACT - 1)


def cut_cells(coarseness: float) -> float:
    return coil_section.measure(GradedSection(0.3, coarseness=coarseness).solve(1)).resistance


def cut_cells_extrapolated(coarseness: float) -> float:
    section = GradedSection(0.3, coarseness=coarseness)
    coarse, fine = (coil_section.measure(section.solve(fineness)).resistance for fineness in (1, 2))
    return fine + (fine - coarse) / 3


def superlu(matrix, rhs):
    options = {"SymmetricMode": True}
    return splu(csc_matrix(matrix), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options).solve(rhs)


def pardiso(matrix, rhs):
    solver = PyPardisoSolver(mtype=2)
    x = solver.solve(csr_matrix(triu(matrix)), rhs)
    solver.free_memory(everything=True)
    return x


def algebraic_multigrid(matrix, rhs):
    return pyamg.ruge_stuben_solver(matrix).solve(rhs, tol=TOLERANCE, accel="cg", maxiter=200)


def staircase(cells: int, solve) -> float:
    problem = model_problem(cells, round(cells * HEIGHT / (50 * MM)), 8, HEIGHT)
    return problem.resistance(solve(problem.matrix, problem.rhs))


def mesh(scale: float, wide: float, at_gap: float, growth: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points [mm], six nodes of each triangle, its region; sizes read by gmsh itself, without calls back."""
    gmsh.initialize()
    gmsh.option.setNumber("General.Verbosity", 1)
    for option in ("MeshSizeExtendFromBoundary", "MeshSizeFromPoints"):
        gmsh.option.setNumber(f"Mesh.{option}", 0)
    occ, field = gmsh.model.occ, gmsh.model.mesh.field
    names, shapes = [], []
    for name, r0, r1 in zip(finite.LAYERS, finite.RADII, finite.RADII[1:], strict=False):
        names.append(name)
        shapes.append((2, occ.addRectangle(r0, 0, 0, r1 - r0, HEIGHT / MM)))
    centre, pitch = finite.VARIANTS[0].centre, finite.VARIANTS[0].pitch
    for i in range(8):
        for name, radius in (("tube", finite.TUBE), ("bore", finite.BORE)):
            names.append(name)
            shapes.append((2, occ.addDisk(centre, (i + 0.5) * pitch, 0, radius, radius)))
    _, parts = occ.fragment(shapes, [])
    region_of = {part: name for name, found in zip(names, parts, strict=True) for _, part in found}
    occ.remove([(2, tag) for tag, name in region_of.items() if name == "bore"])
    nearest = [occ.addPoint(finite.RADII[1], (i + 0.5) * pitch, 0) for i in range(8)]
    occ.synchronize()
    distance, growing, limit, least = (field.add(kind) for kind in ("Distance", "MathEval", "MathEval", "Min"))
    field.setNumbers(distance, "PointsList", nearest)
    field.setString(growing, "F", f"{scale}*({at_gap}+{growth}*F{distance})")
    field.setString(limit, "F", f"{scale * wide}")
    field.setNumbers(least, "FieldsList", [growing, limit])
    field.setAsBackgroundMesh(least)
    gmsh.model.mesh.generate(2)
    gmsh.model.mesh.setOrder(2)
    node, xyz, _ = gmsh.model.mesh.getNodes()
    row = np.zeros(int(node.max()) + 1, dtype=int)
    row[node] = np.arange(node.size)
    triangles, regions = [], []
    for tag, name in region_of.items():
        if name != "bore":
            _, nodes = gmsh.model.mesh.getElementsByType(9, tag)
            triangles.append(row[nodes.reshape(-1, 6)])
            regions += [name] * len(triangles[-1])
    gmsh.finalize()
    used, number = np.unique(np.concatenate(triangles), return_inverse=True)
    return xyz.reshape(-1, 3)[used, :2], number.reshape(-1, 6), np.array(regions)


def finite_elements(sizes: tuple[float, float, float, float], solve) -> float:
    points, triangles, regions = mesh(*sizes)
    of_mesh = MeshTri2(points.T * MM, triangles.T)
    basis = Basis(of_mesh, ElementTriP2(), intorder=4)
    k = np.array([finite.CONDUCTIVITY.get(name, 0.3) for name in regions])
    matrix = asm(finite.conduction, basis, k=k[:, None] * np.ones(basis.dx.shape[1]))
    load = np.zeros(basis.N)
    edge = of_mesh.boundary_facets()
    r, z = basis.doflocs[:, basis.get_dofs(edge).facet["u"]] / MM
    pitch = finite.VARIANTS[0].pitch
    to_axis = np.hypot(r - finite.VARIANTS[0].centre, z - (np.clip(z // pitch, 0, 7) + 0.5) * pitch)
    sides = {"gas": np.isclose(r, finite.RADII[0]), "room": np.isclose(r, finite.RADII[-1])}
    sides["water"] = np.isclose(to_axis, finite.BORE, rtol=1e-6)
    films = {"gas": finite.GAS, "room": finite.ROOM, "water": finite.WATER}
    rims = {name: finite.Rim.of(of_mesh, basis, edge[on]) for name, on in sides.items()}
    for name, rim in rims.items():
        h, ambient = films[name]
        matrix = matrix + h * rim.matrix(basis.N)
        load += h * ambient * rim.load(basis.N)
    T = solve(matrix, load)
    mean = {name: float(rim.load(basis.N) @ T) / rim.area for name, rim in rims.items()}
    h, ambient = films["water"]
    return (mean["gas"] - ambient) / (2 * np.pi * h * rims["water"].area * (mean["water"] - ambient))


def all_runs() -> dict[str, list[Run]]:
    """Runs of every method, coarse to fine; peers with each of their solvers."""
    runs = {"annulus": [Run(f"cells x {c:g}", lambda c=c: cut_cells(c)) for c in COARSENESS]}
    pairs = [c for c in COARSENESS if c >= 0.7]
    runs["annulus, pair extrapolated"] = [
        Run(f"cells x {c:g} and {c / 2:g}", lambda c=c: cut_cells_extrapolated(c)) for c in pairs
    ]
    solvers = {"SuperLU": superlu, "Pardiso": pardiso, "PyAMG": algebraic_multigrid}
    for name, solve in solvers.items():
        runs[f"staircase, {name}"] = [
            Run(f"cells of {50 / n:.4g} mm", lambda n=n, solve=solve: staircase(n, solve)) for n in STAIRCASE
        ]
    for name in ("SuperLU", "Pardiso"):
        runs[f"finite elements, {name}"] = [
            Run(f"sizes x {m[0]:g}", lambda m=m, solve=solvers[name]: finite_elements(m, solve)) for m in MESHES
        ]
    return runs


def time_to(accuracy: float, points: list[tuple[float, float]]) -> float:
    """Least time of a run that is within the accuracy like every finer one; infinite if there is none."""
    within = [error <= accuracy for error, _ in points]
    good = [seconds for n, (_, seconds) in enumerate(points) if all(within[n:])]
    return min(good, default=float("inf"))


def in_words(seconds: float, least: float) -> str:
    """Seconds and their ratio to the least, for the table."""
    return f"{seconds:>10.3f} s{seconds / least:>7.1f}x" if seconds < float("inf") else f"{'not reached':>20}"


def draw(curves: dict[str, list[tuple[float, float]]], file: Path) -> None:
    """Error against seconds."""
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(7, 4.5), layout="constrained")
    styles = dict(
        zip(curves, (("o-", "#0072b2"), ("s-", "#004060"), ("^--", "#d55e00"), ("D:", "#009e73")), strict=True)
    )
    for name, points in curves.items():
        error, seconds = np.array(points).T
        style, colour = styles[name]
        axes.loglog(seconds, 100 * error, style, color=colour, label=name)
    for accuracy in ACCURACIES:
        axes.axhline(100 * accuracy, color="0.6", linewidth=0.8, zorder=0)
    axes.set(xlabel="seconds from geometry to the answer", ylabel="error of the resistance, %")
    figure.legend(loc="outside upper center", ncols=2, frameon=False)
    figure.savefig(file, dpi=150)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--curve", type=Path, help="picture of error against seconds")
    options = parser.parse_args()
    print(machine())
    runs = all_runs()
    flat = {f"{name}: {run.what}": run for name, several in runs.items() for run in several}
    times = in_turn(flat, options.repeats)
    curves: dict[str, list[tuple[float, float]]] = {}
    print(f"\n{'method':<32}{'run':<24}{'error of R, %':>14}{'median, s':>11}")
    for name, several in runs.items():
        points = [(run.error, median(times[f"{name}: {run.what}"])) for run in several]
        for run, (_, seconds) in zip(several, points, strict=True):
            print(f"{name:<32}{run.what:<24}{100 * (run.resistance / EXACT - 1):>14.4f}{seconds:>11.3f}")
        family = name if name.startswith("annulus") else name.split(",")[0]
        known = curves.get(family, points)
        curves[family] = [(error, min(one, other)) for (error, one), (_, other) in zip(points, known, strict=True)]
    print(f"\n{'first run to stay within':<32}" + "".join(f"{100 * a:>10g} %{'ratio':>8}" for a in ACCURACIES))
    best = {a: min(time_to(a, curves[name]) for name in curves if name.startswith("annulus")) for a in ACCURACIES}
    for name, points in curves.items():
        found = [(time_to(a, points), best[a]) for a in ACCURACIES]
        print(f"{name:<32}" + "".join(in_words(seconds, least) for seconds, least in found))
    if options.curve:
        draw(curves, options.curve)
    return 0


if __name__ == "__main__":
    sys.exit(main())
