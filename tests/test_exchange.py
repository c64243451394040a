"""Grey exchange against a radiosity network written out by hand, and heat that is conserved in every piece."""

import math

import numpy as np
import pytest
from enclosures import MM, touching_tubes, void_in_sand
from scipy.sparse import csr_matrix

from annulus.conduction.boundaries import STEFAN_BOLTZMANN, Film, Held
from annulus.conduction.enclosure import Enclosure, PatchTies
from annulus.conduction.exchange import Radiation, grey_exchange, patch_equations
from annulus.conduction.grid import uniform_grid
from annulus.conduction.network import connect
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import Field, solve_steady
from annulus.shapes import Rectangle
from annulus.verification.cavities import between_layers, radiate, row_of_tubes, see


def triangle() -> Enclosure:
    """Long channel of three flat sides of 3, 4 and 5 m; crossed strings give A F = half of (a + b - c)."""
    lengths = np.array([3.0, 4.0, 5.0])
    exchange = np.array([[0.0, 1.0, 2.0], [1.0, 0.0, 3.0], [2.0, 3.0, 0.0]])
    none = np.full(3, -1)
    no_links, of_none = np.empty(0, dtype=np.int64), csr_matrix((0, 1))
    ties = PatchTies(*[no_links] * 4, np.empty(0), np.empty(0, dtype=bool), of_none, of_none)
    return Enclosure(none, none, np.arange(3), lengths, np.arange(3), exchange, 0.0, ties)


def radiosity_network(enclosure: Enclosure, emissivity, power) -> np.ndarray:
    """Net heat that leaves each surface, by resistances: (1 - eps)/(eps A) to a surface, 1/(A F) between radiosities.

    Oppenheim's network; Incropera & DeWitt, 6th ed., sec. 13.3.2. `power` is sigma T^4 [W/m2],
    nan for a surface that reradiates all it gets.
    """
    n = len(power)
    heat, at = np.zeros((n, n)), np.zeros(n)
    for i in range(n):
        for j in range(n):
            heat[i, i] += enclosure.exchange[i, j] * (i != j)
            heat[i, j] -= enclosure.exchange[i, j] * (i != j)
        if not math.isnan(power[i]) and emissivity[i] < 1:
            own = enclosure.area[i] * emissivity[i] / (1 - emissivity[i])
            heat[i, i] += own
            at[i] = own * power[i]
        elif not math.isnan(power[i]):
            heat[i], at[i] = np.eye(n)[i], power[i]
    radiosity = np.linalg.solve(heat, at)
    return np.array(
        [sum(enclosure.exchange[i, j] * (radiosity[i] - radiosity[j]) for j in range(n) if j != i) for i in range(n)]
    )


# --- exchange between patches


@pytest.mark.parametrize("emissivity", [(1.0, 1.0, 1.0), (0.8, 0.3, 0.5), (0.05, 0.9, 1.0), (0.1, 0.1, 0.1)])
def test_three_grey_surfaces_meet_the_radiosity_network(emissivity):
    power = STEFAN_BOLTZMANN * np.array([900.0, 600.0, 300.0]) ** 4
    total = grey_exchange(triangle(), np.array(emissivity))
    computed = total.sum(axis=1) * power - total @ power
    np.testing.assert_allclose(computed, radiosity_network(triangle(), emissivity, power), rtol=1e-10)
    assert computed.sum() == pytest.approx(0.0, abs=1e-9 * np.abs(computed).max())


def test_a_reradiating_surface_passes_on_what_it_gets():
    """With one surface adiabatic, whatever its emissivity; its equilibrium is solved for in powers."""
    emissivity, power = np.array([0.8, 0.4, 0.7]), STEFAN_BOLTZMANN * np.array([800.0, 400.0, 0.0]) ** 4
    total = grey_exchange(triangle(), emissivity)
    power[2] = (total[2, :2] @ power[:2]) / total[2, :2].sum()
    computed = total.sum(axis=1) * power - total @ power
    expected = radiosity_network(triangle(), emissivity, [power[0], power[1], math.nan])
    np.testing.assert_allclose(computed, expected, rtol=1e-10, atol=1e-9)


def test_exchange_of_black_surfaces_is_what_they_see():
    total = grey_exchange(triangle(), np.ones(3))
    np.testing.assert_allclose(total, triangle().exchange, rtol=1e-12)


def test_conductances_times_the_difference_are_the_difference_of_fourth_powers():
    radiation = Radiation(triangle(), grey_exchange(triangle(), np.array([0.8, 0.3, 0.5])), np.full(3, np.nan))
    T = np.array([900.0, 600.0, 300.0])
    flow = radiation.conductances(T).toarray() * np.subtract.outer(T, T)
    np.testing.assert_allclose(flow, radiation.grey * STEFAN_BOLTZMANN * np.subtract.outer(T**4, T**4), rtol=1e-12)


# --- in a section


