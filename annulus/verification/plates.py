"""V3, V5, V7, V8: plane sections with published benchmark points.

Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.boundaries import STEFAN_BOLTZMANN, Film, Held, Radiating
from annulus.conduction.grid import Grid, graded_faces, uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import Field, solve_steady
from annulus.shapes import Rectangle
from annulus.verification.order import SMOOTH_ORDER, Reading, observed_order, refine, smooth_rows
from annulus.verification.readings import side_temperature
from annulus.verification.rows import Also, Case, Row, quoted, worst, zero

Floats = NDArray[np.float64]

MM = 1e-3

# NAFEMS, The Standard NAFEMS Benchmarks, 1990, test T4 (two-dimensional heat transfer with
# convection); published 18.25 at the first point, quoted from memory. The digits are the
# Fourier series, confirmed by finite elements.
AT_FILM, AT_MIRROR = 18.25376, 70.06066  # T(0.6, 0.2), T(0, 0.2) m [degC]


def plate_readings(size: float) -> dict[str, Reading]:
    """Plate with films on two sides, on square cells. [m]"""
    cells = (round(0.6 / size), round(1.0 / size))
    pieces = cut_grid(
        uniform_grid((0.0, 0.6), (0.0, 1.0), cells, "plane"), [Painted("plate", Rectangle(0.0, 0.6, 0.0, 1.0))]
    )
    film = Film(750.0, 0.0)
    field = solve_steady(pieces, {"plate": 52.0}, {"z_min": Held(100.0), "r_max": film, "z_max": film})
    at_film, at_mirror = (side_temperature(field, side, 0.2) for side in ("r_max", "r_min"))
    return {
        "T(0.6, 0.2 m)": Reading("degC", AT_FILM, at_film, 100.0),
        "T(0, 0.2 m)": Reading("degC", AT_MIRROR, at_mirror, 100.0),
    }


def plate_rows() -> list[Row]:
    return smooth_rows(refine(plate_readings, [0.04, 0.02, 0.01]), error=5e-4)  # 0.05 K of 100 K


# NAFEMS T2 (one-dimensional heat transfer with radiation): published 927.0 K, quoted from memory;
# the digits solve k (1000 - T) / L = eps sigma (T^4 - 300^4) with sigma = 5.67e-8 by bisection.
RADIATING_END = 927.0076  # [K]


def radiating_rows() -> list[Row]:
    """One-dimensional and linear inside, so the grid has no say; Newton's iteration must settle."""
    ends, lost, apart = [], [], []
    for cells in (1, 10):
        pieces = cut_grid(
            uniform_grid((0.0, 0.1), (0.0, 1.0), (cells, 1), "plane"), [Painted("bar", Rectangle(0.0, 0.1, 0.0, 1.0))]
        )
        end = Radiating(0.98 * 5.67e-8 / STEFAN_BOLTZMANN, 300.0)  # the benchmark's rounded constant
        field = solve_steady(pieces, {"bar": 55.6}, {"r_min": Held(1000.0), "r_max": end})
        ends.append(float(field.surface_temperature[pieces.boundary_surfaces("r_max")][0]))
        heat = field.heat_into("r_min")
        lost.append(abs(field.imbalance) / abs(heat))
        apart.append(abs(heat / (55.6 * (1000.0 - ends[-1]) / 0.1) - 1))
    return [
        Row("T of the end", "K", RADIATING_END, ends[1], 1e-4, also=(Also("one cell", ends[0], 1e-4),)),
        zero("heat in against k dT/L", worst(apart), 1e-9),
        zero("heat lost, of the heat", worst(lost), 1e-9),
    ]


