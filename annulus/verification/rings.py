"""V6, V10: one solid ring with heat let in on part of its bore, and with a field made up beforehand.

Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.boundaries import Boundary, Film, Flux, Held
from annulus.conduction.grid import Grid, uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import Field, solve_steady
from annulus.shapes import Rectangle
from annulus.verification.order import Reading, norms, refine, smooth_rows
from annulus.verification.readings import side_temperature
from annulus.verification.rows import Also, Case, Row, quoted, relative

Floats = NDArray[np.float64]

# NAFEMS, axisymmetric heat transfer with prescribed flux; published 59.82 degC (332.97 K) at the first
# point, quoted from memory. The digits are finite elements on meshes that agree to them.
POINTS = {(0.04, 0.04): 59.8205, (0.02, 0.07): 205.077, (0.06, 0.07): 39.9464}
SPAN = max(POINTS.values())
TOTAL = 5e5 * 2 * math.pi * 0.02 * 0.06  # flux times the heated bore [W]
BENCHMARK_DEMAND = 0.1  # [K] at the first point


def solve_bore(size: float) -> Field:
    """Flux on part of the bore, on square cells. [m]"""
    cells = (round(0.08 / size), round(0.14 / size))
    pieces = cut_grid(
        uniform_grid((0.02, 0.10), (0.0, 0.14), cells), [Painted("steel", Rectangle(0.02, 0.10, 0.0, 0.14))]
    )
    heated = Flux(lambda r, z: np.where((z > 0.04) & (z < 0.10), 5e5, 0.0))
    cold = Held(0.0)
    return solve_steady(pieces, {"steel": 52.0}, {"r_min": heated, "r_max": cold, "z_min": cold, "z_max": cold})


def bore_readings(size: float) -> dict[str, Reading]:
    """Temperatures at the benchmark's points."""
    field = solve_bore(size)
    found = {}
    for (r, z), exact in POINTS.items():
        computed = side_temperature(field, "r_min", z) if r == 0.02 else float(temperature_at(field, r, z)[0])
        found[f"T({r:g}, {z:g} m)"] = Reading("degC", exact, computed, SPAN)
    return found


def bore_rows() -> list[Row]:
    study = refine(bore_readings, [0.005, 0.0025, 0.00125])
    rows = []
    for row in smooth_rows(study):
        coarser = study.at(row.quantity, 0.0025)
        tolerance = min(row.tolerance, BENCHMARK_DEMAND / SPAN) if row.quantity == "T(0.04, 0.04 m)" else row.tolerance
        also = (Also("32 x 56 cells", coarser.computed, 1e-3),)
        rows.append(replace(row, tolerance=tolerance, also=also))
    field = solve_bore(0.005)
    leaving = -sum(field.heat_into(side) for side in ("r_max", "z_min", "z_max"))
    return [
        *rows,
        relative("heat in", "W", TOTAL, field.heat_into("r_min"), 1e-12),
        relative("heat out by the cold sides", "W", TOTAL, leaving, 1e-10),
        quoted([(3769.9112, TOTAL, 1e-8 * TOTAL)]),
    ]


# Own manufactured solution after the method of P. J. Roache, Verification and Validation in Computational
# Science and Engineering, 1998 (from memory): choose T and k, derive the source by hand.
FILM = 7.0
SOURCE = {(0.6, 0.2): 371.780704, (1.0, 0.5): 26.970294, (1.4, 0.9): -473.361002}  # [W/m3]
MADE_UP_ORDER = 1.9


def chosen_temperature(r: Floats, z: Floats) -> Floats:
    return 300 + 40 * np.cos(3 * z) * np.sin(2 * r) + 20 * r**2 * z


def chosen_conductivity(T: Floats | float, r: Floats, z: Floats) -> Floats:
    return 1 + 0.4 * r * z


def slope_r(r: Floats, z: Floats) -> Floats:
    return 80 * np.cos(3 * z) * np.cos(2 * r) + 40 * r * z


def slope_z(r: Floats, z: Floats) -> Floats:
    return -120 * np.sin(3 * z) * np.sin(2 * r) + 20 * r**2


def source(r: Floats, z: Floats) -> Floats:
    """-(1/r) d(r k dT/dr)/dr - d(k dT/dz)/dz, differentiated by hand. [W/m3]"""
    k, k_r, k_z = 1 + 0.4 * r * z, 0.4 * z, 0.4 * r
    bend_r = -160 * np.cos(3 * z) * np.sin(2 * r) + 40 * z
    bend_z = -360 * np.cos(3 * z) * np.sin(2 * r)
    radial = k * slope_r(r, z) / r + k_r * slope_r(r, z) + k * bend_r
    return -radial - k_z * slope_z(r, z) - k * bend_z


HELD = Held(chosen_temperature)
BOUNDARIES: dict[str, dict[str, Boundary]] = {
    "held all round": {"r_min": HELD, "r_max": HELD, "z_min": HELD, "z_max": HELD},
    "film and flux": {
        "r_min": HELD,
        "z_min": HELD,
        "r_max": Film(
            FILM,
            lambda r, z: chosen_temperature(r, z) + chosen_conductivity(0, r, z) * slope_r(r, z) / FILM,
        ),
        "z_max": Flux(lambda r, z: chosen_conductivity(0, r, z) * slope_z(r, z)),
    },
}
GRIDS = {"even": False, "stretched": True}


def faces(cells: int, stretched: bool) -> Floats:
    """Cell sizes that differ by 3 to 1 over the domain when stretched."""
    s = np.linspace(0.0, 1.0, cells + 1)
    return s + stretched * np.sin(2 * np.pi * s) / (4 * np.pi)


def made_up_readings(size: float, stretched: bool, boundaries: Mapping[str, Boundary]) -> dict[str, Reading]:
    """Norms of the error, of the span of the chosen field, on cells of about `size`. [m]"""
    s = faces(round(1 / size), stretched)
    pieces = cut_grid(Grid(0.5 + s, s), [Painted("solid", Rectangle(0.5, 1.5, 0.0, 1.0))])
    field = solve_steady(pieces, {"solid": chosen_conductivity}, boundaries, source=source)
    exact = chosen_temperature(pieces.r, pieces.z)
    return norms(field.temperature - exact, pieces.volume, float(np.ptp(exact)))


def made_up_rows() -> list[Row]:
    rows = []
    for grid, stretched in GRIDS.items():
        for name, boundaries in BOUNDARIES.items():
            run = partial(made_up_readings, stretched=stretched, boundaries=boundaries)
            study = refine(run, [1 / n for n in (16, 32, 64, 128)])
            rows += [
                replace(row, quantity=f"{row.quantity}, {name}, {grid}")
                for row in smooth_rows(study, order=MADE_UP_ORDER, size=1 / 64)
            ]
    pairs = [(value, float(source(np.array(r), np.array(z))), 6e-7) for (r, z), value in SOURCE.items()]
    return [*rows, quoted(pairs)]


CASES = (
    Case(
        "V6",
        "Hollow cylinder, heat let in on part of the bore",
        "a prescribed flux on part of a side, nothing lost",
        "NAFEMS axisymmetric benchmark, published 59.82; digits: finite elements",
        bore_rows,
    ),
    Case(
        "V10",
        "Manufactured field with k(r, z) and a source",
        "second order everywhere, on even and stretched grids, for every kind of boundary",
        "own choice of T and k, source derived by hand (method: Roache 1998)",
        made_up_rows,
    ),
)
