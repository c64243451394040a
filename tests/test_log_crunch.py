"""What a log shows: against the truth it was made from, and against sums by hand."""

import json
from dataclasses import replace

import numpy as np
import pytest
from burn_logs import FOLDER, NAMES, facts_for, shipped, truth_of, write_log
from heaters import edited
from matplotlib.backends.backend_agg import FigureCanvasAgg

from annulus.case import load
from annulus.errors import InputError
from annulus.films import water
from annulus.logs.crunch import crunch
from annulus.logs.facts import facts_of, facts_of_volume
from annulus.logs.reading import read_log
from annulus.logs.smooth import integral, local_line
from annulus.present.log_figures import draw_log, draw_side_by_side
from annulus.present.log_tables import findings_csv, log_result, log_text, side_by_side


@pytest.mark.parametrize("name", NAMES)
def test_heat_into_the_tank_is_that_of_the_truth_within_its_band(name):
    result = crunch(shipped(name), facts_for(name)).result
    error = abs(result["heat_to_tank_J"] - truth_of(name)["heat_to_tank_J"])
    assert error < result["heat_to_tank_error_J"] < 0.12 * result["heat_to_tank_J"]
    assert result["tank_loss_J"] == pytest.approx(truth_of(name)["tank_loss_J"], rel=0.02)


def test_time_to_target_is_that_of_the_truth():
    result = crunch(shipped("clean"), facts_for("clean", target=303.15)).result
    error = abs(result["time_to_target_s"] - truth_of("clean")["time_to_30_C_s"])
    assert error < result["time_to_target_error_s"]
    assert error < 120  # probes of 0.2 K noise, 1.8 mK/s


@pytest.mark.parametrize("name", NAMES)
def test_sound_estimates_do_not_disagree(name):
    assert crunch(shipped(name), facts_for(name)).findings == ()


def test_loop_that_carries_half_of_the_tank_heat_is_a_finding():
    log = shipped("clean")
    halved = replace(log, channels={**log.channels, "flow": 0.5 * log.channels["flow"]})
    (found,) = crunch(halved, facts_for("clean")).findings
    assert found.kind == "disagreement"
    assert "loop says" in found.read and "more flow than noted" in found.done


def test_gas_that_gives_less_than_the_tank_takes_is_a_finding():
    log = shipped("clean")
    channels = {**log.channels, "gas_above": 0.8 * log.channels["gas_below"] + 0.2 * log.channels["gas_above"]}
    (found,) = crunch(replace(log, channels=channels), facts_for("clean")).findings
    assert "gas says" in found.read


def test_steady_warming_by_hand(tmp_path):
    # 100 L from 10 to 40 degC in 5 h, no loss, 20 kg of wood at 18 %
    rows = [f"{m},{10 + m / 10},{20 if m == 0 else ''}" for m in range(0, 301, 5)]
    log = read_log(write_log(tmp_path, "t [min],tank [degC],wood [kg]", *rows))
    facts = replace(facts_of_volume(0.1), tank_loss=0.0, surroundings=283.15)
    result = crunch(log, facts).result
    mass = 0.1 * float(water.density(283.15))
    heat = mass * (float(water.enthalpy(313.15)) - float(water.enthalpy(283.15)))
    assert result["heat_to_tank_J"] == pytest.approx(heat, rel=1e-6)
    assert result["mean_heat_to_tank_W"] == pytest.approx(heat / 18000, rel=1e-6)
    assert result["peak_heat_to_tank_W"] == pytest.approx(heat / 18000, rel=2e-3)  # c of water moves by 0.3 %
    # LHV = 18.5 (1 - w) - 2.443 w = 14.730 MJ/kg at w = 0.18
    assert result["efficiency"] == pytest.approx(heat / (20 * 14.73026e6), rel=1e-6)


def test_loss_of_the_tank_is_added():
    with_loss = crunch(shipped("clean"), facts_for("clean")).result
    without = crunch(shipped("clean"), replace(facts_for("clean"), tank_loss=0.0)).result
    gained = with_loss["heat_to_tank_J"] - without["heat_to_tank_J"]
    assert gained == pytest.approx(with_loss["tank_loss_J"], rel=1e-9)


def test_one_probe_in_a_tank_widens_the_band():
    log = shipped("clean")
    top_only = {role: values for role, values in log.channels.items() if role != "tank_bottom"}
    both, one = crunch(log, facts_for("clean")), crunch(replace(log, channels=top_only), facts_for("clean"))
    assert one.result["heat_to_tank_error_J"] > 2 * both.result["heat_to_tank_error_J"]


def test_log_without_a_tank_is_refused():
    log = shipped("clean")
    channels = {role: values for role, values in log.channels.items() if not role.startswith("tank")}
    with pytest.raises(InputError, match="no column of the tank"):
        crunch(replace(log, channels=channels), facts_for("clean"))


def test_case_without_a_tank_is_named_when_it_is_refused():
    with pytest.raises(InputError, match=r"case 'Small': has no \[tank\]"):
        facts_of(edited())


def test_local_line_is_exact_on_a_line_at_uneven_times():
    t = np.cumsum(np.random.default_rng(3).uniform(1, 300, 200))
    value, slope = local_line(t, 3.0 + 0.02 * t, 600.0)
    assert value == pytest.approx(3.0 + 0.02 * t)
    assert slope == pytest.approx(0.02)


def test_integral_of_straight_pieces_is_exact():
    t, y = np.array([0.0, 10.0, 20.0]), np.array([0.0, 10.0, 0.0])
    assert integral(t, y, 5.0, 20.0) == pytest.approx(37.5 + 50.0)


