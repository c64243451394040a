"""Layered cylinders: closed forms of radial conduction, exact on any grid but for k(T)."""

import math
from itertools import pairwise

import numpy as np
import pytest
from order import refine, require_smooth_class

from annulus.conduction.boundaries import Film, Held
from annulus.conduction.grid import Grid, graded_faces, uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import interface_temperatures, temperature_at
from annulus.conduction.steady import solve_steady
from annulus.shapes import Rectangle

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
FACES = [506.4607, 506.4176, 506.2895, 442.5125, 442.4892, 98.3794, 98.3707]  # [degC], inside to outside


def series_resistance() -> float:
    """Of one metre of length. [m K/W]"""
    layers = sum(math.log(b / a) / k for a, b, k in zip(RADII[:-1], RADII[1:], LAYERS.values(), strict=True))
    films = 1 / (FILM_IN * RADII[0]) + 1 / (FILM_OUT * RADII[-1]) + CONTACT / RADII[1]
    return (layers + films) / (2 * math.pi)


def solve_composite(size: float):
    """Field of a slice 1 m high on cells of about `size`."""
    grid = Grid(graded_faces(RADII, lambda r: np.full(r.shape, size)), np.array([0.0, 0.3, 1.0]))
    regions = [
        Painted(name, Rectangle(a, b, 0.0, 1.0)) for name, a, b in zip(LAYERS, RADII[:-1], RADII[1:], strict=True)
    ]
    boundaries = {"r_min": Film(FILM_IN, GAS), "r_max": Film(FILM_OUT, ROOM)}
    return solve_steady(cut_grid(grid, regions), LAYERS, boundaries, {("flue", "filler"): CONTACT})


def test_series_resistance_repeats_the_quoted_heat():
    assert (GAS - ROOM) / series_resistance() == pytest.approx(HEAT, rel=1e-8)
    assert series_resistance() == pytest.approx(0.86105757, rel=1e-8)


@pytest.mark.parametrize("size", [40 * MM, 3 * MM, 0.3 * MM])
def test_layered_cylinder_with_contact_resistance_is_exact_on_every_grid(size):
    """The logarithm between centroids makes radial flow exact, be there one cell in a layer or a hundred."""
    field = solve_composite(size)
    exact = (GAS - ROOM) / series_resistance()
    assert field.heat_into("r_min") == pytest.approx(exact, rel=1e-9)
    assert field.heat_into("r_max") == pytest.approx(-exact, rel=1e-9)

    names = list(LAYERS)
    faces = [field.surface_temperature[field.pieces.boundary_surfaces("r_min")]]
    for inner, outer in pairwise(names):
        _, _, of_inner, of_outer = interface_temperatures(field, inner, outer)
        faces += [of_inner, of_outer] if inner == "flue" else [of_inner]
    faces.append(field.surface_temperature[field.pieces.boundary_surfaces("r_max")])
    for computed, expected in zip(faces, FACES, strict=True):
        assert computed == pytest.approx(expected, abs=6e-5)  # rounding of the quoted digits


def test_jump_at_the_contact_is_flux_times_resistance():
    field = solve_composite(1 * MM)
    _, _, steel, filler = interface_temperatures(field, "flue", "filler")
    flux = (GAS - ROOM) / series_resistance() / (2 * math.pi * RADII[1])
    assert steel - filler == pytest.approx(flux * CONTACT, rel=1e-8)


# Carslaw & Jaeger 1.6 (Kirchhoff's transformation), from memory; the numbers are its closed form.
KIRCHHOFF_HEAT, KIRCHHOFF_AT_83 = 2887.62642, 348.42640  # [W/m], [degC]
INNER, OUTER, HOT, COLD = 76.5 * MM, 93 * MM, 500.0, 60.0


def kirchhoff_temperature(radius: float) -> float:
    """Exact temperature [degC] of a cylinder with k = 0.12 (1 + 0.0025 T / degC)."""

    def integral(t):
        return t + 0.00125 * t * t

    share = math.log(OUTER / radius) / math.log(OUTER / INNER)
    value = integral(COLD) + share * (integral(HOT) - integral(COLD))
    return (math.sqrt(1 + 0.005 * value) - 1) / 0.0025


def kirchhoff_errors(size: float) -> dict[str, float]:
    cells = round((OUTER - INNER) / size)
    pieces = cut_grid(
        uniform_grid((INNER, OUTER), (0.0, 1.0), (cells, 1)), [Painted("filler", Rectangle(INNER, OUTER, 0.0, 1.0))]
    )
    law = {"filler": lambda T, r, z: 0.12 * (1 + 2.5e-3 * (T - ZERO_CELSIUS))}
    held = {"r_min": Held(HOT + ZERO_CELSIUS), "r_max": Held(COLD + ZERO_CELSIUS)}
    field = solve_steady(pieces, law, held)
    at_83 = temperature_at(field, 83 * MM, 0.5)[0] - ZERO_CELSIUS
    exact = np.array([kirchhoff_temperature(r) for r in pieces.r])
    return {
        "heat": field.heat_into("r_min") / KIRCHHOFF_HEAT - 1,
        "T(83 mm)": (at_83 - KIRCHHOFF_AT_83) / (HOT - COLD),
        "largest T": np.abs(field.temperature - ZERO_CELSIUS - exact).max() / (HOT - COLD),
    }


def test_kirchhoff_closed_form_repeats_the_quoted_numbers():
    assert kirchhoff_temperature(83 * MM) == pytest.approx(KIRCHHOFF_AT_83, abs=1e-5)
    mean_k = 0.12 * (1 + 2.5e-3 * 0.5 * (HOT + COLD))
    heat = 2 * math.pi * mean_k * (HOT - COLD) / math.log(OUTER / INNER)
    assert heat == pytest.approx(KIRCHHOFF_HEAT, rel=1e-8)


def test_conductivity_that_grows_with_temperature_converges_to_kirchhoffs_solution():
    span = OUTER - INNER
    study = refine(kirchhoff_errors, [span / 24, span / 48, span / 96], "k(T) in a hollow cylinder")
    require_smooth_class(study)
