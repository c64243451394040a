"""Each side of each limit, what a caution says, and what is refused outright.

The sources of the limits stand in `annulus/cautions/limits.toml`; the numbers here
are written out a second time, from the trade's published figures where a line
says so and otherwise common practice, no source.
"""

import dataclasses

import pytest
from heaters import BARE_COIL, after, edited, edited_text, solved

from annulus.burn import summarise_burn
from annulus.burn.fast import FastBurner
from annulus.case import dump, loads
from annulus.cautions import ALWAYS, DEFER, LEVELS, Caution, judge, judge_with_remedies, limits, try_remedies
from annulus.cautions.judging import spans
from annulus.cautions.limits import DECIDES
from annulus.cautions.remedies import changes
from annulus.errors import InputError
from annulus.heater import summarise
from annulus.section import lay_out

# An outcome that passes no limit but that of a coil without water.
CALM = {
    "gas_in_C": 400.0,
    "gas_below_coil_C": 400.0,
    "wall_min_C": 150.0,
    "wall_max_C": 160.0,
    "dew_point_C": 45.0,
    "gas_above_coil_C": 300.0,
    "water_boils_at_C": 100.0,
    "water_out_C": 20.0,
    "bore_max_C": 50.0,
    "tube_max_C": 60.0,
    "filler_max_C": 140.0,
    "insulation_max_C": 100.0,
    "outside_max_C": 35.0,
    "bare_flue_max_C": None,
    "room_C": 18.0,
}
CASE = edited()
SECTION = lay_out(CASE)
CHIMNEY = ("[fire]", '[chimney]\nheight = "4.5 m"\n\n[fire]')
GALVANISED = ("[fire]", '[jacket]\nmaterial = "galvanised steel"\nthickness = "0.5 mm"\n\n[fire]')
BURN = """
[tank]
volume = "25 L"
start_temperature = "4 degC"
target_temperature = "40 degC"
"""
CLOSED = after('inlet_temperature = "8 degC"', 'vessel = "closed"\nrelief = "300 kPa"')


def damp(percent, more=""):
    return after('packing = "vibrated"', f'moisture = "{percent} %"{more}')


GAP = 'gap = "0.5 mm"'
SEALED = (after('clearance = "8 mm"', "vented = false"), after('temperature = "18 degC"', 'ends = "insulated"'))

