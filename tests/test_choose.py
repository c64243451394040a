"""The best design: known optima of plain formulas, what holds them back, and one real heater."""

from __future__ import annotations

import json
import tomllib
from concurrent.futures import ThreadPoolExecutor

import pytest
from commands import TINY, contents

from annulus.case import Case, load
from annulus.errors import ConvergenceError, InputError
from annulus.present.choice import choice_table, draw_choice
from annulus.studies.choose import Choice, choose
from annulus.studies.limits import read_limit
from annulus.studies.searching import Wish
from annulus.studies.vary import Span, Variation, read_span

TREE = tomllib.loads(TINY)
PITCH, CLEARANCE = "coil.pitch = 16 mm .. 40 mm", "shroud.clearance = 2 mm .. 20 mm"


MOST = Wish("heat_W", True)


def hill(case: Case) -> dict[str, float]:
    """Heat is most, 100 W, at a pitch of 27 mm and a clearance of 9 mm; half again as much in graphite."""
    away = ((case.coil.pitch - 0.027) / 0.01) ** 2 + ((case.shroud.clearance - 0.009) / 0.01) ** 2
    heat = (150.0 if case.filler.material == "graphite powder" else 100.0) - 20 * away
    return {"heat_W": heat, "heat_error_W": 0.05, "wall_C": 1e3 * case.coil.pitch + 40, "wall_error_C": 0.2}


def steps(case: Case) -> dict[str, float]:
    """Heat is most, 100 W, at five turns and a pitch of 24 mm."""
    return {"heat_W": 100.0 - (case.coil.turns - 5) ** 2 - 1e5 * (case.coil.pitch - 0.024) ** 2, "heat_error_W": 0.01}


def found(*vary: str, keep: tuple[str, ...] = (), wish: Wish = MOST, model=hill) -> Choice:
    """The best by a plain formula."""
    read = [read_span(words) for words in vary]
    spans = [one for one in read if isinstance(one, Span)]
    lists = [one for one in read if isinstance(one, Variation)]
    limits = [read_limit(words) for words in keep]
    with ThreadPoolExecutor(1) as executor:
        return choose(TREE, spans, lists, wish, limits, executor, models=(model, model))


def test_a_top_inside_the_ranges_is_found_and_nothing_holds_it_back():
    choice = found(PITCH, CLEARANCE)
    assert choice.case.coil.pitch == pytest.approx(0.027, abs=3e-4)
    assert choice.case.shroud.clearance == pytest.approx(0.009, abs=3e-4)
    assert choice.results["heat_W"] == pytest.approx(100.0, abs=0.05) and choice.binding == ()


def test_the_flat_top_is_where_the_formula_is_within_a_hundredth():
    """100 - 20 ((p - 27) / 10)^2 > 99 for |p - 27| < 2.24 mm; the values tried step by 2, 5, 10 % of 24 mm."""
    low, high = found(PITCH, CLEARANCE).flat[0]
    assert 27 - 2.24 <= low <= 27 - 1.1 and 27 + 1.1 <= high <= 27 + 2.24


def test_a_limit_that_cuts_the_top_off_binds_and_is_kept_with_its_error_bar():
    """wall = pitch + 40 must stay 0.2 above 72: the pitch that is best is 32.2 mm."""
    choice = found(PITCH, CLEARANCE, keep=("wall_C > 72",))
    assert choice.binding == ("wall_C > 72",)
    assert 32.2 <= 1e3 * choice.case.coil.pitch <= 32.35


def test_a_limit_far_away_does_not_bind():
    assert found(PITCH, CLEARANCE, keep=("wall_C > 50",)).binding == ()


def test_a_top_at_the_end_of_a_range_says_so():
    choice = found("coil.pitch = 30 mm .. 40 mm")
    assert choice.case.coil.pitch == pytest.approx(0.030, abs=5e-5)
    assert choice.binding == ("coil.pitch at the lower end of its range",)


def test_least_is_the_other_way_round():
    choice = found("coil.pitch = 16 mm .. 40 mm", wish=Wish("heat_W", False))
    assert choice.case.coil.pitch == pytest.approx(0.040, abs=1e-4)


def test_turns_stay_whole():
    choice = found("coil.turns = 2 .. 9", "coil.pitch = 16 mm .. 40 mm", model=steps)
    assert choice.case.coil.turns == 5 and choice.case.coil.pitch == pytest.approx(0.024, abs=2e-4)


