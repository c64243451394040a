"""What a study varies: words to settings, and settings into a case file's tree."""

import tomllib

import pytest
from commands import TINY

from annulus.case import build, loads
from annulus.errors import InputError
from annulus.studies.designs import make_designs
from annulus.studies.keys import changed
from annulus.studies.vary import read_span, read_table, read_variation

TREE = tomllib.loads(TINY)


def names(words):
    return [setting.name for setting in read_variation(words).settings]


def test_an_even_range_has_its_ends_and_even_steps():
    assert names("coil.pitch = 16 mm .. 40 mm x 4") == ["16 mm", "24 mm", "32 mm", "40 mm"]


def test_a_range_by_ratio_has_steps_of_one_ratio():
    variation = read_variation("contacts.tube-filler = 1e-5 .. 1e-2 m2K/W x 4 by ratio")
    assert variation.numbers == pytest.approx([1e-5, 1e-4, 1e-3, 1e-2]) and variation.by_ratio


def test_ends_in_different_units_meet_in_the_last_one():
    variation = read_variation("coil.pitch = 1 in .. 50.8 mm x 3")
    assert variation.columns == ("coil.pitch [mm]",) and variation.numbers == [25.4, 38.1, 50.8]


def test_bare_numbers_take_the_unit_that_follows():
    assert names("shroud.clearance = 1, 3, 6, 10 mm") == ["1 mm", "3 mm", "6 mm", "10 mm"]


def test_a_step_that_is_no_short_decimal_keeps_twelve_digits():
    assert names("coil.pitch = 20 mm .. 30 mm x 4")[1] == "23.3333333333 mm"


def test_words_are_taken_as_they_stand():
    variation = read_variation("coil.tube = EN 1057 15 x 1, EN 1057 22 x 1")
    assert variation.numbers is None and [s.name for s in variation.settings] == ["EN 1057 15 x 1", "EN 1057 22 x 1"]


def test_whole_numbers_stay_whole():
    assert [s.changes[0][1] for s in read_variation("coil.turns = 2 .. 8 x 3").settings] == [2, 5, 8]


def test_a_material_may_bring_its_packing():
    (sand, air) = read_variation("filler.material = quartz sand (loose), still air").settings
    assert build(changed(TREE, sand.changes)).filler.packing == "loose"
    assert build(changed(TREE, air.changes)).filler.packing is None


def test_a_new_filler_without_a_packing_comes_in_its_usual_one():
    (setting,) = read_variation("filler.material = graphite powder").settings
    assert build(changed(TREE, setting.changes)).filler.packing == "loose"


def test_two_keys_take_one_value():
    (setting,) = read_variation("contacts.filler-tube and contacts.flue-filler = 1e-3 m2K/W").settings
    contacts = build(changed(TREE, setting.changes)).contacts
    assert contacts["tube-filler"] == contacts["flue-filler"] == 1e-3 and contacts["filler-shroud"] == 0


def test_a_key_takes_the_place_of_one_that_says_the_same():
    tree = tomllib.loads(TINY.replace('clearance = "8 mm"', 'inner_diameter = "210 mm"'))
    (setting,) = read_variation("shroud.clearance = 5 mm").settings
    assert build(changed(tree, setting.changes)).shroud.clearance == 5e-3
    (setting,) = read_variation("coil.height = 0.1 m").settings
    assert build(changed(TREE, setting.changes)).coil.turns == 3


def test_insulation_of_no_thickness_is_no_insulation():
    (setting,) = read_variation("insulation.thickness = 0 mm").settings
    assert build(changed(TREE, setting.changes)).insulation is None


def test_the_tree_that_is_changed_stays_as_it_was():
    (setting,) = read_variation("coil.pitch = 33 mm").settings
    changed(TREE, setting.changes)
    assert tomllib.loads(TINY) == TREE