# group, level, (result, kept, passed) and where another result sets the limit, that result
LIMITS = [
    # dew point 45 degC and a margin of 10 K; tars: common practice, no source
    ("flue wall", "danger", ("wall_min_C", 55.0, 54.9), {}),
    ("flue wall", "warning", ("wall_min_C", 120.0, 119.9), {}),
    ("flue wall", "danger", ("wall_min_C", 70.0, 69.9), {"dew_point_C": 60.0}),
    # of a burn: a quarter of an hour to warm up, common practice, no source
    ("flue wall", "danger", ("wall_below_dew_s", 900.0, 901.0), {}),
    ("flue wall", "danger", ("wall_near_dew_s", 900.0, 901.0), {}),
    ("flue wall", "warning", ("wall_below_tar_s", 900.0, 901.0), {}),
    # usual lower marks of flue dials: common practice, no source
    ("gas above the coil", "danger", ("gas_above_coil_C", 200.0, 199.9), {}),
    ("gas above the coil", "warning", ("gas_above_coil_C", 250.0, 249.9), {}),
    # Alaska Department of Environmental Conservation: 250 degF (121 degC) at least; 30 K more, common practice
    ("chimney top gas", "danger", ("chimney_top_gas_C", 120.0, 119.9), {}),
    ("chimney top gas", "warning", ("chimney_top_gas_C", 150.0, 149.9), {}),
    # EN 13384-1, dry operation, quoted from memory
    ("chimney top wall", "danger", ("chimney_top_wall_C", 45.0, 44.9), {}),
    # stove test standards: nominal draught 12 Pa
    ("draught", "danger", ("draught_Pa", 8.0, 7.9), {}),
    ("draught", "warning", ("draught_Pa", 12.0, 11.9), {}),
    # smouldering and over-fired: common practice, no source
    ("fire", "warning", ("gas_in_C", 550.0, 550.1), {}),
    ("fire", "warning", ("gas_in_C", 250.0, 249.9), {}),
    # boiling at 100 degC: bulk margin 5 K, bore margin 10 K; at 2500 m water boils some 8 K lower
    ("boiling", "danger", ("water_out_C", 95.0, 95.1), {}),
    ("boiling", "danger", ("water_out_C", 87.0, 87.1), {"water_boils_at_C": 92.0}),
    ("boiling", "danger", ("bore_max_C", 100.0, 100.1), {}),
    ("boiling", "warning", ("bore_max_C", 90.0, 90.1), {}),
    # copper industry tables: 250 degF soft solder, 350 degF brazed, 400 degF last value of the tube itself
    ("tube", "warning", ("tube_max_C", 121.0, 121.1), {}),
    ("tube", "danger", ("tube_max_C", 177.0, 177.1), {}),
    ("tube strength", "danger", ("tube_max_C", 204.0, 204.1), {}),
    # copper industry table: solidus of 50/50 solder
    ("no flow", "note", ("gas_below_coil_C", 183.0, 183.1), {}),
    # computed by a burn; any boiling within a day: common practice, no source
    ("no flow", "danger", ("upset_to_boiling_s", 86400.0, 86399.0), {}),
    ("boiling", "danger", ("time_to_boiling_s", 86400.0, 86399.0), {}),
    # guides to PEX of ASTM F876: up to 200 degF (93 degC) in heating; 3 K kept back
    ("hose", "warning", ("water_out_C", 90.0, 90.1), {}),
    # published burn table: 60 degC in under 5 s, 49 degC in over 5 min
    ("scald", "warning", ("water_out_C", 60.0, 60.1), {}),
    ("scald", "note", ("water_out_C", 49.0, 49.1), {}),
    # WHO, Legionella and the prevention of legionellosis, 2007: multiplies at 25 to 45 degC
    ("hygiene", "note", ("water_out_C", 25.0, 25.1), {}),
    ("hygiene", "note", ("water_out_C", 45.0, 44.9), {}),
    # hard water on hot walls, freezing: common practice, no source
    ("scale", "note", ("bore_max_C", 60.0, 60.1), {}),
    ("frost", "warning", ("room_C", 0.0, -0.1), {}),
    # ASTM C1055, 5 s, quoted from memory; ISO 13732-1, 10 min, second-hand
    ("touch outside", "warning", ("outside_max_C", 60.0, 60.1), {}),
    ("touch outside", "note", ("outside_max_C", 48.0, 48.1), {}),
    ("touch flue", "warning", ("bare_flue_max_C", 60.0, 60.1), {}),
    # acceptance of heating appliances: ambient + 90 degF, 85 degC absolute
    ("wood nearby", "danger", ("outside_max_C", 100.0, 100.1), {}),
    ("wood nearby", "warning", ("outside_max_C", 68.0, 68.1), {}),
    ("wood near the flue", "warning", ("bare_flue_max_C", 85.0, 85.1), {}),
]
# the same where the case states what is judged: kept, passed
STATED = [
    ("moisture", "warning", (damp(0.5),), (damp(0.6),)),
    ("moisture", "danger", (damp(0.5), *SEALED), (damp(0.6), *SEALED)),
    ("moisture", "warning", (damp(0.5),), (damp(0.6), SEALED[0])),  # steam gets out at the open ends
    ("vent", "warning", (), (SEALED[0],)),
    ("chimney", "note", (CHIMNEY,), ()),
    # ANSI Z21.22 practice: 150 psi
    ("relief", "danger", (CLOSED, ("300 kPa", "1034 kPa")), (CLOSED, ("300 kPa", "1035 kPa"))),
]


def judged(case=CASE, section=None, **changes):
    return judge(case, section or lay_out(case), CALM | changes)


def levels(cautions, word):
    return [caution.level for caution in cautions if word in caution.words]


def of_group(cautions, group):
    return [caution for caution in cautions if caution.group == group]


def test_a_calm_heater_gets_notes_only():
    assert {caution.level for caution in judged()} == {"note"}


@pytest.mark.parametrize(("group", "level", "sides", "others"), LIMITS)
def test_a_limit_is_told_where_it_is_passed_and_not_where_it_is_kept(group, level, sides, others):
    result, kept, passed = sides
    assert level not in [caution.level for caution in of_group(judged(**{result: kept}, **others), group)]
    [caution] = of_group(judged(**{result: passed}, **others), group)
    assert caution.level == level
    assert caution.value == pytest.approx(passed / (60 if result.endswith("_s") else 1))
    assert f"{caution.limit:.0f}" in caution.words or "within a day of fire" in caution.words
    assert caution.unit in caution.words


