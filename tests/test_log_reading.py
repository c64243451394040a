"""Reading a burn log: columns, times, units, and every fault by its row."""

import json

import numpy as np
import pytest
from burn_logs import FITTED, NAMES, places, planted, shipped, truth_of, write_log

from annulus.errors import InputError
from annulus.logs.columns import assign, guess, split_unit
from annulus.logs.reading import read_log

HEAD = "time,drum [degC]"


@pytest.mark.parametrize("name", NAMES)
def test_every_planted_fault_is_found_on_its_rows_and_nothing_else(name):
    assert places(shipped(name).findings) == planted(name)


@pytest.mark.parametrize("name", ["bath-house-bare", "bath-house-sand"])
def test_logs_to_calibrate_on_have_their_planted_faults_found_and_nothing_else(name):
    faults = json.loads((FITTED / f"{name}.truth.json").read_text(encoding="utf-8"))["faults"]
    expected = {(fault["kind"], fault["column"], fault["first_line"], fault["last_line"]) for fault in faults}
    assert places(read_log(FITTED / f"{name}.csv").findings) == expected


def test_shipped_logs_hold_every_sort_of_fault_and_one_is_clean():
    kinds = {fault["kind"] for name in NAMES for fault in truth_of(name)["faults"]}
    assert kinds >= {
        *("fahrenheit", "gap", "duplicate", "back", "missing", "unreadable"),
        *("spike", "swapped", "stuck", "saturated", "fault code"),
    }
    assert truth_of("clean")["faults"] == []


def test_mended_readings_are_near_those_of_the_sound_columns():
    log = shipped("mixed-up")  # one column was in Fahrenheit, two hoses were exchanged for a while
    below, above = log.channels["gas_below"], log.channels["gas_above"]
    hot = below > 550
    assert 60 < np.nanmedian((below - above)[hot]) < 160
    later = slice(60, None)
    assert np.nanmin((log.channels["water_out"] - log.channels["water_in"])[later]) > 2


@pytest.mark.parametrize(
    ("heading", "role"),
    [
        ("flue low", "gas_below"),
        ("T_stack_above [degF]", "gas_above"),
        ("pipe temp below coil", "gas_below"),
        ("Drum top", "tank_top"),
        ("tubBottom", "tank_bottom"),
        ("barrel (C)", "tank"),
        ("hose in", "water_in"),
        ("coil outlet", "water_out"),
        ("Wood lb", "wood"),
        ("water flow L/min", "flow"),
        ("Elapsed min", "elapsed"),
        ("Clock", "clock"),
        ("outside", "outdoors"),
        ("remarks", None),
        ("Durchfluss [L/min]", None),
        ("Rücklauf", None),
    ],
)
def test_role_is_guessed_from_the_words_of_a_heading(heading, role):
    assert guess(heading) == role


@pytest.mark.parametrize(
    ("heading", "unit"),
    [
        ("flue [degF]", "degF"),
        ("flue (°C)", "°C"),
        ("flue / degF", "degF"),
        ("flue_low_F", "F"),
        ("flue, C", "C"),
        ("flue low", None),
    ],
)
def test_unit_is_read_from_a_heading(heading, unit):
    assert split_unit(heading, "temperature")[1] == unit


def test_clock_passes_midnight(tmp_path):
    log = read_log(write_log(tmp_path, HEAD, "23:50,10", "23:58,11", "0:06,12", "0:14,13"))
    assert log.time.tolist() == [0, 480, 960, 1440]
    assert log.findings == ()


def test_elapsed_minutes_fahrenheit_and_pounds_become_si(tmp_path):
    log = read_log(write_log(tmp_path, "t [min],tank [degF],wood [lb]", "0,50,2", "10,59,", "20,68,1"))
    assert log.time.tolist() == [0, 600, 1200]
    # 50 degF = 10 degC, 1 lb = 0.45359237 kg, by definition
    assert log.channels["tank"] == pytest.approx([283.15, 288.15, 293.15])
    assert log.channels["wood"] == pytest.approx([0.90718474, 0, 0.45359237])


def test_semicolons_bring_decimal_commas(tmp_path):
    log = read_log(write_log(tmp_path, "time;drum [degC]", "8:00;10,5", "8:10;11,25"))
    assert log.channels["tank"] == pytest.approx([283.65, 284.4])


