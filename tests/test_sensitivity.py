"""Which number matters: inputs and their ranges, slopes against solves, the spread, the command."""

import json

import numpy as np
import pytest
from commands import TINY
from heaters import NO_COIL, after, edited
from test_figures import clashes, words_of
from test_gap_map import NOTHING_BELOW, STILL_AIR, heat

from annulus.case import loads
from annulus.errors import InputError
from annulus.heater.sensitivity import heat_sensitivity
from annulus.heater.steady import solve_heater
from annulus.materials import MARKS
from annulus.present.sensitivity import draw_sensitivity, sensitivity_table
from annulus.studies import sensitivity
from annulus.studies.sensitivity import which_number_matters
from annulus.studies.uncertain import uncertain_inputs

TANK = """
[tank]
volume = "2 L"
start_temperature = "8 degC"
target_temperature = "14 degC"
[loop]
pipe_length = "1 m"
"""


def by_key(case):
    return {one.key: one for one in uncertain_inputs(case)}


def test_inputs_are_those_that_count_for_the_case():
    packed, air = by_key(edited()), by_key(edited(*STILL_AIR))
    assert {"filler.film_at_flue", "contacts.filler", "conductivity.filler"} <= packed.keys() - air.keys()
    assert "flue.emissivity" in air.keys() - packed.keys()
    assert "filler.settled_top" not in packed  # vibrated sand does not sink
    assert "filler.settled_top" in by_key(edited(('packing = "vibrated"', 'packing = "loose"')))


def test_the_flue_wall_s_emissivity_is_that_of_its_metal():
    """New stainless steel shines at 0.1 to 0.25, black or painted steel from 0.6 on."""
    stainless = ('material = "black steel"', 'material = "stainless 304"')
    painted = (stainless[0], f'{stainless[1]}\ncoating = "silicone paint"\ncoating_thickness = "0.05 mm"')
    ranges = [
        (one.low, one.high)
        for one in (by_key(edited(*STILL_AIR, *more))["flue.emissivity"] for more in ((), (stainless,), (painted,)))
    ]
    assert ranges == [(0.6, 0.95), (0.1, 0.85), (0.6, 0.95)]


def test_the_filler_s_range_is_its_band_over_its_law():
    """Vibrated quartz sand is met from 0.28 to 0.4 W/mK (annulus materials)."""
    case = edited()
    one = by_key(case)["conductivity.filler"]
    law = case.material("quartz sand", "vibrated").conductivity
    assert one.low * law(403.15) == pytest.approx(0.28, rel=1e-12)
    assert one.high * law(403.15) == pytest.approx(0.40, rel=1e-12)


@pytest.mark.parametrize("key", sorted(by_key(edited())))
def test_the_stated_value_leaves_the_case_and_another_changes_it(key):
    case = edited()
    one = by_key(case)[key]
    materials = [("quartz sand", "vibrated"), ("mineral wool", None), ("copper", None)]

    def what_counts(changed):
        return changed.model_dump(), [changed.material(*name).conductivity(350.0) for name in materials]

    assert one.stated is not None
    assert what_counts(one.change(case, one.stated)) == what_counts(case)
    assert what_counts(one.change(case, one.high)) != what_counts(case)


def test_without_a_coil_nothing_is_ranked():
    with pytest.raises(InputError, match="no \\[coil\\]"):
        uncertain_inputs(edited(*NO_COIL))


KNOWN = {  # slopes that the adjoint knows, with a step and how well a difference can agree
    "conductivity.filler": (0.01, 1e-3),
    "conductivity.insulation": (0.01, 1e-3),
    "conductivity.tube": (0.01, 1e-3),
    "fire.gas_multiplier": (0.01, 1e-3),
    "contacts.filler": (1e-6, 2e-3),
    "flue.soot_thickness": (1e-6, 2e-3),
    "filler.film_at_flue": (2e-6, 0.1),  # the film makes a grid of its own
}


def test_slopes_are_those_of_solves():
    case = edited(NOTHING_BELOW)
    stated = solve_heater(case, 1)
    inputs = uncertain_inputs(case)
    slopes = sensitivity._slopes(stated, heat_sensitivity(stated), inputs)
    known = {one.key: (one, slope) for one, slope in zip(inputs, slopes, strict=True) if slope is not None}
    assert known.keys() == KNOWN.keys()
    for key, (one, slope) in known.items():
        step, tolerance = KNOWN[key]
        down = stated if one.low == one.stated else solve_heater(one.change(case, one.stated - step), 1)
        up = solve_heater(one.change(case, one.stated + step), 1)
        across = step if one.low == one.stated else 2 * step
        assert slope == pytest.approx((heat(up) - heat(down)) / across, rel=tolerance), key


