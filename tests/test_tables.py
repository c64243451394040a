"""Tables for a terminal: aligned, every number with its unit, nothing hidden."""

import pytest
from heaters import BARE_COIL, CASES, FOLDERS, NO_COIL, WOOD, edited, solved

from annulus.case import load
from annulus.cautions import Caution, judge
from annulus.heater import summarise
from annulus.materials import find, names
from annulus.present.tables import (
    LINE,
    columns,
    compare_table,
    findings,
    material_text,
    materials_table,
    number,
    section_table,
    steady_table,
)
from annulus.section import lay_out


def outcome_of(*changes):
    heater = solved(*changes)
    found = summarise(heater)
    return found, judge(heater.case, heater.model.section, found)


def value_of(text, label):
    """What stands behind a label at the left of a line."""
    [line] = [line for line in text.splitlines() if line.strip().startswith(label)]
    return line.strip()[len(label) :].strip()


# --- numbers and columns


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        ((951.5, "W", 0), "952 W"),
        ((8.04, "degC", 1), "8.0 degC"),
        ((0.2231, "%", 1), "22.3 %"),
        ((-0.04, "W", 1), "0.0 W"),  # never minus zero
        ((-0.06, "W", 1), "-0.1 W"),
        ((None, "W", 0), "-"),
        ((1.4444, "x", 2), "1.44 x"),
    ],
)
def test_a_number_has_its_digits_and_its_unit(arguments, text):
    assert number(*arguments) == text


@pytest.mark.parametrize(
    ("value", "error", "text"),
    [
        (1376.4, 1.2, "1376 ± 2 W"),  # the error has one digit, rounded up
        (115.84, 0.13, "115.8 ± 0.2 W"),
        (14.566, 0.011, "14.57 ± 0.02 W"),
        (1376.4, 23.0, "1376 ± 23 W"),
        (5.0, 1e-9, "5.00 ± 0.01 W"),  # two decimals are the most
    ],
)
def test_an_error_sets_the_digits_and_is_rounded_up(value, error, text):
    assert number(value, "W", 0, error) == text


def test_columns_align_names_left_and_values_right():
    assert columns([("a", "1 W"), ("longer", "12 W")]) == "a        1 W\nlonger  12 W"


def test_columns_leave_no_space_at_the_end_of_a_line():
    assert columns([("", "x", ""), ("row", "1", "22")]).splitlines()[0] == "     x"


def test_rows_of_different_length_are_a_mistake_that_shows():
    with pytest.raises((ValueError, IndexError)):
        columns([("a", "1"), ("b",)])


# --- one run


def test_table_agrees_with_the_outcome():
    found, cautions = outcome_of()
    text = steady_table(found, cautions)
    assert value_of(text, "heat to the water") == f"{found['heat_to_water_W']:.0f} W"
    assert value_of(text, "water in") == "8.0 degC"
    assert value_of(text, "water's share of the gas heat") == f"{100 * found['capture']:.1f} %"
    assert value_of(text, "gas film and soot") == f"{100 * found['share_gas_film']:.1f} %"


def test_shares_of_the_resistance_add_up_to_all():
    text = steady_table(*outcome_of())
    shares = [value_of(text, label) for label in ("gas film and soot", "flue wall to tube bore", "water film")]
    assert sum(float(share.removesuffix(" %")) for share in shares) == pytest.approx(100, abs=0.15)  # rounding


def test_title_says_that_a_case_is_invented():
    assert steady_table(*outcome_of()).splitlines()[0] == "Small  [invented example]"
    built, cautions = outcome_of(("invented = true", ""))
    assert steady_table(built, cautions).splitlines()[0] == "Small"


def test_turns_run_from_the_top_down_as_they_hang():
    text = steady_table(*outcome_of())
    lines = [line.split()[1] for line in text.splitlines() if line.startswith("turn ")]
    assert lines == ["4", "3", "2", "1"]


def test_many_turns_are_listed_as_top_middle_and_bottom():
    found, cautions = outcome_of()
    many = found | {"heat_to_turn_W": [float(n) for n in range(1, 31)]}
    text = steady_table(many, cautions)
    listed = [int(line.split()[1]) for line in text.splitlines() if line.startswith("turn ")]
    assert listed == [30, 29, 28, 16, 3, 2, 1]
    loose = found | {"heat_to_turn_W": [float(n) if n != 7 else 0.5 for n in range(1, 31)]}
    assert value_of(steady_table(loose, cautions), "turn 7") == "0.5 W"  # the one that takes least is told
    assert value_of(text, "turn 16") == "16.0 W"  # each beside its own heat


def test_wood_adds_its_own_line():
    assert "water's share of the wood" not in steady_table(*outcome_of())
    assert "water's share of the wood" in steady_table(*outcome_of(*WOOD))


def test_a_flue_without_a_coil_has_no_lines_about_water():
    text = steady_table(*outcome_of(*NO_COIL))
    for words in ("water in ", "water out", "Heat of each turn", "water film"):
        assert words not in text[: text.index("Cautions")]
    assert "nan" not in text and "None" not in text


def test_minus_to_the_room_is_explained_where_there_is_one():
    cold, cautions = outcome_of()
    assert cold["heat_through_ends_W"] < 0
    assert "minus" in steady_table(cold, cautions)
    warm, cautions = outcome_of(('inlet_temperature = "8 degC"', 'inlet_temperature = "60 degC"'))
    assert "minus" not in steady_table(warm, cautions)


def test_balance_and_size_of_the_problem_are_told():
    found, cautions = outcome_of()
    text = " ".join(steady_table(found, cautions).split())
    assert f"{found['pieces']} pieces" in text and "Energy closes to" in text


