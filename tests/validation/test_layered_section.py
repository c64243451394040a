"""Layered section with an aluminium insert: second case of ISO 10211's annex on precision."""

import numpy as np
import pytest
from readings import side_temperature

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid, graded_faces
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import solve_steady
from annulus.shapes import Rectangle

MM = 1e-3
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
HEAT = 9.4915  # [W/m]
WITHIN_K, WITHIN_W = 0.03, 0.02
CONDUCTIVITY = {"insulation": 0.029, "facing": 1.15, "wood": 0.12, "flange": 230.0, "web": 230.0, "sheet": 230.0}


def solve_section(fineness: int):
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


def read_points(field) -> dict[str, float]:
    """Faces from the sides of the domain, inner points from the layer that conducts better."""
    found = {}
    for name, (x, depth, _) in POINTS.items():
        if depth == 0:
            found[name] = side_temperature(field, "z_min", x * MM)
        elif depth == 47.5:
            found[name] = side_temperature(field, "z_max", x * MM)
        else:
            region = "facing" if depth == 6 else "flange"
            found[name] = temperature_at(field, x * MM, depth * MM, region)[0]
    return found


@pytest.mark.parametrize("fineness", [1, 2, 4])
def test_section_meets_the_standards_points_and_heat(fineness):
    field = solve_section(fineness)
    heat = field.heat_into("z_max")
    found = read_points(field)
    print(f"\nISO 10211 case 2 on {field.pieces.grid.shape} cells: heat {heat:.4f} W/m ({heat - HEAT:+.4f})")
    print("   ".join(f"{name} {T:.4f} ({T - POINTS[name][2]:+.4f})" for name, T in found.items()))
    assert heat == pytest.approx(HEAT, abs=WITHIN_W)
    assert field.heat_into("z_min") == pytest.approx(-heat, rel=1e-9)
    for name, T in found.items():
        assert pytest.approx(POINTS[name][2], abs=WITHIN_K) == T, f"point {name}"