@pytest.mark.parametrize(("group", "level", "kept", "passed"), STATED)
def test_what_a_case_states_is_held_to_its_limit(group, level, kept, passed):
    assert of_group(judged(edited(*kept)), group) == []
    assert [caution.level for caution in of_group(judged(edited(*passed)), group)] == [level]


@pytest.mark.parametrize(("limit", "level"), [(200.0, "warning"), (419.0, "danger")])
def test_zinc_is_held_to_its_limits(limit, level):
    """Long-term limit: Galvanizers Association of Australia, design manual; melting point: general tables."""
    case = edited(GALVANISED)
    assert level not in [caution.level for caution in of_group(judged(case, jacket_max_C=limit), "zinc")]
    [caution] = of_group(judged(case, jacket_max_C=limit + 0.1), "zinc")
    assert caution.level == level
    assert of_group(judged(jacket_max_C=limit + 0.1), "zinc") == []  # a jacket without zinc


def test_every_row_of_the_table_is_tested_on_both_sides():
    tested = {(group, level) for group, level, *_ in (*LIMITS, *STATED)} | {("zinc", "warning"), ("zinc", "danger")}
    assert {(limit.group, limit.level) for limit in limits()} <= tested
    of_results = [sides[0] for _, _, sides, others in LIMITS if not others]
    stated = {"relief": 1, "moisture": 2, "zinc": 2}
    assert len(limits()) == len(of_results) - 1 + sum(stated.values())  # "between" is one row with two ends


def test_every_row_of_the_table_has_a_source_and_someone_who_decides():
    for limit in limits():
        assert limit.source and limit.mark in ("P+", "P", "C")
        assert limit.decides in DECIDES and limit.level in LEVELS
        assert limit.do and not limit.do.endswith(".")
        assert (limit.limit_above is not None) == (limit.side == "between")
        assert limit.unit


def test_an_error_bar_that_reaches_over_the_limit_counts_against_the_heater():
    assert of_group(judged(wall_min_C=121.0, wall_min_error_C=0.9), "flue wall") == []
    [caution] = of_group(judged(wall_min_C=121.0, wall_min_error_C=1.1), "flue wall")
    assert "121 ± 2 degC" in caution.words and "within its error" in caution.words
    [caution] = of_group(judged(wall_min_C=119.0, wall_min_error_C=1.1), "flue wall")
    assert "within its error" not in caution.words
    [caution] = of_group(judged(outside_max_C=59.5, outside_max_error_C=0.6), "touch outside")
    assert caution.level == "warning"


def test_a_cold_wall_is_told_by_height():
    heights = {"wall_coldest_C": [40.0, 54.0, 70.0, 50.0], "band_top_m": [0.03, 0.06, 0.09, 0.12]}
    [caution] = of_group(judged(wall_min_C=40.0, **heights), "flue wall")
    assert "over 0.00 to 0.06 m and 0.09 to 0.12 m of 0.12 m" in caution.words


def test_a_wall_wet_in_a_burn_is_told_in_minutes_and_by_height():
    heights = {"wall_below_dew_by_band_s": [7000.0, 300.0, 1200.0], "band_top_m": [0.03, 0.06, 0.09]}
    [caution] = of_group(judged(wall_min_C=40.0, wall_below_dew_s=7140.0, **heights), "flue wall")
    assert "for 119 min, over 0.00 to 0.03 m and 0.06 to 0.09 m of 0.09 m: above 15 min" in caution.words


def test_a_stopped_coil_is_told_by_turn():
    found = judged(upset_to_boiling_s=600.0, turn_boils_after_s=[None, 600.0, 700.0])
    [caution] = of_group(found, "no flow")
    assert caution.level == "danger" and "boils in 10 min, in turns 2 to 3 from the bottom" in caution.words


def test_a_hot_bore_is_told_by_turn():
    [caution] = of_group(judged(bore_max_C=99.0, bore_hottest_C=[70.0, 91.0, 95.0, 80.0, 99.0]), "boiling")
    assert "in turns 2 to 3 and 5 from the bottom" in caution.words


def test_marked_bands_join_into_stretches():
    assert spans([1.0, 2.0, 3.0, 4.0], [True, True, False, True]) == [(0.0, 2.0), (3.0, 4.0)]
    assert spans([1.0], [False]) == []


