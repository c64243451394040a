"""The steady heater: limits first, then balances, directions, and what must not matter."""

import math

import numpy as np
import pytest
from heaters import BARE_COIL, FOLDERS, NO_COIL, WOOD, after, edited, solved, solved_folder

from annulus.errors import BoilingError, ConvergenceError
from annulus.films import water
from annulus.heater import solve_heater, summarise
from annulus.heater.gas_path import gas_supply
from annulus.heater.steady import DEFAULT_FINENESS

GAS, INLET, ROOM = '"420 degC"', 'inlet_temperature = "8 degC"', 'temperature = "18 degC"'
FLOW, FIRE = 'flow = "3 L/min"', 'gas_flow = "9.8 g/s"'
DOWN = after(INLET, 'direction = "down"')
VERIFY = [name for name in FOLDERS if name.startswith("verify-coil")]


def outcome(*changes, fineness=1):
    return summarise(solved(*changes, fineness=fineness))


# --- limits


@pytest.mark.parametrize("layout", [(), BARE_COIL, NO_COIL], ids=["packed", "bare coil", "no coil"])
def test_no_temperature_difference_moves_no_heat(layout):
    changes = [(GAS, '"18 degC"'), *([] if layout is NO_COIL else [(INLET, 'inlet_temperature = "18 degC"')])]
    heater = solved(*layout, *changes)
    assert np.abs(heater.field.surface_flow).max() < 1e-9
    assert np.ptp(heater.field.temperature) < 1e-9
    found = summarise(heater)
    assert found["heat_from_gas_W"] == pytest.approx(0.0, abs=1e-9)
    assert found["balance_error"] < 1e-9


def test_temperatures_equal_but_for_rounding_move_no_heat():
    """18 degC and 64.4 degF are the same but for the last bit."""
    found = outcome((GAS, '"64.4 degF"'), (INLET, 'inlet_temperature = "18 degC"'))
    assert abs(found["heat_to_water_W"]) < 1e-9


def test_gas_colder_than_the_water_cools_it():
    found = outcome((GAS, '"4 degC"'), (INLET, 'inlet_temperature = "60 degC"'))
    assert found["heat_to_water_W"] < 0 and found["water_out_C"] < 60
    assert found["heat_from_gas_W"] < 0 and found["gas_out_C"] > 4


def test_flue_in_a_room_of_the_gas_temperature_heats_the_water_alone():
    found = outcome((GAS, '"60 degC"'), (ROOM, 'temperature = "60 degC"'))
    assert found["heat_to_water_W"] > 0
    assert found["heat_through_outside_W"] < 0  # the warm room gives heat to the cold wrap


def test_enormous_gas_flow_keeps_its_temperature():
    heater = solved((FIRE, 'gas_flow = "1000 kg/s"\nfilm_coefficient = "30 W/m2K"'))
    assert np.ptp(heater.gas) < 1e-3


def test_films_that_are_stated_are_used():
    heater = solved(after(FIRE, 'film_coefficient = "33 W/m2K"'), (INLET, f'{INLET}\nfilm_coefficient = "1500 W/m2K"'))
    assert (heater.gas_film == 33.0).all()
    assert (heater.water_film == 1500.0).all()


def test_a_flue_without_a_coil_heats_the_room_only():
    found = outcome(*NO_COIL)
    assert found["heat_to_water_W"] == 0.0 and found["heat_to_turn_W"] == []
    assert found["heat_to_room_W"] == pytest.approx(found["heat_from_gas_W"], rel=1e-9)


def test_insulated_ends_lose_nothing():
    warm = (INLET, 'inlet_temperature = "60 degC"')
    assert outcome(warm, after(ROOM, 'ends = "insulated"'))["heat_through_ends_W"] == 0.0
    assert outcome(warm)["heat_through_ends_W"] > 0.0


# --- balances


@pytest.mark.parametrize("name", FOLDERS)
def test_every_loop_closes_to_1e_9_of_the_heat_from_the_gas(name):
    """Recomputed here from temperatures and flows, not read from the heater's own figure."""
    heater = solved_folder(name)
    flow, supply = heater.field.surface_flow, heater.supply
    from_gas = float(flow[heater.model.gas_surfaces].sum())
    allowed = 1e-9 * from_gas
    assert abs(flow.sum()) < allowed
    entering, leaving = (supply.flow * float(supply.gas.enthalpy(gas)) for gas in heater.gas[[0, -1]])
    # round-off of 6e8 W of enthalpy where 1000 kg/s of gas keep their temperature
    assert abs(entering - leaving - from_gas) < allowed + 1e-16 * entering
    if heater.case.water is not None:
        gained = heater.case.water.flow * float(water.enthalpy(heater.water[-1]) - water.enthalpy(heater.water[0]))
        assert abs(gained + float(flow[heater.model.water_surfaces].sum())) < allowed
    assert heater.balance_error < 1e-9


