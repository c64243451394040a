"""What goes wrong: boiling is found at its pressure and ends the burn, dry coils get as hot as their wall."""

import json

import numpy as np
import pytest
from commands import TINY
from heaters import SMALL

from annulus.burn import Heat, Upset, history, run_burn, summarise_burn
from annulus.burn.fire import SteadyFire
from annulus.burn.outcome import summarise_upset, times_to_boiling
from annulus.burn.upset import HeatedFire
from annulus.burn.verdicts import turn_saturation
from annulus.case import load, loads
from annulus.cli import main
from annulus.films import water
from annulus.films.properties import GRAVITY
from annulus.films.water_side import nusselt_laminar

TANK = """
[tank]
volume = "10 L"
start_temperature = "8 degC"
target_temperature = "60 degC"
loss = "0 W/K"
[loop]
tank_above_coil = "0.5 m"
"""
CASE = loads(SMALL + TANK)
STOP = Upset(pump_stop=120.0, watched=3600.0)


@pytest.fixture(scope="module")
def stopped():
    return run_burn(CASE, fineness=1, upset=STOP).march


def test_water_that_stands_boils_and_the_run_ends_there(stopped):
    outcome = summarise_burn(stopped)
    system, end = stopped.system, stopped.steps[-1].end
    coil = system.room + system.parts_of(system.split(end.z)[1])[1]
    over = coil - turn_saturation(system)
    assert outcome["ended"] == "water boils in the coil"
    assert over.max() == pytest.approx(0.0, abs=1e-3)
    assert outcome["boiling_turn"] == int(np.argmax(over)) + 1
    assert outcome["ledger_error"] < 1e-6
    assert end.time == outcome["time_to_boiling_s"] > STOP.begins


def test_water_that_stands_warms_by_the_heat_its_film_lets_through(stopped):
    """From the history alone: what enters the water of all turns is what they store."""
    columns = history(stopped)
    time = np.array(columns["time [s]"])
    after = time > STOP.begins
    stored = np.array(columns["stored_coil_water [J]"])[after]
    given = np.array(columns["coil [J]"])[after]
    assert stored[-1] - stored[0] == pytest.approx(given[-1] - given[0], rel=1e-6)
    tank = np.array(columns["stored_tank_water [J]"])[after]
    assert abs(tank[-1] - tank[0]) < 1e-3 * (given[-1] - given[0])


def test_other_turns_boil_later_than_the_first(stopped):
    times = times_to_boiling(stopped)
    assert len(times) == 4
    assert min(times) == pytest.approx(stopped.steps[-1].end.time)
    found = summarise_upset(stopped, STOP)
    assert min(found["turn_boils_after_s"]) == pytest.approx(found["upset_to_boiling_s"])
    assert found["upset"] == [{"time_s": 120.0, "words": "water stops"}]


def test_still_water_has_the_film_of_conduction():
    # Nu 3.66 in a tube whose water does not move; the coil's law ends there
    assert nusselt_laminar(1e-9, 7.0, 0.08) == pytest.approx(3.66, abs=0.01)


def test_water_boils_hotter_under_a_column_of_water(stopped):
    case, turn = CASE, stopped.system.turns[0]
    column = 0.5 * case.height + 0.5 + case.tank.height - turn.z
    weight = float(water.density(case.tank.start_temperature)) * GRAVITY
    expected = water.saturation_temperature(case.water.pressure + weight * column)
    assert turn_saturation(stopped.system)[0] == pytest.approx(float(expected), abs=1e-9)
    # 1 m of water adds 9.8 kPa, which is 2.6 K at 100 degC (IAPWS: 101.325 kPa 99.97 degC, 111.1 kPa 102.6 degC)
    lift = water.saturation_temperature(111.1e3) - water.saturation_temperature(101.325e3)
    assert float(lift) == pytest.approx(2.6, abs=0.05)


def test_a_coil_that_runs_dry_gets_as_hot_as_its_wall_and_does_not_boil():
    march = run_burn(CASE, fineness=1, upset=Upset(dry=120.0, watched=7200.0)).march
    outcome = summarise_burn(march)
    assert outcome["ended"] == "time is up"
    # common practice, no source: a dry coil goes to the wall's temperature, 250 to 400 degC
    assert 200.0 < outcome["tube_max_C"] <= outcome["wall_max_C"] < outcome["gas_in_C"]
    assert outcome["ledger_error"] < 1e-6
    ends = march.steps[-1].end
    n = march.system.body.n_bands
    assert ends.moment.taken(*march.system.split(ends.z))[n:] == pytest.approx(np.zeros(4), abs=1e-9)


def test_an_over_fire_burns_as_much_more_wood_as_its_gas_is_hotter():
    usual = SteadyFire(CASE)
    fire = HeatedFire(usual, [Heat(60.0, 30.0, 923.15)], CASE.room.temperature)
    before, during, after = fire.at(59.9), fire.at(60.0), fire.at(90.0)
    assert before == after == usual.fire
    gas = during.supply.gas
    brought = [
        one.supply.flow * float(gas.enthalpy(one.supply.temperature) - gas.enthalpy(CASE.room.temperature))
        for one in (usual.fire, during)
    ]
    assert during.supply.temperature == 923.15
    assert during.fired_power / usual.fire.fired_power == pytest.approx(brought[1] / brought[0])


def test_a_fire_that_is_too_hot_for_its_flow_boils_without_anything_going_wrong():
    text = (SMALL + TANK).replace('flow = "3 L/min"', 'flow = "0.02 L/min"')
    outcome = summarise_burn(run_burn(loads(text), fineness=1).march)
    assert outcome["ended"] == "water boils in the coil"
    assert outcome["boiling_turn"] == 4  # the last in the order of flow


def test_the_command_writes_what_follows(tmp_path, capsys):
    (tmp_path / "case.toml").write_text(TINY + TANK)
    out = tmp_path / "out"
    assert main(["upset", str(tmp_path), "--pump-stop", "2 min", "--out", str(out)]) == 0
    assert "water stops" in capsys.readouterr().out
    result = json.loads((out / "result.json").read_text())
    assert result["ended"] == "water boils in the coil"
    assert result["time_to_boiling_error_s"] < 0.03 * result["time_to_boiling_s"]
    assert {path.name for path in out.iterdir()} == {
        "history.png",
        "ledger.png",
        "history.csv",
        "result.json",
        "case.toml",
    }
    # on ports a section is solved about other water, which is no part of the case
    assert load(out / "case.toml") == load(tmp_path)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "--pump-stop"),
        (["--pump-stop", "soon"], "--pump-stop"),
        (["--tank-dry", "-3 min"], "more than 0"),
        (["--pump-stop", "60 h"], "water stops at 60 h, when the burn is over: burn.duration of the case is 24 h"),
        (["--pump-stop", "1 h", "--chimney-fire", "10 h"], "gas at 1100 °C at 10 h, but what follows"),
        (["--tank-dry", "1 h", "--watch", "60 h"], "60 h is more than 24 h"),
    ],
)
def test_an_upset_of_nothing_or_at_no_time_or_after_the_burn_is_refused(tmp_path, capsys, words, said):
    (tmp_path / "case.toml").write_text(SMALL + TANK)
    assert main(["upset", str(tmp_path), *words]) == 2
    assert said in capsys.readouterr().err
