"""A filler ring whose gas cools along the height: modified Bessel functions in (r, z)."""

import math

import numpy as np
import pytest
from order import refine, require_smooth_class
from readings import side_temperature
from scipy.special import i0, i1, k0, k1

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import solve_steady
from annulus.shapes import Rectangle

# Carslaw & Jaeger 8.3 (cylinder with temperature periodic in z), from memory; here with films on both faces.
INNER, OUTER, HEIGHT, K = 0.0765, 0.093, 0.136, 0.3
H_IN, H_OUT, MEAN_GAS, SWING, ROOM = 30.0, 10.0, 400.0, 150.0, 20.0
QUOTED = {(INNER, 0.0): 437.58806, (INNER, HEIGHT): 209.24338, (0.085, 0.034): 323.37716, (OUTER, 0.0): 276.19831}
HEAT = 150.190026  # [W]


def exact_temperature(r, z):
    """Mean of the composite cylinder plus the wave a I0 + b K0 that both films determine."""
    loop = 1 / (H_IN * INNER) + math.log(OUTER / INNER) / K + 1 / (H_OUT * OUTER)
    per_radian = (MEAN_GAS - ROOM) / loop
    mean = MEAN_GAS - per_radian * (1 / (H_IN * INNER) + np.log(r / INNER) / K)
    b = math.pi / HEIGHT
    films = [  # k dT/dr = h (T - gas) inside, -k dT/dr = h T outside
        [K * b * i1(b * INNER) - H_IN * i0(b * INNER), -K * b * k1(b * INNER) - H_IN * k0(b * INNER)],
        [K * b * i1(b * OUTER) + H_OUT * i0(b * OUTER), -K * b * k1(b * OUTER) + H_OUT * k0(b * OUTER)],
    ]
    first, second = np.linalg.solve(films, [-H_IN * SWING, 0.0])
    return mean + (first * i0(b * r) + second * k0(b * r)) * np.cos(b * z)


def exact_heat() -> float:
    loop = 1 / (H_IN * INNER) + math.log(OUTER / INNER) / K + 1 / (H_OUT * OUTER)
    return 2 * math.pi * HEIGHT * (MEAN_GAS - ROOM) / loop


def wave_errors(size: float) -> dict[str, float]:
    cells = (round(16.5e-3 / size), round(HEIGHT / (4 * size)))
    pieces = cut_grid(
        uniform_grid((INNER, OUTER), (0.0, HEIGHT), cells), [Painted("filler", Rectangle(INNER, OUTER, 0.0, HEIGHT))]
    )
    gas = Film(H_IN, lambda r, z: MEAN_GAS + SWING * np.cos(np.pi * z / HEIGHT))
    field = solve_steady(pieces, {"filler": K}, {"r_min": gas, "r_max": Film(H_OUT, ROOM)})
    span = 550.0 - ROOM
    errors = {"largest T": np.abs(field.temperature - exact_temperature(pieces.r, pieces.z)).max() / span}
    for (r, z), T in QUOTED.items():
        side = {INNER: "r_min", OUTER: "r_max"}.get(r)
        computed = side_temperature(field, side, z) if side else temperature_at(field, r, z)[0]
        errors[f"T({r * 1e3:g}, {z * 1e3:g} mm)"] = (computed - T) / span
    errors["heat"] = field.heat_into("r_min") / HEAT - 1
    return errors


def test_closed_form_repeats_the_quoted_numbers():
    for (r, z), T in QUOTED.items():
        assert exact_temperature(r, z) == pytest.approx(T, abs=6e-6)
    assert exact_heat() == pytest.approx(HEAT, abs=6e-7)


def test_field_under_a_cooling_gas_converges_to_the_bessel_solution():
    study = refine(wave_errors, [16.5e-3 / n for n in (12, 24, 48)], "gas that cools along the height")
    # the mean is radial, so exact, and the wave's midpoints sum to nothing; 3e-9 is rounding of the quoted digits
    assert max(map(abs, study.errors["heat"])) < 1e-8
    require_smooth_class(study.without("heat"))