def test_a_changed_case_equals_the_case_file_written_so():
    (setting,) = read_variation("coil.pitch = 33 mm").settings
    assert build(changed(TREE, setting.changes)) == loads(TINY.replace('pitch = "30 mm"', 'pitch = "33 mm"'))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("coil.pich = 16 mm", ["coil.pich", "did you mean 'pitch'"]),
        ("pitch = 16 mm", ["pitch", "table"]),
        ("coil.pitch", ["equals sign"]),
        ("coil.pitch = 16 .. 40 x 3", ["coil.pitch", "no unit"]),
        ("coil.pitch = 16 mm .. 40 mm", ["coil.pitch", "x 9"]),
        ("coil.pitch = 16 mm .. 40 mm x 1", ["coil.pitch", "from 2 to"]),
        ("coil.pitch = 16 mm .. 16 mm x 3", ["coil.pitch", "begins and ends"]),
        ("coil.pitch = 0 mm .. 16 mm x 3 by ratio", ["coil.pitch", "above zero"]),
        ("water.inlet_temperature = 8 degC .. 50 degC x 3 by ratio", ["temperature", "ratio"]),
        ("coil.pitch = 16 mm,, 18 mm", ["coil.pitch", "empty"]),
        ("coil.pitch = 16 mm, 16 mm", ["coil.pitch", "twice"]),
        ("coil.pitch = 3 kg, 16 mm", ["coil.pitch", "mass"]),
        ("coil.turns = 2 .. 5 x 3", ["coil.turns", "3.5", "whole"]),
        ("filler.material = quartz sand .. still air x 2", ["filler.material", "words"]),
        ("contacts.tube-room = 1e-3 m2K/W", ["tube-room", "tube-filler"]),
        ("coil.gap_at = 1 mm", ["coil.gap_at", "single value"]),
        ("coil.pitch and coil.turns = 3", ["different kinds"]),
    ],
)
def test_words_that_cannot_be_meant_are_refused_by_name(words, said):
    with pytest.raises(InputError) as fault:
        read_variation(words)
    for part in ("--vary", *said):
        assert part in str(fault.value)


def test_a_range_in_which_the_best_is_sought_has_no_steps():
    assert read_span("coil.pitch = 16 mm .. 40 mm").count is None
    with pytest.raises(InputError, match="in between"):
        read_span("coil.pitch = 16 mm .. 40 mm x 3")


# --- tables


def test_a_table_holds_settings_that_belong_together(tmp_path):
    path = tmp_path / "fires.csv"
    path.write_text('name,fire.gas_temperature [degC],fire.gas_flow\nlow,300,6 g/s\nhigh,650 degC,"12 g/s"\n')
    variation = read_table(path)
    assert variation.columns == ("name", "fire.gas_temperature [degC]", "fire.gas_flow")
    assert variation.settings[0].cells == ("low", 300.0, "6 g/s")
    assert [setting.name for setting in variation.settings] == ["low", "high"]
    fire = build(changed(TREE, variation.settings[0].changes)).fire
    assert fire.gas_temperature == pytest.approx(573.15) and fire.gas_flow == 6e-3


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", ["line of keys"]),
        ("name\nlow\n", ["no column that names a key"]),
        ("fire.gas_flo\n3 g/s\n", ["fire.gas_flo", "gas_flow"]),
        ("fire.gas_flow\n3 mm\n", ["line 2", "fire.gas_flow", "mm"]),
        ("fire.gas_flow\n3 g/s,5\n", ["line 2", "2 cells under 1"]),
        ('fire.gas_flow\n"3 g/s\n', ["CSV"]),
    ],
)
def test_a_table_that_cannot_be_meant_is_refused_by_line_and_column(tmp_path, text, said):
    path = tmp_path / "fires.csv"
    path.write_text(text)
    with pytest.raises(InputError) as fault:
        read_table(path)
    for part in (str(path), *said):
        assert part in str(fault.value)


# --- designs


def test_designs_are_all_combinations_the_last_variation_fastest():
    variations = [read_variation("coil.pitch = 20, 30 mm"), read_variation("shroud.clearance = 1, 5, 9 mm")]
    designs = make_designs(TREE, variations)
    assert [tuple(setting.name for setting in design.settings) for design in designs[:4]] == [
        ("20 mm", "1 mm"),
        ("20 mm", "5 mm"),
        ("20 mm", "9 mm"),
        ("30 mm", "1 mm"),
    ]
    assert [design.number for design in designs] == [1, 2, 3, 4, 5, 6]


def test_a_design_that_does_not_fit_keeps_its_reason():
    narrow, wide = make_designs(TREE, [read_variation("coil.pitch = 10, 20 mm")])
    assert narrow.case is None and "coil.pitch" in narrow.reason and "overlap" in narrow.reason
    assert wide.case is not None and wide.reason == ""


def test_designs_of_which_none_fits_are_refused_at_once():
    with pytest.raises(InputError, match=r"none of 2 designs(.|\n)*overlap"):
        make_designs(TREE, [read_variation("coil.pitch = 10, 12 mm")])


def test_a_key_that_is_varied_twice_is_refused():
    with pytest.raises(InputError, match=r"coil\.pitch: is varied twice"):
        make_designs(TREE, [read_variation("coil.pitch = 20 mm"), read_variation("coil.pitch = 30 mm")])


def test_more_designs_than_anybody_means_are_refused():
    many = [read_variation(f"{key} = 1 mm .. 2 mm x 1000") for key in ("coil.gap", "shroud.clearance")]
    with pytest.raises(InputError, match="1000000 designs"):
        make_designs(TREE, many)