@pytest.mark.parametrize("name", FOLDERS)
def test_every_piece_keeps_no_heat(name):
    """Flows through links and surfaces sum to nothing at every piece, radiation across air included."""
    field = solved_folder(name).field
    net = np.bincount(field.pieces.surface_piece, field.surface_flow, field.pieces.count)
    net += np.bincount(field.pieces.link_b, field.link_flow, field.pieces.count)
    net -= np.bincount(field.pieces.link_a, field.link_flow, field.pieces.count)
    assert np.abs(net).sum() < 1e-8 * np.abs(field.surface_flow).sum()


@pytest.mark.parametrize("name", FOLDERS)
def test_no_place_is_hotter_than_the_gas_or_colder_than_water_and_room(name):
    heater = solved_folder(name)
    coldest = (
        min(heater.case.room.temperature, *heater.water) if heater.water.size > 1 else heater.case.room.temperature
    )
    slack = 1e-9 * (heater.gas[0] - coldest)
    for temperature in (heater.field.temperature, heater.field.surface_temperature):
        assert temperature.max() <= heater.gas[0] + slack
        assert temperature.min() >= coldest - slack


# --- order of flow


def test_water_warms_from_turn_to_turn_and_gas_cools_upwards():
    heater = solved()
    assert (np.diff(heater.water) > 0).all()
    assert (np.diff(heater.gas) < 0).all()


def test_each_turn_warms_the_water_by_its_own_heat():
    heater = solved()
    rise = heater.case.water.flow * np.diff(water.enthalpy(heater.water))
    np.testing.assert_allclose(summarise(heater)["heat_to_turn_W"], rise, rtol=1e-9)


def test_water_fed_from_above_is_warmest_at_the_bottom_turn():
    up, down = outcome(), outcome(DOWN)
    assert np.all(np.diff(up["water_after_turn_C"]) > 0)
    assert np.all(np.diff(down["water_after_turn_C"]) < 0)
    assert down["water_after_turn_C"][0] == pytest.approx(down["water_out_C"], rel=1e-12)
    assert up["water_after_turn_C"][-1] == pytest.approx(up["water_out_C"], rel=1e-12)


def test_counter_flow_takes_more_where_the_water_gets_hot():
    slow = (FLOW, 'flow = "0.1 L/min"')
    assert outcome(slow, DOWN)["heat_to_water_W"] > 1.001 * outcome(slow)["heat_to_water_W"]


def test_direction_hardly_matters_where_the_water_stays_cold():
    # 224 W into 209 W/K: a rise of 1 K against a driving difference of some 400 K
    assert outcome(DOWN)["heat_to_water_W"] == pytest.approx(outcome()["heat_to_water_W"], rel=2e-3)


# --- magnitudes


@pytest.mark.parametrize("name", VERIFY)
def test_eight_turns_in_one_gas_and_one_water_take_equal_heat(name):
    turns = np.array(summarise(solved_folder(name))["heat_to_turn_W"])
    assert turns.size == 8
    assert np.ptp(turns) < 1e-3 * turns.mean()


def test_twice_the_water_warms_half_as_much():
    one, two = outcome(), outcome((FLOW, 'flow = "6 L/min"'))
    rises = [found["water_out_C"] - found["water_in_C"] for found in (one, two)]
    # the gas film holds 9 tenths of the resistance, the water film less than 1 %
    assert rises[1] == pytest.approx(rises[0] / 2, rel=0.01)
    assert one["heat_to_water_W"] < two["heat_to_water_W"] < 1.01 * one["heat_to_water_W"]