def test_of_one_group_only_the_worst_is_told():
    [caution] = of_group(judged(wall_min_C=50.0), "flue wall")
    assert "dew point" in caution.words
    [caution] = of_group(judged(water_out_C=99.0, bore_max_C=99.5), "boiling")
    assert "hottest water" in caution.words
    [caution] = of_group(judged(water_out_C=50.0, bore_max_C=120.0), "boiling")
    assert "hottest bore" in caution.words


def test_a_flue_without_water_has_no_caution_about_water():
    case = edited(
        ('wall = "2 mm"', 'wall = "2 mm"\nheight = "0.12 m"'),
        ('[coil]\ntube = "EN 1057 15 x 1"\nturns = 4\npitch = "30 mm"\ngap = "0.5 mm"\n', ""),
        ('[water]\nflow = "3 L/min"\ninlet_temperature = "8 degC"\n', ""),
    )
    dry = dict.fromkeys(("water_boils_at_C", "water_out_C", "bore_max_C", "tube_max_C"))
    found = judged(case, **dry, room_C=-5.0)
    assert {caution.group for caution in found} & {"no flow", "boiling", "tube", "scald", "hygiene", "frost"} == set()


def test_a_material_beyond_its_service_limit_is_a_danger_with_its_name_and_limit():
    limit = next(r.material.service_limit for r in SECTION.regions if r.role == "insulation") - 273.15
    assert levels(judged(insulation_max_C=limit), "mineral wool serves") == []
    [caution] = [c for c in judged(insulation_max_C=limit + 0.1) if "serves to" in c.words]
    assert caution.level == "danger"
    assert "mineral wool" in caution.words and f"{limit:.0f} degC" in caution.words


@pytest.mark.parametrize(
    ("role", "key"),
    [
        ("flue", "wall_max_C"),
        ("flue", "bare_flue_max_C"),
        ("shroud", "shroud_max_C"),
        ("filler", "filler_max_C"),
    ],
)
def test_every_part_is_held_to_the_limit_of_its_material(role, key):
    limit = next(r.material.service_limit for r in SECTION.regions if r.role == role) - 273.15
    group = f"service limit of the {role}"
    assert of_group(judged(**{key: limit}), group) == []
    assert len(of_group(judged(**{key: limit + 0.1}), group)) == 1


def test_a_material_in_a_void_is_held_to_its_own_limit():
    void = 'voids = [{ r_min = "0 mm", r_max = "5 mm", z_min = "0 m", z_max = "0.1 m", material = "glass wool" }]'
    case = edited(after('packing = "vibrated"', void))
    limit = next(r.material.service_limit for r in lay_out(case).regions if r.role == "void") - 273.15
    assert of_group(judged(case, void_max_C=limit), "service limit of the void") == []
    assert len(of_group(judged(case, void_max_C=limit + 0.1), "service limit of the void")) == 1


def test_a_filler_of_ones_own_is_held_to_its_stated_limit():
    own = (
        '[materials."river sand"]\nfamily = "filler"\nconductivity = "0.3 W/mK"\ndensity = "1600 kg/m3"\n'
        'heat_capacity = "800 J/kgK"\nemissivity = 0.9\nservice_limit = "130 degC"\n'
    )
    case = edited(
        ('material = "quartz sand"\npacking = "vibrated"', 'material = "river sand"'), ("[fire]", own + "[fire]")
    )
    assert levels(judged(case, filler_max_C=131.0), "river sand serves to 130 degC") == ["danger"]
    assert levels(judged(case, filler_max_C=129.0), "serves to") == []


def test_a_material_used_twice_is_told_of_once():
    case = edited(
        after(
            'packing = "vibrated"',
            'voids = [{ r_min = "0 mm", r_max = "5 mm", z_min = "0 m", z_max = "0.1 m", material = "quartz sand" }]',
        )
    )
    words = [caution.words for caution in judged(case) if "oven-dry" in caution.words]
    assert len(words) == 1