# ISO 10211:2017, annex C (annex A in older editions), case 1; the standard gives one decimal and asks
# for 0.1 K. The digits are the Fourier series, repeated in `series`. Rows go down from the warm side,
# columns from the cold side to the middle, in eighths of the side.
COLUMN = np.array(
    [
        [9.6582, 13.3791, 14.7289, 15.0854],
        [5.2517, 8.6406, 10.3155, 10.8106],
        [3.1887, 5.6090, 7.0142, 7.4651],
        [2.0142, 3.6406, 4.6582, 5.0000],
        [1.2625, 2.3086, 2.9858, 3.2185],
        [0.7396, 1.3594, 1.7668, 1.9083],
        [0.3418, 0.6296, 0.8199, 0.8863],
    ]
)
ACROSS, DOWN = (place.ravel() for place in np.meshgrid(np.arange(1, 5) / 8, np.arange(1, 8) / 8))
CENTRE = 15  # the fourth row's fourth point


def series(x: Floats, depth: Floats) -> Floats:
    """Temperature at a distance from the cold side and a depth below the warm side, both of the side. [degC]"""
    n = np.arange(1, 120, 2)[:, None]
    terms = np.sin(n * np.pi * x) * np.sinh(n * np.pi * (1 - depth)) / np.sinh(n * np.pi) / n
    return np.asarray(80 / np.pi * terms.sum(axis=0))


