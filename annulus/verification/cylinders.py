"""V1, V2, V9: layered and single cylinders whose fields have a closed form.

Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.special import i0, i1, k0, k1

from annulus.conduction.boundaries import Film, Held
from annulus.conduction.grid import Grid, graded_faces, uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import interface_temperatures, temperature_at
from annulus.conduction.steady import Field, solve_steady
from annulus.shapes import Rectangle
from annulus.verification.order import LARGEST, Reading, Study, of_value, refine, smooth_rows
from annulus.verification.readings import side_temperature
from annulus.verification.rows import Also, Case, Row, quoted, relative

Floats = NDArray[np.float64]

MM = 1e-3
ZERO_CELSIUS = 273.15

# Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, ch. 3 (series resistances of a
# composite cylinder); Carslaw & Jaeger, Conduction of Heat in Solids, 7.2. Cited from memory,
# the numbers are the sum of resistances, repeated in `series_resistance`.
RADII = [75 * MM, 76.5 * MM, 93 * MM, 94 * MM, 124.5 * MM, 125 * MM]
LAYERS = {"flue": 45.0, "filler": 0.3, "shroud": 45.0, "insulation": 0.08, "jacket": 45.0}
FILM_IN, GAS, FILM_OUT, ROOM = 30.0, 550.0, 10.0, 20.0
CONTACT = 1e-4
HEAT = 615.52214  # [W/m]
FACES = {  # [degC], inside to outside
    "T(75 mm)": 506.4607,
    "T(76.5 mm), steel": 506.4176,
    "T(76.5 mm), filler": 506.2895,
    "T(93 mm)": 442.5125,
    "T(94 mm)": 442.4892,
    "T(124.5 mm)": 98.3794,
    "T(125 mm)": 98.3707,
}
SIZES = {"one cell to a layer": 40 * MM, "cells of 3 mm": 3 * MM, "cells of 0.3 mm": 0.3 * MM}


def series_resistance() -> float:
    """Of one metre of length. [m K/W]"""
    layers = sum(math.log(b / a) / k for a, b, k in zip(RADII[:-1], RADII[1:], LAYERS.values(), strict=True))
    films = 1 / (FILM_IN * RADII[0]) + 1 / (FILM_OUT * RADII[-1]) + CONTACT / RADII[1]
    return (layers + films) / (2 * math.pi)


def solve_composite(size: float) -> Field:
    """Field of a slice 1 m high on cells of about `size`. [m]"""
    grid = Grid(graded_faces(RADII, lambda r: np.full(r.shape, size)), np.array([0.0, 0.3, 1.0]))
    regions = [
        Painted(name, Rectangle(a, b, 0.0, 1.0)) for name, a, b in zip(LAYERS, RADII[:-1], RADII[1:], strict=True)
    ]
    boundaries = {"r_min": Film(FILM_IN, GAS), "r_max": Film(FILM_OUT, ROOM)}
    return solve_steady(cut_grid(grid, regions), LAYERS, boundaries, {("flue", "filler"): CONTACT})


def faces_of(field: Field) -> list[Floats]:
    """Temperatures of every layer's faces, inside to outside; both sides of the contact."""
    faces = [field.surface_temperature[field.pieces.boundary_surfaces("r_min")]]
    for inner, outer in pairwise(LAYERS):
        _, _, of_inner, of_outer = interface_temperatures(field, inner, outer)
        faces += [of_inner, of_outer] if inner == "flue" else [of_inner]
    return [*faces, field.surface_temperature[field.pieces.boundary_surfaces("r_max")]]


def composite_rows() -> list[Row]:
    """The logarithm between centroids makes radial flow exact, be there one cell in a layer or a hundred."""
    exact = (GAS - ROOM) / series_resistance()
    rounding = 6e-5  # of the quoted temperatures [K]
    jump = exact / (2 * math.pi * RADII[1]) * CONTACT
    values: dict[str, dict[str, float]] = {}
    for grid, size in SIZES.items():
        field = solve_composite(size)
        faces = faces_of(field)
        found = {"heat in": field.heat_into("r_min"), "heat out": -field.heat_into("r_max")}
        for name, face in zip(FACES, faces, strict=True):
            found[name] = _farthest(face, FACES[name])
        found["jump at the contact"] = _farthest(faces[1] - faces[2], jump)
        values[grid] = found

    *others, finest = SIZES
    rows = []
    for name, computed in values[finest].items():
        if name in FACES:
            unit, expected, tolerance, scale = "degC", FACES[name], rounding, None
        elif name.startswith("heat"):
            unit, expected, tolerance, scale = "W/m", exact, 1e-9, exact
        else:
            unit, expected, tolerance, scale = "K", jump, 1e-8, jump
        also = tuple(Also(grid, values[grid][name], tolerance) for grid in others)
        rows.append(Row(name, unit, expected, computed, tolerance, scale, also=also))
    return [
        *rows,
        relative("sum of resistances", "mK/W", 0.86105757, series_resistance(), 1e-8),
        relative("heat by resistances", "W/m", HEAT, exact, 1e-8),
    ]


