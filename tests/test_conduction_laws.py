"""Laws that hold for every section: conservation, extremes, reciprocity, superposition, symmetry, bounds.

The base matrix keeps maximum principle and reciprocity to round-off. The
second-order matrix keeps conservation to round-off and the other two only as
the grid is refined; what it does on a coarse grid is measured here and stated.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_sections import LENGTH, RandomSection, random_section

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid, uniform_grid
from annulus.conduction.pieces import Painted, Pieces, cut_grid
from annulus.conduction.solvers import factor
from annulus.conduction.steady import Field, solve_steady
from annulus.shapes import Disc, Rectangle

SEEDS = st.integers(0, 399)


def solve(section: RandomSection, pieces: Pieces, ambients: dict[str, float] | None = None) -> Field:
    """Second-order field, with the section's own ambients or others."""
    films = {
        name: Film(film.coefficient, film.ambient if ambients is None else ambients[name])
        for name, film in section.films.items()
    }
    return solve_steady(pieces, section.conductivity, films, section.contacts, start=0.0)


def throughput(field: Field, section: RandomSection) -> float:
    """Half the sum of heat flows of all boundaries, whichever way they go."""
    return 0.5 * sum(abs(field.heat_into(name)) for name in section.films)


def overshoot(temperature: np.ndarray, section: RandomSection, pieces: Pieces) -> float:
    """How far the field leaves the range of the ambients, of that range; negative when it does not."""
    ambient = [film.ambient for name, film in section.films.items() if pieces.boundary_surfaces(name).size]
    beyond = max(temperature.max() - max(ambient), min(ambient) - temperature.min())
    return float(beyond / (max(ambient) - min(ambient)))


def port_conductances(section: RandomSection, pieces: Pieces) -> np.ndarray:
    """Second order: heat into ambient i for ambient j at 1 and all others at 0. [W/K]"""
    columns = []
    for hot in section.films:
        field = solve(section, pieces, {name: float(name == hot) for name in section.films})
        columns.append([-field.heat_into(name) for name in section.films])
    return np.array(columns).T


def base_port_conductances(section: RandomSection, pieces: Pieces) -> np.ndarray:
    """The same by the base matrix and its factor alone. [W/K]"""
    network = section.connect(pieces)
    solve_base = factor(network.base_matrix)
    ties = []
    for name in section.films:
        on = pieces.boundary_surfaces(name)
        ties.append(np.bincount(pieces.surface_piece[on], network.surface_conductance[on], pieces.count))
    shared = np.array([[tie_i @ solve_base(tie_j) for tie_j in ties] for tie_i in ties])
    return shared - np.diag([tie.sum() for tie in ties])


# -- conservation


@given(seed=SEEDS)
def test_heat_in_equals_heat_out_over_six_decades_of_conductivity(seed):
    """Ambients between 0 and 1 K. Of 2000 seeds three lay between 1e-9 and 3e-9: round-off of stiff thin paths."""
    section = random_section(seed)
    field = solve(section, section.cut())
    assert abs(field.imbalance) < 1e-9 * throughput(field, section)


@given(seed=SEEDS)
def test_heat_in_equals_heat_out_between_room_and_fire(seed):
    """Ambients from 293 to 823 K, conductivities over four decades, as from wool to copper."""
    section = random_section(seed, decades=4.0)
    field = solve(section, section.cut(), {name: 293 + 530 * f.ambient for name, f in section.films.items()})
    assert abs(field.imbalance) < 1e-9 * throughput(field, section)


@given(seed=SEEDS)
def test_every_piece_passes_on_what_it_receives(seed):
    section = random_section(seed)
    pieces = section.cut()
    field = solve(section, pieces)
    net = np.zeros(pieces.count)
    np.add.at(net, pieces.link_a, -field.link_flow)
    np.add.at(net, pieces.link_b, field.link_flow)
    np.add.at(net, pieces.surface_piece, field.surface_flow)
    assert np.abs(net).max() < 1e-9 * throughput(field, section)


# -- maximum principle


