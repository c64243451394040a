"""Laws of every section held at the ends: eight decades of conductivity, plane and cylindrical, steady and in time.

`python benchmarks/extremes.py` draws many more. Solved beside them: heaters at
their ends, against closed forms or laws that the solver does not use.
"""

import math

import numpy as np
import pytest
from heaters import edited, edited_text
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import diags_array
from test_burn import burning

from annulus.burn import run_burn, summarise_burn
from annulus.case import loads
from annulus.conduction.network import ROUNDING
from annulus.conduction.solvers import factor
from annulus.conduction.transient import ERROR_WEIGHTS, GAMMA, LAST, OVERSHOOT, WEIGHT
from annulus.errors import AnnulusError, BoilingError, ConvergenceError, InputError
from annulus.heater import solve_heater, summarise
from annulus.heater.precision import with_errors
from annulus.heater.suspects import blame, suspects
from annulus.verification.properties import (
    FINE_OVERSHOOT,
    FIRE,
    ROOM,
    ROUND_OFF,
    base_field,
    base_port_conductances,
    first_order,
    overshoot,
    skew,
    solve,
    throughput,
    warm_up,
)
from annulus.verification.random_sections import random_section

SEEDS, PLACES = st.integers(0, 10_000), st.sampled_from(["plane", "cylindrical"])
DECADES = 8.0
GAS_FLOW, WATER_FLOW, INLET = 'gas_flow = "9.8 g/s"', 'flow = "3 L/min"', 'inlet_temperature = "8 degC"'
FELT = """
[materials."felt"]
family = "metal"
conductivity = "0.0006 W/mK"
density = "2000 kg/m3"
heat_capacity = "800 J/kgK"
emissivity = 0.8
"""
GAS = 'gas_temperature = "420 degC"'


# -- sections, steady


@given(seed=SEEDS, coordinates=PLACES)
def test_heat_is_lost_to_round_off_of_its_own_terms_only_and_no_more_than_a_thousandth(seed, coordinates):
    section = random_section(seed, decades=DECADES, coordinates=coordinates)
    field = solve(section, section.cut())
    assert abs(field.imbalance) <= field.rounding < 1e-3 * throughput(field, section)


def test_a_bound_on_round_off_is_eight_epsilons_of_all_that_flows_at_absolute_temperatures():
    """By hand: one term for either end of a link, one for a surface's piece."""
    section = random_section(3, decades=DECADES)
    network = section.connect(first_order(section.cut()))
    rise = np.linspace(-1.0, 2.0, network.pieces.count)
    ends = np.abs(rise[network.pieces.link_a]) + np.abs(rise[network.pieces.link_b])
    terms = network.link_conductance @ ends + network.surface_conductance @ np.abs(rise[network.pieces.surface_piece])
    assert network.rounding(rise) == pytest.approx(8 * 2.0**-52 * terms, rel=1e-12)
    assert pytest.approx(8 * 2.0**-52) == ROUNDING


@given(seed=SEEDS, coordinates=PLACES)
def test_base_matrix_keeps_extremes_and_reciprocity_over_eight_decades(seed, coordinates):
    section = random_section(seed, decades=DECADES, coordinates=coordinates)
    pieces = section.cut()
    assert overshoot(base_field(section, pieces), section, pieces) < 1e-9
    assert skew(base_port_conductances(section, pieces)) < 1e-8


# -- sections in time


def test_a_step_that_overshoots_tells_an_error_that_bounds_it():
    """Every rate of decay: the step's overshoot is below the bound's share of its own estimate; worst 0.2071 of a jump.

    R(-x) = (1 - (sqrt2 - 1) x) / (1 + d x)^2 has its least value, -(sqrt2 - 1)/2, at x = 8.243 (worked out here).
    """
    x = np.geomspace(1e-3, 1e6, 4001)
    one = (1 - LAST * x) / (1 + LAST * x)
    two = (1 - WEIGHT * x * (1 + one)) / (1 + LAST * x)
    told = np.abs(-x / (1 + LAST * x) * (ERROR_WEIGHTS[0] + ERROR_WEIGHTS[1] * one + ERROR_WEIGHTS[2] * two))
    assert two.min() == pytest.approx(-(math.sqrt(2) - 1) / 2, abs=1e-4)
    assert x[two.argmin()] == pytest.approx(8.243, rel=0.01)
    assert (np.abs(two - np.exp(-x)) <= OVERSHOOT * told + 1e-15).all()


