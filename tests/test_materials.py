"""Laws, finding a material, slips in a row, and materials defined in place."""

import pickle
import subprocess
import sys
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from annulus.errors import MaterialError
from annulus.materials import (
    FAMILIES,
    Law,
    Material,
    custom,
    find,
    names,
)
from annulus.materials.rows import material_from_row, read_data

ZERO = 273.15


# ------------------------------------------------------------------ laws


def test_constant_law_is_the_same_everywhere():
    law = Law.constant(0.3)
    assert law(300.0) == 0.3
    assert law(np.full((2, 3), 500.0)) == pytest.approx(np.full((2, 3), 0.3))


def test_table_law_is_linear_between_its_points():
    law = Law.table([300.0, 400.0], [1.0, 3.0])
    assert law(325.0) == pytest.approx(1.5)


def test_polynomial_law_is_taken_from_its_origin():
    """2 + 3 (T - 10) + 0.5 (T - 10)^2 at T = 14: 2 + 12 + 8."""
    assert Law.polynomial([2.0, 3.0, 0.5], 10.0, 20.0, origin=10.0)(14.0) == pytest.approx(22.0)


@pytest.mark.parametrize(
    "law",
    [
        Law.constant(2.0, 300.0, 400.0),
        Law.table([300.0, 400.0], [1.0, 3.0]),
        Law.polynomial([1.0, 0.01], 300.0, 400.0),
    ],
    ids=lambda law: law.kind,
)
def test_law_holds_its_end_values_outside_its_range_and_says_so(law):
    assert law(100.0) == law(300.0)
    assert law(900.0) == law(400.0)
    assert law.in_range(300.0) and law.in_range(400.0)
    assert not law.in_range(299.9) and not law.in_range(400.1)
    assert law.in_range(np.array([200.0, 350.0])).tolist() == [False, True]


def test_table_may_be_valid_beyond_its_points():
    law = Law.table([323.15, 373.15], [0.038, 0.045], T_min=273.15, T_max=400.0)
    assert law(280.0) == 0.038
    assert law.in_range(280.0)


@pytest.mark.parametrize("law", [Law.constant(2.0), find("black steel").conductivity, find("copper").conductivity])
def test_number_gives_a_number_and_array_an_array_of_the_same_shape(law):
    assert isinstance(law(350.0), float)
    assert law(np.full((4, 5), 350.0)).shape == (4, 5)
    assert law(np.full((4, 5), 350.0))[2, 3] == law(350.0)


def test_unknown_temperature_gives_an_unknown_property():
    for law in (Law.constant(2.0), find("quartz sand").conductivity, find("stainless 304").conductivity):
        assert np.isnan(law(np.array([np.nan]))[0])


@pytest.mark.parametrize(
    "make, told",
    [
        (lambda: Law.constant(-0.3), "positive"),
        (lambda: Law.constant(float("nan")), "finite"),
        (lambda: Law.constant(1.0, 400.0, 300.0), "must rise"),
        (lambda: Law.table([], []), "no points"),
        (lambda: Law.table([300.0, 400.0], [1.0]), "2 temperatures for 1 values"),
        (lambda: Law.table([300.0, 300.0], [1.0, 2.0]), "must rise"),
        (lambda: Law.table([400.0, 300.0], [1.0, 2.0]), "must rise"),
        (lambda: Law.table([300.0, 400.0], [1.0, 0.0]), "positive"),
        (lambda: Law.polynomial([54.0, -0.0333], 273.15, 2000.0), "positive"),
        (lambda: Law.polynomial([1.0], 0.0, float("inf")), "finite range"),
    ],
)
def test_impossible_law_is_refused(make, told):
    with pytest.raises(MaterialError, match=told):
        make()


def test_laws_compare_hash_and_pickle_by_their_numbers():
    one, other = (Law.table([300.0, 400.0], [1.0, 3.0]) for _ in range(2))
    assert one == other and hash(one) == hash(other)
    assert one != Law.table([300.0, 400.0], [1.0, 3.1])
    assert pickle.loads(pickle.dumps(one))(325.0) == 1.5


def test_material_is_frozen():
    with pytest.raises(FrozenInstanceError):
        find("copper").density = 1.0


# ------------------------------------------------------------------ finding


def test_names_are_unique_and_every_family_is_represented():
    assert len(set(names())) == len(names())
    assert sum(len(names(family)) for family in FAMILIES) == len(names())
    assert all(names(family) for family in FAMILIES)


def test_unknown_family_is_refused():
    with pytest.raises(MaterialError, match="metal, filler"):
        names("metals")


@pytest.mark.parametrize(
    "text, name",
    [
        ("Black Steel", "black steel"),
        ("galvanized steel", "galvanised steel"),
        ("aluminum sheet", "aluminium sheet"),
        ("rock wool", "mineral wool"),
        ("  quartz   sand ", "quartz sand"),
        ("air", "still air"),
    ],
)
def test_case_blanks_spelling_and_trade_synonyms_do_not_matter(text, name):
    assert find(text).name == name