@given(seed=SEEDS)
def test_base_field_stays_between_the_ambients(seed):
    section = random_section(seed)
    pieces = section.cut()
    network = section.connect(pieces)
    ambient = np.zeros(pieces.surface_piece.size)
    for name, film in section.films.items():
        ambient[pieces.boundary_surfaces(name)] = film.ambient
    drive = np.bincount(pieces.surface_piece, network.surface_conductance * ambient, pieces.count)
    temperature = factor(network.base_matrix)(drive)
    assert overshoot(temperature, section, pieces) < 1e-9


COARSE_OVERSHOOT = 0.05  # 16 cells across; of 2000 seeds 99.1 % had none, and but two of the rest less than this
FINE_OVERSHOOT = 1e-3  # 64 cells across; worst of the same seeds' offenders 2e-4


@given(seed=SEEDS)
def test_second_order_field_oversteps_the_ambients_little_and_only_on_coarse_grids(seed):
    section = random_section(seed)
    pieces = section.cut()
    beyond = overshoot(solve(section, pieces).temperature, section, pieces)
    assert beyond < COARSE_OVERSHOOT
    if beyond > 1e-9:
        finer = section.cut(4)
        assert overshoot(solve(section, finer).temperature, section, finer) < FINE_OVERSHOOT


# Seeds of `random_section` and their overshoot on 16 cells across (regression values of the solver that first had
# second order). In the first, a piece of 1e-5 of a cell sways the gradient of the only neighbour it is tied to; in
# the second, a tube's wall is a third of a cell thick beside a film.
WORST = {768: 2.6, 1204: 0.45, 639: 0.038, 445: 0.037, 1710: 0.036}


@pytest.mark.parametrize("seed", WORST)
def test_worst_overshoots_of_two_thousand_sections_are_gone_on_a_finer_grid(seed):
    section = random_section(seed)
    beyond = []
    for fineness in (1, 2, 4):
        pieces = section.cut(fineness)
        beyond.append(overshoot(solve(section, pieces).temperature, section, pieces))
    print(f"\nsection {seed}: overshoot of the span", *(f"{b:.1e}" for b in beyond))
    assert beyond[0] < 1.25 * WORST[seed]
    assert max(beyond[1:]) < FINE_OVERSHOOT


# -- reciprocity


@given(seed=SEEDS)
def test_base_conductances_between_ambients_are_reciprocal(seed):
    section = random_section(seed)
    between = base_port_conductances(section, section.cut())
    largest = np.abs(between).max()
    assert np.abs(between - between.T).max() < 1e-8 * largest
    assert np.abs(between.sum(axis=1)).max() < 1e-8 * largest
    assert (between - np.diag(np.diag(between))).min() > -1e-12 * largest


@pytest.mark.parametrize("seed", [100, 40, 54, 10])
def test_second_order_conductances_become_reciprocal_as_the_grid_is_refined(seed):
    """The worst four of 150 sections: up to 0.8 % of the largest on 16 cells across, 1.2e-4 on 64."""
    section = random_section(seed)
    skew = []
    for fineness in (1, 4):
        between = port_conductances(section, section.cut(fineness))
        largest = np.abs(between).max()
        skew.append(np.abs(between - between.T).max() / largest)
        assert np.abs(between.sum(axis=1)).max() < 1e-8 * largest
        assert (between - np.diag(np.diag(between))).min() >= 0
    print(f"\nsection {seed}: |G - G'| / max G on 16 and 64 cells across", *(f"{s:.1e}" for s in skew))
    assert skew[0] < 1e-2
    assert skew[1] < 2e-4


# -- superposition, mirror, shift


@given(seed=SEEDS)
def test_fields_of_ambients_add_up(seed):
    section = random_section(seed)
    pieces = section.cut()
    together = solve(section, pieces)
    between = port_conductances(section, pieces)
    ambient = np.array([film.ambient for film in section.films.values()])
    heat = np.array([-together.heat_into(name) for name in section.films])
    assert between @ ambient == pytest.approx(heat, abs=1e-8 * np.abs(heat).max())


def mirrored(section: RandomSection, shift: float = 0.0) -> RandomSection:
    """The section upside down: z -> LENGTH - z, the films of both ends exchanged."""
    painted = [
        Painted(p.name, replace(p.shape, z=LENGTH - p.shape.z), p.conducts) if isinstance(p.shape, Disc) else p
        for p in section.painted
    ]
    other = {"z_min": "z_max", "z_max": "z_min"}
    films = {other.get(name, name): film for name, film in section.films.items()}
    return replace(section, painted=tuple(painted), films=films)


