"""What differs between cases, and names to tell them apart."""

from pathlib import Path

from heaters import CASES, NO_COIL, after, edited
from hypothesis import given
from hypothesis import strategies as st

from annulus.case import load
from annulus.studies.compare import differences, short_names

BATH_HOUSE = [f"bath-house-{name}" for name in ("bare", "insulated", "sand", "graphite")]


def test_equal_cases_do_not_differ():
    assert differences([edited(), edited()]) == []


def test_one_case_does_not_differ_from_itself():
    assert differences([edited()]) == []


def test_one_edited_line_is_the_one_difference():
    found = differences([edited(), edited(('"9.8 g/s"', '"15 g/s"'))])
    assert found == [("fire.gas_flow", ["9.8 g/s", "15 g/s"])]


def test_units_alone_are_no_difference():
    assert differences([edited(), edited(('wall = "2 mm"', 'wall = "0.002 m"'))]) == []


def test_names_alone_are_no_difference():
    assert differences([edited(), edited(('title = "Small"', 'title = "Other"'), ("invented = true", ""))]) == []


def test_a_default_and_the_same_value_stated_are_no_difference():
    assert differences([edited(), edited(after('pitch = "30 mm"', 'tails = "2 m"'))]) == []


def test_a_table_that_one_case_lacks_shows_as_dashes():
    found = dict(differences([edited(), edited(*NO_COIL)]))
    assert found["coil.turns"] == ["4", "-"]
    assert found["flue.height"][0] == "-"


def test_bath_house_variants_differ_in_what_surrounds_the_coil_only():
    found = differences([load(CASES / name) for name in BATH_HOUSE])
    assert {key.split(".")[0] for key, _ in found} == {"filler", "shroud", "insulation", "jacket"}
    assert dict(found)["filler.material"] == ["still air", "still air", "quartz sand", "graphite powder"]


def test_every_difference_has_a_value_per_case():
    assert all(len(values) == 4 for _, values in differences([load(CASES / name) for name in BATH_HOUSE]))


def test_a_case_file_goes_by_its_own_name_or_its_folders():
    assert short_names([Path("a/case.toml"), Path("b/mine.toml"), Path("cases/bath-house-sand")]) == [
        "a",
        "mine",
        "bath-house-sand",
    ]


def test_a_dot_in_a_folders_name_stays():
    assert short_names([Path("cases/verify-coil-section-k0.3")]) == ["verify-coil-section-k0.3"]


def test_the_folder_that_one_stands_in_has_a_name():
    assert short_names([Path(".")]) == [Path.cwd().name]


def test_equal_names_are_numbered():
    assert short_names([Path("x/a.toml"), Path("b.toml"), Path("y/a.toml")]) == ["a-1", "b", "a-2"]


@given(st.lists(st.sampled_from(["a", "a-1", "a-2", "a-1-1", "b", "x/a", "y/a"]), min_size=1, max_size=6))
def test_names_are_as_many_as_cases_and_differ(stems):
    names = short_names([Path(f"{stem}.toml") for stem in stems])
    assert len(set(names)) == len(stems)