def test_what_the_case_states_in_several_ways_or_has_computed_is_solved_at_both_ends(monkeypatch):
    case = edited(
        ('gap = "0.5 mm"', 'gap = "0.5 mm"\ngap_at = { 3 = "2 mm" }'),
        after('packing = "vibrated"', 'film_at_flue = "0.1 mm"'),
        after('clearance = "8 mm"', '[contacts]\ntube-filler = "computed"'),
    )
    inputs = by_key(case)
    assert inputs["coil.gap"].stated is None is inputs["contacts.filler"].stated
    keys = ("coil.gap", "contacts.filler", "filler.film_at_flue")
    solved = []
    monkeypatch.setattr(sensitivity, "heat_or_reason", lambda case: solved.append(case) or 200.0 + len(solved))
    stated = solve_heater(case, 1)
    tried = [inputs[key] for key in keys]
    slopes = sensitivity._slopes(stated, heat_sensitivity(stated), tried)
    effects, _ = sensitivity._effects(case, tried, 200.0, 1.0, slopes, sensitivity._Computer(None, lambda words: None))
    assert len(solved) == 6
    assert [effect.heat for effect in effects] == [(201.0, 202.0), (203.0, 204.0), (205.0, 206.0)]


@pytest.fixture(scope="module")
def found():
    """Two turns, two designs, in this process; the ends of all ranges."""
    return which_number_matters(loads(TINY), 2)


def test_effects_are_ranked_by_the_change_of_heat(found):
    spans = [effect.span(found.heat) for effect in found.effects]
    assert spans == sorted(spans, reverse=True)
    assert found.effects[0].input.key == "fire.gas_multiplier"  # common practice, no source: the gas side rules
    low, high = found.effects[0].heat
    assert low < found.heat < high


def test_an_end_that_is_the_stated_value_is_the_stated_heat(found):
    soot = next(effect for effect in found.effects if effect.input.key == "flue.soot_thickness")
    assert soot.heat[0] == found.heat > soot.heat[1]


def test_next_to_nothing_is_told_by_its_slope_alone(found):
    tube = next(effect for effect in found.effects if effect.input.key == "conductivity.tube")
    assert not tube.solved
    assert tube.heat == tube.by_slope
    assert tube.span(found.heat) < 1e-3 * found.heat


def test_drawn_values_lie_in_their_ranges_and_cover_both_halves(found):
    inputs = uncertain_inputs(found.case)
    middle = np.array([0.5 * (one.low + one.high) for one in inputs])
    assert np.all(found.spread.drawn >= [one.low for one in inputs])
    assert np.all(found.spread.drawn <= [one.high for one in inputs])
    assert np.all((found.spread.drawn < middle).sum(axis=0) == 1)  # two designs, one in each half: what Sobol's are for
    assert found.spread.grid_error < 0.01 * found.heat


def test_a_design_that_fails_is_told_and_the_rest_make_the_band(monkeypatch):
    answers = iter([1.0, "water boils", 3.0, 4.0])
    monkeypatch.setattr(sensitivity, "heat_or_reason", lambda case, fineness=1: next(answers, 2.0))
    case = loads(TINY)
    computer = sensitivity._Computer(None, lambda words: None)
    spread = sensitivity._spread(case, uncertain_inputs(case), 4, 2.0, computer)
    assert spread.failed == ["water boils"]
    assert spread.heat.tolist() == [2.0, 6.0, 8.0]
    assert spread.band == pytest.approx((2.4, 7.8))  # 5 % and 95 % of the way through three values


def test_times_stand_beside_heats_where_there_is_a_tank(monkeypatch):
    case = loads(TINY + TANK)
    only = by_key(case)["fire.gas_multiplier"]
    monkeypatch.setattr(sensitivity, "uncertain_inputs", lambda case: [only])
    ranked = which_number_matters(case, 2)
    slow, fast = ranked.effects[0].time
    assert slow > ranked.time > fast > 0
    assert clashes(draw_sensitivity(ranked)) == []


def test_words_of_the_picture_do_not_overlap(found):
    assert clashes(draw_sensitivity(found)) == []
    assert "film of the gas on the flue" in sensitivity_table(found)


def test_marks_of_ranges_are_explained(found):
    table, picture = sensitivity_table(found).replace("\n", " "), draw_sensitivity(found)
    drawn = " ".join(text.get_text() for text in words_of(picture)).replace("\n", " ")
    for mark in {effect.input.mark for effect in found.effects}:
        assert f"[{mark}] {MARKS[mark]}" in table and f"[{mark}] {MARKS[mark]}" in drawn


def test_the_command_gives_the_same_from_another_process(run, case_file, tmp_path, found):
    status, words, _ = run("sensitivity", case_file, "--designs", "2", "--jobs", "1", "--out", tmp_path / "out")
    assert status == 0
    assert "nine in ten of 2 designs" in words
    written = json.loads((tmp_path / "out" / "sensitivity.json").read_text(encoding="utf-8"))
    assert written["drawn_heat_to_water_W"] == pytest.approx(found.spread.heat.tolist(), rel=1e-9)
    assert [row["name"] for row in written["inputs"]] == [effect.input.name for effect in found.effects]
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"sensitivity.png", "sensitivity.json", "case.toml"}


@pytest.mark.parametrize(("option", "value"), [("--designs", "100"), ("--jobs", "0")])
def test_counts_that_cannot_be_are_refused(run, case_file, option, value):
    status, _, fault = run("sensitivity", case_file, option, value)
    assert status == 2
    assert f"{option} {value}" in fault