def test_clock_set_back_an_hour_goes_on_one_step_later(tmp_path):
    minutes = [*range(60, 120, 5), *range(60, 120, 5)]
    rows = [f"{m // 60}:{m % 60:02d},{10 + n / 4}" for n, m in enumerate(minutes)]
    log = read_log(write_log(tmp_path, HEAD, *rows))
    assert np.diff(log.time).tolist() == [300.0] * 23
    (found,) = log.findings
    assert (found.kind, found.first_line) == ("clock", 14)
    assert "60 min" in found.done


def test_clock_without_seconds_spreads_rows_of_one_minute(tmp_path):
    rows = [f"8:{n // 3:02d},{10 + n / 10:.1f}" for n in range(30)]
    log = read_log(write_log(tmp_path, HEAD, *rows))
    assert np.diff(log.time) == pytest.approx(20.0)
    assert [found.kind for found in log.findings] == ["clock"]


def test_irregular_times_are_no_gap_but_an_hour_is(tmp_path):
    rng = np.random.default_rng(5)
    minutes = np.cumsum(rng.integers(4, 12, 30))
    rows = [f"{m},{10 + m / 30:.1f}" for m in [*minutes, minutes[-1] + 60]]
    log = read_log(write_log(tmp_path, "t [min],drum [degC]", *rows))
    assert [(found.kind, found.first_line) for found in log.findings] == [("gap", 31)]


def test_column_filled_now_and_then_has_no_missing_cells(tmp_path):
    rows = [f"{m},{20 + m},{18 if m % 10 == 0 else ''}" for m in range(40)]
    log = read_log(write_log(tmp_path, "t [min],drum [degC],room [degC]", *rows))
    assert log.findings == ()
    assert np.isfinite(log.channels["room"]).sum() == 4


def test_coarse_steady_readings_are_not_called_stuck(tmp_path):
    # a display of whole degrees on a tank that warms by 1 K in 20 rows
    rows = [f"{m},{10 + m // 20},{10 + (m + 7) // 20}" for m in range(240)]
    log = read_log(write_log(tmp_path, "t [min],tank top [degC],tank bottom [degC]", *rows))
    assert [found.kind for found in log.findings if found.kind == "stuck"] == []


def test_mapping_names_columns_and_units_that_headings_hide():
    uses = assign(["a", "b", "c"], {"clock": "a", "gas_below": "c [degF]"}, "x.csv")
    assert [(use.role, use.unit) for use in uses] == [("clock", "h"), (None, ""), ("gas_below", "degF")]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ((HEAD, "8:00,1"), "needs a heading and two rows"),
        (("alpha beta", "1", "2"), "no comma, semicolon or tab"),
        (("a,b", "1,2", "3,4"), "no column tells the time"),
        ((HEAD, "8:00,1,5", "8:10,2,6"), "line 2: has 3 cells, the heading 2"),
        (("time,drum,drum", "8:00,1,1", "8:01,2,2"), "stands twice"),
        (("1,2", "3,4", "5,6"), "holds numbers where the heading is due"),
        ((HEAD, "soon,1", "later,2"), "0 of 2 cells are times"),
        (("time,remark", "8:00,a", "8:01,b"), "no column but the time is known among 'time', 'remark'"),
        ((HEAD, *["8:00:30,9"] * 9), "all rows have the time '8:00:30'"),
        ((HEAD, "9:02,3", "9:01,2", "9:00,1"), "newest row comes first"),
        ((HEAD, "8:00,8 C", "8:01,9 C"), "2 of 2 cells are no numbers, such as '8 C'"),
        (("time,drum", '8:00,"8,5"', '8:01,"9,5"'), "a decimal comma needs semicolons"),
        ((HEAD, "45992.5,8", "45992.6,9"), "45992.5 is no time of day"),
        (("export of a logger", HEAD, "8:00,1", "8:01,2"), "is it a line above the heading"),
        (("Uhrzeit;Durchfluss [L/min]", "8:00;3,0", "8:01;3,0"), "no column tells the time among 'Uhrzeit'"),
    ],
)
def test_what_is_no_log_is_refused_in_words(tmp_path, lines, words):
    with pytest.raises(InputError, match=words):
        read_log(write_log(tmp_path, *lines))


