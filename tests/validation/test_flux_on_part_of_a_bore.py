"""Hollow cylinder heated over the middle of its bore: a NAFEMS benchmark in (r, z)."""

import math

from order import refine, require_smooth_class
from readings import side_temperature

from annulus.conduction.boundaries import Flux, Held
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import solve_steady
from annulus.shapes import Rectangle

# NAFEMS, axisymmetric heat transfer with prescribed flux; published 59.82 degC (332.97 K) at the first
# point, quoted from memory. The digits are finite elements on meshes that agree to them.
POINTS = {(0.04, 0.04): 59.8205, (0.02, 0.07): 205.077, (0.06, 0.07): 39.9464}
TOTAL = 5e5 * 2 * math.pi * 0.02 * 0.06  # flux times the heated bore, 3769.9112 W


def solve_bore(size: float):
    cells = (round(0.08 / size), round(0.14 / size))
    pieces = cut_grid(
        uniform_grid((0.02, 0.10), (0.0, 0.14), cells), [Painted("steel", Rectangle(0.02, 0.10, 0.0, 0.14))]
    )
    heated = Flux(lambda r, z: 5e5 * ((z > 0.04) & (z < 0.10)))
    cold = Held(0.0)
    return solve_steady(pieces, {"steel": 52.0}, {"r_min": heated, "r_max": cold, "z_min": cold, "z_max": cold})


def bore_errors(size: float) -> dict[str, float]:
    field = solve_bore(size)
    errors = {}
    for (r, z), exact in POINTS.items():
        found = side_temperature(field, "r_min", z) if r == 0.02 else temperature_at(field, r, z)[0]
        errors[f"T({r}, {z})"] = (found - exact) / max(POINTS.values())
    return errors


def test_flux_on_part_of_the_bore_meets_the_benchmark_points():
    study = refine(bore_errors, [0.005, 0.0025, 0.00125], "flux on part of the bore, errors of the 205 K span")
    require_smooth_class(study)
    assert all(study.error(name, 0.0025) <= 1e-3 for name in study.errors)  # 32 x 56 cells suffice
    assert study.error("T(0.04, 0.04)", 0.00125) * max(POINTS.values()) < 0.1  # [K], the benchmark's own demand


def test_heat_let_in_is_flux_times_heated_bore_and_leaves_by_the_cold_sides():
    field = solve_bore(0.005)
    assert math.isclose(TOTAL, 3769.9112, rel_tol=1e-8)
    assert math.isclose(field.heat_into("r_min"), TOTAL, rel_tol=1e-12)
    leaving = sum(field.heat_into(side) for side in ("r_max", "z_min", "z_max"))
    assert math.isclose(leaving, -TOTAL, rel_tol=1e-10)
