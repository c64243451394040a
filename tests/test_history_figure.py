"""The picture of a burn: nothing overlaps, every joule is drawn, every event is marked."""

import numpy as np
import pytest
from heaters import SMALL
from test_figures import LONG, clashes, words_of

from annulus.burn import Upset, history, run_burn, summarise_burn
from annulus.case import loads
from annulus.present.burning import burn_table, history_csv, minutes
from annulus.present.history import WHERE, draw_history

TANK = '\n[tank]\nvolume = "10 L"\nstart_temperature = "8 degC"\ntarget_temperature = "30 degC"\n'
LAYERED = TANK + 'layers = 5\n[loop]\ncirculation = "natural"\ntank_above_coil = "0.5 m"\n[burn]\nduration = "20 min"\n'
STOP = Upset(pump_stop=120.0, watched=3600.0)


@pytest.fixture(scope="module")
def burns():
    cases = {
        "mixed": (SMALL + TANK, None),
        "layered": ((SMALL + LAYERED).replace('"Small"', f'"{LONG}"'), None),
        "stopped": (SMALL + TANK, STOP),
    }
    found = {}
    for name, (text, upset) in cases.items():
        march = run_burn(loads(text), fineness=1, upset=upset).march
        found[name] = summarise_burn(march), history(march), upset.marks() if upset else []
    return found


@pytest.mark.parametrize("name", ["mixed", "layered", "stopped"])
def test_words_do_not_overlap_and_lie_on_the_page(burns, name):
    assert clashes(draw_history(*burns[name])) == []


def test_events_and_the_end_are_named(burns):
    words = {text.get_text() for text in words_of(draw_history(*burns["stopped"]))}
    assert {"water stops", "water boils in the coil"} <= words


def test_a_layered_tank_has_two_curves_and_a_mixed_one_has_one(burns):
    layered = " ".join(text.get_text() for text in words_of(draw_history(*burns["layered"])))
    mixed = " ".join(text.get_text() for text in words_of(draw_history(*burns["mixed"])))
    assert "tank, top" in layered
    assert "tank, bottom" in layered
    assert "tank, top" not in mixed


@pytest.mark.parametrize("name", ["mixed", "layered", "stopped"])
def test_the_areas_add_up_to_the_heat_that_the_gas_brought(burns, name):
    _, columns, _ = burns[name]
    drawn = [np.asarray(columns[column]) for _, parts, _, _ in WHERE for column in parts if column in columns]
    brought = np.asarray(columns["wood [J]"]) - np.asarray(columns["stove [J]"])
    assert np.sum(drawn, axis=0) == pytest.approx(brought, rel=1e-6, abs=1.0)


def test_the_history_as_a_file_has_units_in_its_first_line_and_a_row_a_step(burns):
    _, columns, _ = burns["mixed"]
    lines = history_csv(columns).splitlines()
    assert all(name.endswith("]") and " [" in name for name in lines[0].split(","))
    assert len(lines) == len(columns["time [s]"]) + 1
    last = dict(zip(lines[0].split(","), map(float, lines[-1].split(",")), strict=True))
    assert last["tank_mean [degC]"] == pytest.approx(30.0)


def test_the_table_says_how_it_ended_and_where_the_wood_went(burns):
    outcome, _, _ = burns["mixed"]
    text = burn_table(outcome | {"beyond_published_range": []}, [])
    assert "target reached" in text
    assert "100.0 %" in text
    assert "up the chimney" in text


@pytest.mark.parametrize(
    ("seconds", "error", "text"),
    [(None, None, "-"), (90.0, None, "1.5 min"), (7200.0, 60.0, "120 ± 1 min (2 h 00 min)")],
)
def test_times_are_in_minutes_and_long_ones_in_hours_too(seconds, error, text):
    assert minutes(seconds, error) == text


def test_time_by_the_logs_of_a_calibration_stands_with_its_interval(burns):
    outcome = burns["mixed"][0] | {"beyond_published_range": []}
    told = {"time_to_target_by_logs_s": 3000.0, "time_to_target_low_s": 2700.0, "time_to_target_high_s": 3330.0}
    lines = [" ".join(line.split()) for line in burn_table({**outcome, **told}, []).splitlines()]
    assert "by the logs, their gas flow included 50.0 min" in lines
    assert "90 % interval of that 45.0 min to 55.5 min" in lines
    assert not any("by the logs" in line for line in burn_table(outcome, []).splitlines())


def test_a_number_is_not_parted_from_its_unit(burns):
    words = [text.get_text() for text in words_of(draw_history(*burns["mixed"]))]
    assert "%" not in words
    assert any(text.endswith("\N{NO-BREAK SPACE}%") for text in words)