def test_mapping_to_a_column_that_is_not_there_names_the_nearest(tmp_path):
    with pytest.raises(InputError, match="did you mean 'drum'"):
        read_log(write_log(tmp_path, "time,drum", "8:00,1", "8:01,2"), {"clock": "time", "tank": "drun"})


def test_gas_that_doubles_over_a_gap_is_fresh_wood_and_no_switched_display(tmp_path):
    times = [*range(40), *range(46, 90)]
    gas = [290.0 - m / 2 if m < 40 else 530.0 - m for m in times]  # 270.5, then 484: near 1.8 x 270.5 + 32 = 519
    rows = [f"{m},{g + m % 3:.1f},{g * 0.8 + m % 3:.1f},{10 + m / 10}" for m, g in zip(times, gas, strict=True)]
    head = "t [min],flue below [degC],flue above [degC],drum [degC]"
    log = read_log(write_log(tmp_path, head, *rows))
    assert [found.kind for found in log.findings] == ["gap"]


def warm_log(folder, gas, above=None, water=10.0):
    """A log of a minute's steps with these gas readings; water that warms from a well's temperature."""
    above = [0.75 * g for g in gas] if above is None else above
    rows = [f"{m},{g:.1f},{a:.1f},{water + m / 10:.1f}" for m, (g, a) in enumerate(zip(gas, above, strict=True))]
    return read_log(write_log(folder, "t [min],flue below [degC],flue above [degC],drum [degC]", *rows))


def test_spike_to_about_the_fahrenheit_of_its_neighbours_is_a_spike_and_no_switched_display(tmp_path):
    above = [300.0 + 8 * (m % 5) for m in range(80)]
    above[30] = above[50] = above[51] = 1.8 * 310 + 40
    found = warm_log(tmp_path, [440.0] * 20 + [450.0 + m % 7 for m in range(60)], above).findings
    assert [(one.kind, one.first_line) for one in found if one.column.startswith("flue above")] == [
        ("spike", 32),
        ("spike", 52),
        ("spike", 53),
    ]


def test_flue_of_a_warm_room_beside_cold_water_is_not_read_as_fahrenheit(tmp_path):
    gas = [27.0, 60.0, 150.0, *(300.0 + 3 * (m % 4) for m in range(60))]
    assert warm_log(tmp_path, gas, [25.0, *(0.94 * g for g in gas[1:])], water=7.0).findings == ()


def test_date_and_time_in_columns_of_their_own_pass_midnight(tmp_path):
    rows = ["12/31/2025,11:58 PM,50", "12/31/2025,11:59 PM,51", "1/1/2026,12:00 AM,52", "1/1/2026,12:01 AM,53"]
    log = read_log(write_log(tmp_path, "Date,Time,tub F", *rows))
    assert log.time.tolist() == [0, 60, 120, 180]
    assert [use.role for use in log.uses] == [None, "clock", "tank"]


def test_heading_that_is_a_unit_has_that_unit(tmp_path):
    log = read_log(write_log(tmp_path, "time,tank [degC],gpm", "8:00,10,1", "8:01,11,1", "8:02,12,1"))
    # a US gallon is 231 cubic inches, 3.785411784 L, by definition; water of some 998 kg/m3
    assert log.channels["flow"] == pytest.approx(3.785411784e-3 / 60 * 998, rel=2e-3)


def test_more_wood_than_a_stove_holds_is_left_out_by_row(tmp_path):
    log = read_log(write_log(tmp_path, "time,tank [degC],wood [kg]", "8:00,10,2", "8:01,11,1e300", "8:02,12,-1"))
    assert log.channels["wood"].tolist() == [2, 0, 0]
    assert [(found.kind, found.first_line) for found in log.findings] == [("impossible", 3), ("impossible", 4)]


def test_log_in_another_language_is_read_by_its_mapping(tmp_path):
    head = "Uhrzeit;Rauchgas unten [°C];Speicher [°C];Holz [kg]"
    rows = [f"31.12.2025 {22 + m // 60}:{m % 60:02d};{380 + m % 7},5;{10 + m / 10:.1f};" for m in range(90)]
    rows += [f"01.01.2026 0:{m:02d};{380 + m % 7},5;{22 + m / 10:.1f};" for m in range(30, 60)]
    mapping = {"clock": "Uhrzeit", "gas_below": "Rauchgas unten", "tank": "Speicher", "wood": "Holz"}
    log = read_log(write_log(tmp_path, head, *(row.replace(".0;", ";") for row in rows)), mapping)
    assert log.time[-1] == 179 * 60
    assert [(found.kind, found.first_line) for found in log.findings] == [("gap", 91)]
    assert np.nanmean(log.channels["gas_below"]) == pytest.approx(273.15 + 383.5, abs=0.2)


