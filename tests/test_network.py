"""Conductances and the matrices they make: arithmetic by hand, limits, refusals."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from annulus.conduction.boundaries import Film, Flux, Held
from annulus.conduction.grid import Grid, uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import solve_steady
from annulus.errors import InputError, MaterialError
from annulus.shapes import Disc, Rectangle
from annulus.verification.random_sections import random_section

SEEDS = st.integers(0, 399)


def two_slabs():
    """0.1 m of one slab beside 0.3 m of another, 2 m high, one cell each."""
    grid = Grid(np.array([0.0, 0.1, 0.4]), np.array([0.0, 2.0]), "plane")
    return cut_grid(
        grid, [Painted("steel", Rectangle(0.0, 0.1, 0.0, 2.0)), Painted("wool", Rectangle(0.1, 0.4, 0.0, 2.0))]
    )


def test_two_slabs_with_contact_and_films_are_resistances_in_series():
    """Per metre of depth, area 2 m2.

    Film 1/5 = 0.2; steel 0.1/2 = 0.05; contact 0.15; wool 0.3/0.5 = 0.6; film 1/10 = 0.1: 1.1 m2 K/W.
    110 K drive 100 W/m2, 200 W. Faces: 110 - 20 = 90, 90 - 5 = 85 | 85 - 15 = 70, 70 - 60 = 10.
    Middles: 87.5 and 40. Link: 2 / (0.05/2 + 0.15 + 0.15/0.5) = 2/0.475 W/K.
    Surfaces: 2 / (0.2 + 0.025) and 2 / (0.1 + 0.3) W/K.
    """
    field = solve_steady(
        two_slabs(),
        {"steel": 2.0, "wool": 0.5},
        {"r_min": Film(5.0, 110.0), "r_max": Film(10.0, 0.0)},
        {("wool", "steel"): 0.15},
    )
    assert field.heat_into("r_min") == pytest.approx(200.0)
    assert field.heat_into("r_max") == pytest.approx(-200.0)
    assert field.temperature == pytest.approx([87.5, 40.0])
    assert field.link_flow == pytest.approx([200.0])
    assert np.sort(field.surface_temperature[field.surface_flow != 0]) == pytest.approx([10.0, 90.0])
    assert field.network.link_conductance == pytest.approx([2 / 0.475])
    assert sorted(field.network.surface_conductance) == pytest.approx([0, 0, 0, 0, 2 / 0.4, 2 / 0.225])
    base = field.network.base_matrix.toarray()
    link = 2 / 0.475
    assert base == pytest.approx(np.array([[link + 2 / 0.225, -link], [-link, link + 2 / 0.4]]))


def test_source_and_flux_leave_through_the_only_film():
    """0.8 m2 of slab at 10 W/m3, and 3 W/m2 over 2 m2 of one side: 14 W into a film."""
    field = solve_steady(
        two_slabs(),
        {"steel": 2.0, "wool": 0.5},
        {"r_min": Flux(3.0), "r_max": Film(10.0, 20.0)},
        source=lambda r, z: np.full(r.shape, 10.0),
    )
    assert field.heat_into("r_min") == pytest.approx(6.0)
    assert field.heat_into("r_max") == pytest.approx(-14.0)


@given(seed=SEEDS)
def test_no_temperature_difference_moves_no_heat(seed):
    section = random_section(seed)
    films = {name: Film(film.coefficient, 300.0) for name, film in section.films.items()}
    field = solve_steady(section.cut(), section.conductivity, films, section.contacts)
    assert field.temperature == pytest.approx(300.0, abs=1e-5)
    carries = sum(film.coefficient for film in films.values())
    assert np.abs(field.surface_flow).max() < 1e-10 * carries


@given(seed=SEEDS)
def test_base_matrix_is_a_symmetric_m_matrix(seed):
    """Off-diagonals never positive, rows add up to the films' conductance, whatever the contrast."""
    section = random_section(seed)
    pieces = section.cut()
    network = section.connect(pieces)
    matrix = network.base_matrix
    assert abs(matrix - matrix.T).max() == 0
    off = matrix - np.diag(matrix.diagonal())
    assert off.max() <= 0
    films = np.bincount(pieces.surface_piece, network.surface_conductance, pieces.count)
    rows = np.asarray(matrix.sum(axis=1)).ravel()
    assert np.abs(rows - films).max() <= 1e-13 * matrix.diagonal().max()
    assert np.all(network.link_conductance > 0)


@given(seed=SEEDS)
def test_both_matrices_are_the_same_where_nothing_is_cut(seed):
    section = random_section(seed)
    layers = tuple(p for p in section.painted if isinstance(p.shape, Rectangle))
    films = {name: film for name, film in section.films.items() if name[:2] in ("r_", "z_")}
    names = {p.name for p in layers}
    contacts = {pair: R for pair, R in section.contacts.items() if names.issuperset(pair)}
    plain = replace(section, painted=layers, films=films, contacts=contacts)
    network = plain.connect(plain.cut())
    difference = abs(network.matrix - network.base_matrix).max()
    assert difference <= 1e-12 * abs(network.base_matrix).max()


def test_circle_of_the_same_material_is_hardly_there():
    """A disc like its surroundings in a uniform gradient: the cut alone may not disturb the field.

    Two pieces compare temperatures along the arc's mean normal, not along every
    point's, so the field is linear to second order only: 6e-5 of the span on 12 cells.
    """
    errors = []
    for cells in (12, 24, 48):
        grid = uniform_grid((0.0, 1.0), (0.0, 1.0), (cells, cells), "plane")
        painted = [Painted("box", Rectangle(0.0, 1.0, 0.0, 1.0)), Painted("disc", Disc(0.47, 0.52, 0.3))]
        linear = Held(lambda r, z: 2 * r - 3 * z)
        sides = dict.fromkeys(("r_min", "r_max", "z_min", "z_max"), linear)
        field = solve_steady(cut_grid(grid, painted), {"box": 1.7, "disc": 1.7}, sides)
        p = field.pieces
        errors.append(np.abs(field.temperature - (2 * p.r - 3 * p.z)).max() / 5)
    print("\nlinear field across a circle, largest error of the span:", *(f"{e:.1e}" for e in errors))
    assert errors[0] < 2e-4
    assert math.log2(errors[0] / errors[2]) / 2 > 1.5


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_conductivity_that_is_not_positive_and_finite_is_refused(bad):
    with pytest.raises(MaterialError, match="'wool'"):
        solve_steady(two_slabs(), {"steel": 2.0, "wool": bad}, {"r_min": Held(1.0)})


@pytest.mark.parametrize(
    ("conductivity", "boundaries", "contacts", "reason"),
    [
        ({"steel": 2.0}, {"r_min": Held(1.0)}, {}, "'wool'.*no conductivity"),
        ({"steel": 2.0, "wool": 0.5}, {"left": Held(1.0)}, {}, "'left' is unknown"),
        ({"steel": 2.0, "wool": 0.5}, {"r_min": Flux(1.0)}, {}, "no level is fixed"),
        ({"steel": 2.0, "wool": 0.5}, {}, {}, "no level is fixed"),
        ({"steel": 2.0, "wool": 0.5}, {"r_min": Held(1.0)}, {("steel", "wool"): -1e-4}, "must not be negative"),
        ({"steel": 2.0, "wool": 0.5}, {"r_min": Held(1.0)}, {("steel", "wool"): math.nan}, "must not be negative"),
    ],
)
def test_problems_that_have_no_solution_are_refused(conductivity, boundaries, contacts, reason):
    with pytest.raises(InputError, match=reason):
        solve_steady(two_slabs(), conductivity, boundaries, contacts)