def test_turns_in_air_that_are_said_to_touch_are_told_of_with_what_a_gap_would_leave():
    """Said to touch, a coil in air gains far more than one wound by hand: study-gap has the whole curve."""
    tight = (GAP, 'gap = "0 mm"')
    assert not of_group(judged(edited(tight)), "touching")  # packed: the filler carries the heat
    assert not of_group(judged(edited(*BARE_COIL)), "touching")  # a gap is stated
    resisting = ("[room]", '[contacts]\ntube-flue = "1e-4 m2K/W"\n[room]')
    assert not of_group(judged(edited(*BARE_COIL, tight, resisting)), "touching")
    heater = solved(*BARE_COIL, tight, fineness=1)
    outcome = summarise(heater)
    (told,) = of_group(judge_with_remedies(heater.case, heater.model.section, outcome), "touching")
    assert told.level == "warning" and told.words.startswith("all turns touch")
    stated = summarise(solved(*BARE_COIL, (GAP, 'gap = "0.5 mm"'), fineness=1))["heat_to_water_W"]
    assert outcome["loose"]["heat_to_water_W"] == pytest.approx(stated, rel=1e-6)
    assert f"0.5 mm off the flue: {stated:.0f} W" in told.computed[-1]
    assert stated < 0.8 * outcome["loose"]["heat_to_water_before_W"]


def test_dust_of_the_filler_is_told_of():
    assert any("P3" in caution.words for caution in judged())


def test_worst_comes_first():
    found = judged(wall_min_C=30.0, gas_above_coil_C=220.0, outside_max_C=90.0, water_out_C=99.0)
    order = [LEVELS.index(caution.level) for caution in found]
    assert order == sorted(order) and set(order) == {0, 1, 2}


def test_every_caution_says_what_to_do_its_source_and_who_decides():
    found = judged(
        edited(SEALED[0]),
        wall_min_C=30.0,
        gas_above_coil_C=150.0,
        outside_max_C=90.0,
        water_out_C=99.0,
        tube_max_C=200.0,
        filler_max_C=900.0,
    )
    for caution in found:
        assert isinstance(caution, Caution)
        assert caution.words and not caution.words.endswith(".")
        assert caution.remedy and not caution.remedy.endswith(".")
        assert caution.source and caution.decides in DECIDES.values()
        assert (caution.value is None) == (caution.limit is None)


def test_whoever_decides_is_licensed_or_a_code():
    assert all("licensed" in words and words.endswith("decide") for words in DECIDES.values())


def test_what_always_holds_names_water_fire_and_dust():
    assert [words.split(":")[0] for words in ALWAYS] == ["Water", "Fire", "Dust"]
    assert "carbon monoxide" in ALWAYS[1] and "relief valve" in ALWAYS[0]
    assert "decide" in DEFER


# --- a solved heater


def test_judging_a_solved_heater_reads_its_own_outcome():
    heater = solved()
    outcome = summarise(heater)
    [caution] = of_group(judge(heater.case, heater.model.section, outcome), "flue wall")
    assert caution.level == "danger" and caution.value == outcome["wall_min_C"]
    assert "over 0.00 to 0.12 m of 0.12 m" in caution.words


@pytest.fixture(scope="module")
def tried():
    return try_remedies(CASE)


def each_before(tried, name):
    """A result without any change, which is the same beside each change."""
    first, *others = [each["_before_".join(name.rsplit("_", 1))] for each in tried]
    assert all(other == first for other in others)
    return first


def test_a_cold_wall_names_two_remedies_with_their_computed_effect(tried):
    outcome = summarise(solved())
    [caution] = of_group(judge(CASE, SECTION, outcome | {"remedies": tried}), "flue wall")
    heading, as_it_is, *lines = caution.computed
    assert heading.startswith("computed, steady fire and water at 8 degC")
    wall, heat = (each_before(tried, name) for name in ("wall_min_C", "heat_to_water_W"))
    assert as_it_is == f"as it is: {wall:.0f} degC, {heat:.0f} W to the water"
    for line, each in zip(lines, tried[:2], strict=True):
        assert line == f"{each['words']}: {each['wall_min_C']:.0f} degC, {each['heat_to_water_W']:.0f} W to the water"


def test_a_remedy_warms_the_wall_and_its_effect_is_that_of_the_changed_case(tried):
    assert len(tried) >= 2
    for each in tried[:2]:
        assert each["wall_min_C"] > CALM["dew_point_C"] + 10 > each["wall_min_before_C"]
        assert each["heat_to_water_W"] < each["heat_to_water_before_W"]
    warm = summarise(solved(('inlet_temperature = "8 degC"', 'inlet_temperature = "55 degC"'), fineness=1))
    [valve] = [each for each in tried if "55 degC" in each["words"]]
    assert valve["wall_min_C"] == pytest.approx(warm["wall_min_C"], abs=1e-6)


# --- a burn


