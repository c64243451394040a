"""The burn: ledger, limits, errors. A small heater on its coarsest grid."""

from __future__ import annotations

import re

import numpy as np
import pytest
from heaters import SMALL

from annulus.burn import history, run_burn, summarise_burn
from annulus.burn.march import CLOSED
from annulus.burn.section_body import SectionBody
from annulus.case import Case, loads
from annulus.errors import ConvergenceError, InputError
from annulus.films import lower_heating_value, water
from annulus.heater import solve_heater, summarise
from annulus.units import parse

TANK = """
[tank]
volume = "10 L"
start_temperature = "8 degC"
target_temperature = "30 degC"
drum_mass = "3 kg"
"""


def burning(*changes: tuple[str, str], extra: str = TANK) -> Case:
    text = SMALL + extra
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return loads(text)


@pytest.fixture(scope="module")
def run():
    return run_burn(burning(), fineness=1)


@pytest.fixture(scope="module")
def outcome(run):
    return summarise_burn(run.march)


def test_the_heat_of_the_wood_is_all_accounted_for(outcome):
    parts = [value for key, value in outcome.items() if re.fullmatch(r"(lost|up|from|through)_\w+_J", key)]
    assert len(parts) == 6
    assert sum(parts) + sum(outcome["stored_J"].values()) == pytest.approx(outcome["wood_J"], rel=1e-9)
    assert outcome["ledger_error"] < 1e-6


def test_every_step_closes_its_energy(run):
    assert len(run.march.steps) > 10
    assert max(abs(step.imbalance) for step in run.march.steps) < CLOSED


def test_stored_heat_is_that_of_the_first_and_last_temperatures(run, outcome):
    """Heats are summed step by step; here from the two ends alone, by the laws of heat capacity."""
    march, system = run.march, run.march.system
    _, y = system.split(march.steps[-1].end.z)
    end = system.room + y[-1]
    start = run.case.tank.start_temperature
    mass = run.case.tank.volume * float(water.density(start))
    assert end == pytest.approx(run.case.tank.target_temperature, abs=1e-6)
    in_water = mass * float(water.enthalpy(end) - water.enthalpy(start))
    # heat capacities are read at the middle of each step: second order, 1.3e-5 here
    assert outcome["stored_J"]["tank_water"] == pytest.approx(in_water, rel=5e-5)
    assert outcome["stored_J"]["drum"] == pytest.approx(3.0 * 460.0 * (end - start), rel=1e-9)
    # flue wall: 2 mm steel, its pieces from the room's temperature to the last field
    mine = run.model.pieces_of("flue")
    steel = run.case.material("black steel")
    last = system.room + system.split(march.steps[-1].end.z)[0][mine]
    fine = np.linspace(system.room, last, 65)
    heat = steel.density * np.trapezoid(steel.heat_capacity(fine), fine, axis=0) * run.model.pieces.volume[mine]
    assert outcome["stored_J"]["flue"] == pytest.approx(float(heat.sum()), rel=1e-3)


def test_wood_and_efficiency_follow_from_the_ledger(run, outcome):
    fire = run.case.fire
    assert outcome["wood_kg"] == pytest.approx(outcome["wood_J"] / lower_heating_value(fire.moisture_wet))
    assert outcome["efficiency"] == pytest.approx(outcome["stored_J"]["tank_water"] / outcome["wood_J"])


def test_halving_the_step_moves_the_time_by_little(run, outcome):
    finer = summarise_burn(run_burn(burning(), fineness=1, tolerance=0.05).march)
    assert finer["steps"] > 1.3 * outcome["steps"]
    assert finer["time_to_target_s"] == pytest.approx(outcome["time_to_target_s"], rel=1e-4)


def test_a_tank_that_hardly_warms_brings_the_burn_to_the_steady_state():
    lake = burning(('volume = "10 L"', 'volume = "20 m3"'), extra=TANK + '\n[burn]\nduration = "5 h"\n')
    march = run_burn(lake, fineness=1).march
    last = march.steps[-1]
    water_in = march.system.room + march.system.split(last.end.z)[1][-1]
    water = lake.water.model_copy(update={"inlet_temperature": float(water_in)})
    steady = summarise(solve_heater(lake.model_copy(update={"water": water}), fineness=1))
    ways = dict(zip(("outside", "ends"), last.end.rates[4:6], strict=True))
    # the burn gives the loop's water one heat capacity, 0.1 K of rise has no more than 1e-5 of difference
    assert last.end.rates[8] == pytest.approx(steady["heat_to_water_W"], rel=2e-4)
    assert ways["outside"] == pytest.approx(steady["heat_through_outside_W"], abs=0.02)
    assert ways["ends"] == pytest.approx(steady["heat_through_ends_W"], abs=0.02)


