"""Case files: what is read, what is derived, and how faults are told."""

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from annulus.case import Case, dump, load, loads, standard_pressure, starter
from annulus.case.faults import ALTERNATIVES, known_keys
from annulus.case.quantities import Quantity, marks
from annulus.errors import InputError

CASES = Path(__file__).parents[1] / "cases"
CASE_FILES = sorted(CASES.glob("*/case.toml"))


def edited(*changes):
    """Starter text with some pieces replaced; each piece must be there."""
    text = starter()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def complaint(*changes):
    """Message about the starter with these changes."""
    with pytest.raises(InputError) as caught:
        loads(edited(*changes), "heater.toml")
    return str(caught.value)


def test_starter_is_a_valid_case_in_si_units():
    case = loads(starter())
    assert case.flue.inner_diameter == 0.15
    assert case.fire.gas_temperature == 693.15
    assert case.fire.gas_flow == 0.0098
    assert case.water is not None and case.water.flow == 0.04991  # 3 L/min at 998.2 kg/m3
    assert case.coil is not None and case.coil.turns == 30
    assert case.coil.gap == (0.0,) * 30
    assert case.invented


@pytest.mark.parametrize("file", CASE_FILES, ids=lambda file: file.parent.name)
def test_dumped_case_reads_back_equal(file):
    case = load(file)
    assert loads(dump(case)) == case
    assert dump(loads(dump(case))) == dump(case)


@pytest.mark.parametrize("file", CASE_FILES, ids=lambda file: file.parent.name)
def test_case_folder_is_marked_invented_and_says_its_purpose(file):
    assert load(file.parent).invented
    assert re.search(r"^# Purpose: ", file.read_text(encoding="utf-8"), re.MULTILINE)


lengths = st.floats(min_value=1e-4, max_value=0.5)


@settings(max_examples=50)
@given(wall=lengths, bore=lengths, gap=st.lists(lengths, min_size=3, max_size=3), title=st.text(max_size=20))
def test_any_case_survives_dump_and_loads(wall, bore, gap, title):
    case = loads(starter())
    assert case.coil is not None
    flue = case.flue.model_copy(update={"wall": wall, "inner_diameter": bore})
    coil = case.coil.model_copy(update={"gap": tuple(gap), "turns": 3})
    changed = case.model_copy(update={"flue": flue, "coil": coil, "title": title})
    assert loads(dump(changed)) == changed


def test_dump_writes_every_key_of_every_part_that_has_a_value():
    case = loads(edited(('gap = "0 mm"', 'gap = "0.5 mm"')))
    written = tomllib.loads(dump(case))
    for name in Case.model_fields:
        part = getattr(case, name)
        if isinstance(part, type(None)) or name == "materials":
            continue
        fields = type(part).model_fields if hasattr(type(part), "model_fields") else {}
        for key, field in fields.items():
            optional = any(mark.word for mark in marks(field))
            if getattr(part, key) is not None or optional:
                named_tube = name == "coil" and key in ("tube_outer_diameter", "tube_wall")
                assert key in written[name] or named_tube, f"{name}.{key}"


def starter_lines(table):
    """Lines of a table of the starter, commented examples included."""
    body = re.split(r"^(?:# )?\[", starter(), flags=re.MULTILINE)
    return next(part for part in body if re.match(rf"{re.escape(table)}[\].]", part)).splitlines()


TABLES = [
    "flue",
    "coil",
    "filler",
    "shroud",
    "insulation",
    "jacket",
    "contacts",
    "fire",
    "water",
    "room",
    "tank",
    "loop",
    "burn",
    "log",
]


