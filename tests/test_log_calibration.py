"""Logs fitted on the burn model: a small heater, its log made by the model itself."""

import contextlib
import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest
from heaters import BARE_COIL, edited_text

from annulus.burn.readings import readings
from annulus.case import load, loads
from annulus.cli import main
from annulus.errors import InputError
from annulus.films import gas_per_wood
from annulus.heater.gas_path import gas_supply, pass_bare_flue
from annulus.logs.calibrate import Fit
from annulus.logs.crunch import crunch
from annulus.logs.facts import facts_of
from annulus.logs.observing import means, observe
from annulus.logs.parameters import priors_of, with_values
from annulus.logs.posterior import calibrated, for_next, read_posterior, to_json
from annulus.logs.predicting import Predictor, at_probe_above, with_fire
from annulus.logs.priors import of_offset, of_range
from annulus.logs.reading import read_log
from annulus.logs.synthetic import Course, write_down
from annulus.present.log_fit import fit_text

TANK = """
[tank]
volume = "4 L"
start_temperature = "8 degC"
target_temperature = "25 degC"
loss = "0.5 W/K"
[burn]
duration = "2 h"
"""
HEADINGS = {
    "clock": "time",
    "gas_below": "flue below [degC]",
    "gas_above": "flue above [degC]",
    "water_out": "hose out [degC]",
    "tank": "drum [degC]",
}
TRUE = 1.25  # gas multiplier
HOURS = 0.8


def case_text():
    # what bare pipe above the coil does to the upper probe is tested by itself
    return edited_text(("turns = 4", "turns = 2"), ('bare_above = "0.3 m"\n', "")) + TANK


