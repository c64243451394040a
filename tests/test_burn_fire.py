"""Fires over time: tables, reloads, and what they refuse."""

import numpy as np
import pytest
from heaters import SMALL

from annulus.burn import run_burn, summarise_burn
from annulus.burn.fire import MOST_EXCESS_AIR, ReloadedFire, SteadyFire, TableFire, make_schedule
from annulus.case import dump, load, loads
from annulus.errors import InputError
from annulus.films import excess_air_of_gas, gas_per_wood

TANK = '\n[tank]\nvolume = "10 L"\nstart_temperature = "8 degC"\ntarget_temperature = "30 degC"\n'
RELOADS = TANK + '[burn]\nfire = "reloads"\nreload = "1 kg"\nreload_every = "20 min"\nreloads = 3\n'
TABLE = TANK + '[burn]\nfire = "table"\n'
CSV = "time [min],gas_temperature [degF],gas_flow [kg/h]\n0,68,36\n10,752,36\n30,752,18\n"


def test_all_wood_that_is_loaded_burns():
    fire = ReloadedFire(loads(SMALL + RELOADS))
    times = np.linspace(0.0, 8 * 3600.0, 20001)
    burnt = np.trapezoid([fire.rate(time) for time in times], times)
    assert burnt == pytest.approx(3.0, rel=1e-4)


def test_a_reload_brings_the_heat_of_its_wood_to_the_flue_less_what_the_stove_keeps():
    case = loads(SMALL + RELOADS)
    fire, steady = ReloadedFire(case), SteadyFire(case).fire
    kept = []
    for time in (300.0, 900.0, 2000.0, 6000.0):
        now = fire.at(time)
        enthalpy = now.supply.gas.enthalpy(np.array([now.supply.temperature, case.room.temperature]))
        kept.append(now.supply.flow * float(enthalpy[0] - enthalpy[1]) / now.fired_power)
    supply = steady.supply
    enthalpy = supply.gas.enthalpy(np.array([supply.temperature, case.room.temperature]))
    expected = supply.flow * float(enthalpy[0] - enthalpy[1]) / steady.fired_power
    assert kept == pytest.approx([expected] * 4, rel=1e-9)


def test_gas_is_hotter_in_flames_than_over_charcoal():
    fire = ReloadedFire(loads(SMALL + RELOADS))
    flames, charcoal = fire.at(2400.0 + 480.0), fire.at(2400.0 + 3600.0)
    assert flames.supply.temperature > charcoal.supply.temperature + 150.0


def test_loads_too_large_for_their_air_are_refused():
    greedy = RELOADS.replace("reloads = 3", 'reloads = 3\nflaming_time = "2 min"\ncharcoal_share = "0 %"')
    fire = ReloadedFire(loads(SMALL + greedy))
    with pytest.raises(InputError, match="faster than its air allows"):
        fire.at(120.0)


def test_a_table_from_a_file_is_read_in_its_units_and_kept_in_the_resolved_case(tmp_path):
    (tmp_path / "fire.csv").write_text(CSV)
    (tmp_path / "case.toml").write_text(SMALL + TABLE + 'table_file = "fire.csv"\n')
    case = load(tmp_path)
    assert loads(dump(case)) == case
    fire = make_schedule(case)
    assert isinstance(fire, TableFire)
    middle = fire.at(300.0)  # half way from 20 to 400 degC
    assert middle.supply.temperature == pytest.approx(273.15 + 210.0)
    assert middle.supply.flow == pytest.approx(0.010)
    assert fire.at(20 * 60.0).supply.flow == pytest.approx(0.0075)
    assert fire.at(1e5).supply.flow == pytest.approx(0.005)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "is empty"),
        ("time [min],gas_temperature [degC]\n0,20\n", "no column gas_flow"),
        (CSV + "40,750\n", "line 5: has 2 columns"),
        (CSV.replace("10,752", "10,hot"), "burn.table"),
        (CSV.replace("30,752", "5,752"), "increase"),
    ],
)
def test_a_table_that_cannot_be_meant_is_refused(tmp_path, content, words):
    (tmp_path / "fire.csv").write_text(content)
    (tmp_path / "case.toml").write_text(SMALL + TABLE + 'table_file = "fire.csv"\n')
    with pytest.raises(InputError, match=words):
        load(tmp_path)