@pytest.fixture(scope="module")
def burnt():
    """A small burn whose wall runs cold: outcome as computed, and cautions with what remedies do to it."""
    case = loads(edited_text() + BURN)
    outcome = summarise_burn(FastBurner(case, 1, most_refined=0).first.march)
    return outcome, judge_with_remedies(case, lay_out(case), outcome)


def test_a_cold_wall_in_a_burn_is_told_with_its_time_its_height_and_two_remedies_for_both_times(burnt):
    outcome, cautions = burnt
    [caution] = of_group(cautions, "flue wall")
    assert caution.level == "danger" and caution.result == "wall_below_dew_s"
    assert f"for {outcome['wall_below_dew_s'] / 60:.0f} min, over 0.00 to 0.12 m of 0.12 m" in caution.words
    heading, as_it_is, *lines = caution.computed
    assert "this burn" in heading and "below the dew point" in heading
    cold, target = (f"{outcome[key] / 60:.0f} min" for key in ("wall_below_dew_s", "time_to_target_s"))
    assert as_it_is == f"as it is: for {cold}, target after {target}"  # the outcome is of the same coarse grid
    assert len(lines) == 2 and all("target after" in line for line in lines)


def test_remedies_of_a_burn_shorten_the_cold_and_cost_time(burnt):
    outcome, _ = burnt
    assert {each["words"].split()[1] for each in outcome["remedies"]} == {"mixing", "same", "mm"}
    for each in outcome["remedies"]:
        assert each["wall_below_dew_before_s"] > 900.0 > each["wall_below_dew_s"]
        assert each["time_to_target_s"] > each["time_to_target_before_s"] == outcome["time_to_target_s"]
    first, second, _ = outcome["remedies"]
    assert first["time_to_target_s"] < second["time_to_target_s"]  # of those that suffice the soonest hot comes first


def test_water_that_drives_itself_is_offered_no_valve():
    natural = loads(edited_text() + BURN + '\n[loop]\ncirculation = "natural"\ntank_above_coil = "1 m"\n')
    words = [change.words for change in changes(natural)]
    assert len(words) == 2 and not any("valve" in each for each in words)


def test_a_shroud_left_empty_has_no_contacts_of_its_packing():
    """A computed contact of the filler's grains cannot be laid out once the filler is air."""
    case = edited(("[fire]", '[contacts]\ntube-filler = "computed"\n\n[fire]'))
    for change in changes(case):
        lay_out(change.case)


def test_a_case_that_leaves_no_room_for_a_remedy_has_none():
    loose = (('inlet_temperature = "8 degC"', 'inlet_temperature = "60 degC"'), ('gap = "0.5 mm"', 'gap = "5 mm"'))
    bare = edited_text(*loose)
    bare = bare[: bare.index("[filler]")] + bare[bare.index("[fire]") :]
    assert try_remedies(loads(bare)) == []


# --- refused outright


def refusal(*changes):
    with pytest.raises(InputError) as caught:
        edited(*changes)
    return str(caught.value)


def test_a_closed_vessel_without_relief_is_refused():
    text = refusal(after('inlet_temperature = "8 degC"', 'vessel = "closed"'))
    assert "water.vessel" in text and "relief valve" in text


def test_a_closed_vessel_with_relief_is_let_pass_and_written_back():
    case = edited(CLOSED)
    assert case.water.relief == 300e3
    assert loads(dump(case)) == case


def test_relief_below_the_working_pressure_is_refused():
    text = refusal(after('inlet_temperature = "8 degC"', 'vessel = "closed"\npressure = "300 kPa"\nrelief = "150 kPa"'))
    assert "water.relief" in text and "counted from the air" in text


def test_pressure_that_an_open_tank_cannot_hold_is_refused():
    assert "open vessel" in refusal(after('inlet_temperature = "8 degC"', 'pressure = "202 kPa"'))
    edited(after('inlet_temperature = "8 degC"', 'pressure = "201 kPa"'))  # 101.3 kPa and ten metres of water


def test_relief_of_an_open_vessel_is_a_contradiction():
    assert "water.relief" in refusal(after('inlet_temperature = "8 degC"', 'relief = "300 kPa"'))


def test_a_banned_filler_is_refused():
    assert "thermite" in refusal(('"quartz sand"\npacking = "vibrated"', '"aluminium powder"'))


def test_fields_of_a_caution_are_plain():
    for caution in judged(wall_min_C=30.0):
        for value in dataclasses.asdict(caution).values():
            assert value is None or isinstance(value, (str, float, int)) or value == ()
