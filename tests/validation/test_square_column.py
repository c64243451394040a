"""Square column with one warm side: first case of ISO 10211's annex on precision."""

import numpy as np
import pytest
from order import observed_order

from annulus.conduction.boundaries import Held
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import solve_steady
from annulus.shapes import Rectangle

# ISO 10211:2017, annex C (annex A in older editions), case 1; the standard gives one decimal and asks
# for 0.1 K. The digits are the Fourier series, repeated in `series`. Rows go down from the warm side,
# columns from the cold side to the middle, in eighths of the side.
TABLE = np.array(
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
ACROSS, DOWN = np.meshgrid(np.arange(1, 5) / 8, np.arange(1, 8) / 8)


def series(x, depth):
    """Temperature at a distance from the cold side and a depth below the warm side, both of the side."""
    n = np.arange(1, 120, 2)[:, None]
    terms = np.sin(n * np.pi * x) * np.sinh(n * np.pi * (1 - depth)) / np.sinh(n * np.pi) / n
    return 80 / np.pi * terms.sum(axis=0)


def solve_half_column(cells: int, x, depth):
    """Temperatures at points, with `cells` across the whole square; the cut at x = 1/2 is adiabatic."""
    grid = uniform_grid((0.0, 0.5), (0.0, 1.0), (cells // 2, cells), "plane")
    pieces = cut_grid(grid, [Painted("column", Rectangle(0.0, 0.5, 0.0, 1.0))])
    cold = Held(0.0)
    field = solve_steady(pieces, {"column": 1.0}, {"r_min": cold, "z_min": cold, "z_max": Held(20.0)})
    return temperature_at(field, x, 1 - depth)


def test_series_repeats_the_table_of_the_standard():
    assert series(ACROSS.ravel(), DOWN.ravel()) == pytest.approx(TABLE.ravel(), abs=6e-5)


def test_all_28_points_lie_within_two_hundredths_of_a_kelvin():
    """On 64 cells across the square; the standard itself asks for a tenth."""
    computed = solve_half_column(64, ACROSS.ravel(), DOWN.ravel())
    worst = np.abs(computed - TABLE.ravel()).max()
    print(f"\nsquare column, 64 cells across: largest error of 28 points {worst:.4f} K")
    assert worst < 0.02


def test_centre_and_mean_of_points_converge_at_second_order():
    """The points of the table are corners of cells, read from one side: an error of second order."""
    cells = [16, 32, 64, 128]
    errors = [solve_half_column(n, ACROSS.ravel(), DOWN.ravel()) - series(ACROSS.ravel(), DOWN.ravel()) for n in cells]
    centre = np.abs([e.reshape(TABLE.shape)[3, 3] for e in errors])
    mean = [np.sqrt((e**2).mean()) for e in errors]
    sizes = [1 / n for n in cells]
    print("\nsquare column, errors at the centre and mean of 28 points [K]")
    for n, c, m in zip(cells, centre, mean, strict=True):
        print(f"{n:>6} cells {c:>10.2e} {m:>10.2e}")
    print(f"       order {observed_order(sizes, centre):>10.2f} {observed_order(sizes, mean):>10.2f}")
    assert observed_order(sizes, centre) >= 1.8
    assert observed_order(sizes, mean) >= 1.8