@pytest.mark.parametrize("table", [*TABLES, "materials"])
def test_starter_shows_every_key_with_its_default(table):
    lines = starter_lines(table)
    keys = known_keys((table,)) if table in TABLES else known_keys(("materials", "x"))
    model = {**Case.model_fields}[table].annotation
    for key in keys:
        line = next((text for text in lines if re.match(rf"(?:# )?{key} = ", text)), None)
        assert line is not None, f"[{table}] {key} is not shown"
        fields = getattr(model, "model_fields", {})
        field = fields.get(key)
        if field is None or field.is_required() or field.default is None:
            continue
        stated = re.search(r"# default: (\"[^\"]*\"|[^;]*)", line)
        assert stated is not None, f"[{table}] {key} states no default"
        value = tomllib.loads(f"x = {stated[1].strip()}")["x"]
        mark = next(marks(field), None)
        read = mark.read(value) if isinstance(mark, Quantity) and key not in ("voids", "table") else value
        assert read == (list(field.default) if key in ("voids", "table") else field.default), f"[{table}] {key}"


def test_starter_shows_every_pair_of_surfaces():
    case = loads(starter())
    for pair in case.contacts:
        assert any(line.startswith(f"{pair} = ") for line in starter_lines("contacts"))


def test_alternative_keys_are_accepted_and_resolved():
    by_height = loads(edited(("turns = 30 ", 'height = "0.9 m" ')))
    by_length = loads(edited(("turns = 30 ", 'tube_length = "16 m" ')))
    by_bore = loads(edited(('clearance = "8 mm"', 'inner_diameter = "200 mm"')))
    expected = loads(starter())
    assert by_height == expected
    # one turn is hypot(pi 169 mm, 30 mm) = 531.8 mm; 16 m / 0.5318 m = 30.09
    assert by_length == expected
    # 200 / 2 - 77 - 15 = 8 mm, less the 0.0007 mm that a 0.2 mm contact strip moves the tube inward
    assert by_bore.shroud is not None
    assert by_bore.shroud.clearance == pytest.approx(0.008, abs=1e-6)
    assert set(ALTERNATIVES) == {"coil", "shroud", "burn"}


def test_odd_gaps_may_be_stated_turn_by_turn():
    case = loads(edited(('gap = "0 mm"', 'gap = "0.2 mm"'), ("# gap_at", "gap_at")))
    assert case.coil is not None
    expected = [2e-4] * 30
    expected[6], expected[11:15] = 2e-3, [1e-3] * 4
    assert case.coil.gap == tuple(expected)
    written = tomllib.loads(dump(case))["coil"]
    assert written["gap"] == "0.2 mm" and written["gap_at"] == {"7": "2 mm", "12-15": "1 mm"}
    assert loads(dump(case)) == case


def test_the_widest_odd_gap_counts_for_a_shroud_given_by_its_bore():
    bore = ('clearance = "8 mm"', 'inner_diameter = "210 mm"')
    case = loads(edited(bore, ('gap = "0 mm"', 'gap_at = { 7 = "2 mm" }')))
    assert case.shroud is not None
    assert case.shroud.clearance == pytest.approx(0.105 - 0.077 - 0.002 - 0.015, abs=1e-9)


def test_contact_that_is_to_be_computed_is_written_back_as_such():
    case = loads(edited(('tube-filler = "0 m2K/W"', 'filler-tube = "computed"')))
    assert case.contacts["tube-filler"] is None
    assert loads(dump(case)) == case


def test_emissivity_packing_and_pressure_come_from_material_and_altitude():
    case = loads(edited(('packing = "vibrated" ', "#"), ("# emissivity = 0.8 ", "#")))
    assert case.flue.emissivity == case.material("black steel").emissivity
    assert case.filler.packing == case.material("quartz sand").packing
    assert case.water is not None
    assert case.water.pressure == pytest.approx(standard_pressure(300.0), abs=0.05)  # rounded to 0.1 Pa
    painted = loads(edited(('coating = "none"', 'coating = "vitreous enamel"')))
    assert painted.flue.emissivity == painted.material("vitreous enamel").emissivity