def test_a_filler_without_heat_capacity_warms_the_water_sooner(outcome):
    empty = summarise_burn(run_burn(burning(), fineness=1, without_heat=("filler",)).march)
    assert empty["stored_J"]["filler"] == 0.0
    sooner = outcome["time_to_target_s"] - empty["time_to_target_s"]
    # the heat that the filler holds in the end, at the power that warms the water
    assert sooner == pytest.approx(outcome["stored_J"]["filler"] / outcome["mean_heat_to_water_W"], rel=0.5)


def test_history_has_one_row_per_step_and_ends_with_the_outcome(run, outcome):
    columns = history(run.march)
    assert {len(values) for values in columns.values()} == {len(run.march.steps) + 1}
    assert columns["time [s]"][-1] == outcome["duration_s"]
    assert columns["wood [J]"][-1] == pytest.approx(outcome["wood_J"])
    assert columns["tank_mean [degC]"][-1] == pytest.approx(outcome["tank_C"])


def test_a_burn_without_a_tank_is_refused():
    with pytest.raises(InputError, match=r"no \[tank\]"):
        run_burn(loads(SMALL), fineness=1)


def test_a_loop_without_a_pump_warms_its_tank_from_the_top():
    by_itself = TANK.replace('"10 L"', '"30 L"') + (
        'layers = 6\n[loop]\ncirculation = "natural"\ntank_above_coil = "0.5 m"\npipe_bore = "13 mm"\n'
        '[burn]\nduration = "25 min"\n'
    )
    march = run_burn(burning(extra=by_itself), fineness=1).march
    outcome = summarise_burn(march)
    assert outcome["tank_top_C"] > outcome["tank_bottom_C"] + 5
    assert outcome["ledger_error"] < 1e-6
    columns = history(march)
    flow = columns["water_flow [kg/s]"]
    assert flow[0] == 0.0 or flow[0] < 1e-3  # nothing drives at first: the coil is as cold as the tank
    assert max(flow) > 2e-3
    last = march.steps[-1].end
    tank = last.moment.system.parts_of(last.moment.system.split(last.z)[1])[2]
    assert (np.diff(tank) > -0.1).all()


def test_the_burn_ends_when_its_time_is_up():
    short = burning(extra=TANK + '\n[burn]\nduration = "5 min"\n')
    outcome = summarise_burn(run_burn(short, fineness=1).march)
    assert (outcome["ended"], outcome["time_to_target_s"]) == ("time is up", None)
    assert outcome["duration_s"] == 300.0


# Common practice, no source: 28 US gallons from 46 to 100 degF, with a wrapped flue in two stages of building.
@pytest.mark.parametrize(
    ("minutes", "wood", "power", "efficiency"),
    [(64.0, "13.1 lb", (3.45e3, 3.55e3), 0.15), (152.0, "22 lb", (1.4e3, 1.5e3), 0.09)],
)
def test_facts_of_the_trade_agree_with_the_bookkeeping(minutes, wood, power, efficiency):
    volume, cold, hot = parse("28 gal", "volume"), parse("46 degF", "temperature"), parse("100 degF", "temperature")
    heat = volume * float(water.density(cold)) * float(water.enthalpy(hot) - water.enthalpy(cold))
    assert power[0] <= heat / (60 * minutes) <= power[1]
    burnt = parse(wood, "mass") * lower_heating_value(0.18)
    assert heat / burnt == pytest.approx(efficiency, abs=0.015)


def test_a_burn_whose_body_leaves_the_range_of_what_drives_it_is_refused(monkeypatch):
    monkeypatch.setattr(SectionBody, "seen", lambda body, x: 20.0 * body.of_pieces(x))
    with pytest.raises(ConvergenceError, match=r"burn at .* s: a temperature leaves the range of 281\.15 to 693\.15 K"):
        run_burn(burning(), fineness=1)
