"""Logs fitted on the burn model: a small heater, its log made by the model itself."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from heaters import edited_text

from annulus.burn.readings import readings
from annulus.case import load, loads
from annulus.errors import InputError
from annulus.logs.calibrate import fit, foretell
from annulus.logs.candidates import candidate_probes
from annulus.logs.crunch import crunch
from annulus.logs.facts import facts_of
from annulus.logs.next_probe import rank_probes
from annulus.logs.observing import means, observe
from annulus.logs.parameters import priors_of, with_values
from annulus.logs.posterior import calibrated, for_next, posterior_of, read_posterior, to_json
from annulus.logs.predicting import Predictor
from annulus.logs.reading import read_log
from annulus.logs.synthetic import Course, write_down
from annulus.present.log_fit import draw_fit, fit_text, forecast_text

TANK = """
[tank]
volume = "8 L"
start_temperature = "8 degC"
target_temperature = "35 degC"
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
HOURS = 1.2


def case_text():
    return edited_text(("turns = 4", "turns = 2")) + TANK


def probes(now):
    """Readings with the gas where its probes are: before the bare pipe below the coil, behind that above it."""
    seen, system, supply = readings(now), now.moment.system, now.moment.fire.supply
    return {**seen, "gas_below": supply.temperature, "gas_above": system.above(supply, seen["gas_above"]).gas_out}


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
def predictor(folder):
    case = load(folder / "mine.toml")
    facts = replace(facts_of(case), target=None)
    return Predictor([observe("fire", case, crunch(read_log(folder / "fire.csv"), facts))])


def fitted_with(predictor, *free):
    case = loads(case_text())
    priors = priors_of([case], free, facts_of(case).errors)
    return fit(predictor, predictor.measured, predictor.scale, priors)


@pytest.fixture(scope="module")
def fitted(predictor):
    return fitted_with(predictor, "fire.gas_multiplier")


def test_predictions_at_the_truth_lie_on_the_log(predictor):
    neutral = {
        prior.name: prior.value(0.0)
        for prior in priors_of([loads(case_text())], [], facts_of(loads(case_text())).errors)
    }
    left = (predictor({**neutral, "fire.gas_multiplier": TRUE}) - predictor.measured) / predictor.scale
    assert np.sqrt(np.mean(left**2)) < 1.5


def test_fit_holds_the_truth_and_says_how_well(fitted):
    multiplier = fitted.estimates()[0]
    assert multiplier.is_determined
    assert multiplier.low < TRUE < multiplier.high
    assert multiplier.width < 0.5


def test_forecast_and_what_to_measure_next(fitted, predictor):
    case = loads(case_text())
    told = foretell(
        for_next(fitted, [case.filler.material], case), lambda values: predictor.time_to_target(case, values)
    )
    fire = case.fire.model_copy(update={"gas_multiplier": TRUE})
    neutral = {prior.name: prior.value(0.0) for prior in fitted.priors}
    true = predictor.time_to_target(case.model_copy(update={"fire": fire}), {**neutral, "fire.gas_multiplier": 1.0})
    assert told.low < true < told.high
    promises = rank_probes(fitted, told, candidate_probes(fitted, predictor))
    assert promises[0].narrowing > promises[-1].narrowing >= -1e-9
    assert promises[0].share < told.share
    assert "What would tell most" in forecast_text(Path("case.toml"), told, promises)


def test_kept_posterior_reads_back_and_moves_a_calibrated_case_to_the_same_place(fitted, tmp_path):
    case = loads(case_text())
    kept = posterior_of([case], fitted)
    path = tmp_path / "posterior.json"
    path.write_text(json.dumps(to_json(kept)), encoding="utf-8")
    again = read_posterior(path)
    assert again.fit.covariance == pytest.approx(fitted.covariance, rel=1e-6, abs=1e-9)
    written, names = calibrated(case, fitted)
    assert names == ("fire.gas_multiplier",)
    values = {**fitted.values, "fire.gas_multiplier": 1.5}
    moved = with_values(written, again.values_for_calibrated(values))
    assert moved.fire.gas_multiplier == pytest.approx(with_values(case, values).fire.gas_multiplier)


def test_words_and_picture_of_a_fit(fitted, predictor):
    text = fit_text(fitted, predictor.observations)
    assert "fire.gas_multiplier" in text and "not determined" in text
    assert draw_fit(fitted, predictor).axes


def test_unknown_parameter_names_the_nearest():
    case = loads(case_text())
    with pytest.raises(InputError, match=r"fire\.gas_multiplier"):
        priors_of([case], ["fire.gas_multiplyer"], facts_of(case).errors)


def test_means_over_spans_of_a_line_are_exact():
    t = np.array([0.0, 3.0, 10.0])
    assert means(t, 2 * t, np.array([0.0, 5.0, 10.0])) == pytest.approx([5.0, 15.0])


def test_command_fits_and_writes(run, folder, tmp_path):
    out = tmp_path / "out"
    status, text, err = run(
        *("calibrate", folder / "mine.toml", folder / "fire.csv", "--free", "fire.gas_multiplier", "--out", out)
    )
    assert (status, err) == (0, "")
    assert "fire.gas_multiplier" in text
    assert {path.name for path in out.iterdir()} == {"fit.png", "case.toml", "posterior.json", "result.json"}
    multiplier = load(out / "case.toml").fire.gas_multiplier
    result = json.loads((out / "result.json").read_text())
    assert multiplier == pytest.approx(result["parameters"][0]["value"])


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
