"""Manufactured solution with varying conductivity and a source, on even and stretched grids."""

import numpy as np
import pytest
from order import refine

from annulus.conduction.boundaries import Film, Flux, Held
from annulus.conduction.grid import Grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import solve_steady
from annulus.shapes import Rectangle

# Own manufactured solution after the method of P. J. Roache, Verification and Validation in Computational
# Science and Engineering, 1998 (from memory): choose T and k, derive the source by hand.
FILM = 7.0
SOURCE = {(0.6, 0.2): 371.780704, (1.0, 0.5): 26.970294, (1.4, 0.9): -473.361002}


def chosen_temperature(r, z):
    return 300 + 40 * np.cos(3 * z) * np.sin(2 * r) + 20 * r**2 * z


def chosen_conductivity(T, r, z):
    return 1 + 0.4 * r * z


def slope_r(r, z):
    return 80 * np.cos(3 * z) * np.cos(2 * r) + 40 * r * z


def slope_z(r, z):
    return -120 * np.sin(3 * z) * np.sin(2 * r) + 20 * r**2


def source(r, z):
    """-(1/r) d(r k dT/dr)/dr - d(k dT/dz)/dz, differentiated by hand."""
    k, k_r, k_z = 1 + 0.4 * r * z, 0.4 * z, 0.4 * r
    bend_r = -160 * np.cos(3 * z) * np.sin(2 * r) + 40 * z
    bend_z = -360 * np.cos(3 * z) * np.sin(2 * r)
    radial = k * slope_r(r, z) / r + k_r * slope_r(r, z) + k * bend_r
    return -radial - k_z * slope_z(r, z) - k * bend_z


HELD = Held(chosen_temperature)
ALL_HELD = {"r_min": HELD, "r_max": HELD, "z_min": HELD, "z_max": HELD}
MIXED = {
    "r_min": HELD,
    "z_min": HELD,
    "r_max": Film(
        FILM,
        lambda r, z: chosen_temperature(r, z) + chosen_conductivity(0, r, z) * slope_r(r, z) / FILM,
    ),
    "z_max": Flux(lambda r, z: chosen_conductivity(0, r, z) * slope_z(r, z)),
}


def faces(cells: int, stretched: bool):
    """Cell sizes that differ by 3 to 1 over the domain when stretched."""
    s = np.linspace(0.0, 1.0, cells + 1)
    return s + stretched * np.sin(2 * np.pi * s) / (4 * np.pi)


def manufactured_errors(cells: int, stretched: bool, boundaries) -> dict[str, float]:
    s = faces(cells, stretched)
    pieces = cut_grid(Grid(0.5 + s, s), [Painted("solid", Rectangle(0.5, 1.5, 0.0, 1.0))])
    field = solve_steady(pieces, {"solid": chosen_conductivity}, boundaries, source=source)
    error = np.abs(field.temperature - chosen_temperature(pieces.r, pieces.z))
    span = np.ptp(chosen_temperature(pieces.r, pieces.z))
    mean_square = (pieces.volume * error**2).sum() / pieces.volume.sum()
    return {"mean square": np.sqrt(mean_square) / span, "largest": error.max() / span}


def test_source_repeats_the_quoted_values():
    for (r, z), value in SOURCE.items():
        assert source(r, z) == pytest.approx(value, abs=6e-7)


@pytest.mark.parametrize("stretched", [False, True], ids=["even", "stretched"])
@pytest.mark.parametrize("boundaries", [ALL_HELD, MIXED], ids=["held", "film and flux"])
def test_manufactured_field_converges_at_second_order_in_both_norms(stretched, boundaries):
    study = refine(
        lambda size: manufactured_errors(round(1 / size), stretched, boundaries),
        [1 / n for n in (16, 32, 64, 128)],
        f"manufactured solution, {'stretched' if stretched else 'even'} grid",
    )
    assert study.order("mean square") >= 1.9
    assert study.order("largest") >= 1.9
