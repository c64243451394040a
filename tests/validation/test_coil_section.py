"""Eight tubes in the filler between flue and shroud: the whole conducting section of a coil heater."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pytest

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid, graded_faces
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import region_extremes
from annulus.conduction.steady import Field, solve_steady
from annulus.shapes import Disc, Rectangle

MM = 1e-3
TURNS = range(8)
RADII = [75 * MM, 76.5 * MM, 93 * MM, 94 * MM, 124.5 * MM, 125 * MM]
HEIGHT = 136 * MM
WATER = 40.0


@dataclass(frozen=True)
class Reference:
    """Heat flows [W], temperatures [degC] and the resistance from bore face to water [K/W]."""

    gas_side: float
    tubes: float
    outside: float
    wall_max: float
    wall_min: float
    filler_max: float
    outer_face_max: float
    mean_bore_face: float
    resistance: float


# Finite elements made for this case: quadratic, body-fitted curved triangles, energy-exact; two meshes agree
# to 2e-6 and two independently written assemblies to 1e-6. Keyed by the filler's conductivity [W/(m K)].
REFERENCES = {
    0.3: Reference(887.17, 882.91, 4.2602, 89.947, 85.992, 89.655, 23.988, 88.568, 0.05501),
    2.0: Reference(955.95, 951.51, 4.4407, 54.037, 50.446, 53.695, 24.157, 52.798, 0.01345),
}


@lru_cache
def solve_section(size: float, filler: float) -> Field:
    """Square cells of `size` in the filler, a few across each sheet, and growing ones in the insulation."""

    def wished(r):
        in_filler, in_wall, in_shroud = (r > RADII[1] - 1e-9) & (r < RADII[2] + 1e-9), r < RADII[1], r < RADII[3]
        growing = np.minimum(size + 0.2 * np.abs(r - RADII[3]), 3 * MM)
        return np.select([in_filler, in_wall, in_shroud], [size, 0.375 * MM, 0.5 * MM], growing)

    z_face = np.linspace(0.0, HEIGHT, round(HEIGHT / size) + 1)
    layers = dict(zip(("flue", "filler", "shroud", "insulation", "jacket"), range(5), strict=True))
    painted = [Painted("filler", Rectangle(RADII[1], RADII[2], 0.0, HEIGHT))]
    for i in TURNS:
        z = (8.5 + 17 * i) * MM
        painted.append(Painted(f"tube {i}", Disc(83.15 * MM, z, 6.35 * MM)))
        painted.append(Painted(f"bore {i}", Disc(83.15 * MM, z, 5.55 * MM), conducts=False))
    painted += [
        Painted(name, Rectangle(RADII[n], RADII[n + 1], 0.0, HEIGHT)) for name, n in layers.items() if name != "filler"
    ]
    conductivity = {"flue": 45.0, "filler": filler, "shroud": 45.0, "insulation": 0.08, "jacket": 45.0}
    conductivity |= {f"tube {i}": 390.0 for i in TURNS}
    boundaries = {"r_min": Film(30.0, 550.0), "r_max": Film(10.0, 20.0)}
    boundaries |= {f"bore {i}": Film(2000.0, WATER) for i in TURNS}
    return solve_steady(cut_grid(Grid(graded_faces(RADII, wished), z_face), painted), conductivity, boundaries)


def heat_of_turns(field: Field) -> np.ndarray:
    return -np.array([field.heat_into(f"bore {i}") for i in TURNS])


def measure(field: Field) -> Reference:
    """The reference's quantities; extremes over whole solids, their faces included."""
    on_bore = field.pieces.boundary_surfaces("r_min")
    mean = np.average(field.surface_temperature[on_bore], weights=field.pieces.surfaces.area[on_bore])
    tubes = float(heat_of_turns(field).sum())
    wall_min, wall_max = region_extremes(field, "flue")
    return Reference(
        gas_side=field.heat_into("r_min"),
        tubes=tubes,
        outside=-field.heat_into("r_max"),
        wall_max=wall_max,
        wall_min=wall_min,
        filler_max=region_extremes(field, "filler")[1],
        outer_face_max=float(field.surface_temperature[field.pieces.boundary_surfaces("r_max")].max()),
        mean_bore_face=float(mean),
        resistance=(float(mean) - WATER) / tubes,
    )


def print_comparison(size: float, filler: float, computed: Reference, expected: Reference) -> None:
    print(f"\ncoil section, filler {filler} W/(m K), cells of {size / MM:g} mm")
    for name, exact in vars(expected).items():
        value = getattr(computed, name)
        zero = 0.0 if name in ("gas_side", "tubes", "outside", "resistance") else WATER
        print(f"{name:>16} {value:>12.5f} {exact:>12.5f} {(value - exact) / (exact - zero):>10.1e}")


@pytest.mark.parametrize("filler", REFERENCES)
@pytest.mark.parametrize(("size", "share"), [(0.25 * MM, 1.0), (0.125 * MM, 1 / 3)])
def test_coil_section_meets_the_body_fitted_finite_elements(size, share, filler):
    """Heat flow alone is a weak test, for the gas film allows only 980.6 W; the resistance is the strong one."""
    expected, computed = REFERENCES[filler], measure(solve_section(size, filler))
    print_comparison(size, filler, computed, expected)
    rounding = 1e-5 / expected.resistance / 2  # of the reference's last digit
    assert computed.resistance == pytest.approx(expected.resistance, rel=0.01 * share + rounding)
    assert computed.gas_side == pytest.approx(expected.gas_side, rel=0.002 * share)
    assert computed.tubes == pytest.approx(expected.tubes, rel=0.002 * share)
    assert computed.outside == pytest.approx(expected.outside, rel=0.005 * share)
    for name in ("wall_max", "wall_min", "filler_max", "outer_face_max", "mean_bore_face"):
        above_water = getattr(expected, name) - WATER
        assert getattr(computed, name) - WATER == pytest.approx(above_water, rel=0.01 * share), name


@pytest.mark.parametrize("filler", REFERENCES)
@pytest.mark.parametrize(("size", "share"), [(0.25 * MM, 1.0), (0.125 * MM, 1 / 3)])
def test_eight_turns_take_equal_heat_and_nothing_is_lost(size, share, filler):
    """Every turn sits alike in its block and the ends are adiabatic."""
    field = solve_section(size, filler)
    turns = heat_of_turns(field)
    assert np.ptp(turns) < 0.001 * share * turns.mean()
    assert math.isclose(turns.mean(), REFERENCES[filler].tubes / 8, rel_tol=0.002 * share)
    assert abs(field.imbalance) < 1e-9 * field.heat_into("r_min")


def test_area_of_tube_walls_is_exact():
    """Pappus: the ring's surface is circumference times path of the centre."""
    pieces = solve_section(0.25 * MM, 0.3).pieces
    bore = pieces.surfaces.area[pieces.boundary_surfaces("bore 3")].sum()
    assert bore == pytest.approx(2 * math.pi * 5.55 * MM * 2 * math.pi * 83.15 * MM, rel=1e-11)
