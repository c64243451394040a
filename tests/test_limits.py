"""Limits with error bars, and designs that nothing beats."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from annulus.errors import InputError
from annulus.studies.limits import BROKEN, KEPT, TOO_CLOSE, check_names, judge, numeric, read_limit
from annulus.studies.unbeaten import unbeaten

RESULTS = {"wall_min_C": 61.0, "wall_min_error_C": 0.5, "filler_max_C": None, "room_C": 18.0, "note": "words"}


@pytest.mark.parametrize(
    ("words", "verdict"),
    [
        ("wall_min_C > 60", KEPT),
        ("wall_min_C > 60.5", KEPT),
        ("wall_min_C > 60.7", TOO_CLOSE),
        ("wall_min_C>61.3", TOO_CLOSE),
        ("wall_min_C > 61.6", BROKEN),
        ("wall_min_C < 61.6", KEPT),
        ("wall_min_C <= 61.2", TOO_CLOSE),
        ("wall_min_C < 60", BROKEN),
        ("room_C >= 18", KEPT),
        ("room_C > 18", BROKEN),
        ("room_C <= 18", KEPT),
        ("filler_max_C < 100", KEPT),
    ],
)
def test_a_limit_counts_the_whole_error_bar(words, verdict):
    assert read_limit(words).verdict(RESULTS) == verdict


def test_the_worst_of_several_verdicts_counts():
    kept, close, broken = (read_limit(f"wall_min_C > {value}") for value in (50, 61, 70))
    assert judge([], RESULTS) == judge([kept], RESULTS) == KEPT
    assert judge([kept, close], RESULTS) == TOO_CLOSE
    assert judge([kept, close, broken], RESULTS) == BROKEN


@pytest.mark.parametrize("words", ["wall_min_C", "> 60", "wall_min_C = 60", "wall_min_C > sixty", "wall_min_C > inf"])
def test_words_that_are_no_limit_are_refused(words):
    with pytest.raises(InputError, match="--keep"):
        read_limit(words)


def test_a_name_that_no_result_has_is_refused_with_the_nearest():
    numbers = numeric(RESULTS)
    with pytest.raises(InputError) as fault:
        check_names({"--show": "romm_C"}, [read_limit("wall_mim_C > 60")], numbers)
    assert str(fault.value).splitlines() == [
        "--show romm_C: no number among the results is called 'romm_C'; did you mean 'room_C'?",
        "--keep 'wall_mim_C > 60': no number among the results is called 'wall_mim_C'; did you mean 'wall_min_C'? "
        "There are wall_min_C, filler_max_C, room_C; and errors, such as wall_min_error_C",
    ]
    for words in ("Wall_Min_c > 60", "wall > 60"):
        with pytest.raises(InputError, match="did you mean 'wall_min_C'"):
            check_names({}, [read_limit(words)], numbers)
    with pytest.raises(InputError, match=r"plan: keep 'note > 1': no number"):
        check_names({}, [read_limit("note > 1", "plan: keep")], numbers)
    check_names({"--show": "room_C"}, [read_limit("filler_max_C < 100")], numbers)


def test_a_part_that_is_missing_keeps_every_limit():
    """Water warmer than the gas takes no heat: such a row has no shares of resistance at all."""
    assert read_limit("share_gas_film < 0.9").verdict(RESULTS) == KEPT


# --- unbeaten, against the definition written out in plain loops


def test_more_for_less_beats():
    heat_and_tube = [[100, 5], [120, 5], [120, 7], [150, 9], [90, 4]]
    assert unbeaten(heat_and_tube, np.zeros((5, 2)), (True, False)).tolist() == [False, True, False, True, True]


def test_designs_within_their_errors_do_not_beat_each_other():
    assert unbeaten([[100, 5], [101, 5]], [[1, 0], [1, 0]], (True, False)).tolist() == [True, True]
    assert unbeaten([[100, 5], [103, 5]], [[1, 0], [1, 0]], (True, False)).tolist() == [False, True]


def test_no_design_is_no_answer():
    assert unbeaten(np.empty((0, 2)), np.empty((0, 2)), (True, False)).tolist() == []


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(0, 2)), max_size=12))
def test_unbeaten_is_its_definition(drawn):
    values, errors = [row[:2] for row in drawn], [(row[2], 0) for row in drawn]

    def beats(a, b):
        """Heat is better when more, cost when less."""
        (heat_a, cost_a), (heat_b, cost_b) = values[a], values[b]
        sure = heat_a - heat_b > np.hypot(errors[a][0], errors[b][0]) or cost_a < cost_b
        return heat_a >= heat_b and cost_a <= cost_b and sure

    expected = [not any(beats(a, b) for a in range(len(drawn))) for b in range(len(drawn))]
    found = unbeaten(np.reshape(values, (-1, 2)), np.reshape(errors, (-1, 2)), (True, False))
    assert found.tolist() == expected
