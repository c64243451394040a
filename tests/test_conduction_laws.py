"""Laws that hold for every section: conservation, extremes, reciprocity, superposition, symmetry, bounds.

Drawn at random here; `annulus verify` shows the same on a fixed set, with the
plane limit. The base matrix keeps maximum principle and reciprocity to round-off. The
second-order matrix keeps conservation to round-off and the other two only as
the grid is refined; what it does on a coarse grid is measured here and stated.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from annulus.conduction import gradients
from annulus.conduction.beyond import MOST_BEYOND
from annulus.conduction.boundaries import Film
from annulus.conduction.transient import march
from annulus.errors import ConvergenceError
from annulus.verification.properties import (
    COARSE_OVERSHOOT,
    FINE_OVERSHOOT,
    base_field,
    base_port_conductances,
    fall_of_conductance,
    kept_by_pieces,
    mirror_difference,
    overshoot,
    shift_difference,
    skew,
    solve,
    solve_between_room_and_fire,
    superposition_difference,
    throughput,
    unbalance,
    wrong_sign,
)
from annulus.verification.random_sections import random_section

SEEDS = st.integers(0, 399)


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
    field = solve_between_room_and_fire(section)
    assert abs(field.imbalance) < 1e-9 * throughput(field, section)


@given(seed=SEEDS)
def test_every_piece_passes_on_what_it_receives(seed):
    section = random_section(seed)
    assert kept_by_pieces(solve(section, section.cut()), section) < 1e-9


# -- maximum principle


@given(seed=SEEDS)
def test_base_field_stays_between_the_ambients(seed):
    section = random_section(seed)
    pieces = section.cut()
    assert overshoot(base_field(section, pieces), section, pieces) < 1e-9


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
# second order). In the first, a piece of 1e-5 of a cell sways the gradient of the only neighbour it is tied to.
WORST = {768: 2.6, 639: 0.038, 445: 0.037, 1710: 0.036}


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


def test_a_field_that_leaves_its_range_by_far_is_refused_and_a_finer_grid_mends_it():
    """Section 1204: 0.45 of the span on 16 cells across (a tube's wall a third of a cell thick beside a film)."""
    section = random_section(1204)
    with pytest.raises(ConvergenceError, match="leaves the range"):
        solve(section, section.cut())
    finer = section.cut(2)
    assert overshoot(solve(section, finer).temperature, section, finer) < FINE_OVERSHOOT


def test_a_march_that_leaves_its_range_by_far_is_refused(monkeypatch):
    """Section 100030 over eight decades, 10 cells across: 4000 K from ambients below 823 K before it was refused.

    That was without the rule of `gradients.OWN_SHARE`; with it the field keeps its range.
    """
    section = random_section(100_030, cells=10, decades=8.0, coordinates="cylindrical")
    films = {name: Film(film.coefficient, 300 + 500 * film.ambient) for name, film in section.films.items()}
    capacity = dict.fromkeys(section.conductivity, 2e6)

    def found():
        return march(section.cut(), section.conductivity, capacity, films, 300.0, [1e5], contacts=section.contacts)

    low, high = 300.0, max(film.ambient for film in films.values())
    span = high - low
    field = found().temperature[-1]
    assert low - MOST_BEYOND * span < field.min() and field.max() < high + MOST_BEYOND * span
    monkeypatch.setattr(gradients, "OWN_SHARE", -np.inf)
    with pytest.raises(ConvergenceError, match="leaves the range"):
        found()


# -- reciprocity; that of the second-order matrix is in the table


@given(seed=SEEDS)
def test_base_conductances_between_ambients_are_reciprocal(seed):
    section = random_section(seed)
    between = base_port_conductances(section, section.cut())
    assert skew(between) < 1e-8
    assert unbalance(between) < 1e-8
    assert wrong_sign(between) < 1e-12


# -- superposition, mirror, shift, bounds


@given(seed=SEEDS)
def test_fields_of_ambients_add_up(seed):
    assert superposition_difference(random_section(seed)) < 1e-8


@given(seed=SEEDS)
def test_section_upside_down_conducts_alike(seed):
    assert mirror_difference(random_section(seed, decades=4.0)) < 1e-8


@given(seed=SEEDS, shift=st.floats(-1.0, 1.0))
def test_height_above_the_floor_does_not_matter(seed, shift):
    assert shift_difference(random_section(seed, decades=4.0), shift) < 1e-8


@given(seed=SEEDS, times=st.floats(1.05, 100.0), which=st.integers(0, 5))
def test_better_filler_raises_no_resistance_between_two_ambients(seed, times, which):
    """Rayleigh's monotonicity, with all other boundaries adiabatic; to round-off in the base matrix."""
    assert fall_of_conductance(random_section(seed), which, times) <= 1e-9
