"""Reference values of the coil section and its variants, by finite elements that share no code with annulus.

Run: pip install -e ".[reference]"; python benchmarks/reference_coil_section.py [--only NAME ...] [--write FILE]

Curved quadratic triangles fitted to every interface, axisymmetric weight,
an interface conductance where a contact resists (nodes of both sides kept
apart). Each variant is solved on two meshes, the finer with half the sizes;
their difference is kept as the error. Prints one table; `--write` keeps the
numbers as TOML, where `annulus verify` reads them: annulus/verification/coil_section_references.toml.

Mirror planes are used: between equal turns, and half-way up where there is a void.
"""

from __future__ import annotations

import argparse
import os
import time
from dataclasses import dataclass, fields
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import gmsh
import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import splu
from scipy.spatial import cKDTree
from skfem import Basis, BilinearForm, ElementTriP2, MeshTri2, asm
from skfem.helpers import dot, grad

MM = 1e-3
TURNS = 8
RADII = (75.0, 76.5, 93.0, 94.0, 124.5, 125.0)  # [mm] flue, filler, shroud, insulation, jacket
LAYERS = ("flue", "filler", "shroud", "insulation", "jacket")
CONDUCTIVITY = {"flue": 45.0, "shroud": 45.0, "insulation": 0.08, "jacket": 45.0, "tube": 390.0, "void": 0.03}
TUBE, BORE = 6.35, 5.55  # [mm] outer and inner radius
GAS, ROOM, WATER = (30.0, 550.0), (10.0, 20.0), (2000.0, 40.0)  # film [W/(m2 K)] and temperature [degC]

# Sizes on the coarser mesh [mm].
IN_FILLER, IN_SHEET, FARTHEST = 0.5, 0.5, 3.0
GROWTH = 0.2  # of the distance from a layer or a fine place
AT_GAP = 0.3  # of the narrowest gap
AT_CORNER = 2e-3  # where materials meet in a corner
QUADRATURE = 6  # order; more than a straight axisymmetric element needs, for the curved ones
FINENESS = 0.7, 0.35  # of the two meshes
STRAIGHTENED = 1e-4  # [mm]
BALANCED = 1e-8  # of the heat from the gas

# Quadratic edge on [0, 1], nodes at 0, 1, 1/2: values and slopes at the Gauss points, shape (3, points).
_X, _W = np.polynomial.legendre.leggauss(5)
_X, EDGE_WEIGHTS = 0.5 * (_X + 1), 0.5 * _W
SHAPES = np.array([(1 - _X) * (1 - 2 * _X), _X * (2 * _X - 1), 4 * _X * (1 - _X)])
SLOPES = np.array([4 * _X - 3, 4 * _X - 1, 4 - 8 * _X])

TEMPERATURES = ("wall_max", "wall_min", "filler_max", "outer_face_max", "mean_bore_face")
HEADER = """\
# Made by benchmarks/reference_coil_section.py: quadratic body-fitted curved triangles, two meshes,
# the finer with half the sizes; scikit-fem assembles, gmsh meshes. The values are the finer mesh's.
# Lengths [mm], `centre` and `void` (r_min, r_max, z_min, z_max) in the section; `filler` [W/(m K)];
# `contact` between tube and filler [m2 K/W]; heat flows of eight turns and of each [W];
# temperatures [degC]; `resistance` from mean bore face to water [K/W]; `mesh_error`: largest
# relative change of any value from the coarser mesh, temperatures counted from the water's.
"""


@dataclass(frozen=True)
class Variant:
    """One section. Lengths in [mm], measured in the section; a void is (r_min, r_max, z_min, z_max)."""

    name: str
    what: str
    filler: float = 0.3
    pitch: float = 17.0
    centre: float = 83.15
    resistance: float = 0.0  # between tube and filler [m2 K/W]
    void: tuple[float, float, float, float] | None = None

    @property
    def modelled(self) -> int:
        """Turns between the mirror planes."""
        return 1 if self.void is None else TURNS // 2


@dataclass(frozen=True)
class Result:
    """Heat flows of all eight turns [W], temperatures [degC] and resistance [K/W]; lists by turn, bottom first."""

    gas_side: float
    tubes: float
    outside: float
    wall_max: float
    wall_min: float
    filler_max: float
    outer_face_max: float
    mean_bore_face: float
    resistance: float
    turns: tuple[float, ...]