def test_gas_that_never_moves_is_called_stuck_and_not_at_the_end_of_its_probe(tmp_path):
    rows = [f"{m},420,{10 + m / 10:.1f}" for m in range(60)]
    log = read_log(write_log(tmp_path, "t [min],flue below [degC],drum [degC]", *rows))
    assert places(log.findings) == {("stuck", "flue below [degC]", 2, 61)}
    assert log.at_limit == {}


def test_finding_names_a_reading_in_the_unit_of_its_column(tmp_path):
    rows = [f"{m},{600 + min(m, 40) % 41},{283 + m / 10:.1f}" for m in range(80)]
    log = read_log(write_log(tmp_path, "t [min],flue below [K],drum [K]", *rows))
    assert [found.read for found in log.findings] == ["640 K in 40 rows, the highest of the column"]


def test_seconds_since_1970_and_offsets_of_a_time_zone_are_read(tmp_path):
    whole = read_log(write_log(tmp_path, "timestamp,drum", "1767222000,8", "1767222060,9", "1767222120,10"))
    zoned = read_log(
        write_log(tmp_path, "timestamp,drum", "2026-01-31T23:59:00+01:00,8", "2026-02-01T00:00:00+01:00,9")
    )
    assert whole.time.tolist() == [0, 60, 120]
    assert zoned.time.tolist() == [0, 60]


def test_spreadsheet_that_names_its_separator_and_has_units_in_a_row_of_their_own_is_read(tmp_path):
    lines = ("sep=;", "Time;flue low;drum", ";°F;°F", "8:00;400,5;50", "8:01;401;51", "8:02;402;52")
    log = read_log(write_log(tmp_path, *lines))
    assert [use.unit for use in log.uses if use.role != "clock"] == ["°F", "°F"]
    assert log.channels["tank"][0] == pytest.approx(283.15)
    assert log.lines.tolist() == [4, 5, 6]


def test_spike_is_found_where_the_door_was_opened_over_a_gap(tmp_path):
    times = [*range(60), *range(66, 90)]
    above = [300.0 + m % 4 for m in range(60)] + [901.0, 206.0, 226.0, 268.0] + [310.0 + m % 4 for m in range(20)]
    rows = [f"{m},{450 + m % 5},{a},{10 + m / 10:.1f}" for m, a in zip(times, above, strict=True)]
    log = read_log(write_log(tmp_path, "t [min],flue below [degC],flue above [degC],drum [degC]", *rows))
    assert places(log.findings) == {("gap", "", 61, 62), ("spike", "flue above [degC]", 62, 62)}


def test_bottom_of_a_dip_after_a_gap_is_no_spike(tmp_path):
    times = [*range(60), *range(66, 90)]
    above = (
        [300.0 + m % 4 for m in range(58)] + [308.0, 294.0, 211.0, 194.0, 228.0, 268.0] + [307.0 + m for m in range(20)]
    )
    rows = [f"{m},{450 + m % 5},{a},{10 + m / 10:.1f}" for m, a in zip(times, above, strict=True)]
    log = read_log(write_log(tmp_path, "t [min],flue below [degC],flue above [degC],drum [degC]", *rows))
    assert [found.kind for found in log.findings] == ["gap"]


def test_probes_of_a_mixed_tank_that_differ_by_their_offsets_are_not_called_swapped(tmp_path):
    rng = np.random.default_rng(6)
    top, bottom = rng.normal(-0.25, 0.2, (2, 180)) * [[1], [-1]]
    rows = [f"{m},{10 + m / 10 + top[m]:.1f},{10 + m / 10 + bottom[m]:.1f}" for m in range(180)]
    assert (top - bottom < -0.75).sum() > 10
    assert read_log(write_log(tmp_path, "t [min],tank top [degC],tank bottom [degC]", *rows)).findings == ()