def _farthest(values: Floats, expected: float) -> float:
    return float(values[np.argmax(np.abs(values - expected))])


# Carslaw & Jaeger 1.6 (Kirchhoff's transformation), from memory; the numbers are its closed form.
KIRCHHOFF_HEAT, KIRCHHOFF_AT_83 = 2887.62642, 348.42640  # [W/m], [degC]
INNER, OUTER, HOT, COLD = 76.5 * MM, 93 * MM, 500.0, 60.0


def kirchhoff_temperature(radius: float) -> float:
    """Exact temperature [degC] of a cylinder with k = 0.12 (1 + 0.0025 T / degC)."""

    def integral(t: float) -> float:
        return t + 0.00125 * t * t

    share = math.log(OUTER / radius) / math.log(OUTER / INNER)
    value = integral(COLD) + share * (integral(HOT) - integral(COLD))
    return (math.sqrt(1 + 0.005 * value) - 1) / 0.0025


def kirchhoff_readings(size: float) -> dict[str, Reading]:
    """Cylinder with k(T) on even cells. [m]"""
    cells = round((OUTER - INNER) / size)
    pieces = cut_grid(
        uniform_grid((INNER, OUTER), (0.0, 1.0), (cells, 1)), [Painted("filler", Rectangle(INNER, OUTER, 0.0, 1.0))]
    )
    law = {"filler": lambda T, r, z: 0.12 * (1 + 2.5e-3 * (T - ZERO_CELSIUS))}
    held = {"r_min": Held(HOT + ZERO_CELSIUS), "r_max": Held(COLD + ZERO_CELSIUS)}
    field = solve_steady(pieces, law, held)
    at_83 = float(temperature_at(field, 83 * MM, 0.5)[0]) - ZERO_CELSIUS
    exact = np.array([kirchhoff_temperature(r) for r in pieces.r])
    largest = float(np.abs(field.temperature - ZERO_CELSIUS - exact).max())
    return {
        "heat": of_value("W/m", KIRCHHOFF_HEAT, field.heat_into("r_min")),
        "T(83 mm)": Reading("degC", KIRCHHOFF_AT_83, at_83, HOT - COLD),
        LARGEST: Reading("K", 0.0, largest, HOT - COLD),
    }


def kirchhoff_rows() -> list[Row]:
    span = OUTER - INNER
    study = refine(kirchhoff_readings, [span / 24, span / 48, span / 96])
    mean_k = 0.12 * (1 + 2.5e-3 * 0.5 * (HOT + COLD))
    heat = 2 * math.pi * mean_k * (HOT - COLD) / math.log(OUTER / INNER)
    recheck = quoted(
        [
            (KIRCHHOFF_AT_83, kirchhoff_temperature(83 * MM), 1e-5),
            (KIRCHHOFF_HEAT, heat, 1e-8 * KIRCHHOFF_HEAT),
        ]
    )
    return [*smooth_rows(study), recheck]


# Carslaw & Jaeger 8.3 (cylinder with temperature periodic in z), from memory; here with films on both faces.
HEIGHT, K = 0.136, 0.3
H_IN, H_OUT, MEAN_GAS, SWING = 30.0, 10.0, 400.0, 150.0
WAVE_POINTS = {(INNER, 0.0): 437.58806, (INNER, HEIGHT): 209.24338, (0.085, 0.034): 323.37716, (OUTER, 0.0): 276.19831}
WAVE_HEAT = 150.190026  # [W]
WAVE_SPAN = 550.0 - ROOM


