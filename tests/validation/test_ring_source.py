"""Ring source around a round hole: a curved boundary in (r, z)."""

import math

import numpy as np
import pytest
from order import refine, require_circle_class
from scipy.special import ellipk

from annulus.conduction.boundaries import Held
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import solve_steady
from annulus.shapes import Disc, Rectangle

# Carslaw & Jaeger 10.3 (circular line source), from memory; K is the complete elliptic integral, by parameter m.
HEAT, K, RING, RADIUS = 110.0, 0.3, 0.08315, 0.00635
R_MIN, R_MAX, Z_HALF = 0.0755, 0.1005, 0.0125
POINTS = {(0.095, 0.010): 399.20804, (0.0765, 0.0085): 474.66928}
ON_CIRCLE = {(0.0768, 0.0): 535.85446, (0.0895, 0.0): 504.63896}


def ring_temperature(r, z):
    reach = (r + RING) ** 2 + z**2
    return HEAT / (2 * math.pi**2 * K) * ellipk(4 * RING * r / reach) / np.sqrt(reach)


def ring_errors(size: float) -> dict[str, float]:
    cells = (round((R_MAX - R_MIN) / size), round(2 * Z_HALF / size))
    painted = [
        Painted("filler", Rectangle(R_MIN, R_MAX, -Z_HALF, Z_HALF)),
        Painted("tube", Disc(RING, 0.0, RADIUS), conducts=False),
    ]
    pieces = cut_grid(uniform_grid((R_MIN, R_MAX), (-Z_HALF, Z_HALF), cells), painted)
    held = Held(ring_temperature)
    field = solve_steady(pieces, {"filler": K}, dict.fromkeys(("tube", "r_min", "r_max", "z_min", "z_max"), held))
    span = np.ptp(ring_temperature(pieces.r, pieces.z))
    errors = {"heat": field.heat_into("tube") / HEAT - 1}
    r, z = np.array(list(POINTS)).T
    at_points = (temperature_at(field, r, z) - list(POINTS.values())) / span
    errors["two points"] = np.sqrt((at_points**2).mean())
    away = np.abs(field.temperature - ring_temperature(pieces.r, pieces.z))
    errors["mean square T"] = np.sqrt((pieces.volume * away**2).sum() / pieces.volume.sum()) / span
    errors["largest T"] = away.max() / span
    box = sum(field.heat_into(side) for side in ("r_min", "r_max", "z_min", "z_max"))
    assert box == pytest.approx(-field.heat_into("tube"), rel=1e-9)
    return errors


def test_quoted_numbers_are_the_elliptic_integral():
    for (r, z), T in (POINTS | ON_CIRCLE).items():
        assert ring_temperature(r, z) == pytest.approx(T, abs=6e-6)


def test_heat_of_a_ring_source_leaves_the_round_hole():
    study = refine(ring_errors, [RADIUS / parts for parts in (6, 12, 25, 50)], "ring source around a round hole")
    require_circle_class(study, RADIUS)