def probes(now):
    """Readings with the gas where its probes are: before the bare pipe below the coil, behind that above it."""
    seen, leaving = readings(now), now.leaving
    above = pass_bare_flue(now.moment.system.case, *leaving, now.moment.system.case.flue.bare_above)
    return {**seen, "gas_below": leaving.supply.temperature, "gas_above": above.gas_out}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A case, and a log of it that the model itself made with another gas multiplier."""
    folder = tmp_path_factory.mktemp("calibration")
    (folder / "mine.toml").write_text(case_text(), encoding="utf-8")
    case = loads(case_text())
    fire = case.fire.model_copy(update={"gas_multiplier": TRUE})
    burn = case.burn.model_copy(update={"until": "duration", "duration": 3600 * HOURS})
    true = case.model_copy(update={"fire": fire, "burn": burn})
    march = Predictor([])._burn(true)
    moments = [march.first, *(step.end for step in march.steps)]
    seen = [probes(now) for now in moments]
    time = np.arange(0.0, 3600 * HOURS + 1, 10.0)
    at = np.array([now.time for now in moments])
    named = {"gas_below": "gas_below", "gas_above": "gas_above", "water_out": "water_out", "tank": "tank_mean"}
    channels = {role: np.interp(time, at, [one[name] for one in seen]) for role, name in named.items()}
    sheet = write_down(Course(time, channels, {}), HEADINGS, 60.0, np.random.default_rng(4))
    (folder / "fire.csv").write_text(sheet.text(), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def done(folder):
    """The command run once: what it printed, and the folder it wrote."""
    out, text = folder / "out", io.StringIO()
    files = [folder / "mine.toml", folder / "fire.csv"]
    words = ["calibrate", *files, "--free", "fire.gas_multiplier", "--next", folder / "mine.toml", "--out", out]
    with contextlib.redirect_stdout(text):
        assert main([str(word) for word in words]) == 0
    return text.getvalue(), out


def test_predictions_at_the_truth_lie_on_the_log(folder):
    case = load(folder / "mine.toml")
    facts = replace(facts_of(case), target=None)
    predictor = Predictor([observe("fire", case, crunch(read_log(folder / "fire.csv"), facts))])
    neutral = {prior.name: prior.value(0.0) for prior in priors_of([case], [], facts.errors)}
    left = (predictor({**neutral, "fire.gas_multiplier": TRUE}) - predictor.measured) / predictor.scale
    assert np.sqrt(np.mean(left**2)) < 1.5


def test_upper_gas_probe_behind_bare_pipe_reads_colder(folder):
    text = edited_text(("turns = 4", "turns = 2")) + TANK
    case = loads(text)
    facts = replace(facts_of(case), target=None)
    one = observe("fire", case, crunch(read_log(folder / "fire.csv"), facts))
    behind = at_probe_above(one.case, np.array([600.0]))
    bare = pass_bare_flue(case, replace(gas_supply(case), flow=one.fire[0, 2]), 600.0, 0.3)
    assert behind[0] == pytest.approx(bare.gas_out)
    assert behind[0] < 599.0


@pytest.mark.parametrize(("factor", "excess"), [(1.0, 2.2), (1.5, None), (0.2, 1.0)])
def test_more_gas_from_the_same_wood_is_gas_with_more_air(folder, factor, excess):
    case = load(folder / "mine.toml")
    facts = replace(facts_of(case), target=None)
    one = observe("fire", case, crunch(read_log(folder / "fire.csv"), facts))
    neutral = {prior.name: prior.value(0.0) for prior in priors_of([case], [], facts.errors)}
    fire = with_fire(one, {**neutral, "fire.gas_flow": factor}).fire
    if excess is None:
        gas = [gas_per_wood(fire.moisture_wet, air) for air in (case.fire.excess_air, fire.excess_air)]
        assert gas[1] == pytest.approx(factor * gas[0], rel=1e-12)
    else:  # as the case states it; and no wood burns with less than the least air
        assert fire.excess_air == pytest.approx(excess, rel=1e-12)


def test_fit_holds_the_truth_and_says_how_well(done):
    (multiplier, *others) = json.loads((done[1] / "result.json").read_text())["parameters"]
    assert multiplier["is_determined"]
    assert multiplier["low"] < TRUE < multiplier["high"]
    assert multiplier["width_over_prior"] < 0.6
    assert any(not one["is_determined"] and one["value"] is None for one in others)


def test_command_writes_all_it_promises_and_the_case_carries_the_value(done, folder):
    text, out = done
    assert {path.name for path in out.iterdir()} == {
        *("fit.png", "case.toml", "before.toml"),
        *("posterior.json", "result.json"),
    }
    (multiplier, *_) = json.loads((out / "result.json").read_text())["parameters"]
    assert load(out / "before.toml") == load(folder / "mine.toml")  # what the run can be repeated from
    assert load(out / "case.toml").fire.gas_multiplier == pytest.approx(multiplier["value"])
    assert "not determined" in text and "What would tell most" in text


def test_fitted_values_are_told_in_the_units_of_a_case_file():
    gap = of_range("coil.gap", 0.0, 2e-3, "0 mm to 2 mm", "", True, "length")
    fitted = Fit((gap, of_offset("probe", 10.0, "", "")), np.array([0.0, 1.0]), 100 * np.eye(2), np.zeros(2), 0.5, 7)
    text = fit_text(fitted, [])
    assert re.search(r"coil\.gap +1 mm +0\.98\d mm to 1\.01 mm", text)
    assert re.search(r"probe +10 K +9\.84 K to 10\.2 K", text)


def test_forecast_holds_the_time_of_the_truth(done, folder):
    told = json.loads((done[1] / "result.json").read_text())["next_time_to_target_s"]
    case = load(folder / "mine.toml")
    neutral = {prior.name: prior.value(0.0) for prior in priors_of([case], [], facts_of(case).errors)}
    true = Predictor([]).time_to_target(case, {**neutral, "fire.gas_multiplier": TRUE})
    assert told["low"] < true < told["high"]
    assert told["high"] / told["low"] < 1.5


def test_kept_posterior_moves_a_calibrated_case_to_the_same_place(done, folder):
    case, kept = load(folder / "mine.toml"), read_posterior(done[1] / "posterior.json")
    assert kept.written == ("fire.gas_multiplier",)
    assert read_posterior_twice(kept) == pytest.approx(kept.fit.covariance, rel=1e-6, abs=1e-9)
    values = {**kept.fit.values, "fire.gas_multiplier": 1.5}
    written, _ = calibrated(case, kept.fit)
    moved = with_values(written, kept.values_for_calibrated(values))
    assert moved.fire.gas_multiplier == pytest.approx(with_values(case, values).fire.gas_multiplier)


def read_posterior_twice(kept):
    """Covariance of a posterior written and read again."""
    return np.array(to_json(kept)["covariance"])


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("fire.gas_multiplyer", r"did you mean 'fire\.gas_multiplier'.*\n.*coil\.gap"),
        ("filler.conductivity", r"did you mean 'conductivity\.filler'"),
        ("fire.excess_air", r"no log can determine it.*fire\.gas_flow"),
        ("burn.reload = 1 kg to 2 kg", "no log can determine it"),
        ("tank.target_temperature", "no log can determine it"),
        ("filler.settled_top", "does not count for what was logged"),
        ("insulation.thickness", "no range for it; state one"),
        ("insulation.thickness = 8 cm to 2 cm", "the lower end comes first"),
        ("insulation.thickness = 2 kg to 8 kg", "a length is due"),
        ("insulation.thickness = 2 cm", "is no range"),
        ("fire.flame_emissivity = 0 to 1 mm", "number"),
        ("coil.turns = 2 to 4", "whole numbers"),
        ("filler.material", "takes words"),
        ("chimney.losses = 1 to 3", r"no case that was logged has a \[chimney\]"),
        ("coil.pitch = 1 mm to 40 mm", r"coil\.pitch"),  # tubes of 15 mm would overlap
    ],
)
def test_what_a_log_cannot_tell_of_is_refused_by_name(words, message):
    case = loads(case_text())
    with pytest.raises(InputError, match=f"(?s)--free .*{message}"):
        priors_of([case], [words], facts_of(case).errors)


@pytest.mark.parametrize(
    ("words", "low", "high", "read"),
    [
        ("coil.gap = 0.2 mm to 2 mm", 2e-4, 2e-3, lambda case: case.coil.gap[0]),
        ("insulation.thickness = 2 cm to 8 cm", 0.02, 0.08, lambda case: case.insulation.thickness),
        ("contacts.tube-filler = 0 m2K/W to 1e-3 m2K/W", 0.0, 1e-3, lambda case: case.contacts["tube-filler"]),
        ("tank.loss = 0.5 to 2", 0.5, 2.0, lambda case: case.tank.loss / 0.5),  # times the stated 0.5 W/K
    ],
)
def test_number_of_the_case_is_free_in_the_range_that_is_stated(words, low, high, read):
    case = loads(case_text())
    priors = priors_of([case], [words], facts_of(case).errors)
    (free,) = [prior for prior in priors if prior.is_free]
    assert (free.low, free.high, free.shape) == (low, high, "even")
    middle = with_values(case, {prior.name: prior.value(0.0) for prior in priors})
    assert read(middle) == pytest.approx(0.5 * (low + high))


def test_range_of_a_table_that_a_further_case_lacks_is_passed_over_there():
    case = loads(case_text())
    values = {prior.name: prior.value(0.0) for prior in priors_of([case], [], facts_of(case).errors)}
    bare = loads(edited_text(*BARE_COIL, text=case_text()))
    assert with_values(bare, {**values, "insulation.thickness": 0.03}).insulation is None


def test_means_over_spans_of_a_line_are_exact():
    t = np.array([0.0, 3.0, 10.0])
    assert means(t, 2 * t, np.array([0.0, 5.0, 10.0])) == pytest.approx([5.0, 15.0])


def test_another_filler_is_known_from_the_trade_alone(done, folder):
    """A design with graphite gets the graphite's own range, which no log of sand has narrowed."""
    kept = read_posterior(done[1] / "posterior.json")
    case = load(folder / "mine.toml")
    assert for_next(kept.fit, kept.fillers, case) is kept.fit
    filler = case.filler.model_copy(update={"material": "graphite powder", "packing": "tapped"})
    wider = for_next(kept.fit, kept.fillers, case.model_copy(update={"filler": filler}))
    assert "conductivity.filler" in {prior.name for prior in wider.priors}
    assert wider.covariance[-1, -1] == pytest.approx(1.0)


def test_file_that_is_no_posterior_is_refused_in_words(tmp_path):
    path = tmp_path / "posterior.json"
    path.write_text("{}", encoding="utf-8")
    with pytest.raises(InputError, match="is no posterior"):
        read_posterior(path)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("fire.csv", "mine.toml"), "comes before any case"),
        (("mine.toml",), "has no log"),
    ],
)
def test_command_refuses_files_in_the_wrong_order(run, folder, words, message):
    status, _, err = run("calibrate", *(folder / word for word in words), "--free", "fire.gas_multiplier")
    assert status == 2
    assert message in err