FOURTH, FIFTH = 8.5 + 17 * 3, 8.5 + 17 * 4  # [mm] heights of the turns beside the void
BETWEEN_CROWNS, BETWEEN_CENTRES = (FOURTH + TUBE, FIFTH - TUBE), (FOURTH, FIFTH)
INNER, OUTER = (RADII[1], 83.15), (83.15, RADII[2])
VARIANTS = (
    Variant("plain", "as published, filler 0.3 W/(m K)"),
    Variant("plain_dense", "as published, filler 2 W/(m K)", filler=2.0),
    Variant("contact", "contact resistance 1e-3 m2 K/W between tube and filler", resistance=1e-3),
    Variant("close_turns", "turns 0.05 mm apart", pitch=12.75),
    Variant("close_wall", "tubes 0.05 mm from the flue", centre=82.9),
    Variant("inner_void", "air between flue and tube centres, fourth to fifth crown", void=(*INNER, *BETWEEN_CROWNS)),
    Variant("outer_void", "air between tube centres and shroud, fourth to fifth crown", void=(*OUTER, *BETWEEN_CROWNS)),
    Variant("inner_void_deep", "the same as inner_void, centre to centre", void=(*INNER, *BETWEEN_CENTRES)),
    Variant("outer_void_deep", "the same as outer_void, centre to centre", void=(*OUTER, *BETWEEN_CENTRES)),
    Variant("touching", "tubes touch the flue over a strip of 0.2 mm", centre=76.5 + (TUBE**2 - 0.1**2) ** 0.5),
)


def fine_places(v: Variant) -> list[tuple[float, float, float]]:
    """Points about which the mesh must be fine, and the size there: (r, z, size) [mm]."""
    places = []
    reach = v.centre - RADII[1]
    for i in range(v.modelled):
        z = (i + 0.5) * v.pitch
        if reach < TUBE:
            half = (TUBE**2 - reach**2) ** 0.5
            places += [(RADII[1], z + side * half, AT_CORNER * 0.1) for side in (-1, 1)]
        else:
            places.append((RADII[1], z, AT_GAP * (reach - TUBE)))
        between = v.pitch / 2 - TUBE
        places += [(v.centre, z + side * v.pitch / 2, AT_GAP * between) for side in (-1, 1)]
    if v.void is not None:
        r_min, r_max, z_min, _ = v.void
        meets = [r for r in (r_min, v.centre - TUBE, v.centre + TUBE, r_max) if r_min <= r <= r_max]
        places += [(r, z_min, AT_CORNER) for r in meets] + [(v.centre, FOURTH + TUBE, AT_CORNER)]
    return places


