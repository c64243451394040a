"""V11, V12, V13, V16: heat between round surfaces and their surroundings.

Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.special import ellipk

from annulus.conduction.boundaries import Held
from annulus.conduction.grid import Grid, graded_faces, uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import solve_steady
from annulus.shapes import Disc, Rectangle
from annulus.verification.order import CIRCLE_PARTS, Reading, circle_rows, norms, of_value, refine
from annulus.verification.rows import Also, Case, Row, quoted, zero

Floats = NDArray[np.float64]

MM = 1e-3
LOST = "heat lost, of the heat"

# Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, table 4.1, eccentric cylinders
# (from memory): exact, S = 2 pi / acosh((D^2 + d^2 - 4 e^2) / (2 D d)).
OUTER, INNER, OFFSET = 80 * MM, 30 * MM, 18 * MM  # D, d, e
ECCENTRIC = 9.0502262
SHIFTS = (0.0, 0.37)  # parts of a cell by which the grid lies off the circles


def eccentric_readings(size: float, shift: float) -> dict[str, Reading]:
    """Shape factor on square cells [m]; `shift` moves the grid under the circles by a part of a cell."""
    cells = 2 * math.ceil(0.5 * OUTER / size) + 2
    half = 0.5 * cells * size
    low, high = -half + shift * size, half + shift * size
    painted = [
        Painted("outside", Rectangle(low, high, low, high), conducts=False),
        Painted("filler", Disc(0.0, 0.0, 0.5 * OUTER)),
        Painted("inside", Disc(OFFSET, 0.0, 0.5 * INNER), conducts=False),
    ]
    pieces = cut_grid(uniform_grid((low, high), (low, high), (cells, cells), "plane"), painted)
    field = solve_steady(pieces, {"filler": 1.0}, {"outside": Held(0.0), "inside": Held(1.0)})
    heat = field.heat_into("inside")
    return {"S": of_value("", ECCENTRIC, heat), LOST: Reading("", 0.0, 1 + field.heat_into("outside") / heat, 1.0)}


def eccentric_rows() -> list[Row]:
    rows = []
    for shift in SHIFTS:
        study = refine(partial(eccentric_readings, shift=shift), [0.5 * INNER / parts for parts in CIRCLE_PARTS])
        note = f", grid off by {shift:g} cell" if shift else ""
        rows += circle_rows(study.without(LOST), 0.5 * INNER, note=note)
        rows.append(zero(f"{LOST}{note}", study.worst(LOST), 1e-9))
    formula = 2 * math.pi / math.acosh((OUTER**2 + INNER**2 - 4 * OFFSET**2) / (2 * OUTER * INNER))
    return [*rows, quoted([(ECCENTRIC, formula, 1e-8 * ECCENTRIC)])]


# Carslaw & Jaeger 16 and Incropera table 4.1 (from memory): cylinder of radius a at a distance d from an
# isothermal plane, S = 2 pi / acosh(d / a); the field is that of a line source and its image.
RADIUS, DISTANCE, HOT = 6.35 * MM, 12.5 * MM, 100.0
BESIDE_PLANE = 4.8385059
BETWEEN_TUBES = 3.9206635  # two tubes of 12.7 mm at a pitch of 17 mm: half of the S beside the plane between them
POINTS = {(0, 2): 28.94473, (0, 25): 70.95898, (15, 12.5): 46.67717, (10, 3): 22.75752}  # [mm], [degC]
WIDE, HIGH = 25 * MM, 30 * MM


def image_temperature(x: Floats, y: Floats) -> Floats:
    """Field of a source and its image. [degC]"""
    focus = math.sqrt(DISTANCE**2 - RADIUS**2)
    far, near = x**2 + (y + focus) ** 2, x**2 + (y - focus) ** 2
    return HOT * np.log(far / near) / (2 * math.acosh(DISTANCE / RADIUS))


def beside_plane_readings(size: float) -> dict[str, Reading]:
    """Half the cylinder, the exact temperature held on the box, on square cells. [m]"""
    cells = (round(WIDE / size), round(HIGH / size))
    painted = [
        Painted("filler", Rectangle(0.0, WIDE, 0.0, HIGH)),
        Painted("tube", Disc(0.0, DISTANCE, RADIUS), conducts=False),
    ]
    pieces = cut_grid(uniform_grid((0.0, WIDE), (0.0, HIGH), cells, "plane"), painted)
    box = Held(image_temperature)
    field = solve_steady(pieces, {"filler": 1.0}, {"tube": Held(HOT), "z_min": box, "r_max": box, "z_max": box})
    x, y = np.array(list(POINTS)).T * MM
    computed = temperature_at(field, x, y)
    away = computed - list(POINTS.values())
    found = {"S": of_value("", BESIDE_PLANE, 2 * field.heat_into("tube") / HOT)}
    for (place, exact), T in zip(POINTS.items(), computed, strict=True):
        found[f"T({place[0]:g}, {place[1]:g} mm)"] = Reading("degC", exact, float(T), HOT)
    # a point's own error changes with its place in its cell, so the order is that of all four together
    found["rms error of the points"] = Reading("K", 0.0, float(np.sqrt((away**2).mean())), HOT)
    return found | norms(field.temperature - image_temperature(pieces.r, pieces.z), pieces.volume, HOT)


def beside_plane_rows() -> list[Row]:
    study = refine(beside_plane_readings, [RADIUS / parts for parts in CIRCLE_PARTS])
    rows = []
    names = [name for name in study.readings if name.startswith("T(")]
    for name in names:
        also = Also("12 cells to the radius", study.at(name, RADIUS / 12).computed, 5e-3)
        rows.append(replace(study.row(name, RADIUS / 25, 1e-3, None), also=(also,)))
    pairs = [(T, float(image_temperature(np.array(x * MM), np.array(y * MM))), 6e-6) for (x, y), T in POINTS.items()]
    pairs.append((BESIDE_PLANE, 2 * math.pi / math.acosh(DISTANCE / RADIUS), 1e-8 * BESIDE_PLANE))
    pairs.append((BETWEEN_TUBES, math.pi / math.acosh(17 / 12.7), 1e-7 * BETWEEN_TUBES))
    return [*circle_rows(study.without(*names), RADIUS), *rows, quoted(pairs)]


# Row of pipes of diameter D at a pitch w, their axes a depth z under an isothermal plane, in a half-space.
# "Exact" is a periodic multipole expansion made for this case (boundary residual < 1e-11). Handbooks give
# S = 2 pi / ln((2 w / (pi D)) sinh(2 pi z / w)), which holds for thin pipes only.
PIPES = {  # (D/w, z/w): S exact, S by the handbook's form
    (0.1, 1.0): (0.8471866, 0.8443965),
    (0.3, 1.0): (1.0245001, 0.9906598),
    (0.5, 1.0): (1.1856820, 1.0774378),
    (0.7, 1.0): (1.3786943, 1.1434104),
    (0.9, 0.75): (2.7559029, 1.7106697),
}
BELOW = 3.0  # pitches between the axis and the adiabatic bottom: what is cut off has fallen by exp(-6 pi)
GROWTH = 1.0  # size of a cell that lies a radius away from the pipe, less that at the pipe, in the latter


def pipe_readings(size: float, diameter: float, depth: float) -> dict[str, Reading]:
    """Half a pipe in half a pitch of 1 m; square cells of `size` at the pipe that grow away from it. [m]"""
    radius, bottom = 0.5 * diameter, depth + BELOW

    def wished(middle: float, x: Floats) -> Floats:
        return size * (1 + GROWTH * np.maximum(np.abs(x - middle) - radius, 0.0) / radius)

    across = graded_faces([0.0, radius, 0.5], partial(wished, 0.0))
    down = graded_faces([0.0, depth - radius, depth, depth + radius, bottom], partial(wished, depth))
    painted = [
        Painted("ground", Rectangle(0.0, 0.5, 0.0, bottom)),
        Painted("pipe", Disc(0.0, depth, radius), conducts=False),
    ]
    pieces = cut_grid(Grid(across, down, "plane"), painted)
    field = solve_steady(pieces, {"ground": 1.0}, {"pipe": Held(1.0), "z_min": Held(0.0)})
    return {"S": of_value("", PIPES[diameter, depth][0], 2 * field.heat_into("pipe"))}


def pipe_rows() -> list[Row]:
    rows = []
    for diameter, depth in PIPES:
        radius = 0.5 * diameter
        run = partial(pipe_readings, diameter=diameter, depth=depth)
        study = refine(run, [radius / parts for parts in CIRCLE_PARTS])
        rows += circle_rows(study, radius, note=f", D/w {diameter:g}, z/w {depth:g}")
    pairs = []
    for (diameter, depth), (_, thin) in PIPES.items():
        worked = 2 * math.pi / math.log(2 / (math.pi * diameter) * math.sinh(2 * math.pi * depth))
        pairs.append((thin, worked, 6e-8))
    thinnest = min(thin / exact - 1 for exact, thin in PIPES.values())
    # -38 % is quoted with the numbers, to a per cent
    return [*rows, quoted(pairs), Row("error of the thin-pipe form at worst", "%", -38.0, 100 * thinnest, 0.5)]


# Carslaw & Jaeger 10.3 (circular line source), from memory; K is the complete elliptic integral, by parameter m.
HEAT, K, RING = 110.0, 0.3, 0.08315  # [W], [W/(m K)], [m]
R_MIN, R_MAX, Z_HALF = 0.0755, 0.1005, 0.0125
RING_POINTS = {(0.095, 0.010): 399.20804, (0.0765, 0.0085): 474.66928}
ON_CIRCLE = {(0.0768, 0.0): 535.85446, (0.0895, 0.0): 504.63896}


def ring_temperature(r: Floats, z: Floats) -> Floats:
    """Field of a ring source of `HEAT`. [degC]"""
    reach = (r + RING) ** 2 + z**2
    return HEAT / (2 * math.pi**2 * K) * ellipk(4 * RING * r / reach) / np.sqrt(reach)


def ring_readings(size: float) -> dict[str, Reading]:
    """The exact temperature held on box and hole, on square cells. [m]"""
    cells = (round((R_MAX - R_MIN) / size), round(2 * Z_HALF / size))
    painted = [
        Painted("filler", Rectangle(R_MIN, R_MAX, -Z_HALF, Z_HALF)),
        Painted("tube", Disc(RING, 0.0, RADIUS), conducts=False),
    ]
    pieces = cut_grid(uniform_grid((R_MIN, R_MAX), (-Z_HALF, Z_HALF), cells), painted)
    sides = ("r_min", "r_max", "z_min", "z_max")
    field = solve_steady(pieces, {"filler": K}, dict.fromkeys(("tube", *sides), Held(ring_temperature)))
    exact = ring_temperature(pieces.r, pieces.z)
    span = float(np.ptp(exact))
    heat = field.heat_into("tube")
    r, z = np.array(list(RING_POINTS)).T
    away = temperature_at(field, r, z) - list(RING_POINTS.values())
    return {
        "heat": of_value("W", HEAT, heat),
        "rms error of the points": Reading("K", 0.0, float(np.sqrt((away**2).mean())), span),
        **norms(field.temperature - exact, pieces.volume, span),
        LOST: Reading("", 0.0, 1 + sum(field.heat_into(side) for side in sides) / heat, 1.0),
    }


def ring_rows() -> list[Row]:
    study = refine(ring_readings, [RADIUS / parts for parts in CIRCLE_PARTS])
    points = (RING_POINTS | ON_CIRCLE).items()
    pairs = [(T, float(ring_temperature(np.array(r), np.array(z))), 6e-6) for (r, z), T in points]
    return [*circle_rows(study.without(LOST), RADIUS), zero(LOST, study.worst(LOST), 1e-9), quoted(pairs)]


CASES = (
    Case(
        "V11",
        "Eccentric cylinders",
        "heat between two circles, wherever the grid lies under them",
        "closed form; Incropera & DeWitt table 4.1",
        eccentric_rows,
    ),
    Case(
        "V12",
        "Cylinder beside an isothermal plane",
        "the field round one tube, its heat, and so that between neighbours",
        "closed form, source and image; Carslaw & Jaeger 16",
        beside_plane_rows,
    ),
    Case(
        "V13",
        "Row of pipes under an isothermal plane",
        "fat pipes close together; the handbook's thin-pipe form is up to 38 % off and is never used for a coil",
        "periodic multipole expansion, residual < 1e-11",
        pipe_rows,
    ),
    Case(
        "V16",
        "Ring source round a round hole",
        "a curved boundary in (r, z)",
        "closed form, elliptic integral; Carslaw & Jaeger 10.3",
        ring_rows,
    ),
)
