"""Gas probes that end below the fire: their readings are the least that the gas was."""

from dataclasses import replace

import numpy as np
import pytest
from heaters import edited_text
from test_log_calibration import HEADINGS, TANK, TRUE, probes

from annulus.case import loads
from annulus.errors import InputError
from annulus.logs.calibrate import fit
from annulus.logs.crunch import crunch
from annulus.logs.facts import facts_of
from annulus.logs.limits import at_limit, hotter_priors
from annulus.logs.observing import observe
from annulus.logs.parameters import priors_of
from annulus.logs.predicting import Predictor
from annulus.logs.reading import read_log
from annulus.logs.synthetic import Course, capped, write_down
from annulus.present.log_fit import draw_fit, fit_result, fit_text

FIRE = ((0.0, 570.0, 0.0098), (900.0, 800.0, 0.0098), (2700.0, 700.0, 0.0098), (3600.0, 620.0, 0.0098))  # [s, K, kg/s]
ENDS = {"gas_below": 440.0, "gas_above": 400.0}  # [degC]
FREE = "fire.gas_multiplier"


@pytest.fixture(scope="module")
def case():
    return loads(edited_text(("turns = 4", "turns = 2"), ('bare_above = "0.3 m"\n', "")) + TANK)


@pytest.fixture(scope="module")
def sheet(case):
    """A log of a fire that flares up, made by the model with another gas multiplier."""
    fire = case.fire.model_copy(update={"gas_multiplier": TRUE})
    burn = case.burn.model_copy(update={"until": "duration", "duration": 3600.0, "fire": "table", "table": FIRE})
    march = Predictor([])._burn(case.model_copy(update={"fire": fire, "burn": burn}))
    moments = [march.first, *(step.end for step in march.steps)]
    seen = [probes(now) for now in moments]
    at, time = [now.time for now in moments], np.arange(0.0, 3601.0, 10.0)
    named = {"gas_below": "gas_below", "gas_above": "gas_above", "water_out": "water_out", "tank": "tank_mean"}
    channels = {role: np.interp(time, at, [one[name] for one in seen]) for role, name in named.items()}
    return write_down(Course(time, channels, {}), HEADINGS, 60.0, np.random.default_rng(4)).text().splitlines()


def read_capped(folder, sheet, *roles):
    """The log as probes of these roles show it that end too low."""
    places = {list(HEADINGS).index(role): capped(ENDS[role]) for role in roles}
    rows = []
    for line in sheet[2:]:
        rows.append(",".join(places.get(n, str)(cell) for n, cell in enumerate(line.split(","))))
    path = folder / "fire.csv"
    path.write_text("\n".join([*sheet[:2], *rows]) + "\n", encoding="utf-8")
    return read_log(path)


def fitted_to(case, log):
    """A fit of the multiplier alone and, where it counts, of how much hotter the gas was; all else as it truly is."""
    facts = replace(facts_of(case), target=None)
    observation = observe("fire", case, crunch(log, facts))
    predictor = Predictor([observation])
    free, *others = priors_of([case], [FREE], facts.errors)
    known = {prior.name: prior.value(0.0) for prior in others}
    priors = [free, *hotter_priors([observation])]
    fitted = fit(
        lambda values: predictor({**known, **values}),
        predictor.measured,
        predictor.scale,
        priors,
        is_least=predictor.is_least,
    )
    return fitted, predictor, known


def test_readings_at_the_end_of_a_probe_are_the_least_of_the_gas_and_are_named_by_row(tmp_path, case, sheet):
    log = read_capped(tmp_path, sheet, *ENDS)
    saturated = [found for found in log.findings if found.kind == "saturated"]
    assert {found.column for found in saturated} == {HEADINGS[role] for role in ENDS}
    fitted, predictor, known = fitted_to(case, log)
    (multiplier, hotter) = fitted.estimates()
    assert hotter.prior.name == "hotter.fire"
    assert multiplier.is_determined
    assert multiplier.low < TRUE < multiplier.high
    # left as they are they speak of a colder fire that gave as much heat: of a better heater
    as_read, _, _ = fitted_to(case, replace(log, at_limit={}))
    (wrong,) = as_read.estimates()
    assert wrong.low > TRUE

    listed = at_limit(predictor.observations)
    named = {(one.column, one.first_line, one.last_line) for one in listed}
    assert named >= {(found.column, found.first_line, found.last_line) for found in saturated}
    assert fit_result(fitted, None, listed)["readings_at_limit"][0]["column"] == HEADINGS["gas_below"]
    assert "Readings at the end of a probe" in fit_text(fitted, predictor.observations)
    figure = draw_fit(fitted, predictor.observations, predictor({**known, **fitted.values}))
    assert "at least that" in figure.axes[2].get_legend_handles_labels()[1]


@pytest.mark.parametrize(("rows", "words"), [(3, "flue below .* has 3 readings"), (0, "a heading and two rows")])
def test_log_of_few_rows_is_not_fitted(tmp_path, case, sheet, rows, words):
    path = tmp_path / "short.csv"
    path.write_text("\n".join(sheet[: 2 + rows]) + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=words):
        observe("short", case, crunch(read_log(path), facts_of(case)))


def test_log_whose_probes_reach_all_of_the_fire_has_no_such_reading(tmp_path, sheet):
    log = read_capped(tmp_path, sheet)
    assert log.at_limit == {}
    assert log.findings == ()


def test_probes_exchanged_at_the_end_of_one_keep_which_gas_was_hotter(tmp_path, sheet):
    """The lower probe ends and stands under the upper one's heading: the gas below is the one that was hotter."""
    rows = [line.split(",") for line in sheet[2:]]
    limit = capped(ENDS["gas_below"])
    exchanged = [",".join([row[0], row[2], limit(row[1]), *row[3:]]) for row in rows]
    path = tmp_path / "exchanged.csv"
    path.write_text("\n".join([*sheet[:2], *exchanged]) + "\n", encoding="utf-8")
    log = read_log(path)
    assert {found.kind for found in log.findings} == {"saturated", "swapped"}
    assert list(log.at_limit) == ["gas_below"]
