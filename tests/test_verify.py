"""The command `annulus verify`: its table, its verdicts and what it refuses."""

import json
import math
from dataclasses import replace

import pytest

from annulus import verification
from annulus.cli import main
from annulus.errors import ConvergenceError, InputError
from annulus.present.verification import closing, verification_dictionary, verification_table
from annulus.verification import FAMILIES, Case, Result, Row, cases, choose, run_all
from annulus.verification.order import Reading, Study, circle_rows, observed_order, refine, smooth_rows
from annulus.verification.rows import Also, quoted, relative, worst

HEAT = relative("heat", "W", 100.0, 100.05, 1e-3)


def case(*rows: Row, name: str = "V24", run=None) -> Case:
    return Case(name, "A problem", "a thing", "a book", run or (lambda: list(rows)))


def table(*rows: Row) -> str:
    return verification_table(FAMILIES, run_all([case(*rows)], lambda words: None))


def line_of(text: str, quantity: str) -> list[str]:
    (line,) = [line for line in text.splitlines() if line.strip().startswith(quantity)]
    return line.split()


# --- rows


def test_a_share_is_judged_by_its_scale_and_a_plain_error_by_its_unit():
    assert replace(HEAT, computed=100.099).holds and not replace(HEAT, computed=100.101).holds
    kelvin = Row("T", "degC", 100.0, 100.05, 0.1)
    assert kelvin.holds and not replace(kelvin, computed=99.89).holds


def test_faults_name_each_respect_in_which_a_row_falls_short():
    row = replace(HEAT, computed=90.0, order=1.0, order_wanted=1.8, also=(Also("coarse cells", 80.0, 0.1),))
    assert row.faults == ["error", "error on coarse cells", "order"]


def test_the_worst_of_some_numbers_is_one_that_is_none():
    assert worst([1.0, 3.0, 2.0]) == 3.0
    assert math.isnan(worst([1.0, math.nan, 2.0]))
    assert not quoted([(1.0, math.nan, 1.0), (1.0, 1.0, 1.0)]).holds


def test_quoted_digits_are_judged_in_units_of_their_rounding():
    assert quoted([(1.23, 1.2345, 0.005)]).holds
    row = quoted([(1.23, 1.236, 0.005), (2.0, 2.0, 0.1)])
    assert not row.holds and row.computed == pytest.approx(1.2)


# --- orders


def power(size: float, order: float = 2.0) -> dict[str, Reading]:
    return {"T": Reading("K", 10.0, 10.0 + size**order, 100.0)}


def test_order_of_a_power_law_is_its_exponent():
    sizes = [0.4, 0.2, 0.1]
    assert refine(power, sizes).order("T") == pytest.approx(2.0)
    assert observed_order(sizes, [-(s**1.5) for s in sizes]) == pytest.approx(1.5)


def test_an_error_of_nothing_has_no_order():
    assert math.isnan(observed_order([2.0, 1.0], [1e-3, 0.0]))
    assert math.isnan(observed_order([2.0, 1.0], [1e-3, math.nan]))


def test_first_order_falls_short_of_both_classes():
    study = refine(lambda size: power(size, 1.0), [0.2, 0.1, 0.05, 0.02])
    assert [row.faults for row in smooth_rows(study, error=1.0)] == [["order"]]
    assert [row.faults for row in circle_rows(study, radius=1.25)] == [["order"]]


def test_too_few_grids_have_no_order():
    study = Study((2.0, 1.0), {"T": (Reading("K", 0.0, 2.0, 1.0), Reading("K", 0.0, 1.0, 1.0))})
    with pytest.raises(InputError, match="2 grids"):
        smooth_rows(study)
    with pytest.raises(InputError, match="needs four"):
        circle_rows(study, 1.0)


# --- the table


def test_a_line_shows_expected_computed_error_tolerance_order_and_verdict():
    row = replace(HEAT, order=1.957, order_wanted=1.8)
    assert line_of(table(row), "heat") == ["heat", "W", "100", "100.05", "0.05", "%", "0.1", "%", "1.96/1.8", "holds"]


def test_a_line_that_falls_short_says_in_what_and_is_named_again_at_the_end():
    text = table(
        HEAT, replace(HEAT, quantity="loss", computed=math.nan), replace(HEAT, quantity="gain", order_wanted=2)
    )
    assert "FALLS SHORT: error" in " ".join(line_of(text, "loss"))
    assert "none" in line_of(text, "loss")
    assert text.splitlines()[-4:-2] == ["1 of 3 hold (1 case, 0 s)", "Falls short:"]
    assert text.splitlines()[-2:] == ["  V24  loss: error", "  V24  gain: order"]