def solve(pieces, enclosure, emissivity, held=None, air="air", **films) -> Field:
    """Air at rest between bodies of steel; films and held sides by boundary."""
    conductivity = {painted.name: 45.0 for painted in pieces.regions if painted.conducts} | {air: 0.03}
    boundaries = {name.replace("_of_", " "): film for name, film in films.items()}
    radiation = radiate(pieces, enclosure, emissivity, held or {})
    return solve_steady(pieces, conductivity, boundaries, radiation=radiation)


def net_of_pieces(field: Field) -> np.ndarray:
    """Sum of what enters each piece through links and surfaces. [W]"""
    pieces = field.pieces
    net = np.bincount(pieces.surface_piece, field.surface_flow, pieces.count)
    net += np.bincount(pieces.link_b, field.link_flow, pieces.count)
    return net - np.bincount(pieces.link_a, field.link_flow, pieces.count)


BORES = {f"bore_of_{n}": Film(1500.0, 300.0) for n in range(3)}
TUBES = {f"tube {n}": 0.6 for n in range(3)}


def touching() -> Field:
    pieces = touching_tubes()
    emissivity = {"flue": 0.8, "shroud": 0.7, **TUBES}
    return solve(pieces, see(pieces), emissivity, r_min=Film(30.0, 800.0), r_max=Film(10.0, 290.0), **BORES)


def void() -> Field:
    pieces = void_in_sand()
    return solve(
        pieces, see(pieces, "void"), {"sand": 0.9, "tube": 0.6}, air="void", r_min=Held(700.0), r_max=Held(300.0)
    )


def ring_of_void() -> Field:
    pieces = void_in_sand(coordinates="cylindrical", inner=0.08)
    return solve(
        pieces, see(pieces, "void"), {"sand": 0.9, "tube": 0.6}, air="void", r_min=Film(40.0, 800.0), r_max=Held(300.0)
    )


def open_row() -> Field:
    """Sides of the domain are openings: a hot one, a cold one; the ends reradiate."""
    pieces = row_of_tubes(3, 15 * MM, 24)
    tubes = {f"tube {n}": 0.5 for n in range(3)}
    return solve(
        pieces,
        see(pieces),
        tubes,
        {"r_min": 900.0, "r_max": 300.0},
        r_min=Film(10.0, 900.0),
        r_max=Film(10.0, 300.0),
    )


FIELDS = {"touching tubes": touching, "void": void, "void in a ring": ring_of_void, "open row": open_row}


@pytest.mark.parametrize("name", FIELDS)
def test_every_piece_keeps_no_heat_and_the_section_none(name):
    """Conduction and radiation together, pieces of air included."""
    field = FIELDS[name]()
    through = np.maximum(field.surface_flow, 0.0).sum()
    assert through > 1.0
    assert abs(field.imbalance) < 1e-9 * through
    assert np.abs(net_of_pieces(field)).sum() < 1e-8 * through


@pytest.mark.parametrize("name", FIELDS)
def test_radiation_moves_more_heat_than_still_air_alone(name):
    field = FIELDS[name]()
    pieces = field.pieces
    conducted = field.network.link_flow(field.temperature)
    assert np.abs(field.link_flow - conducted).max() > 1e-3 * np.abs(conducted).max()
    assert field.temperature.max() <= 900.0 and field.temperature.min() >= 290.0
    assert pieces.count == field.temperature.size


def test_a_void_in_sand_hinders_the_heat_less_when_its_walls_radiate():
    pieces = void_in_sand()
    conductivity = {"sand": 0.3, "void": 0.05, "tube": 390.0}
    walls = {"r_min": Held(900.0), "r_max": Held(700.0)}

    def heat(radiation):
        return solve_steady(pieces, conductivity, walls, radiation=radiation).heat_into("r_min")

    black = heat(radiate(pieces, see(pieces, "void"), {"sand": 1.0, "tube": 1.0}, {}))
    grey = heat(radiate(pieces, see(pieces, "void"), {"sand": 0.3, "tube": 0.3}, {}))
    # about the square of 10 mm: 4 sigma T^3 d = 1.2 W/(m K) at 800 K, more than the sand around
    assert heat(None) < grey < black
    solid = solve_steady(pieces, conductivity | {"void": 0.3}, walls).heat_into("r_min")
    assert heat(None) < solid < black


def test_a_void_as_large_as_one_cell_radiates_without_a_warning():
    """No link joins two of its pieces; between black walls the heat that crosses it is more than still air conducts."""
    pieces = cut_grid(
        uniform_grid((0.0, 10 * MM), (0.0, 10 * MM), (5, 5), "plane"),
        [
            Painted("sand", Rectangle(0.0, 10 * MM, 0.0, 10 * MM)),
            Painted("void", Rectangle(4 * MM, 6 * MM, 4 * MM, 6 * MM)),
        ],
    )
    with np.errstate(all="raise"):
        field = solve(pieces, see(pieces, "void"), {"sand": 1.0}, air="void", r_min=Held(900.0), r_max=Held(700.0))
    conducted = solve_steady(pieces, {"sand": 45.0, "void": 0.03}, {"r_min": Held(900.0), "r_max": Held(700.0)})
    assert field.heat_into("r_min") > conducted.heat_into("r_min")
    assert np.abs(net_of_pieces(field)).sum() < 1e-9 * field.heat_into("r_min")