def test_standard_atmosphere_falls_by_altitude():
    # ISO 2533 table, quoted from memory: 101325 Pa at 0 m, 89874.6 Pa at 1000 m, 79495.2 Pa at 2000 m
    assert standard_pressure(0.0) == 101325.0
    assert standard_pressure(1000.0) == pytest.approx(89874.6, abs=0.5)
    assert standard_pressure(2000.0) == pytest.approx(79495.2, abs=0.5)


def test_dry_basis_moisture_is_converted_to_wet():
    dry = ('moisture_basis = "wet"', 'moisture_basis = "dry"')
    case = loads(edited(dry, ('moisture = "18 %"', 'moisture = "20 %"')))
    assert case.fire.moisture_wet == pytest.approx(1 / 6, rel=1e-12)  # w = u / (1 + u)


def test_pair_of_surfaces_may_be_named_in_either_order():
    case = loads(edited(('tube-flue = "0 m2K/W"', 'flue-tube = "2e-4 m2K/W"')))
    assert case.contacts["tube-flue"] == 2e-4


def test_material_of_ones_own_is_found_before_the_library():
    own = '[materials."river sand"]\nfamily = "filler"\n'
    own += 'conductivity = [["20 degC", "0.3 W/mK"], ["300 degC", "0.4 W/mK"]]\n'
    own += 'density = "1600 kg/m3"\nheat_capacity = "800 J/kgK"\nemissivity = 0.9\n'
    text = edited(('material = "quartz sand"', 'material = "river sand"'), ('packing = "vibrated" ', "#")) + own
    case = loads(text)
    assert case.filler.packing is None
    assert case.material("river sand").conductivity(433.15) == pytest.approx(0.35, rel=1e-12)
    assert loads(dump(case)) == case


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ([("wall = ", "wal = ")], ["heater.toml: key 'flue.wal' = \"2 mm\"", "did you mean 'wall'?"]),
        ([("[room]", "[flue.soot]\n[room]")], ["'flue.soot'", "did you mean 'soot_thickness'?"]),
        ([("[flue]", "[flu]")], ["'flu'", "did you mean 'flue'?"]),
        ([('wall = "2 mm"', 'wall = "2 mm"\npitch = "30 mm"')], ["'flue.pitch'", "belongs to [coil]"]),
        ([('wall = "2 mm"', 'wall = "2"')], ["'flue.wall'", "no unit", "mm"]),
        ([('wall = "2 mm"', "wall = 2")], ["'flue.wall' = 2", "no unit"]),
        ([('wall = "2 mm"', 'wall = "2 kg"')], ["'flue.wall'", "is a mass", "a length is due"]),
        ([('wall = "2 mm"', "")], ["'flue.wall'", "is missing", 'wall = "15 mm"']),
        ([('wall = "2 mm"', 'wall = "0 mm"')], ["'flue.wall'", "must be more than 0 mm"]),
        ([('inlet_temperature = "8 degC"', 'inlet_temperature = "8 Cdeg"')], ["temperature difference", "is due"]),
        ([('clearance = "8 mm"', 'clearance = "-8 mm"')], ["'shroud.clearance'", "larger than the cavity"]),
        ([('clearance = "8 mm"', 'inner_diameter = "180 mm"')], ["cavity too small for the tube", "183.999 mm"]),
        ([('pitch = "30 mm"', 'pitch = "14 mm"')], ["'coil.pitch' = \"14 mm\"", "under the tube diameter of 15 mm"]),
        ([("turns = 30 ", 'turns = "30" ')], ["'coil.turns'", "whole number"]),
        ([("turns = 30 ", "turns = 0 ")], ["'coil.turns'", "must be 1 or more"]),
        ([("turns = 30 ", "#")], ["needs exactly one of turns, tube_length, height"]),
        ([("turns = 30 ", 'turns = 30\nheight = "0.9 m" ')], ["exactly one of", "found turns, height"]),
        ([("turns = 30 ", 'tube_length = "0.3 m" ')], ["less than one turn", "531.8 mm"]),
        ([('gap = "0 mm"', 'gap = ["0 mm", "1 mm"]')], ["'coil.gap'", "2 values for 30 turns"]),
        ([("# gap_at = { 7", "gap_at = { 31")], ["'coil.gap_at.31'", "above the top turn, which is number 30"]),
        ([("# gap_at = { 7", "gap_at = { 15")], ["'coil.gap_at.12-15'", "that another key of gap_at names already"]),
        ([("# gap_at = { 7", "gap_at = { top")], ["'coil.gap_at.top'", "names no turn", "12-15"]),
        ([('# gap_at = { 7 = "2 mm"', 'gap_at = { 7 = "2"')], ["'coil.gap_at.7' = \"2\"", "no unit"]),
        ([('# gap_at = { 7 = "2 mm"', 'gap_at = { 7 = "-1 mm"')], ["'coil.gap_at.7'", "must not be less than 0 mm"]),
        ([('gap = "0 mm"', "gap_at = 3")], ["'coil.gap_at' = 3", "must be a table of turns"]),
        (
            [('gap = "0 mm"', f"gap = {['1 mm'] * 30}"), ("# gap_at", "gap_at")],
            ["'coil.gap_at'", "a list in gap state the gaps twice"],
        ),
        ([('film_at_flue = "0 mm"', 'film_at_flue = "30 mm"')], ["'filler.film_at_flue'", "empties the cavity"]),
        (
            [
                ('material = "quartz sand"', 'material = "still air"'),
                ('packing = "vibrated"', 'packing = "none"'),
                ('film_at_flue = "0 mm"', 'film_at_flue = "1 mm"'),
            ],
            ["'filler.film_at_flue'", "needs a packing"],
        ),
        ([('tube-flue = "0 m2K/W"', 'tube-flue = "computed"')], ["'contacts.tube-flue'", "belongs to tube-filler"]),
        (
            [
                ('material = "quartz sand"', 'material = "expanded graphite"'),
                ('packing = "vibrated" ', "#"),
                ('tube-filler = "0 m2K/W"', 'tube-filler = "computed"'),
            ],
            ["'contacts.tube-filler'", "size of the filler's grains", "'expanded graphite'"],
        ),
        ([('contact_strip = "0.2 mm"', 'contact_strip = "16 mm"')], ["'coil.contact_strip'", "narrower than the tube"]),
        ([('tube = "EN 1057 15 x 1"', 'tube = "1/2 in"')], ["'coil.tube'", "which standard?"]),
        ([('tube = "EN 1057 15 x 1"', "#")], ["'coil'", "needs a tube"]),
        ([("# tube_wall", "tube_wall")], ["'coil.tube'", "twice"]),
        (
            [('tube = "EN 1057 15 x 1"', 'tube_outer_diameter = "15 mm"\ntube_wall = "8 mm"')],
            ["'coil.tube_wall' = \"8 mm\"", "fills the tube"],
        ),
        ([('wall = "2 mm"', 'wall = "2 mm"\nheight = "0.9 m"')], ["'flue.height'", "contradicts [coil]"]),
        ([('material = "black steel"', 'material = "black stel"')], ["'flue.material'", "black steel"]),
        ([('material = "black steel"', 'material = "galvanised steel"')], ["'flue.material'", "zinc"]),
        ([('material = "black steel"', 'material = "quartz sand"')], ["'flue.material'", "family 'filler'", "metal"]),
        ([('material = "quartz sand"', 'material = "sawdust"')], ["'filler.material'", "refused"]),
        ([('settled_top = "0 mm"', 'settled_top = "1 m"')], ["'filler.settled_top'", "900 mm high"]),
        ([('strip_under_tubes = "0 mm"', 'strip_under_tubes = "16 mm"')], ["strip_under_tubes", "15 mm apart"]),
        (
            [("voids = []", 'voids = [{ r_min = "5 mm", r_max = "4 mm", z_min = "0 mm", z_max = "1 m" }]')],
            ["'filler.voids[0].r_max'", "more than r_min", "'filler.voids[0].z_max'", "900 mm high"],
        ),
        ([('soot_thickness = "0 mm"', 'soot_thickness = "80 mm"')], ["'flue.soot_thickness'", "closes the flue"]),
        ([('gas_flow = "9.8 g/s"', "")], ["'fire'", "either gas_temperature and gas_flow, or wood_rate"]),
        ([('moisture = "18 %"', 'moisture = "80 %"')], ["'fire.moisture'", "moisture_basis"]),
        ([("flame_emissivity = 0.0", "flame_emissivity = 5")], ["'fire.flame_emissivity'", "not be more than 1"]),
        ([("invented = true", 'invented = "yes"')], ["'invented'", "true or false"]),
        ([("tube-flue = ", "tube-fuel = ")], ["'contacts.tube-fuel'", "'tube-flue'"]),
        ([("filler-shroud = ", "flue-tube = ")], ["names the same surfaces as 'tube-flue'"]),
        (
            [("[insulation] ", "#"), ('material = "mineral wool"', ""), ('thickness = "50 mm"', "")],
            ["'jacket'", "no [insulation]"],
        ),
        ([("[water]", "[water")], ["not valid TOML", "line"]),
    ],
)
def test_fault_is_told_with_key_value_rule_and_cause(changes, words):
    message = complaint(*changes)
    for word in words:
        assert word in message
    for line in message.splitlines():
        assert line.startswith("heater.toml: ")


