"""Each side of each limit. Limits themselves: common practice, no source, unless a line says otherwise."""

import pytest
from heaters import after, edited, solved

from annulus.cautions import ALWAYS, DEFER, Caution, judge
from annulus.heater import summarise
from annulus.section import lay_out

# An outcome that calls for no caution beyond the notes.
CALM = {
    "wall_min_C": 150.0,
    "dew_point_C": 45.0,
    "gas_above_coil_C": 300.0,
    "water_boils_at_C": 100.0,
    "water_out_C": 40.0,
    "bore_max_C": 50.0,
    "tube_max_C": 60.0,
    "filler_max_C": 140.0,
    "insulation_max_C": 100.0,
    "outside_max_C": 35.0,
    "bare_flue_max_C": None,
}
CASE = edited()
SECTION = lay_out(CASE)


def judged(case=CASE, section=SECTION, **changes):
    return judge(case, section, CALM | changes)


def levels(cautions, word):
    return [caution.level for caution in cautions if word in caution.words]


def test_a_calm_heater_gets_notes_only():
    assert {caution.level for caution in judged()} == {"note"}


@pytest.mark.parametrize(
    ("key", "value", "word", "level"),
    [
        # dew point 45 degC and a margin of 10 K
        ("wall_min_C", 54.9, "dew point", "danger"),
        ("wall_min_C", 55.0, "tar settles", "warning"),
        ("wall_min_C", 119.9, "tar settles", "warning"),
        ("gas_above_coil_C", 199.9, "gas above the coil", "danger"),
        ("gas_above_coil_C", 200.0, "gas above the coil", "warning"),
        ("gas_above_coil_C", 249.9, "gas above the coil", "warning"),
        # boiling at 100 degC: bulk margin 5 K, bore margin 10 K
        ("water_out_C", 95.1, "water leaves", "danger"),
        ("bore_max_C", 90.1, "hottest bore", "warning"),
        # 250 degF, the last line of solder ratings in copper tube handbooks, quoted from memory
        ("tube_max_C", 121.1, "hottest tube", "warning"),
        # ASTM C1055, 5 s contact, quoted from memory
        ("outside_max_C", 60.1, "outside of the coil section", "warning"),
        ("bare_flue_max_C", 60.1, "bare flue", "warning"),
    ],
)
def test_a_value_beyond_its_limit_is_told(key, value, word, level):
    assert levels(judged(**{key: value}), word) == [level]


@pytest.mark.parametrize(
    ("key", "value", "word"),
    [
        ("wall_min_C", 120.0, "coldest flue wall"),
        ("gas_above_coil_C", 250.0, "gas above the coil"),
        ("water_out_C", 95.0, "water leaves"),
        ("bore_max_C", 90.0, "hottest bore"),
        ("tube_max_C", 121.0, "hottest tube"),
        ("outside_max_C", 60.0, "outside of the coil section"),
        ("bare_flue_max_C", 60.0, "bare flue"),
    ],
)
def test_a_value_at_its_limit_is_not_told(key, value, word):
    assert levels(judged(**{key: value}), word) == []


def test_condensation_outranks_tar():
    words = [caution.words for caution in judged(wall_min_C=50.0) if "coldest flue wall" in caution.words]
    assert len(words) == 1 and "dew point" in words[0]


def test_hot_water_outranks_a_hot_bore():
    found = judged(water_out_C=99.0, bore_max_C=99.5)
    assert levels(found, "water leaves") == ["danger"] and levels(found, "hottest bore") == []


def test_bore_near_boiling_is_told_beside_cool_water():
    assert levels(judged(water_out_C=50.0, bore_max_C=120.0), "hottest bore") == ["warning"]


def test_margins_follow_the_boiling_point():
    """At 2500 m water boils some 8 K lower."""
    assert levels(judged(water_boils_at_C=92.0, water_out_C=87.1), "water leaves") == ["danger"]
    assert levels(judged(water_boils_at_C=92.0, water_out_C=87.0), "water leaves") == []