def test_surfaces_of_one_temperature_exchange_nothing():
    """To 1e-9 of sigma T^4 A in every piece, wherever heat could enter: held sides, held bores, an opening."""
    T = 500.0
    for pieces, air in ((touching_tubes(), "air"), (row_of_tubes(3, 13 * MM, 24), "air"), (void_in_sand(), "void")):
        enclosure = see(pieces, air)
        names = {p.name for p in pieces.regions if p.conducts} - {air}
        sides = [name for name in pieces.boundaries if pieces.boundary_surfaces(name).size]
        field = solve(
            pieces,
            enclosure,
            dict.fromkeys(names, 0.4),
            {"r_min": T, "r_max": T},
            air,
            **{side.replace(" ", "_of_"): Held(T) for side in sides},
        )
        radiant = field.link_flow - field.network.link_flow(field.temperature)
        on = enclosure.link[enclosure.link >= 0]
        assert np.abs(radiant[on] / pieces.links.area[on]).max() < 1e-9 * STEFAN_BOLTZMANN * T**4
        assert np.ptp(field.temperature) < 1e-8 * T


def test_patches_of_one_temperature_gain_nothing_before_any_solving():
    pieces = touching_tubes()
    enclosure = see(pieces)
    radiation = radiate(pieces, enclosure, {"flue": 0.8, "shroud": 0.7, **TUBES}, {})
    n = pieces.surface_piece.size
    resistance = np.zeros((len(pieces.regions),) * 2)
    network = connect(pieces, np.full(pieces.count, 0.03), resistance, np.zeros(n), np.zeros(n))
    T = np.full(enclosure.count, 640.0)
    gain = patch_equations(network, resistance, radiation, T).heat_into(T)
    assert np.abs(gain / enclosure.area).max() < 1e-9 * STEFAN_BOLTZMANN * 640.0**4


def test_one_patch_a_degree_warmer_is_seen_by_that_check():
    pieces = touching_tubes()
    enclosure = see(pieces)
    radiation = radiate(pieces, enclosure, {"flue": 0.8, "shroud": 0.7, **TUBES}, {})
    T = np.full(enclosure.count, 640.0)
    T[0] += 1.0
    flow = radiation.conductances(T).toarray() * np.subtract.outer(T, T)
    assert np.abs(flow.sum(axis=1) / enclosure.area).max() > 1e-4 * STEFAN_BOLTZMANN * 640.0**4


PLATES = {"air": 1e-4, "inside": 1e4, "outside": 1e4, "shield": 1e4}


def heat_between_plates(pieces) -> float:
    """Plates of emissivity 0.7 at 600 and 300 K, hardly any air between. [W]"""
    names = [painted.name for painted in pieces.regions]
    radiation = radiate(pieces, see(pieces, patch=0.2), dict.fromkeys(names[1:], 0.7), {})
    walls = {"r_min": Held(600.0), "r_max": Held(300.0)}
    return solve_steady(pieces, PLATES, walls, radiation=radiation).heat_into("r_min")


def test_a_shield_between_two_plates_halves_the_heat():
    """Equal emissivities: one thin shield doubles the resistance, wherever it stands."""
    pieces = between_layers(20 * MM, 4.0, 20)
    sides = pieces.grid.r_face
    shield = Painted("shield", Rectangle(float(sides[4]), float(sides[5]), 0.0, 4.0))
    shielded = cut_grid(pieces.grid, [*pieces.regions, shield])
    assert heat_between_plates(shielded) == pytest.approx(0.5 * heat_between_plates(pieces), rel=5e-3)


def test_contact_resistance_on_a_wall_slows_conduction_but_not_sight():
    """A film of dirt on the hot wall, R [m2 K/W]: the wall's own face radiates, the air begins behind the film."""
    pieces = between_layers(20 * MM, 4.0, 20)
    radiation = radiate(pieces, see(pieces, patch=0.2), {"inside": 0.8, "outside": 0.6}, {})
    walls = {"r_min": Held(500.0), "r_max": Held(350.0)}
    conductivity = PLATES | {"air": 0.03}
    clean = solve_steady(pieces, conductivity, walls, radiation=radiation).heat_into("r_min")
    dirty = solve_steady(pieces, conductivity, walls, {("air", "inside"): 1.0}, radiation=radiation)
    # air alone: 20 mm / 0.03 W/(m K) = 0.667 m2 K/W, then 1.667; on 4 m x 150 K
    less = 4.0 * 150.0 * (0.03 / 0.02 - 1 / (0.02 / 0.03 + 1.0))
    assert clean - dirty.heat_into("r_min") == pytest.approx(less, rel=2e-2)