def test_one_fault_gives_one_line():
    for change in [("wall = ", "wal = "), ('pitch = "30 mm"', 'pitch = "14 mm"'), ('wall = "2 mm"', 'wall = "2"')]:
        lines = complaint(change).splitlines()
        assert len(lines) == 1, lines


def test_all_faults_of_a_file_come_at_once():
    message = complaint(
        ('inner_diameter = "150 mm"', 'inner_diameter = "150"'),
        ('coating = "none"', 'coatng = "none"'),
        ('pitch = "30 mm"', 'pitch = "14 mm"'),
        ('material = "quartz sand"', 'material = "sawdust"'),
        ('flow = "3 L/min"', 'flow = "3 L"'),
        ('temperature = "18 degC"', 'temperature = "18 Cdeg"'),
    )
    for key in ("inner_diameter", "coatng", "coil.pitch", "filler.material", "water.flow", "room.temperature"):
        assert key in message
    assert len(message.splitlines()) == 6


def test_layers_that_are_not_there_are_told():
    bare = (CASES / "bath-house-bare" / "case.toml").read_text(encoding="utf-8")
    with pytest.raises(InputError, match=r"'filler.material' = \"quartz sand\": needs a \[shroud\]"):
        loads(bare + '[filler]\nmaterial = "quartz sand"\n')
    with pytest.raises(InputError, match=r"'contacts.filler-shroud'.*add \[shroud\]"):
        loads(bare + '[contacts]\nfiller-shroud = "1e-4 m2K/W"\n')
    no_water = re.sub(r"\[water\].*?\n\n", "", bare, flags=re.DOTALL)
    with pytest.raises(InputError, match=r"'water': is missing; a coil needs"):
        loads(no_water)
    no_coil = re.sub(r"\[coil\].*?\n\n", "", bare, flags=re.DOTALL)
    with pytest.raises(InputError, match=r"'flue.height': is missing") as caught:
        loads(no_coil)
    assert "no coil to run through" in str(caught.value)


def test_file_that_is_absent_or_not_text_is_told(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        load(tmp_path / "absent.toml")
    binary = tmp_path / "case.toml"
    binary.write_bytes(b'title = "\xff"')
    with pytest.raises(InputError, match="not UTF-8"):
        load(tmp_path)


def test_case_is_frozen():
    case = loads(starter())
    with pytest.raises(ValueError, match="frozen"):
        case.flue.wall = 0.003