@given(seed=SEEDS, coordinates=PLACES, decades=st.floats(-2.0, 3.0))
def test_one_step_of_any_length_leaves_the_range_by_no_more_than_its_bound(seed, coordinates, decades):
    """On the base matrix, from a field of zeros and ones, in the norm of the largest: rates of pieces differ widely."""
    section = random_section(seed, cells=6, decades=4.0, coordinates=coordinates)
    pieces = section.cut()
    base = section.connect(pieces).base_matrix
    mass = 2e6 * pieces.volume
    step = 10.0**decades * float(np.median(mass / base.diagonal()))
    solve_stage = factor(base + diags_array(2.0 / (GAMMA * step) * mass))
    start = np.random.default_rng(seed).integers(0, 2, pieces.count).astype(float)
    rate = 2.0 / (GAMMA * step) * mass
    one = solve_stage(rate * start - base @ start)
    two = solve_stage(rate * one + (1 / (GAMMA * (2 - GAMMA)) - 1) * rate * (one - start))
    weighted = sum(weight * -(base @ field) for weight, field in zip(ERROR_WEIGHTS, (start, one, two), strict=True))
    told = np.abs(solve_stage(2.0 / GAMMA * weighted)).max()
    beyond = max(two.max() - 1.0, -two.min())
    assert beyond <= OVERSHOOT * told + 1e-9


@settings(max_examples=3)
@given(seed=SEEDS, coordinates=PLACES)
def test_a_march_keeps_its_heat_and_its_range_to_what_the_scheme_can_be_proved_to_keep(seed, coordinates):
    section = random_section(seed, cells=6, decades=DECADES, coordinates=coordinates)
    history, beyond = warm_up(section, first_order(section.cut()), tolerance=0.2)
    assert beyond < ROUND_OFF * (FIRE - ROOM)
    assert np.abs(history.imbalance).max() < 1e-9
    try:
        holds = warm_up(section, section.cut(), tolerance=0.2)[1] < ROUND_OFF * (FIRE - ROOM)
    except ConvergenceError as refusal:
        assert "leaves the range" in str(refusal)
        holds = False
    if not holds:
        assert warm_up(section, section.cut(4), tolerance=0.2)[1] < FINE_OVERSHOOT * (FIRE - ROOM)


# -- heaters


def solved_or_refused(*changes):
    """Outcome with its bars, or the named error."""
    try:
        coarse = solve_heater(edited(*changes), 1)
    except AnnulusError as refusal:
        return str(refusal)
    return with_errors(summarise(coarse), summarise(coarse), False)


@given(
    gas=st.sampled_from(["-20 degC", "18 degC", "420 degC", "1700 degC"]),
    gas_flow=st.sampled_from(["1e-6 g/s", "9.8 g/s", "100 kg/s"]),
    flow=st.sampled_from(["1e-6 L/min", "3 L/min", "100000 L/min"]),
    inlet=st.sampled_from(["0 degC", "18 degC", "99 degC"]),
    gap=st.sampled_from(["0 mm", "1 um", "20 mm"]),
    pitch=st.sampled_from(["15 mm", "15.001 mm", "30 mm"]),
)
def test_heat_never_flows_uphill_and_what_the_water_gains_warms_it(gas, gas_flow, flow, inlet, gap, pitch):
    found = solved_or_refused(
        (GAS, f'gas_temperature = "{gas}"'),
        (GAS_FLOW, f'gas_flow = "{gas_flow}"'),
        (WATER_FLOW, f'flow = "{flow}"'),
        (INLET, f'inlet_temperature = "{inlet}"'),
        ('gap = "0.5 mm"', f'gap = "{gap}"'),
        ('pitch = "30 mm"', f'pitch = "{pitch}"'),
        ("turns = 4", "turns = 2"),
    )
    if isinstance(found, str):
        assert "water." in found and "boiling point" in found  # nothing else may stop these
        return
    heat, bar = found["heat_to_water_W"], found["heat_to_water_error_W"]
    warmer = [found[key] - found["water_in_C"] for key in ("gas_in_C", "room_C")]
    assert not (min(warmer) >= 0 and heat < -bar)
    assert not (max(warmer) <= 0 and heat > bar)
    litres = float(flow.split()[0])
    capacity = litres / 60 * 4180.0  # [W/K], within 2 % from 0 to 100 degC (steam tables, from memory)
    gained = capacity * (found["water_out_C"] - found["water_in_C"])
    assert heat == pytest.approx(gained, rel=0.02, abs=bar + 1e-13 * 300 * capacity + 1e-9)