@given(seed=SEEDS)
def test_section_upside_down_conducts_alike(seed):
    section = random_section(seed, decades=4.0)
    upright, turned = solve(section, section.cut()), solve(mirrored(section), mirrored(section).cut())
    other = {"z_min": "z_max", "z_max": "z_min"}
    for name in section.films:
        expected = upright.heat_into(name)
        assert turned.heat_into(other.get(name, name)) == pytest.approx(
            expected, abs=1e-8 * throughput(upright, section)
        )


@given(seed=SEEDS, shift=st.floats(-1.0, 1.0))
def test_height_above_the_floor_does_not_matter(seed, shift):
    section = random_section(seed, decades=4.0)
    pieces = section.cut()
    moved = [
        Painted(
            p.name,
            replace(p.shape, z=p.shape.z + shift)
            if isinstance(p.shape, Disc)
            else replace(p.shape, z_min=p.shape.z_min + shift, z_max=p.shape.z_max + shift),
            p.conducts,
        )
        for p in section.painted
    ]
    grid = Grid(pieces.grid.r_face, pieces.grid.z_face + shift, section.coordinates)
    here, there = solve(section, pieces), solve(section, cut_grid(grid, moved))
    for name in section.films:
        assert there.heat_into(name) == pytest.approx(here.heat_into(name), abs=1e-8 * throughput(here, section))


# -- plane limit and bounds


@pytest.mark.parametrize("seed", range(8))
def test_ring_a_thousand_times_as_wide_as_its_section_conducts_like_a_plane_one(seed):
    section = random_section(seed, decades=4.0, coordinates="plane")
    far = 1000 * LENGTH
    edges = tuple(np.array(section.edges) + far)
    painted = tuple(
        replace(
            p,
            shape=replace(p.shape, r=p.shape.r + far)
            if isinstance(p.shape, Disc)
            else replace(p.shape, r_min=p.shape.r_min + far, r_max=p.shape.r_max + far),
        )
        for p in section.painted
    )
    ring = replace(section, edges=edges, painted=painted, coordinates="cylindrical")
    plane_field, ring_field = solve(section, section.cut()), solve(ring, ring.cut())
    around = 2 * math.pi * 0.5 * (edges[0] + edges[-1])
    for name in section.films:
        expected = around * plane_field.heat_into(name)
        assert ring_field.heat_into(name) == pytest.approx(expected, abs=0.002 * throughput(ring_field, section))


@given(seed=SEEDS, factor_of_k=st.floats(1.05, 100.0), which=st.integers(0, 5))
def test_better_filler_raises_no_resistance_between_two_ambients(seed, factor_of_k, which):
    """Rayleigh's monotonicity, with all other boundaries adiabatic; to round-off in the base matrix."""
    section = random_section(seed)
    ends = dict(list(section.films.items())[:2])
    chosen = list(section.conductivity)[which % len(section.conductivity)]
    better = section.conductivity | {chosen: factor_of_k * section.conductivity[chosen]}
    two_ends = replace(section, films=ends)
    pieces = two_ends.cut()
    worse_path = base_port_conductances(two_ends, pieces)[0, 1]
    better_path = base_port_conductances(replace(two_ends, conductivity=better), pieces)[0, 1]
    assert better_path >= worse_path * (1 - 1e-9)


def test_second_order_resistance_falls_with_the_fillers_conductivity():
    """A tube in filler between two films: every step of k from 0.1 to 10 helps."""
    grid = uniform_grid((0.075, 0.093), (0.0, 0.017), (36, 34))
    painted = [
        Painted("filler", Rectangle(0.075, 0.093, 0.0, 0.017)),
        Painted("tube", Disc(0.08315, 0.0085, 0.00635)),
        Painted("bore", Disc(0.08315, 0.0085, 0.00555), conducts=False),
    ]
    pieces = cut_grid(grid, painted)
    heats = [
        solve_steady(
            pieces, {"filler": k, "tube": 390.0}, {"r_min": Film(30.0, 550.0), "bore": Film(2000.0, 40.0)}
        ).heat_into("r_min")
        for k in np.geomspace(0.1, 10, 15)
    ]
    assert np.all(np.diff(heats) > 0)
