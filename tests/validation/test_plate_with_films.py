"""Plane plates with films and radiation: two NAFEMS benchmarks."""

import numpy as np
import pytest
from order import refine, require_smooth_class
from readings import side_temperature

from annulus.conduction.boundaries import STEFAN_BOLTZMANN, Film, Held, Radiating
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import solve_steady
from annulus.shapes import Rectangle

# NAFEMS, The Standard NAFEMS Benchmarks, 1990, test T4 (two-dimensional heat transfer with
# convection); published 18.25 at the first point, quoted from memory. The digits are the
# Fourier series, confirmed by finite elements.
AT_FILM, AT_MIRROR = 18.25376, 70.06066  # T(0.6, 0.2), T(0, 0.2)


def plate_errors(size: float) -> dict[str, float]:
    cells = (round(0.6 / size), round(1.0 / size))
    pieces = cut_grid(
        uniform_grid((0.0, 0.6), (0.0, 1.0), cells, "plane"), [Painted("plate", Rectangle(0.0, 0.6, 0.0, 1.0))]
    )
    film = Film(750.0, 0.0)
    field = solve_steady(pieces, {"plate": 52.0}, {"z_min": Held(100.0), "r_max": film, "z_max": film})
    at_film, at_mirror = (side_temperature(field, side, 0.2) for side in ("r_max", "r_min"))
    return {"T(0.6, 0.2)": (at_film - AT_FILM) / 100, "T(0, 0.2)": (at_mirror - AT_MIRROR) / 100}


def test_plate_with_convection_meets_the_benchmark_points():
    study = refine(plate_errors, [0.04, 0.02, 0.01], "plate with convection, errors of the 100 K span")
    require_smooth_class(study, error=5e-4)  # 0.05 K of 100 K


# NAFEMS T2 (one-dimensional heat transfer with radiation): published 927.0 K, quoted from memory;
# the digits solve k (1000 - T) / L = eps sigma (T^4 - 300^4) with sigma = 5.67e-8 by bisection.
RADIATING_END = 927.0076  # [K]


@pytest.mark.parametrize("cells", [1, 10])
def test_bar_that_radiates_at_its_end_meets_the_benchmark(cells):
    """One-dimensional and linear inside, so the grid has no say; Newton's iteration must settle."""
    pieces = cut_grid(
        uniform_grid((0.0, 0.1), (0.0, 1.0), (cells, 1), "plane"), [Painted("bar", Rectangle(0.0, 0.1, 0.0, 1.0))]
    )
    end = Radiating(0.98 * 5.67e-8 / STEFAN_BOLTZMANN, 300.0)  # the benchmark's rounded constant
    field = solve_steady(pieces, {"bar": 55.6}, {"r_min": Held(1000.0), "r_max": end})
    surface = field.surface_temperature[pieces.boundary_surfaces("r_max")]
    assert surface == pytest.approx(RADIATING_END, abs=1e-4)
    assert abs(field.imbalance) < 1e-9 * abs(field.heat_into("r_min"))
    assert np.isclose(field.heat_into("r_min"), 55.6 * (1000.0 - surface[0]) / 0.1, rtol=1e-9)