def solve_half_column(cells: int) -> Floats:
    """Temperatures at the points, with `cells` across the whole square; the cut at x = 1/2 is adiabatic. [degC]"""
    grid = uniform_grid((0.0, 0.5), (0.0, 1.0), (cells // 2, cells), "plane")
    pieces = cut_grid(grid, [Painted("column", Rectangle(0.0, 0.5, 0.0, 1.0))])
    cold = Held(0.0)
    field = solve_steady(pieces, {"column": 1.0}, {"r_min": cold, "z_min": cold, "z_max": Held(20.0)})
    return temperature_at(field, ACROSS, 1 - DOWN)


def column_rows() -> list[Row]:
    """The points of the table are corners of cells, read from one side: an error of second order."""
    cells = (16, 32, 64, 128)
    found = {n: solve_half_column(n) for n in cells}
    exact, table = series(ACROSS, DOWN), COLUMN.ravel()
    away = [found[n] - exact for n in cells]
    farthest = int(np.argmax(np.abs(found[64] - table)))
    sizes = [1 / n for n in cells]
    centre = observed_order(sizes, [float(error[CENTRE]) for error in away])
    mean = [float(np.sqrt((error**2).mean())) for error in away]
    return [
        Row("worst of 28 points", "degC", float(table[farthest]), float(found[64][farthest]), 0.02),
        Row("centre", "degC", table[CENTRE], float(found[64][CENTRE]), 0.02, order=centre, order_wanted=SMOOTH_ORDER),
        Row(
            "rms error of 28 points",
            "K",
            0.0,
            mean[2],
            0.02,
            order=observed_order(sizes, mean),
            order_wanted=SMOOTH_ORDER,
        ),
        quoted([(digits, worked, 6e-5) for digits, worked in zip(table, exact, strict=True)]),
    ]


# ISO 10211:2017, annex C, case 2: one decimal in the standard (quoted from memory: 7.1, 0.8, 7.9, 6.3, 0.8,
# 16.4, 16.3, 16.8, 18.3 degC and 9.5 W/m), which asks for 0.1 K and 0.1 W/m. The digits are finite elements.
POINTS = {  # name: x, depth from the outer face [mm], temperature [degC]
    "A": (0, 0, 7.0642),
    "B": (500, 0, 0.7613),
    "C": (0, 6, 7.8972),
    "D": (15, 6, 6.2723),
    "E": (500, 6, 0.8275),
    "F": (0, 11, 16.4079),
    "G": (15, 11, 16.3336),
    "H": (0, 47.5, 16.7672),
    "I": (500, 47.5, 18.3337),
}
SECTION_HEAT = 9.4915  # [W/m]
WITHIN_K, WITHIN_W = 0.03, 0.02
CONDUCTIVITY = {"insulation": 0.029, "facing": 1.15, "wood": 0.12, "flange": 230.0, "web": 230.0, "sheet": 230.0}


def solve_section(fineness: int) -> Field:
    """Field on a grid that is fine at the web and flange and grows away from them."""
    x = graded_faces(
        [0.0, 1.5 * MM, 15 * MM, 500 * MM],
        lambda x: 0.5 * MM + 0.15 * np.minimum(np.abs(x - 1.5 * MM), np.abs(x - 15 * MM)),
        fineness,
    )
    depth = graded_faces(np.array([0.0, 6, 11, 12.5, 46, 47.5]) * MM, lambda d: np.full(d.shape, 1.0 * MM), fineness)
    painted = [
        Painted("insulation", Rectangle(0.0, 500 * MM, 0.0, 47.5 * MM)),
        Painted("facing", Rectangle(0.0, 500 * MM, 0.0, 6 * MM)),
        Painted("wood", Rectangle(0.0, 15 * MM, 6 * MM, 11 * MM)),
        Painted("flange", Rectangle(0.0, 15 * MM, 11 * MM, 12.5 * MM)),
        Painted("web", Rectangle(0.0, 1.5 * MM, 12.5 * MM, 46 * MM)),
        Painted("sheet", Rectangle(0.0, 500 * MM, 46 * MM, 47.5 * MM)),
    ]
    boundaries = {"z_min": Film(1 / 0.06, 0.0), "z_max": Film(1 / 0.11, 20.0)}
    return solve_steady(cut_grid(Grid(x, depth, "plane"), painted), CONDUCTIVITY, boundaries)


def read_points(field: Field) -> dict[str, float]:
    """Faces from the sides of the domain, inner points from the layer that conducts better."""
    found = {}
    for name, (x, depth, _) in POINTS.items():
        if depth == 0:
            found[name] = side_temperature(field, "z_min", x * MM)
        elif depth == 47.5:
            found[name] = side_temperature(field, "z_max", x * MM)
        else:
            region = "facing" if depth == 6 else "flange"
            found[name] = float(temperature_at(field, x * MM, depth * MM, region)[0])
    return found


def section_rows() -> list[Row]:
    grids = {"twice as coarse": 2, "four times as coarse": 1}
    fields = {fineness: solve_section(fineness) for fineness in (4, *grids.values())}
    found = {fineness: read_points(field) for fineness, field in fields.items()}
    heat = {fineness: field.heat_into("z_max") for fineness, field in fields.items()}
    rows = []
    for name, (x, depth, T) in POINTS.items():
        also = tuple(Also(grid, found[fineness][name], WITHIN_K) for grid, fineness in grids.items())
        rows.append(Row(f"{name}: T({x:g}, {depth:g} mm)", "degC", T, found[4][name], WITHIN_K, also=also))
    also = tuple(Also(grid, heat[fineness], WITHIN_W) for grid, fineness in grids.items())
    lost = worst(abs(field.heat_into("z_min") / heat[fineness] + 1) for fineness, field in fields.items())
    rows.append(Row("heat", "W/m", SECTION_HEAT, heat[4], WITHIN_W, also=also))
    return [*rows, zero("heat lost, of the heat", lost, 1e-9)]


CASES = (
    Case(
        "V3",
        "Plate with films on two sides",
        "films that meet at a corner",
        "NAFEMS T4, published 18.25; digits: Fourier series and finite elements",
        plate_rows,
    ),
    Case(
        "V5",
        "Bar that radiates from its end",
        "a radiating boundary settles",
        "NAFEMS T2, published 927.0 K; digits: bisection",
        radiating_rows,
    ),
    Case(
        "V7",
        "Square column with one warm side",
        "temperatures of plain conduction beside a jump at the corner",
        "ISO 10211 annex C case 1 (asks 0.1 K); digits: Fourier series",
        column_rows,
    ),
    Case(
        "V8",
        "Layered section with an aluminium insert",
        "conductivities 8000 to 1 side by side on a graded grid",
        "ISO 10211 annex C case 2 (asks 0.1 K, 0.1 W/m); digits: finite elements",
        section_rows,
    ),
)
