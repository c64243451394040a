"""V14, V15: round inclusions with interface conductance: a cylinder in a plane and a sphere on the axis.

A staircase circle has an interface 4 / pi too long, so these cases, at finite
conductance, are the test of a curved contact resistance.
Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import math
from functools import partial

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.boundaries import Held
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import heat_across, temperature_at
from annulus.conduction.steady import Field, solve_steady
from annulus.shapes import Disc, Rectangle
from annulus.verification.order import CIRCLE_PARTS, Reading, circle_rows, norms, refine
from annulus.verification.rows import Case, Row, quoted

Floats = NDArray[np.float64]

MM = 1e-3
GRADIENT, K_OUT, K_IN = 1000.0, 0.3, 390.0  # [K/m], [W/(m K)]
NEARLY_NONE = 1e-4  # [W/(m2 K)]; 2e-6 of the outer conductance k / a

# D. P. H. Hasselman & L. F. Johnson, J. Composite Materials 21 (1987) 508; Carslaw & Jaeger 16 (from memory).
# Cylinder of 6.35 mm, by conductance: A, B, T in and T out at (a, 0), T(2a, 0) [K], heat through the mid plane [W/m].
CYLINDER = 6.35 * MM
CYLINDER_TABLE = {
    NEARLY_NONE: (1.0, 0.0, 0.0, 12.7, 15.875, 0.0),
    50.0: (-0.02793352, 7.907181e-4, 0.0050211, 6.1726222, 12.6113111, 3.9164267),
    500.0: (-0.82605474, 1.4046575e-3, 0.0089196, 1.1045524, 10.0772762, 6.9572685),
    math.inf: (-0.99846272, 1.5372790e-3, 0.0097617, 0.0097617, 9.5298809, 7.6141430),
}
# Sphere of 5 mm: A, T out at the pole (None where not quoted), T(0, 2a), heat through the equator plane [W].
SPHERE = 5 * MM
SPHERE_TABLE = {
    500.0: (-0.70817844, 1.4591078, 9.1147770, 0.056934068),
    math.inf: (-0.99769585, None, 8.7528802, 0.070577254),
}


def coefficients(radius: float, conductance: float, dimensions: int) -> tuple[float, float]:
    """A and B: T = G x (1 + A (a/r)^n) outside, B G x inside, n = 2 for a cylinder, 3 for a sphere."""
    ratio = K_IN / K_OUT
    B = dimensions / (dimensions - 1 + ratio + (dimensions - 1) * K_IN / (radius * conductance))
    return (1 - ratio * B) / (dimensions - 1), B


def solve_inclusion(size: float, conductance: float, sphere: bool) -> tuple[Field, Floats]:
    """Field with the exact temperature held on a box of three radii, and the exact temperature of its pieces."""
    radius = SPHERE if sphere else CYLINDER
    A, B = coefficients(radius, conductance, 3 if sphere else 2)
    far = 3 * radius
    cells = round(far / size)

    def outside(r: Floats, z: Floats) -> Floats:
        along = z if sphere else r
        return GRADIENT * along * (1 + A * (radius**2 / (r**2 + z**2)) ** (1.5 if sphere else 1.0))

    if sphere:
        grid = uniform_grid((0.0, far), (-far, far), (cells, 2 * cells))
    else:
        grid = uniform_grid((-far, far), (-far, far), (2 * cells, 2 * cells), "plane")
    painted = [Painted("matrix", Rectangle(-far, far, -far, far)), Painted("inclusion", Disc(0.0, 0.0, radius))]
    pieces = cut_grid(grid, painted)
    sides = ("r_max", "z_min", "z_max") if sphere else ("r_min", "r_max", "z_min", "z_max")
    field = solve_steady(
        pieces,
        {"matrix": K_OUT, "inclusion": K_IN},
        dict.fromkeys(sides, Held(outside)),
        {("matrix", "inclusion"): 1 / conductance},
    )
    inside = B * GRADIENT * (pieces.z if sphere else pieces.r)
    return field, np.where(pieces.region == 0, outside(pieces.r, pieces.z), inside)


def inclusion_readings(size: float, conductance: float, sphere: bool) -> dict[str, Reading]:
    """Temperatures of the span of the box, heat of the exact one (where that is none, of the uniform flow)."""
    radius = SPHERE if sphere else CYLINDER
    A, B = coefficients(radius, conductance, 3 if sphere else 2)
    field, exact = solve_inclusion(size, conductance, sphere)
    span = 6 * radius * GRADIENT
    if sphere:
        through, unit = -heat_across(field, "z", 0.0, "inclusion"), "W"
        full = math.pi * radius**2 * GRADIENT
        near, far = (0.0, radius), (0.0, 2 * radius)
    else:
        through, unit = -heat_across(field, "r", 0.0, "inclusion"), "W/m"
        full = 2 * radius * GRADIENT
        near, far = (radius, 0.0), (2 * radius, 0.0)
    scale = full * (K_IN * B if conductance > NEARLY_NONE else K_OUT)
    surface = GRADIENT * radius * (1 + A)
    beyond = GRADIENT * 2 * radius * (1 + A / (8 if sphere else 4))
    return {
        "heat": Reading(unit, full * K_IN * B, through, scale),
        "T out at a": Reading("K", surface, float(temperature_at(field, *near, "matrix")[0]), span),
        "T at 2a": Reading("K", beyond, float(temperature_at(field, *far)[0]), span),
        **norms(field.temperature - exact, field.pieces.volume, span),
    }


def inclusion_rows(conductance: float, sphere: bool) -> list[Row]:
    """Rows of one interface conductance. [W/(m2 K)]"""
    radius = SPHERE if sphere else CYLINDER
    run = partial(inclusion_readings, conductance=conductance, sphere=sphere)
    study = refine(run, [radius / parts for parts in CIRCLE_PARTS])
    words = {NEARLY_NONE: "h -> 0", math.inf: "perfect contact"}.get(conductance, f"h {conductance:g}")
    return circle_rows(study, radius, note=f", {words}")


def cylinder_rows() -> list[Row]:
    pairs = []
    for conductance, (A, B, inside, outside, beyond, heat) in CYLINDER_TABLE.items():
        worked_A, worked_B = coefficients(CYLINDER, conductance, 2)
        rounding = 5e-6 if conductance == NEARLY_NONE else 1e-8  # the first row is that of no conductance at all
        pairs += [
            (A, worked_A, rounding),
            (B, worked_B, rounding),
            (inside, worked_B * GRADIENT * CYLINDER, 15 * rounding),
            (outside, GRADIENT * CYLINDER * (1 + worked_A), 15 * rounding),
            (beyond, GRADIENT * 2 * CYLINDER * (1 + worked_A / 4), 15 * rounding),
            (heat, 2 * CYLINDER * K_IN * worked_B * GRADIENT, 15 * rounding),
        ]
    return [row for h in CYLINDER_TABLE for row in inclusion_rows(h, sphere=False)] + [quoted(pairs)]


def sphere_rows() -> list[Row]:
    pairs = []
    for conductance, (A, pole, beyond, heat) in SPHERE_TABLE.items():
        worked_A, worked_B = coefficients(SPHERE, conductance, 3)
        pairs.append((A, worked_A, 6e-9))
        if pole is not None:
            pairs.append((pole, GRADIENT * SPHERE * (1 + worked_A), 6e-8))
        pairs.append((beyond, GRADIENT * 2 * SPHERE * (1 + worked_A / 8), 6e-8))
        pairs.append((heat, math.pi * SPHERE**2 * K_IN * worked_B * GRADIENT, 1e-7 * heat))
    return [row for h in SPHERE_TABLE for row in inclusion_rows(h, sphere=True)] + [quoted(pairs)]


CASES = (
    Case(
        "V14",
        "Copper cylinder in filler, contact resistance on it",
        "a curved contact resistance: a staircase circle has 4/pi too much of it on any grid",
        "closed form; Hasselman & Johnson 1987, Carslaw & Jaeger 16",
        cylinder_rows,
    ),
    Case(
        "V15",
        "Copper sphere on the axis, contact resistance on it",
        "the same in (r, z), at r = 0",
        "closed form; Hasselman & Johnson 1987",
        sphere_rows,
    ),
)