@pytest.mark.parametrize(
    "text, near", [("quarz sand", "quartz sand"), ("coper", "copper"), ("wool", "mineral wool"), ("zzz", "copper")]
)
def test_unknown_name_is_answered_with_known_ones(text, near):
    with pytest.raises(MaterialError, match=f"not in the library.*'{near}'"):
        find(text)


def test_a_name_near_to_none_is_told_what_there_is():
    with pytest.raises(MaterialError, match=r"not in the library; it has: 'black steel', .*'quartz sand'"):
        find("cat litter")


def test_packing_defaults_to_the_first_listed():
    assert find("quartz sand").packing == "loose"
    assert find("quartz sand") is find("quartz sand", "loose")
    assert find("quartz sand", "vibrated").label == "quartz sand, vibrated"


def test_wrong_packing_is_answered_with_the_choices():
    with pytest.raises(MaterialError, match="'loose', 'tapped', 'pressed'"):
        find("graphite powder", "vibrated")


def test_packing_of_what_has_none_is_refused():
    with pytest.raises(MaterialError, match="leave packing out"):
        find("mineral wool", "loose")


@pytest.mark.parametrize(
    "change, told",
    [
        ({"emisivity": 0.3}, "did you mean 'emissivity'"),
        ({"conductivity": {"value": 0.3}}, "valid_degC"),
        ({"conductivity": {"value": 0.3, "at_degC": [0], "valid_degC": [0, 9]}}, "give one of"),
        ({"bed": {}}, "either 'conductivity' or 'bed'"),
        ({"family": "metals"}, "family 'metals'"),
        ({"mark": "?"}, "mark"),
        ({"density": -1.0}, "density"),
    ],
)
def test_slip_in_a_row_is_an_error(change, told):
    (row,) = (row for row in read_data()["material"] if row["name"] == "pure copper")
    material_from_row(row)
    with pytest.raises(MaterialError, match=told):
        material_from_row({**row, **change})


def test_row_without_a_key_is_an_error():
    (row,) = (row for row in read_data()["material"] if row["name"] == "pure copper")
    with pytest.raises(MaterialError, match="'source' is missing"):
        material_from_row({key: value for key, value in row.items() if key != "source"})


# ------------------------------------------------------------------ defined in place


def test_material_defined_in_place_carries_what_was_given():
    brick = custom("my soapstone", [(300.0, 3.2), (500.0, 2.8)], 2900.0, 980.0, 0.9, "filler", 1000.0)
    assert brick.conductivity(400.0) == pytest.approx(3.0)
    assert brick.heat_capacity(900.0) == 980.0
    assert (brick.density, brick.emissivity, brick.service_limit) == (2900.0, 0.9, 1000.0)
    assert brick.mark == "user" and brick.warnings == ()
    assert brick.conductivity.in_range(300.0) and not brick.conductivity.in_range(501.0)


GOOD = {
    "name": "x",
    "conductivity": 0.3,
    "density": 1500.0,
    "heat_capacity": 800.0,
    "emissivity": 0.9,
    "family": "filler",
}


@pytest.mark.parametrize(
    "change, told",
    [
        ({"conductivity": 0.0}, "conductivity"),
        ({"conductivity": []}, "empty"),
        ({"conductivity": [(400.0, 1.0), (300.0, 1.0)]}, "must rise"),
        ({"density": float("nan")}, "density"),
        ({"heat_capacity": -1.0}, "heat_capacity"),
        ({"emissivity": 90.0}, "per cent"),
        ({"emissivity": 0.0}, "emissivity"),
        ({"family": "fluid"}, "family 'fluid'"),
        ({"service_limit": 200.0}, "was degC meant"),
        ({"name": " "}, "name"),
    ],
)
def test_impossible_material_defined_in_place_is_refused(change, told):
    assert isinstance(custom(**GOOD), Material)
    with pytest.raises(MaterialError, match=told):
        custom(**{**GOOD, **change})


def test_all_faults_of_a_material_defined_in_place_are_told_at_once():
    with pytest.raises(MaterialError) as caught:
        custom("x", -1.0, -1.0, -1.0, 2.0, "fluid")
    for word in ("conductivity", "density", "heat_capacity", "emissivity", "family"):
        assert word in str(caught.value)


@given(st.floats(1e-3, 1e3), st.floats(200.0, 2000.0))
def test_material_with_one_conductivity_has_it_at_every_temperature(k, T):
    material = custom("x", k, 1500.0, 800.0, 0.9, "filler")
    assert material.conductivity(T) == k
    assert material.conductivity.in_range(T)


def test_copy_with_another_emissivity_leaves_the_library_alone():
    bright = replace(find("copper"), emissivity=0.05)
    assert bright.emissivity == 0.05 and find("copper").emissivity == 0.35


def test_materials_load_no_heavy_library():
    """The command's help must answer at once; only numpy is allowed here."""
    code = (
        "import sys, annulus.materials as m; m.find('quartz sand'); m.tubes(); "
        "print([h for h in ('CoolProp', 'scipy', 'matplotlib', 'ht', 'numba') if h in sys.modules])"
    )
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"
