"""Round inclusions with interface conductance: a cylinder in a plane and a sphere on the axis.

A staircase circle has an interface 4 / pi too long, so these cases, at finite
conductance, are the test of a curved contact resistance.
"""

import math

import numpy as np
import pytest
from order import Study, refine, require_circle_class

from annulus.conduction.boundaries import Held
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import heat_across, temperature_at
from annulus.conduction.steady import solve_steady
from annulus.shapes import Disc, Rectangle

MM = 1e-3
GRADIENT, K_OUT, K_IN = 1000.0, 0.3, 390.0  # [K/m], [W/(m K)]
PARTS = (6, 12, 25, 50)  # cells per radius
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


def solve_inclusion(size: float, conductance: float, sphere: bool):
    """Field with the exact temperature held on a box of three radii, and the exact temperature by region."""
    radius = SPHERE if sphere else CYLINDER
    A, B = coefficients(radius, conductance, 3 if sphere else 2)
    far = 3 * radius
    cells = round(far / size)

    def outside(r, z):
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


def inclusion_errors(size: float, conductance: float, sphere: bool) -> dict[str, float]:
    """Temperatures relative to the span of the box, heat to the exact one (where that is none, to the uniform flow)."""
    radius = SPHERE if sphere else CYLINDER
    A, B = coefficients(radius, conductance, 3 if sphere else 2)
    field, exact = solve_inclusion(size, conductance, sphere)
    span = 6 * radius * GRADIENT
    if sphere:
        through = -heat_across(field, "z", 0.0, "inclusion")
        full = math.pi * radius**2 * GRADIENT
        near, far = (0.0, radius), (0.0, 2 * radius)
    else:
        through = -heat_across(field, "r", 0.0, "inclusion")
        full = 2 * radius * GRADIENT
        near, far = (radius, 0.0), (2 * radius, 0.0)
    scale = full * (K_IN * B if conductance > NEARLY_NONE else K_OUT)
    surface = GRADIENT * radius * (1 + A)
    beyond = GRADIENT * 2 * radius * (1 + A / (8 if sphere else 4))
    volume = field.pieces.volume
    return {
        "heat": (through - full * K_IN * B) / scale,
        "T out at a": (temperature_at(field, *near, "matrix")[0] - surface) / span,
        "T at 2a": (temperature_at(field, *far)[0] - beyond) / span,
        "mean square T": np.sqrt((volume * (field.temperature - exact) ** 2).sum() / volume.sum()) / span,
        "largest T": np.abs(field.temperature - exact).max() / span,
    }


def study_of(conductance: float, sphere: bool) -> Study:
    radius = SPHERE if sphere else CYLINDER
    return refine(
        lambda size: inclusion_errors(size, conductance, sphere),
        [radius / parts for parts in PARTS],
        f"{'sphere' if sphere else 'cylinder'}, interface conductance {conductance:g} W/(m2 K)",
    )


@pytest.mark.parametrize("conductance", CYLINDER_TABLE)
def test_quoted_numbers_of_the_cylinder_are_the_closed_form(conductance):
    A, B, inside, outside, beyond, heat = CYLINDER_TABLE[conductance]
    computed_A, computed_B = coefficients(CYLINDER, conductance, 2)
    rounding = 5e-6 if conductance == NEARLY_NONE else 1e-8  # the first row is that of no conductance at all
    assert computed_A == pytest.approx(A, abs=rounding)
    assert computed_B == pytest.approx(B, abs=rounding)
    assert computed_B * GRADIENT * CYLINDER == pytest.approx(inside, abs=15 * rounding)
    assert GRADIENT * CYLINDER * (1 + computed_A) == pytest.approx(outside, abs=15 * rounding)
    assert GRADIENT * 2 * CYLINDER * (1 + computed_A / 4) == pytest.approx(beyond, abs=15 * rounding)
    assert 2 * CYLINDER * K_IN * computed_B * GRADIENT == pytest.approx(heat, abs=15 * rounding)


@pytest.mark.parametrize("conductance", SPHERE_TABLE)
def test_quoted_numbers_of_the_sphere_are_the_closed_form(conductance):
    A, pole, beyond, heat = SPHERE_TABLE[conductance]
    computed_A, computed_B = coefficients(SPHERE, conductance, 3)
    assert computed_A == pytest.approx(A, abs=6e-9)
    if pole is not None:
        assert GRADIENT * SPHERE * (1 + computed_A) == pytest.approx(pole, abs=6e-8)
    assert GRADIENT * 2 * SPHERE * (1 + computed_A / 8) == pytest.approx(beyond, abs=6e-8)
    assert math.pi * SPHERE**2 * K_IN * computed_B * GRADIENT == pytest.approx(heat, rel=1e-7)


@pytest.mark.parametrize("conductance", CYLINDER_TABLE)
def test_cylinder_in_a_uniform_gradient_converges_at_every_conductance(conductance):
    study = study_of(conductance, sphere=False)
    require_circle_class(study, CYLINDER)


@pytest.mark.parametrize("conductance", SPHERE_TABLE)
def test_sphere_on_the_axis_converges_at_every_conductance(conductance):
    study = study_of(conductance, sphere=True)
    require_circle_class(study, SPHERE)