@cache
def _wave_coefficients() -> tuple[float, float, float]:
    """Heat per radian and metre of the mean field; a and b of the wave a I0 + b K0 that both films determine."""
    loop = 1 / (H_IN * INNER) + math.log(OUTER / INNER) / K + 1 / (H_OUT * OUTER)
    b = math.pi / HEIGHT
    films = [  # k dT/dr = h (T - gas) inside, -k dT/dr = h T outside
        [K * b * i1(b * INNER) - H_IN * i0(b * INNER), -K * b * k1(b * INNER) - H_IN * k0(b * INNER)],
        [K * b * i1(b * OUTER) + H_OUT * i0(b * OUTER), -K * b * k1(b * OUTER) + H_OUT * k0(b * OUTER)],
    ]
    first, second = np.linalg.solve(films, [-H_IN * SWING, 0.0])
    return (MEAN_GAS - ROOM) / loop, float(first), float(second)


def wave_temperature(r: Floats | float, z: Floats | float) -> Floats:
    """Mean of the composite cylinder plus the wave. [degC]"""
    per_radian, first, second = _wave_coefficients()
    mean = MEAN_GAS - per_radian * (1 / (H_IN * INNER) + np.log(np.asarray(r) / INNER) / K)
    b = math.pi / HEIGHT
    return np.asarray(mean + (first * i0(b * r) + second * k0(b * r)) * np.cos(b * z))


def wave_readings(size: float) -> dict[str, Reading]:
    """Filler ring with gas that cools along its height, on cells of `size` by four times that. [m]"""
    cells = (round(16.5e-3 / size), round(HEIGHT / (4 * size)))
    pieces = cut_grid(
        uniform_grid((INNER, OUTER), (0.0, HEIGHT), cells), [Painted("filler", Rectangle(INNER, OUTER, 0.0, HEIGHT))]
    )
    gas = Film(H_IN, lambda r, z: MEAN_GAS + SWING * np.cos(np.pi * z / HEIGHT))
    field = solve_steady(pieces, {"filler": K}, {"r_min": gas, "r_max": Film(H_OUT, ROOM)})
    largest = float(np.abs(field.temperature - wave_temperature(pieces.r, pieces.z)).max())
    found = {LARGEST: Reading("K", 0.0, largest, WAVE_SPAN)}
    for (r, z), T in WAVE_POINTS.items():
        side = {INNER: "r_min", OUTER: "r_max"}.get(r)
        computed = side_temperature(field, side, z) if side else float(temperature_at(field, r, z)[0])
        found[f"T({r / MM:g}, {z / MM:g} mm)"] = Reading("degC", T, computed, WAVE_SPAN)
    found["heat"] = of_value("W", WAVE_HEAT, field.heat_into("r_min"))
    return found


def wave_study() -> Study:
    return refine(wave_readings, [16.5e-3 / n for n in (12, 24, 48)])


def wave_rows() -> list[Row]:
    study = wave_study()
    # the mean is radial, so exact, and the wave's midpoints sum to nothing; 3e-9 is rounding of the quoted digits
    *coarser, finest = study.readings["heat"]
    also = tuple(Also(f"grid {n + 1}", reading.computed, 1e-8) for n, reading in enumerate(coarser))
    heat = Row("heat", "W", WAVE_HEAT, finest.computed, 1e-8, WAVE_HEAT, also=also)
    pairs = [(T, float(wave_temperature(r, z)), 6e-6) for (r, z), T in WAVE_POINTS.items()]
    pairs.append((WAVE_HEAT, 2 * math.pi * HEIGHT * _wave_coefficients()[0], 6e-7))
    return [*smooth_rows(study.without("heat")), heat, quoted(pairs)]


CASES = (
    Case(
        "V1",
        "Composite cylinder, films on both sides, one contact",
        "layers in series are exact with one cell to a layer and with cells of 3 and 0.3 mm; a contact makes its jump",
        "closed form; Incropera & DeWitt ch. 3, Carslaw & Jaeger 7.2",
        composite_rows,
    ),
    Case(
        "V2",
        "Hollow cylinder whose conductivity grows with temperature",
        "the iteration on k(T) settles on Kirchhoff's solution",
        "closed form; Carslaw & Jaeger 1.6",
        kirchhoff_rows,
    ),
    Case(
        "V9",
        "Filler ring, gas that cools along the height",
        "a film to an ambient that varies with place, heat that turns from r to z",
        "closed form, modified Bessel functions; Carslaw & Jaeger 8.3",
        wave_rows,
    ),
)