def test_dew_point_moves_the_limit():
    assert levels(judged(dew_point_C=60.0, wall_min_C=69.9), "dew point") == ["danger"]
    assert levels(judged(dew_point_C=60.0, wall_min_C=70.0), "dew point") == []


def test_a_flue_without_water_has_no_caution_about_water():
    found = judged(water_boils_at_C=None, water_out_C=None, bore_max_C=None, tube_max_C=None)
    assert not [caution for caution in found if "water stops" in caution.words or "bore" in caution.words]


def test_stopped_water_is_always_told_of():
    assert levels(judged(), "if the water stops") == ["note"]


def test_a_material_beyond_its_service_limit_is_a_danger_with_its_name_and_limit():
    limit = next(r.material.service_limit for r in SECTION.regions if r.role == "insulation") - 273.15
    assert levels(judged(insulation_max_C=limit), "mineral wool serves") == []
    [caution] = [c for c in judged(insulation_max_C=limit + 0.1) if "serves to" in c.words]
    assert caution.level == "danger"
    assert "mineral wool" in caution.words and f"{limit:.0f} degC" in caution.words


def test_a_filler_of_ones_own_is_held_to_its_stated_limit():
    own = (
        '[materials."river sand"]\nfamily = "filler"\nconductivity = "0.3 W/mK"\ndensity = "1600 kg/m3"\n'
        'heat_capacity = "800 J/kgK"\nemissivity = 0.9\nservice_limit = "130 degC"\n'
    )
    case = edited(
        ('material = "quartz sand"\npacking = "vibrated"', 'material = "river sand"'), ("[fire]", own + "[fire]")
    )
    section = lay_out(case)
    assert levels(judged(case, section, filler_max_C=131.0), "river sand serves to 130 degC") == ["danger"]
    assert levels(judged(case, section, filler_max_C=129.0), "serves to") == []


def test_a_material_used_twice_is_told_of_once():
    case = edited(
        after(
            'packing = "vibrated"',
            'voids = [{ r_min = "0 mm", r_max = "5 mm", z_min = "0 m", z_max = "0.1 m", material = "quartz sand" }]',
        )
    )
    words = [caution.words for caution in judged(case, lay_out(case)) if "oven-dry" in caution.words]
    assert len(words) == 1


def test_zinc_on_the_jacket_is_told_of():
    jacket = '[jacket]\nmaterial = "galvanised steel"\nthickness = "0.5 mm"\n\n'
    case = edited(("[fire]", jacket + "[fire]"))
    assert any("galvanised" in caution.words or "zinc" in caution.words for caution in judged(case, lay_out(case)))


def test_worst_comes_first():
    found = judged(wall_min_C=30.0, gas_above_coil_C=220.0, outside_max_C=90.0, water_out_C=99.0)
    order = [("danger", "warning", "note").index(caution.level) for caution in found]
    assert order == sorted(order) and set(order) == {0, 1, 2}


def test_every_caution_has_a_remedy_and_a_number_or_a_reason():
    for caution in judged(
        wall_min_C=30.0, gas_above_coil_C=150.0, outside_max_C=90.0, water_out_C=99.0, tube_max_C=200.0
    ):
        assert isinstance(caution, Caution)
        assert caution.remedy and not caution.remedy.endswith(".")
        assert caution.words and not caution.words.endswith(".")


def test_what_always_holds_names_water_fire_and_dust():
    assert [words.split(":")[0] for words in ALWAYS] == ["Water", "Fire", "Dust"]
    assert "carbon monoxide" in ALWAYS[1] and "relief valve" in ALWAYS[0]
    assert "decide" in DEFER


def test_judging_a_solved_heater_reads_its_own_outcome():
    heater = solved()
    outcome = summarise(heater)
    found = judge(heater.case, heater.model.section, outcome)
    assert outcome["wall_min_C"] < outcome["dew_point_C"] + 10
    assert levels(found, "dew point") == ["danger"]