def test_every_material_of_a_list_is_searched():
    choice = found(PITCH, "filler.material = quartz sand, graphite powder")
    assert choice.case.filler.material == "graphite powder" and choice.settings[1].name == "graphite powder"


def test_the_same_question_has_the_same_answer():
    one, other = (found(PITCH, CLEARANCE) for _ in range(2))
    assert one.results == other.results and one.case == other.case


def test_a_part_of_a_range_that_does_not_fit_is_passed_over():
    """Turns closer than the tube is wide would overlap."""
    choice = found("coil.pitch = 10 mm .. 20 mm")
    assert choice.case.coil.pitch == pytest.approx(0.020, abs=1e-4)


def test_limits_that_nothing_keeps_are_told_with_the_nearest_design():
    with pytest.raises(ConvergenceError, match=r"40 mm(.|\n)*wall_C > 90, and there it is 80"):
        found(PITCH, keep=("wall_C > 90",))


def test_ranges_in_which_nothing_fits_are_told():
    with pytest.raises(InputError, match=r"no design within the ranges has a result(.|\n)*overlap"):
        found("coil.pitch = 10 mm .. 12 mm")


def test_a_wish_that_no_result_has_is_refused_with_the_nearest():
    with pytest.raises(InputError, match=r"--most heat_w: .*'heat_W'"):
        found(PITCH, wish=Wish("heat_w", True))


def test_a_key_that_is_varied_twice_is_refused():
    with pytest.raises(InputError, match=r"coil\.pitch: is varied twice"):
        found(PITCH, "coil.pitch = 20 mm .. 30 mm")


def test_lists_alone_are_no_search():
    with pytest.raises(InputError, match="no range"):
        found("filler.material = quartz sand, graphite powder")


def test_text_and_picture_say_what_was_found():
    choice = found(PITCH, CLEARANCE, keep=("wall_C > 72",))
    text = choice_table(choice, [], MOST, [read_limit("wall_C > 72")])
    assert "What holds it back: wall_C > 72" in text and "within 1 % of the best" in text
    figure = draw_choice(choice, MOST, [read_limit("wall_C > 72")])
    assert sum(axes.axison for axes in figure.axes) == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--most", "heat_to_watr_W"), "--most heat_to_watr_W: no number among the results is called"),
        (("--most", "heat_to_water_W", "--keep", "wal_min_C > 6"), "did you mean 'wall_min_C'? There are heat_to"),
        (("--least", "heat_to_water_error_W"), "did you mean 'heat_to_water_W'?"),  # the first search has no errors
    ],
)
def test_names_that_no_result_has_are_refused_before_any_search(run, case_file, monkeypatch, words, said):
    monkeypatch.delattr("annulus.studies.choose.Search")
    status, out, err = run("choose", case_file, "--vary", PITCH, *words)
    assert (status, out) == (2, "") and said in err


def test_a_part_that_only_what_is_varied_brings_has_its_results(run, case_file):
    """The case has no chimney; its draught grows with the height, so the lower end is the least."""
    words = ("--vary", "chimney.height = 3 m .. 4 m", "--least", "draught_Pa", "--jobs", "1")
    status, out, err = run("choose", case_file, *words)
    assert (status, err) == (0, "") and "chimney.height at the lower end" in out


def test_the_command_finds_the_edge_of_a_warm_wall(run, case_file, tmp_path):
    """Two turns in sand: the wider the warmer the wall, and the closer the more heat; so the limit binds."""
    words = ("--vary", "coil.gap = 0.3 mm .. 3 mm", "--keep", "wall_min_C > 40", "--jobs", "1")
    status, out, err = run("choose", case_file, "--most", "heat_to_water_W", *words, "--out", tmp_path / "out")
    assert (status, err) == (0, "") and "What holds it back: wall_min_C > 40" in out
    assert contents(tmp_path / "out") == ["case.toml", "choice.json", "neighbourhood.png"]
    choice = json.loads((tmp_path / "out" / "choice.json").read_text(encoding="utf-8"))
    wall, error = choice["results"]["wall_min_C"], choice["results"]["wall_min_error_C"]
    assert 40 < wall - error < 41
    gap = load(tmp_path / "out").coil.gap[0]
    assert choice["settings"]["coil.gap"] == f"{1e3 * gap:.4g} mm"