def make_mesh(v: Variant, fineness: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points [mm] (n, 2), six nodes of each triangle (m, 6) in scikit-fem's order, and its region's name (m,)."""
    height = v.modelled * v.pitch
    places = np.array(fine_places(v))
    gmsh.initialize()
    gmsh.option.setNumber("General.Verbosity", 1)  # its remarks on thin triangles are `straighten`'s business
    for option in ("MeshSizeExtendFromBoundary", "MeshSizeFromPoints"):
        gmsh.option.setNumber(f"Mesh.{option}", 0)
    occ, painted = gmsh.model.occ, []
    for name, r0, r1 in zip(LAYERS, RADII, RADII[1:], strict=False):
        painted.append((name, occ.addRectangle(r0, 0, 0, r1 - r0, height)))
    if v.void is not None:
        r0, r1, z0, z1 = v.void
        painted.append(("void", occ.addRectangle(r0, z0, 0, r1 - r0, min(z1, height) - z0)))
    for i in range(v.modelled):
        for name, radius in (("tube", TUBE), ("bore", BORE)):
            painted.append((name, occ.addDisk(v.centre, (i + 0.5) * v.pitch, 0, radius, radius)))
    painted.append(painted[0])  # the flue wall cuts the tubes that touch it
    shapes = [(2, tag) for _, tag in painted[:-1]]
    _, parts = occ.fragment(shapes, [])
    occ.synchronize()
    region_of: dict[int, str] = {}
    for name, tag in painted:
        for _, part in parts[shapes.index((2, tag))]:
            region_of[part] = name

    def size(dim, tag, r, z, _z, _wish):
        layer = min(max(GROWTH * (r - RADII[3]), 0.0) + IN_FILLER, FARTHEST) if r > RADII[3] else IN_SHEET
        near = (places[:, 2] + GROWTH * np.hypot(places[:, 0] - r, places[:, 1] - z)).min()
        return fineness * min(layer, near)

    gmsh.model.mesh.setSizeCallback(size)
    gmsh.model.occ.remove([(2, tag) for tag, name in region_of.items() if name == "bore"])
    occ.synchronize()
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
    return xyz.reshape(-1, 3)[:, :2], np.concatenate(triangles), np.array(regions)


def straighten(points: np.ndarray, triangles: np.ndarray) -> None:
    """Make straight the edges of triangles that their curved edge turns inside out, in place.

    This befalls the first triangle where a void's side runs into the tangent
    of a tube's crown, and moves the crown by less than `STRAIGHTENED`.
    """
    before = points.copy()
    for a, b, middle in ((0, 1, 3), (1, 2, 4), (2, 0, 5)):
        bad = triangles[_inside_out(points, triangles)]
        points[bad[:, middle]] = 0.5 * (points[bad[:, a]] + points[bad[:, b]])
    moved = np.hypot(*(points - before).T).max()
    if moved > STRAIGHTENED or _inside_out(points, triangles).any():
        raise RuntimeError(f"a triangle is turned inside out and would move by {moved} mm; make the mesh finer there")


def _inside_out(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Whether a triangle's Jacobian changes sign, or nearly so, at its quadrature points, shape (m,)."""
    mesh = MeshTri2(points.T, triangles.T)
    basis = Basis(mesh, ElementTriP2(), intorder=QUADRATURE)
    jacobian = basis.mapping.detDF(basis.X)
    return jacobian.min(axis=1) * jacobian.max(axis=1) <= 0


def part_the_tubes(points, triangles, regions):
    """Give tubes their own copies of the nodes that they share with what is around them."""
    on_tube = regions == "tube"
    shared = np.intersect1d(triangles[on_tube], triangles[~on_tube])
    copy = np.arange(len(points))
    copy[shared] = len(points) + np.arange(shared.size)
    triangles = triangles.copy()
    triangles[on_tube] = copy[triangles[on_tube]]
    return np.vstack([points, points[shared]]), triangles


@BilinearForm
def conduction(u, v, w):
    return w.k * w.x[0] * dot(grad(u), grad(v))


@dataclass(frozen=True)
class Rim:
    """Curved edges with three nodes each: `node` (n, 3), ends first, and `weight` (n, points) = r ds [m2]."""

    node: np.ndarray
    weight: np.ndarray

    @classmethod
    def of(cls, mesh: MeshTri2, basis: Basis, facets: np.ndarray) -> Rim:
        middle = basis.get_dofs(facets).facet["u"]
        order = np.argsort(np.argsort(facets))  # dofs come sorted by facet
        node = np.stack([*mesh.facets[:, facets], middle[order]], axis=1)
        place = basis.doflocs[:, node]
        slope = np.hypot(*np.einsum("cen,nq->ceq", place, SLOPES))
        return cls(node, EDGE_WEIGHTS * slope * np.einsum("en,nq->eq", place[0], SHAPES))

    @property
    def area(self) -> float:
        """Integral of r ds. [m2]"""
        return float(self.weight.sum())

    def load(self, size: int) -> np.ndarray:
        """Integral of every node's shape function, shape (size,)."""
        share = np.einsum("eq,nq->en", self.weight, SHAPES)
        return np.bincount(self.node.ravel(), share.ravel(), size)

    def matrix(self, size: int) -> csr_matrix:
        """Integrals of the products of shape functions, shape (size, size)."""
        product = np.einsum("eq,nq,mq->enm", self.weight, SHAPES, SHAPES)
        row = np.repeat(self.node, 3, axis=1)
        column = np.tile(self.node, 3)
        return csr_matrix((product.ravel(), (row.ravel(), column.ravel())), (size, size))


def solve(v: Variant, fineness: float) -> tuple[Result, int]:
    """Result of one mesh and its number of unknowns."""
    points, triangles, regions = make_mesh(v, fineness)
    straighten(points, triangles)
    if v.resistance:
        points, triangles = part_the_tubes(points, triangles, regions)
    mesh = MeshTri2(points.T * MM, triangles.T)
    basis = Basis(mesh, ElementTriP2(), intorder=QUADRATURE)
    k = np.array([CONDUCTIVITY.get(name, v.filler) for name in regions])
    matrix = asm(conduction, basis, k=k[:, None] * np.ones(basis.dx.shape[1]))
    load = np.zeros(basis.N)

    edge = mesh.boundary_facets()
    midpoint = basis.doflocs[:, basis.get_dofs(edge).facet["u"]].T / MM
    on = {"gas": np.isclose(midpoint[:, 0], RADII[0]), "room": np.isclose(midpoint[:, 0], RADII[-1])}
    on_tube = np.zeros(edge.size, dtype=bool)
    for i in range(v.modelled):
        from_centre = np.hypot(midpoint[:, 0] - v.centre, midpoint[:, 1] - (i + 0.5) * v.pitch)
        on[f"bore {i}"] = np.isclose(from_centre, BORE, rtol=1e-7)
        on_tube |= np.isclose(from_centre, TUBE, rtol=1e-7)
    rims = {name: Rim.of(mesh, basis, edge[which]) for name, which in on.items()}
    films = {name: {"gas": GAS, "room": ROOM}.get(name, WATER) for name in rims}
    for name, rim in rims.items():
        h, ambient = films[name]
        matrix = matrix + h * rim.matrix(basis.N)
        load += h * ambient * rim.load(basis.N)
    if v.resistance:
        matrix = matrix + contact(mesh, basis, edge[on_tube], regions) / v.resistance
    T = splu(matrix.tocsc()).solve(load)

    share = TURNS // v.modelled
    mean = {name: float(rim.load(basis.N) @ T) / rim.area for name, rim in rims.items()}
    heat = {
        name: 2 * np.pi * share * h * rims[name].area * (ambient - mean[name]) for name, (h, ambient) in films.items()
    }
    if abs(sum(heat.values())) > BALANCED * heat["gas"]:
        raise RuntimeError(f"{v.name}: heat flows {heat} W do not balance; does a rim lack an edge?")

    def extremes(name: str) -> tuple[float, float]:
        found = T[np.unique(basis.element_dofs[:, regions == name])]
        return float(found.min()), float(found.max())

    turns = [-heat[f"bore {i}"] / share for i in range(v.modelled)]
    tubes = share * sum(turns)
    wall_min, wall_max = extremes("flue")
    result = Result(
        gas_side=heat["gas"],
        tubes=tubes,
        outside=-heat["room"],
        wall_max=wall_max,
        wall_min=wall_min,
        filler_max=extremes("filler")[1],
        outer_face_max=float(T[rims["room"].node].max()),
        mean_bore_face=mean["gas"],
        resistance=(mean["gas"] - WATER[1]) / tubes,
        turns=tuple(turns + turns[::-1]) if v.void else tuple(turns * TURNS),
    )
    return result, basis.N


def contact(mesh: MeshTri2, basis: Basis, facets: np.ndarray, regions: np.ndarray) -> csr_matrix:
    """Integrals over the contact of the products of jumps: flux is the jump of temperature over the resistance."""
    of_tube = regions[mesh.f2t[0, facets]] == "tube"
    one, other = (np.unique(basis.get_dofs(facets[which]).all()) for which in (~of_tube, of_tube))
    distance, twin = cKDTree(basis.doflocs[:, other].T).query(basis.doflocs[:, one].T)
    if one.size != other.size or distance.max() > 1e-12:
        raise RuntimeError("the nodes of tube and filler do not pair up")
    node = np.concatenate([one, other[twin]])
    jump = csr_matrix((np.repeat([1.0, -1.0], one.size), (np.tile(one, 2), node)), (basis.N, basis.N))
    return jump.T @ Rim.of(mesh, basis, facets[~of_tube]).matrix(basis.N) @ jump


def compare(coarse: Result, fine: Result) -> float:
    """Largest relative change between two meshes, temperatures counted from the water's."""
    change = 0.0
    for field in fields(Result):
        one, other = (np.atleast_1d(getattr(result, field.name)) for result in (coarse, fine))
        zero = WATER[1] if field.name in TEMPERATURES else 0.0
        change = max(change, float((np.abs(one - other) / np.abs(other - zero)).max()))
    return change


def as_toml(solved: list[tuple[Variant, Result, float, int]]) -> str:
    """The variants and their results as text."""
    lines = [HEADER]
    for v, result, change, unknowns in solved:
        lines += [f"[{v.name}]", f'what = "{v.what}"', f"filler = {v.filler}", f"pitch = {v.pitch}"]
        lines += [f"centre = {v.centre!r}", f"contact = {v.resistance}"]
        if v.void is not None:
            lines.append(f"void = [{', '.join(f'{side:g}' for side in v.void)}]")
        for field in fields(Result):
            value = getattr(result, field.name)
            text = f"[{', '.join(f'{x:.7g}' for x in value)}]" if field.name == "turns" else f"{value:.7g}"
            lines.append(f"{field.name} = {text}")
        lines += [f"mesh_error = {change:.1e}", f"unknowns = {unknowns}", ""]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--only", nargs="+", choices=[v.name for v in VARIANTS], help="these variants")
    parser.add_argument("--write", type=Path, help="TOML file for the numbers")
    asked = parser.parse_args()
    solved = []
    names = [field.name for field in fields(Result) if field.name != "turns"]
    print(f"{'variant':>16}", *(f"{name:>14}" for name in names), f"{'mesh error':>11}{'unknowns':>9}{'s':>6}")
    for v in VARIANTS:
        if asked.only and v.name not in asked.only:
            continue
        begun = time.perf_counter()
        coarse, _ = solve(v, FINENESS[0])
        fine, unknowns = solve(v, FINENESS[1])
        change = compare(coarse, fine)
        solved.append((v, fine, change, unknowns))
        values = (f"{getattr(fine, name):>14.7g}" for name in names)
        seconds = time.perf_counter() - begun
        print(f"{v.name:>16}", *values, f"{change:>11.1e}{unknowns:>9}{seconds:>6.0f}", flush=True)
    if asked.write:
        asked.write.write_text(as_toml(solved), encoding="utf-8")


if __name__ == "__main__":
    main()