@pytest.mark.parametrize(
    ("change", "factor"),
    [
        ((GAS, '"500 degC"'), 1),
        ((FIRE, 'gas_flow = "15 g/s"'), 1),
        (after(FIRE, "gas_multiplier = 1.5"), 1),
        (after(FIRE, "flame_emissivity = 0.1"), 1),
        (('packing = "vibrated"', 'packing = "loose"'), -1),
        (('gap = "0.5 mm"', 'gap = "2 mm"'), -1),
        (('gap = "0.5 mm"', 'gap = "0 mm"'), 1),
        (('wall = "2 mm"', 'wall = "2 mm"\nsoot_thickness = "2 mm"'), -1),
        (('packing = "vibrated"', 'packing = "vibrated"\nstrip_under_tubes = "2 mm"'), -1),
        (('packing = "vibrated"', 'packing = "vibrated"\nsettled_top = "30 mm"'), -1),
        (("[fire]", '[contacts]\nflue-filler = "1e-3 m2K/W"\n[fire]'), -1),
        (("[fire]", '[contacts]\ntube-filler = "1e-3 m2K/W"\n[fire]'), -1),
        ((INLET, 'inlet_temperature = "40 degC"'), -1),
    ],
    ids=lambda value: value[1].splitlines()[-1] if isinstance(value, tuple) else None,
)
def test_heat_to_the_water_moves_the_way_its_cause_says(change, factor):
    plain = outcome()["heat_to_water_W"]
    assert factor * (outcome(change)["heat_to_water_W"] - plain) > 1e-3 * plain


def test_more_insulation_lets_less_through_the_outside():
    warm = (INLET, 'inlet_temperature = "60 degC"')
    thin, thick = outcome(warm, ('thickness = "50 mm"', 'thickness = "20 mm"')), outcome(warm)
    assert 0 < thick["heat_through_outside_W"] < thin["heat_through_outside_W"]


def test_a_stated_gas_and_the_wood_that_makes_it_give_the_same():
    supply = gas_supply(edited(*WOOD))
    kelvin = f'gas_temperature = "{supply.temperature!r} K"\ngas_flow = "{supply.flow!r} kg/s"'
    stated = outcome(('gas_temperature = "420 degC"\ngas_flow = "9.8 g/s"', kelvin))
    burnt = outcome(*WOOD)
    assert stated["heat_to_water_W"] == pytest.approx(burnt["heat_to_water_W"], rel=1e-9)
    assert stated["heat_to_room_W"] == pytest.approx(burnt["heat_to_room_W"], rel=1e-9)


def test_turns_alike_in_a_long_coil_fall_off_like_the_gas():
    """Far from the ends each turn takes the same share of the gas above the water: a geometric row.

    With a constant gas film the row is exact but for k(T), which changes slowly along it.
    """
    found = outcome(("turns = 4", "turns = 12"), after(FIRE, 'film_coefficient = "25 W/m2K"'))
    inner = np.array(found["heat_to_turn_W"])[3:-3]
    ratio = inner[1:] / inner[:-1]
    assert ratio == pytest.approx(ratio.mean(), rel=2e-3)
    assert ratio.mean() < 1


def test_symmetric_ends_and_constant_streams_make_a_mirrored_heater():
    enormous = (FIRE, 'gas_flow = "1000 kg/s"\nfilm_coefficient = "30 W/m2K"')
    still = (FLOW, 'flow = "1000 kg/s"\nfilm_coefficient = "2000 W/m2K"')
    turns = np.array(outcome(enormous, still)["heat_to_turn_W"])
    np.testing.assert_allclose(turns, turns[::-1], rtol=1e-5)  # the gas cools by some 1e-6 of its span
    assert turns[0] < turns[1]  # the open ends cost the outer turns a little


# --- what must not matter


@pytest.mark.parametrize("layout", [(), (('gap = "0.5 mm"', 'gap = "0 mm"'),)], ids=["gap", "touching"])
def test_heat_does_not_depend_on_the_fineness(layout):
    """Against cells half as large, every default heat flow holds within 0.3 % of the heat to the water."""
    coarse, default, fine = (outcome(*layout, fineness=n) for n in (1, DEFAULT_FINENESS, 2 * DEFAULT_FINENESS))
    assert default["cells"] == 4 * coarse["cells"] and fine["cells"] == 4 * default["cells"]
    for key in ("heat_to_water_W", "heat_through_outside_W", "heat_through_ends_W", "heat_to_room_W"):
        assert coarse[key] == pytest.approx(fine[key], abs=0.01 * fine["heat_to_water_W"]), key
        assert default[key] == pytest.approx(fine[key], abs=0.003 * fine["heat_to_water_W"]), key
    for key in ("wall_min_C", "wall_max_C", "filler_max_C", "gas_above_coil_C"):
        # half a per cent of the 400 K between gas and water
        assert default[key] == pytest.approx(fine[key], abs=2.0), key


