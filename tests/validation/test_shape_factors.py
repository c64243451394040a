"""Shape factors of circles: eccentric cylinders, and a cylinder beside a plane."""

import math

import numpy as np
import pytest
from order import refine, require_circle_class

from annulus.conduction.boundaries import Held
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import solve_steady
from annulus.shapes import Disc, Rectangle

MM = 1e-3
PARTS = (6, 12, 25, 50)  # cells per radius

# Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, table 4.1, eccentric cylinders
# (from memory): exact, S = 2 pi / acosh((D^2 + d^2 - 4 e^2) / (2 D d)).
OUTER, INNER, OFFSET = 80 * MM, 30 * MM, 18 * MM  # D, d, e
ECCENTRIC = 9.0502262


def eccentric_errors(size: float, shift: float) -> dict[str, float]:
    """Relative error of S; `shift` moves the grid under the circles by a part of a cell."""
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
    assert field.heat_into("outside") == pytest.approx(-field.heat_into("inside"), rel=1e-9)
    return {"S": field.heat_into("inside") / ECCENTRIC - 1}


def test_quoted_eccentric_shape_factor_is_the_handbooks_formula():
    formula = 2 * math.pi / math.acosh((OUTER**2 + INNER**2 - 4 * OFFSET**2) / (2 * OUTER * INNER))
    assert formula == pytest.approx(ECCENTRIC, rel=1e-8)


@pytest.mark.parametrize("shift", [0.0, 0.37])
def test_eccentric_cylinders_converge_to_the_exact_shape_factor(shift):
    sizes = [0.5 * INNER / parts for parts in PARTS]
    study = refine(lambda size: eccentric_errors(size, shift), sizes, f"eccentric cylinders, grid shifted by {shift}")
    require_circle_class(study, 0.5 * INNER)


# Carslaw & Jaeger 16 and Incropera table 4.1 (from memory): cylinder of radius a at a distance d from an
# isothermal plane, S = 2 pi / acosh(d / a); the field is that of a line source and its image.
RADIUS, DISTANCE, HOT = 6.35 * MM, 12.5 * MM, 100.0
BESIDE_PLANE = 4.8385059
POINTS = {(0, 2): 28.94473, (0, 25): 70.95898, (15, 12.5): 46.67717, (10, 3): 22.75752}  # [mm], [degC]
WIDE, HIGH = 25 * MM, 30 * MM


def image_temperature(x, y):
    focus = math.sqrt(DISTANCE**2 - RADIUS**2)
    far, near = x**2 + (y + focus) ** 2, x**2 + (y - focus) ** 2
    return HOT * np.log(far / near) / (2 * math.acosh(DISTANCE / RADIUS))


def beside_plane_errors(size: float) -> dict[str, float]:
    cells = (round(WIDE / size), round(HIGH / size))
    painted = [
        Painted("filler", Rectangle(0.0, WIDE, 0.0, HIGH)),
        Painted("tube", Disc(0.0, DISTANCE, RADIUS), conducts=False),
    ]
    pieces = cut_grid(uniform_grid((0.0, WIDE), (0.0, HIGH), cells, "plane"), painted)
    box = Held(image_temperature)
    field = solve_steady(pieces, {"filler": 1.0}, {"tube": Held(HOT), "z_min": box, "r_max": box, "z_max": box})
    errors = {"S": 2 * field.heat_into("tube") / HOT / BESIDE_PLANE - 1}
    x, y = np.array(list(POINTS)).T * MM
    at_points = (temperature_at(field, x, y) - list(POINTS.values())) / HOT
    # a point's own error changes with its place in its cell, so the order is that of all four together
    errors["four points"] = np.sqrt((at_points**2).mean())
    errors["worst point"] = np.abs(at_points).max()
    away = np.abs(field.temperature - image_temperature(pieces.r, pieces.z))
    errors["mean square T"] = np.sqrt((pieces.volume * away**2).sum() / pieces.volume.sum()) / HOT
    errors["largest T"] = away.max() / HOT
    return errors


def test_quoted_numbers_beside_a_plane_are_those_of_source_and_image():
    assert 2 * math.pi / math.acosh(DISTANCE / RADIUS) == pytest.approx(BESIDE_PLANE, rel=1e-8)
    for (x, y), T in POINTS.items():
        assert image_temperature(x * MM, y * MM) == pytest.approx(T, abs=6e-6)
    # two equal tubes a pitch of 17 mm apart, each half a cylinder beside the plane between them
    assert math.pi / math.acosh(17 / 12.7) == pytest.approx(3.9206635, rel=1e-7)


def test_cylinder_beside_a_plane_converges_to_source_and_image():
    study = refine(beside_plane_errors, [RADIUS / parts for parts in PARTS], "cylinder beside an isothermal plane")
    require_circle_class(study.without("worst point"), RADIUS)
    assert study.error("worst point", RADIUS / 12) <= 5e-3
    assert study.error("worst point", RADIUS / 25) <= 1e-3