HOUR = np.linspace(0.0, 3600.0, 121)


def logged(case, fire):
    """The same case with a table of what a fire sends up in its first hour."""
    now = [fire.at(float(time)).supply for time in HOUR]
    rows = tuple((float(time), one.temperature, one.flow) for time, one in zip(HOUR, now, strict=True))
    return case.model_copy(update={"burn": case.burn.model_copy(update={"fire": "table", "table": rows})})


def test_wood_of_a_table_is_that_of_its_gas_and_burns_as_it_brings_heat():
    case = loads(SMALL + RELOADS)
    table = logged(case, ReloadedFire(case))
    flow = [row[2] for row in table.burn.table]
    fire = TableFire(table)
    wood = [fire.at(float(time)).wood_rate for time in HOUR]
    assert np.trapezoid(wood, HOUR) == pytest.approx(np.trapezoid(flow, HOUR) / gas_per_wood(0.18, 2.2), rel=1e-9)
    hot, cold = fire.at(480.0), fire.at(1200.0)
    gas = SteadyFire(case).fire.supply.gas
    heat = [now.supply.flow * float(gas.enthalpy(now.supply.temperature) - gas.enthalpy(291.15)) for now in (hot, cold)]
    assert hot.wood_rate / cold.wood_rate == pytest.approx(heat[0] / heat[1], rel=1e-9)
    assert hot.supply.gas.p_h2o > 1.2 * cold.supply.gas.p_h2o


def test_a_table_of_reloads_has_the_gas_of_the_reloads():
    """With the excess air that the reloads had over the hour: within what gas of another composition holds of heat."""
    case = loads(SMALL + RELOADS)
    fire = ReloadedFire(case)
    gas = np.trapezoid([fire.at(float(time)).supply.flow for time in HOUR], HOUR)
    burnt = np.trapezoid([fire.rate(float(time)) for time in HOUR], HOUR)
    mean = case.fire.model_copy(update={"excess_air": excess_air_of_gas(0.18, gas / burnt)})
    table = TableFire(logged(case.model_copy(update={"fire": mean}), fire))
    for time in (240.0, 600.0, 1200.0, 2000.0, 3000.0):
        true, told = fire.at(time).supply.gas, table.at(time).supply.gas
        assert told.p_h2o == pytest.approx(true.p_h2o, rel=0.03)
        assert told.p_co2 == pytest.approx(true.p_co2, rel=0.05)


def test_gas_of_a_table_has_the_least_air_at_least_and_is_air_where_nothing_burns():
    rows = '["0 min", "18 degC", "9.8 g/s"], ["20 min", "18 degC", "9.8 g/s"], ["30 min", "700 degC", "9.8 g/s"]'
    case = loads(SMALL + TABLE + f"table = [{rows}]\n")
    fire = TableFire(case)
    assert fire.at(600.0).wood_rate == pytest.approx(0.0, abs=1e-9)
    assert fire.at(600.0).supply.gas.excess_air == MOST_EXCESS_AIR
    assert fire.at(1800.0).supply.gas.excess_air == 1.0


def test_a_table_of_cold_gas_burns_wood_evenly():
    case = loads(SMALL + TABLE + 'table = [["0 min", "10 degC", "9.8 g/s"], ["30 min", "10 degC", "9.8 g/s"]]\n')
    assert TableFire(case).at(600.0).supply.gas.excess_air == pytest.approx(2.2)


def test_a_table_of_a_constant_fire_burns_as_the_constant_fire():
    row = '"420 degC", "9.8 g/s"'
    text = SMALL + TABLE + f'table = [["0 min", {row}], ["7 min", {row}], ["1 h", {row}]]\n'
    by_table = summarise_burn(run_burn(loads(text), fineness=1).march)
    constant = summarise_burn(run_burn(loads(SMALL + TANK), fineness=1).march)
    assert by_table["time_to_target_s"] == pytest.approx(constant["time_to_target_s"], rel=1e-4)
    assert by_table["wood_kg"] == pytest.approx(constant["wood_kg"], rel=1e-4)
