"""What every imperfection of a case costs: which are found, how each is mended, how costs are told."""

import itertools
import json
import math

import pytest
from heaters import NO_COIL, after, edited, edited_text

from annulus.case import loads
from annulus.cli import main
from annulus.errors import InputError
from annulus.heater import solve_with_errors
from annulus.present.costs import cost_table
from annulus.section import lay_out
from annulus.studies import gaps
from annulus.studies.compare import differences
from annulus.studies.gaps import TIGHT_GAP, cost_of_gaps, imperfections

FLAWED = (
    ('gap = "0.5 mm"', 'gap = "0.2 mm"\ngap_at = { 2 = "1 mm", 4 = "1 mm", 3 = "2 mm" }'),
    after(
        'packing = "vibrated"',
        'settled_top = "7 mm"\nstrip_under_tubes = "0.3 mm"\nfilm_at_flue = "0.1 mm"\n'
        'voids = [{ r_min = "2 mm", r_max = "9 mm", z_min = "28 mm", z_max = "32 mm" },\n'
        '{ r_min = "17 mm", r_max = "20 mm", z_min = "50 mm", z_max = "60 mm" }]',
    ),
    after('clearance = "8 mm"', '[contacts]\ntube-filler = "computed"\nshroud-insulation = "1e-3 m2K/W"'),
)
KEYS = [
    "filler.settled_top",
    "filler.strip_under_tubes",
    "filler.film_at_flue",
    "filler.voids[0]",
    "filler.voids[1]",
    "contacts.tube-filler",
    "contacts.shroud-insulation",
    "coil.gap_at.3",
    "coil.gap_at.2, 4",
    "coil.gap",
]
TIGHT = (('gap = "0.5 mm"', 'gap = "0.05 mm"'),)


def mended(case, key):
    """The case without the imperfection that this key states."""
    return next(each.mend(case) for each in imperfections(case) if each.key == key)


def test_every_imperfection_that_a_case_states_is_found():
    assert [each.key for each in imperfections(edited(*FLAWED))] == KEYS


def test_names_say_what_and_how_much():
    names = {each.key: each.name for each in imperfections(edited(*FLAWED))}
    assert names["filler.settled_top"] == "settled top of 7 mm"
    assert names["coil.gap_at.3"] == "turn 3, 2 mm off the flue, not 0.2 mm"
    assert names["coil.gap_at.2, 4"] == "turns 2, 4, 1 mm off the flue, not 0.2 mm"
    assert names["coil.gap"] == "coil, 0.2 mm off the flue, not 0.05 mm"
    # 1 / 620 W/m2K: the wall layer of sand against copper at 100 degC, see test_wall_layer
    assert names["contacts.tube-filler"] == "contact tube-filler, 0.00161 m2K/W"


def test_a_tight_coil_in_full_sand_has_none():
    assert imperfections(edited(*TIGHT)) == []
    assert imperfections(edited(('gap = "0.5 mm"', 'gap = "0 mm"'))) == []


def test_a_coil_that_stands_off_evenly_is_held_against_a_tight_one():
    (only,) = imperfections(edited())
    assert only.key == "coil.gap"
    closed = only.mend(edited())
    assert closed.coil is not None and set(closed.coil.gap) == {TIGHT_GAP}


@pytest.mark.parametrize("key", KEYS)
def test_mending_one_leaves_the_others_as_they_are(key):
    case = edited(*FLAWED)
    changed = {name for name, _ in differences([case, mended(case, key)])}
    if key.startswith("coil"):
        # written as a list or as one gap and the turns that differ; the shroud stays although the turns move in
        assert "coil.gap" in changed
        assert changed <= {"coil.gap", "coil.gap_at.2", "coil.gap_at.3", "coil.gap_at.4", "shroud.clearance"}
    else:
        assert changed == {key.split("[")[0]}


def test_mending_all_leaves_none():
    case = edited(*FLAWED)
    for each in imperfections(case):
        case = each.mend(case)
    assert imperfections(case) == []
    assert not any(region.role == "void" for region in lay_out(case).regions)


@pytest.mark.parametrize("key", [key for key in KEYS if key.startswith("coil")])
def test_a_gap_that_closes_does_not_move_the_shroud(key):
    case = edited(*FLAWED)
    before, later = lay_out(case), lay_out(mended(case, key))
    assert later.cavity_radius == pytest.approx(before.cavity_radius, rel=1e-12)
    assert later.turns[2].r <= before.turns[2].r