def test_equal_temperatures_give_no_heat_to_round_off():
    found = solved_or_refused((GAS, 'gas_temperature = "18 degC"'), (INLET, 'inlet_temperature = "18 degC"'))
    assert abs(found["heat_to_water_W"]) <= found["heat_to_water_error_W"] < 1e-6
    assert found["wall_max_C"] == pytest.approx(18.0, abs=1e-9)


@pytest.mark.parametrize("key", ["fire.gas_flow", "water.flow"])
def test_no_flow_is_refused_with_its_key(key):
    change = (GAS_FLOW, 'gas_flow = "0 g/s"') if key == "fire.gas_flow" else (WATER_FLOW, 'flow = "0 L/min"')
    with pytest.raises(InputError, match=key.replace(".", r"\.")):
        edited(change)


def test_two_hundred_turns_share_their_heat_as_a_heat_exchanger_does():
    """Counter to the gas or with it, each turn takes less than the one before along the gas; the sum closes."""
    found = summarise(solve_heater(edited(("turns = 4", "turns = 200"), (WATER_FLOW, 'flow = "20 L/min"')), 1))
    turns = np.array(found["heat_to_turn_W"])
    assert turns.size == 200
    assert turns.sum() == pytest.approx(found["heat_to_water_W"], rel=1e-9)
    assert (np.diff(turns[5:-5]) < 0).all()
    # two streams in parallel (effectiveness and NTU, Incropera 11.4): cannot meet in less than the mixed temperature
    gas, wet = found["gas_above_coil_C"], found["water_out_C"]
    assert found["water_in_C"] < wet < gas < found["gas_below_coil_C"]


def test_a_burn_of_one_turn_on_the_flue_closes_and_stays_in_range():
    outcome = summarise_burn(run_burn(burning(("turns = 4", "turns = 1"), ('gap = "0.5 mm"', 'gap = "0 mm"')), 1).march)
    assert outcome["worst_step_imbalance"] < 1e-9
    assert 8.0 <= outcome["wall_min_C"] <= outcome["wall_max_C"] <= 420.0


# -- what is told where nothing can be solved


def test_what_cannot_be_solved_names_the_keys_that_are_far_from_any_heater():
    case = edited((GAS_FLOW, 'gas_flow = "1e-6 g/s"'), ('gap = "0.5 mm"', 'gap = "0.001 um"'))
    told = blame(case, ConvergenceError("it does not settle"))
    assert told.startswith("it does not settle. Far from any heater")
    assert "fire.gas_flow = '0.000001 g/s' is not between 0.1 g/s and 500 g/s" in told
    assert "coil.gap" in told and "write 0" in told


def test_a_trickle_of_gas_behind_a_wall_that_insulates_is_refused_as_cells_would_decide():
    """Found by drawing: heats on grids of 2, 4 and 8 were 1.0085, 0.9995 and 0.9912 W, the bar 0.0002 W."""
    wall = 'material = "black steel"\ninner_diameter', 'material = "felt"\ninner_diameter'
    case = loads(edited_text(wall, (GAS_FLOW, 'gas_flow = "0.01 g/s"')) + FELT)
    with pytest.raises(ConvergenceError, match=r"cells of the grid shift its mean by .*fire\.gas_flow = '0\.01 g/s'"):
        solve_heater(case, 1)


def test_gas_colder_than_the_water_is_among_the_suspects():
    (told,) = suspects(edited((GAS, 'gas_temperature = "5 degC"')))
    assert told.startswith("fire.gas_temperature = '5 degC' is colder than the water, 8 degC")


def test_nothing_stands_out_in_an_ordinary_heater():
    assert suspects(edited()) == []
    assert blame(edited(), BoilingError("as it was")) == "as it was"