def test_texts_and_files_hold_every_finding():
    crunched = crunch(shipped("mixed-up"), facts_for("mixed-up"))
    text = log_text("mixed-up", crunched)
    found = crunched.log.findings
    assert len(findings_csv(crunched).splitlines()) == 1 + len(found)
    assert all(finding.read in text and finding.done in text for finding in found)
    assert len(json.loads(json.dumps(log_result(crunched), allow_nan=False))["findings"]) == len(found)
    assert "mixed-up" in side_by_side({"mixed-up": crunched, "clean": crunch(shipped("clean"), facts_for("clean"))})


def test_command_writes_pictures_findings_and_results(run, tmp_path):
    out = tmp_path / "out"
    logs, case = [FOLDER / "clean.csv", FOLDER / "worn-probes.csv"], FOLDER.parent / "bath-house-sand"
    status, text, err = run("log", *logs, "--case", case, "--around", "5 degC", "--out", out)
    assert (status, err) == (0, "")
    assert "Nothing was found wrong" in text and "probe stuck" in text
    written = {path.name for path in out.iterdir()}
    assert written == {
        *("result.json", "logs.png", "clean.png", "clean-findings.csv"),
        *("worn-probes.png", "worn-probes-findings.csv", "case.toml"),
    }
    assert load(out / "case.toml") == load(case)


def test_command_without_the_amount_of_water_says_what_to_give(run, tmp_path):
    status, _, err = run("log", FOLDER / "clean.csv")
    assert status == 2
    assert "--water" in err


def words_of(figure):
    """Boxes around all words of a figure that are drawn."""
    renderer = FigureCanvasAgg(figure).get_renderer()
    figure.draw_without_rendering()
    texts = [text for text in figure.findobj(match=lambda a: hasattr(a, "get_text")) if text.get_visible()]
    return [(text.get_text(), text.get_window_extent(renderer)) for text in texts if text.get_text().strip()]


def test_pictures_keep_their_words_on_the_page():
    crunched = {name: crunch(shipped(name), facts_for(name)) for name in ("clean", "worn-probes")}
    for figure in (draw_log("worn-probes", crunched["worn-probes"]), draw_side_by_side(crunched)):
        page = figure.bbox
        for words, box in words_of(figure):
            assert box.x0 >= -1 and box.x1 <= page.x1 + 1, words


def test_tank_without_readings_is_refused_by_its_column(tmp_path):
    log = read_log(write_log(tmp_path, "time,flue low,drum", "8:00,300,281", "8:01,310,282", "8:02,305,281"))
    with pytest.raises(
        InputError, match=r"column 'drum', temperature of the tank, has fewer.*line 2: 281 degC: fault code"
    ):
        crunch(log, replace(facts_of_volume(0.1), surroundings=283.15))


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (("8:00,40,1", "8:01,41,"), "the tank is at 40 degC.*past its target of 30 degC"),
        (("8:00,9,", "8:01,9,1"), "last row"),
    ],
)
def test_burn_without_any_length_is_refused(tmp_path, rows, words):
    log = read_log(write_log(tmp_path, "time,drum [degC],wood [kg]", *rows))
    with pytest.raises(InputError, match=words):
        crunch(log, replace(facts_of_volume(0.1), surroundings=283.15, target=303.15))


def test_gas_at_the_end_of_its_probe_gives_bounds_and_contradicts_nothing_on_that_side():
    log, facts = shipped("worn-probes"), facts_for("worn-probes")
    found = crunch(log, facts)
    assert found.result["bounds"] == {"gas_below_mean_C": "at least", "heat_from_gas_J": "at least"}
    text = log_text("worn", found)
    assert f"at least {found.result['gas_below_mean_C']:.0f} degC" in text
    # gas that gives far too little: by itself a finding, but not where the probe could not show how hot it was
    colder = {**log.channels, "gas_above": 0.1 * log.channels["gas_above"] + 0.9 * log.channels["gas_below"]}
    assert crunch(replace(log, channels=colder), facts).findings == ()
    assert len(crunch(replace(log, channels=colder, at_limit={}), facts).findings) == 1
    both = replace(log, at_limit=dict.fromkeys(("gas_below", "gas_above"), log.at_limit["gas_below"]))
    assert crunch(both, facts).result["bounds"]["heat_from_gas_J"] == "open"
    assert "not known" in log_text("worn", crunch(both, facts))
    assert draw_log("worn", crunch(both, facts)).axes[2].get_legend_handles_labels()[1][-1] == "mean by the loop"


def test_log_without_gas_has_a_picture_that_says_so(tmp_path, recwarn):
    rows = [f"{m},{10 + m / 10}" for m in range(0, 101, 5)]
    log = read_log(write_log(tmp_path, "t [min],tank [degC]", *rows))
    figure = draw_log("tank", crunch(log, replace(facts_of_volume(0.1), surroundings=283.15)))
    assert [text.get_text() for text in figure.axes[0].texts] == ["not logged"]
    assert not recwarn.list


def test_tank_that_gains_nothing_has_an_efficiency_of_nothing_with_its_band(tmp_path):
    rows = [f"{m},10,{1 if m == 0 else ''}" for m in range(0, 101, 5)]
    log = read_log(write_log(tmp_path, "t [min],tank [degC],wood [kg]", *rows))
    result = crunch(log, replace(facts_of_volume(0.1), tank_loss=0.0, surroundings=283.15)).result
    assert result["efficiency"] == 0.0
    assert 0.0 < result["efficiency_error"] < 0.2  # of the probes alone