def test_heading_source_and_what_it_tests_stand_above_the_rows():
    text = table(HEAT)
    assert "V24  A problem\n     tests: a thing\n     source: a book\n  heat" in text
    assert text.startswith("STREAMS OF GAS AND WATER")


def test_numbers_are_shown_to_the_digits_that_the_tolerance_needs():
    assert line_of(table(replace(HEAT, expected=3.9164267, computed=3.9164, scale=3.92)), "heat")[2:4] == [
        "3.9164",
        "3.9164",
    ]
    assert line_of(table(Row("T", "degC", 506.4607, 506.46071, 6e-5)), "T")[2:4] == ["506.4607", "506.460710"]
    assert line_of(table(Row("q", "", 0.0, -0.0, 0.0)), "q")[1:3] == ["0", "0"]


def test_a_case_that_cannot_be_computed_falls_short_and_the_others_are_run():
    def fail():
        raise ConvergenceError("steady field: does not settle")

    results = run_all([case(name="V24", run=fail), case(HEAT, name="V25")], lambda words: None)
    assert [result.holds for result in results] == [False, True]
    assert closing(results).splitlines()[:3] == [
        "1 of 2 hold (2 cases, 0 s)",
        "Falls short:",
        "  V24  steady field: does not settle",
    ]
    assert "COULD NOT BE COMPUTED: steady field" in verification_table(FAMILIES, results)


def test_json_has_no_number_that_is_none():
    row = replace(HEAT, computed=math.nan, order=math.nan, order_wanted=1.8, also=(Also("coarse", math.inf, 1.0),))
    (found,) = verification_dictionary([Result(case(row), (row,), 0.1)])["cases"]
    json.dumps(found, allow_nan=False)
    assert found["rows"][0]["error"] is None and found["rows"][0]["also"][0]["computed"] is None
    assert found["rows"][0]["verdict"].startswith("FALLS SHORT: error, error on coarse, order")


# --- choosing


def test_cases_are_chosen_by_name_in_the_order_of_the_table():
    assert [one.id for one in choose(["v24", " V1 ", "V24", ""])] == ["V1", "V24"]


def test_names_that_are_no_case_are_refused_together():
    with pytest.raises(InputError, match=r"'V99' is no case; 'V141' is no case; did you mean V14\?; there are V1, V2"):
        choose(["V99", "V1", "V141"])
    with pytest.raises(InputError, match="no case is named"):
        choose([""])


def test_every_case_has_a_name_of_its_own_and_a_source():
    assert len({one.id for one in cases()}) == len(cases())
    assert all(one.title and one.tests and one.source for one in cases())


# --- the command


def test_command_prints_the_table_and_ends_with_status_0(capsys):
    assert main(["verify", "--only", "V24,v27"]) == 0
    out = capsys.readouterr().out
    assert out.splitlines()[-1].startswith("10 of 10 hold (2 cases")
    assert "COMPONENT LAWS" in out and "COIL SECTION" not in out


def test_command_ends_with_status_1_if_a_case_falls_short(capsys, monkeypatch):
    bad = case(replace(HEAT, computed=90.0))
    monkeypatch.setattr(verification, "choose", lambda names: [bad])
    assert main(["verify", "--only", "V24"]) == 1
    assert "FALLS SHORT: error" in capsys.readouterr().out
    assert main(["verify", "--only", "V24", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["holds"] is False


def test_command_prints_json_for_other_programs(capsys):
    assert main(["verify", "--only", "V24", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    (streams,) = found["cases"]
    assert found["holds"] and streams["id"] == "V24" and len(streams["rows"]) == 2
    assert streams["rows"][0]["expected"] == 135.7348


def test_command_refuses_an_unknown_case(capsys):
    assert main(["verify", "--only", "V99"]) == 2
    assert "'V99' is no case" in capsys.readouterr().err


def test_command_stops_by_hand_without_a_table(capsys, monkeypatch):
    def stop():
        raise KeyboardInterrupt

    monkeypatch.setattr(verification, "choose", lambda names: [case(run=stop)])
    assert main(["verify", "--only", "V24"]) == 130
    out, err = capsys.readouterr()
    assert out == "" and "stopped by hand" in err
