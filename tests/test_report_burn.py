"""A burn in the report and in files for other programs: the same fields as the march has, at the ends of its steps."""

from __future__ import annotations

import base64
import re
from html import escape

import meshio
import numpy as np
import pytest
from browser import Browser, find_browser
from commands import TINY
from heaters import WOOD, edited_text

from annulus.burn import burn_with_errors, instants
from annulus.case import Case, loads
from annulus.cautions import Caution
from annulus.cli import main
from annulus.present.burning import burn_rows
from annulus.present.fields import MOST_INSTANTS, write_burn
from annulus.present.report.embed import embed_burn, join
from annulus.present.report.page import merge_cautions
from annulus.units.celsius import to_celsius

DRUM = """
[tank]
volume = "6 L"
start_temperature = "8 degC"
target_temperature = "20 degC"
"""
BURNT = edited_text(*WOOD, text=TINY) + DRUM


@pytest.fixture(scope="module")
def case() -> Case:
    return loads(BURNT)


@pytest.fixture(scope="module")
def burnt(case):
    """The burn of the two-turn case with a small drum, and its outcome."""
    return burn_with_errors(case)


def test_instants_begin_cold_and_end_with_the_march(burnt):
    run, outcome = burnt
    found = instants(run.march, 12)
    assert 6 <= len(found) <= 12
    times = [one.time for one in found]
    assert times[0] == 0.0 and times[-1] == outcome["duration_s"]
    assert times == sorted(set(times))
    assert to_celsius(found[0].temperature) == pytest.approx(18.0, abs=1e-6)  # the room's
    last = found[-1]
    model = run.model
    wall = (model.pieces.truly_at_surface @ last.temperature)[model.gas_surfaces]
    # the end is the hottest moment of a burn at a constant fire; 2 mm of steel take some hundredths of a degree
    assert to_celsius(float(wall.max())) == pytest.approx(outcome["wall_max_C"], abs=0.3)
    assert last.water.size == 2 and last.gas.size == 2
    assert last.gas.min() > last.water.max()


def test_a_burn_is_read_back_as_a_series_over_time(burnt, tmp_path):
    run = burnt[0]
    assert write_burn(run, tmp_path) == ["burn.xdmf", "burn.npz"]
    found, pieces = instants(run.march, MOST_INSTANTS), run.model.pieces
    with meshio.xdmf.TimeSeriesReader(tmp_path / "burn.xdmf") as reader:
        reader.read_points_cells()
        assert reader.num_steps == len(found)
        _, _, first = reader.read_data(0)
        volume = np.concatenate(first["volume_m3"])
        for n in (1, len(found) - 1):
            time, _, data = reader.read_data(n)
            assert time == pytest.approx(found[n].time)
            mean = np.average(np.concatenate(data["temperature_C"]), weights=volume)
            expected = np.average(to_celsius(found[n].temperature), weights=pieces.volume)
            assert mean == pytest.approx(expected, rel=1e-6)  # written with eight digits
    arrays = np.load(tmp_path / "burn.npz")
    assert arrays["temperature_K"] == pytest.approx(np.stack([one.temperature for one in found]))
    assert arrays["water_K"].shape == (len(found), 2)


def test_packed_instants_are_those_of_the_march(burnt):
    run = burnt[0]
    packed, joined = embed_burn(run, 500), join(run.model, 500)
    assert joined.volume.size < run.model.pieces.count
    times = [moment["time"] for moment in packed["moments"]]
    (exact,) = (one for one in instants(run.march, 400) if one.time == times[-1])
    last = packed["moments"][-1]["temperature"]
    found = last["low"] + last["step"] * np.frombuffer(base64.b64decode(last["data"]), "<u2")
    assert found == pytest.approx(to_celsius(joined.mean(exact.temperature)), abs=0.501 * last["step"])
    low, high = packed["span"]
    assert low <= found.min() and found.max() <= high


def test_fields_of_a_burn_need_a_tank(run, case_file, tmp_path):
    status, _, err = run("field", case_file, "--out", tmp_path / "files", "--burn")
    assert status == 2 and "[tank]" in err
    assert not (tmp_path / "files").exists()


def test_of_a_limit_that_both_runs_pass_the_report_tells_the_run_that_passes_it_further():
    def caution(level, group, value, result="tube_max_C"):
        return Caution(level, group, f"{value} degC", "do", "source", "decides", value, 0.0, 100.0, "degC", result)

    alike, only = caution("note", "hose", 101.0), caution("danger", "draught", 50.0, "draught_Pa")
    cold, hot = caution("warning", "tube", 130.0), caution("warning", "tube", 120.0)
    found = merge_cautions([alike, cold], [alike, hot, only])
    assert [one.words for one in found] == [
        "in the burn: 50.0 degC",
        "in the steady fire: 130.0 degC",
        "101.0 degC",
    ]


browser = find_browser()


@pytest.mark.skipif(browser is None, reason="no Chromium on this machine: apt-get install chromium")
def test_browser_steps_through_the_burn(burnt, tmp_path):
    (tmp_path / "mine.toml").write_text(BURNT, encoding="utf-8")
    assert main(["report", str(tmp_path / "mine.toml"), "--out", str(tmp_path / "mine.html")]) == 0
    text = (tmp_path / "mine.html").read_text(encoding="utf-8")
    assert len(text.encode()) < 5_000_000
    run, outcome = burnt
    for label, value in burn_rows(outcome):
        assert escape(label) in text and value.replace("degC", "°C") in text
    found = instants(run.march, 32)
    with Browser(browser) as page:
        page.open((tmp_path / "mine.html").as_uri())
        assert page.text("#moment-words") == "steady fire"
        box = page.box("#mark")
        steady = page.run("document.querySelector('#part').toDataURL()")
        bore = run.model.section.turns[0]
        page.run("document.querySelector('#moment').focus()")
        seen = []
        for _ in range(len(found)):
            page.press("ArrowRight")
            seen.append(page.text("#moment-words"))
        assert seen[0] == "0 min after lighting"
        assert seen[-1] == f"{round(outcome['duration_s'] / 60)} min after lighting"
        assert page.run("document.querySelector('#part').toDataURL()") != steady
        assert page.run("document.querySelector('input[value=stripes]').disabled")
        # the water of the lower turn at the end, read with the pointer: its bore is 13 mm wide
        across, tall = run.model.section.r_max - run.model.section.r_min + 0.010, run.model.section.height
        scale = box["width"] / (1e3 * across)
        x = box["x"] + scale * (10 + 1e3 * (bore.r - run.model.section.r_min))
        y = box["y"] + scale * 1e3 * (tall - bore.z)
        page.point(x, y)
        words = page.text("#reading")
        assert "water, turn 1" in words
        (told,) = re.findall(r"temperature([\d.]+) °C", words)
        assert float(told) == pytest.approx(to_celsius(float(found[-1].water[0])), abs=0.006)
        page.press("Home")
        assert page.text("#moment-words") == "steady fire"
        assert page.console == []