@pytest.mark.parametrize("layout", [(), BARE_COIL, NO_COIL, WOOD], ids=["packed", "bare", "no coil", "wood"])
def test_no_line_is_too_long_for_a_terminal(layout):
    assert max(map(len, steady_table(*outcome_of(*layout)).splitlines())) <= LINE


# --- cautions


def test_a_caution_says_how_bad_what_and_what_to_do():
    [text] = findings([Caution("danger", "wall", "wall is cold", "burn hot", "a book", "The sweep decides")])
    assert text.strip() == "DANGER: wall is cold. Do: burn hot. Source: a book. The sweep decides."


def test_what_always_holds_comes_after_the_findings():
    found, cautions = outcome_of()
    text = steady_table(found, cautions)
    assert text.index("DANGER") < text.index("NOTE") < text.index("ALWAYS")
    assert text.rstrip().endswith("annulus does not.")


# --- several runs


def compared(**cases):
    outcomes, cautions = {}, {}
    for name, changes in cases.items():
        outcomes[name], cautions[name] = outcome_of(*changes)
    return outcomes, cautions


LOOSE = (('packing = "vibrated"', 'packing = "loose"'),)


def test_compare_names_the_differences_first():
    outcomes, cautions = compared(tight=(), loose=LOOSE)
    text = compare_table(outcomes, [("filler.packing", ["vibrated", "loose"])], cautions)
    lines = text.splitlines()
    assert lines[0] == "What differs"
    assert lines[1].split() == ["tight", "loose"]
    assert lines[2].split() == ["filler.packing", "vibrated", "loose"]


def test_compare_puts_each_heat_under_its_name():
    outcomes, cautions = compared(tight=(), loose=LOOSE)
    text = compare_table(outcomes, [], cautions)
    expected = [f"{outcomes[name]['heat_to_water_W']:.0f}" for name in ("tight", "loose")]
    assert value_of(text, "heat to the water").split()[::2] == expected


def test_compare_measures_gains_against_the_first():
    outcomes, cautions = compared(tight=(), loose=LOOSE)
    text = compare_table(outcomes, [], cautions)
    gain = outcomes["loose"]["heat_to_water_W"] / outcomes["tight"]["heat_to_water_W"]
    line = text[text.index("against tight") :].splitlines()[2]
    assert line.split() == ["1.00", "x", f"{gain:.2f}", "x"]


def test_compare_shows_a_dash_where_a_case_has_no_value():
    outcomes, cautions = compared(coil=(), none=NO_COIL)
    text = compare_table(outcomes, [], cautions)
    assert value_of(text, "water in").split()[-1] == "-"
    assert "None" not in text and "nan" not in text


def test_one_case_alone_is_not_set_against_itself():
    outcomes, cautions = compared(alone=())
    text = compare_table(outcomes, [], cautions)
    assert "differ" not in text and "against alone" not in text


def test_compare_without_heat_to_the_water_has_no_gain():
    outcomes, cautions = compared(a=NO_COIL, b=NO_COIL)
    assert "against" not in compare_table(outcomes, [], cautions)


def test_shared_cautions_are_told_once_and_own_ones_by_name():
    outcomes, _ = compared(a=(), b=LOOSE)
    both = Caution("note", "one", "in both", "x", "a book", "Codes decide")
    own = Caution("danger", "other", "in b alone", "y", "a book", "Codes decide")
    text = compare_table(outcomes, [], {"a": [both], "b": [own, both]})
    assert text.count("in both") == 1 and text.count("in b alone") == 1
    assert text.index("Cautions for b") < text.index("in b alone") < text.index("in both")
    assert "Cautions for a" not in text


# --- section and materials


def test_section_lists_the_bath_house_as_the_trade_would():
    text = section_table(case := load(CASES / "bath-house-sand"), lay_out(case))
    assert value_of(text, "turns") == "30"
    assert value_of(text, "coil to buy") == "25 m"
    assert value_of(text, "tube wound on the flue") == "16.0 m"  # 30 turns of 2 pi 85 mm at 30 mm pitch
    assert value_of(text, "across the outside") == "303 mm"  # 200 + 2 (1 + 50 + 0.5)
    assert value_of(text, "filler mass").endswith("kg")


def test_air_is_not_sold_by_weight():
    text = section_table(case := edited(*BARE_COIL), lay_out(case))
    assert "filler" not in text and "shroud" not in text and "insulation" not in text


def test_a_coil_longer_than_sold_says_so():
    case = edited(("turns = 4", "turns = 120"))
    assert "longer than stock" in value_of(section_table(case, lay_out(case)), "coil to buy")


def test_a_flue_without_a_coil_needs_no_tube():
    text = section_table(case := edited(*NO_COIL), lay_out(case))
    assert "tube" not in text and "mass of the flue wall" in text


@pytest.mark.parametrize("name", FOLDERS)
def test_every_amount_has_a_unit(name):
    text = section_table(case := load(CASES / name), lay_out(case))
    for line in text.splitlines()[2:]:
        assert line.startswith("turns ") or line.split()[-1] in {"mm", "m", "m2", "m2K/W", "kg", "L", "coils"}, line


def test_every_material_of_the_library_has_a_line():
    text = materials_table([find(name) for name in names()])
    assert len(text.splitlines()) == len(names()) + 1
    assert all(name in text for name in names())


def test_light_and_heavy_materials_keep_their_digits():
    text = materials_table([find("still air"), find("copper")])
    assert "1.2 kg/m3" in text and "8940 kg/m3" in text


def test_a_material_is_shown_with_source_mark_and_cautions():
    text = material_text(find("quartz sand"))
    assert "source:" in text and "[calc]" in text and "caution:" in text