def test_a_turn_that_is_tighter_than_the_others_is_no_imperfection():
    case = edited(('gap = "0.5 mm"', 'gap = "0.5 mm"\ngap_at = { 2 = "0 mm" }'))
    assert [each.key for each in imperfections(case)] == ["coil.gap_at.1, 3-4"]


def test_without_a_coil_there_is_no_cost_to_tell():
    with pytest.raises(InputError, match="no \\[coil\\]"):
        imperfections(edited(*NO_COIL))


def test_costs_are_the_gain_of_each_mended_case_with_both_errors(monkeypatch):
    """Made-up heats: the n-th solve gives 100 + n W with an error of 0.4 W, the case itself 100 W with 0.3 W."""
    number = itertools.count(1)
    told: list[str] = []

    def solve(case, within, tell):
        assert within == 0.01
        tell("cutting")
        return None, {"heat_to_water_W": 100.0 + next(number), "heat_to_water_error_W": 0.4}

    monkeypatch.setattr(gaps, "solve_with_errors", solve)
    outcome = {"heat_to_water_W": 100.0, "heat_to_water_error_W": 0.3}
    costs = cost_of_gaps(edited(*FLAWED), outcome, 0.01, told.append)
    assert [row["key"] for row in costs["imperfections"]] == KEYS[::-1]  # the dearest first
    assert [row["cost_W"] for row in costs["imperfections"]] == [float(n) for n in range(len(KEYS), 0, -1)]
    assert {row["cost_error_W"] for row in costs["imperfections"]} == {math.hypot(0.3, 0.4)}
    assert costs["together_W"] == len(KEYS) + 1
    assert told[0] == "without settled top of 7 mm (1 of 11): cutting"
    assert told[-1] == "without all of them (11 of 11): cutting"


def test_a_cost_is_the_difference_of_two_heaters():
    void = after('packing = "vibrated"', 'settled_top = "30 mm"')
    outcome = solve_with_errors(edited(*TIGHT, void))[1]
    whole = solve_with_errors(edited(*TIGHT))[1]
    costs = cost_of_gaps(edited(*TIGHT, void), outcome)
    (row,) = costs["imperfections"]
    assert row["cost_W"] == pytest.approx(whole["heat_to_water_W"] - outcome["heat_to_water_W"], rel=1e-9)
    assert row["cost_W"] > 3 * row["cost_error_W"] > 0
    assert costs["together_W"] == row["cost_W"]


def test_table_holds_every_cost_and_all_together():
    rows = [{"key": "a", "name": "settled top of 30 mm", "cost_W": 12.34, "cost_error_W": 0.51}]
    costs = {"imperfections": rows, "together_W": -0.04, "together_error_W": 0.5}
    lines = cost_table(costs, {"heat_to_water_W": 200.0}).splitlines()
    assert lines[1].split() == ["settled", "top", "of", "30", "mm", "12.3", "±", "0.6", "W", "6.2", "%"]
    assert lines[2].split() == ["all", "together", "0.0", "±", "0.5", "W", "0.0", "%"]
    assert all(len(line) <= 100 for line in lines)


def test_table_says_when_there_is_nothing_to_mend():
    assert "states no void" in cost_table({"imperfections": []}, {"heat_to_water_W": 200.0})


def test_command_tells_costs_and_writes_them(tmp_path, capsys):
    file = tmp_path / "case.toml"
    file.write_text(edited_text(*TIGHT, after('packing = "vibrated"', 'settled_top = "30 mm"')), encoding="utf-8")
    assert main(["steady", str(file), "--cost-of-gaps", "--out", str(tmp_path / "out")]) == 0
    printed = capsys.readouterr().out
    assert "What the gaps cost" in printed and "settled top of 30 mm" in printed
    written = json.loads((tmp_path / "out" / "result.json").read_text(encoding="utf-8"))
    (row,) = written["cost_of_gaps"]["imperfections"]
    assert row["key"] == "filler.settled_top" and f"{row['cost_W']:.1f} ±" in printed


def test_command_refuses_a_flue_without_a_coil_before_it_computes(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("annulus.heater.solve_with_errors", lambda *_: pytest.fail("computed"))
    file = tmp_path / "case.toml"
    text = edited_text(*NO_COIL)
    loads(text)
    file.write_text(text, encoding="utf-8")
    assert main(["steady", str(file), "--cost-of-gaps"]) == 2
    assert "no [coil]" in capsys.readouterr().err