def test_a_gap_closing_to_contact_is_continuous():
    """Down to a micrometre of sand and a contact strip as narrow as one grain contact, the heat converges."""
    small = outcome(('gap = "0.5 mm"', 'gap = "0.001 mm"'))["heat_to_water_W"]
    touching = outcome(('gap = "0.5 mm"', 'gap = "0 mm"\ncontact_strip = "0.01 mm"'))["heat_to_water_W"]
    assert touching == pytest.approx(small, rel=5e-3)


def test_an_unused_second_solve_gives_the_same_to_the_last_bit():
    first, again = solved(), solve_heater(edited())
    np.testing.assert_array_equal(first.field.temperature, again.field.temperature)


# --- what is refused


def test_water_that_would_boil_is_refused_with_turn_and_boiling_point():
    with pytest.raises(
        BoilingError, match=r"inlet_temperature = '99.4 degC': water would leave turn 4 \(from .*colder"
    ):
        solve_heater(edited((INLET, 'inlet_temperature = "99.4 degC"')))


def test_water_that_hardly_flows_is_refused_with_its_key_and_the_flow_that_is_enough():
    slow, enough = ('flow = "3 L/min"', 'flow = "0.01 L/min"'), ('flow = "3 L/min"', 'flow = "0.68 L/min"')
    told = r"water\.flow = '0.01 L/min': .* boiling .* the gas can give 4.3\de\+03 W .* 0.68 L/min are enough"
    with pytest.raises(BoilingError, match=told):
        solve_heater(edited(slow), 1)
    assert summarise(solve_heater(edited(enough), 1))["water_out_C"] < 100


def test_boiling_counts_turns_from_the_bottom_in_counter_flow_too():
    with pytest.raises(BoilingError, match="turn 1 "):
        solve_heater(edited((INLET, 'inlet_temperature = "99.4 degC"\ndirection = "down"')))


def test_pressure_keeps_the_same_water_from_boiling():
    found = outcome((INLET, 'inlet_temperature = "99.6 degC"\npressure = "200 kPa"'))
    assert found["water_out_C"] > 100
    # IAPWS-IF97 saturation at 200 kPa, from memory
    assert found["water_boils_at_C"] == pytest.approx(120.2, abs=0.1)


def test_water_that_enters_boiling_is_told_apart():
    with pytest.raises(BoilingError, match=r"would enter the coil at 120 degC.*water\.pressure"):
        solve_heater(edited((INLET, 'inlet_temperature = "120 degC"')))


def test_a_state_that_does_not_settle_is_an_error_with_its_history(monkeypatch):
    from annulus.heater import steady

    monkeypatch.setattr(steady, "MAX_ROUNDS", 2)
    with pytest.raises(ConvergenceError, match="after 2 rounds") as caught:
        solve_heater(edited())
    assert len(caught.value.residuals) == 2
    assert np.isfinite(caught.value.field).all()


def test_a_balance_that_does_not_close_is_an_error(monkeypatch):
    from annulus.heater import steady

    true = steady.water.enthalpy
    monkeypatch.setattr(
        steady.water, "enthalpy", lambda temperature: 1.001 * true(temperature)
    )  # the check's, not the solver's
    with pytest.raises(ConvergenceError, match=r"energy closes to 1\.0e-03 .* and must close to 1e-09"):
        solve_heater(edited())


# --- what is told


def test_progress_names_each_step_and_round():
    words = []
    heater = solve_heater(edited(), tell=words.append)
    assert words[0].startswith("cutting") and words[1].startswith("solving")
    assert sum(word.startswith("round") for word in words) == heater.field.rounds


def test_stripes_are_a_round_number_of_watts():
    heater = solved()
    watts = heater.stripe_watts()
    digits = watts / 10 ** math.floor(math.log10(watts) + 1e-9)
    assert min(abs(digits - round_number) for round_number in (1, 2, 5)) < 1e-9
    # across the flue wall within the coil section
    assert 60 <= summarise(heater)["heat_from_gas_W"] / watts <= 600
    through_coil = float(heater.field.surface_flow[heater.model.gas_surfaces].sum())
    assert 60 <= through_coil / watts <= 150
