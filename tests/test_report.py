"""The report: complete, within its size, self-contained; and in a browser it reads the field as the solver has it."""

from __future__ import annotations

import base64
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browser import Browser, find_browser
from commands import TINY
from heaters import NO_COIL, edited, edited_text, solved

from annulus.case import Case, loads
from annulus.cautions import ALWAYS, DEFER, judge
from annulus.cli import main
from annulus.heater import SteadyHeater, solve_with_errors
from annulus.present.report.embed import embed_field, embed_section, join, straighten
from annulus.present.report.parts import inputs
from annulus.present.tables import entry
from annulus.units.celsius import to_celsius

MOST_BYTES = 5_000_000


class Reader(HTMLParser):
    """What a page holds: tags with their attributes, and its words."""

    def __init__(self, text: str):
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "link", "img", "br", "input"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not {"script", "style"} & set(self.open):
            self.words += data


@pytest.fixture(scope="module")
def case() -> Case:
    return loads(TINY)


@pytest.fixture(scope="module")
def tiny(case) -> tuple[SteadyHeater, dict[str, Any]]:
    """The two-turn case as `annulus steady` solves it; the second is what it writes as result.json."""
    return solve_with_errors(case)


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """Report on the two-turn case."""
    folder = tmp_path_factory.mktemp("report")
    (folder / "mine.toml").write_text(TINY, encoding="utf-8")
    assert main(["report", str(folder / "mine.toml"), "--out", str(folder / "mine.html")]) == 0
    return folder / "mine.html"


def test_report_is_one_small_file_that_asks_for_nothing(made):
    text = made.read_text(encoding="utf-8")
    assert len(text.encode()) < MOST_BYTES
    page = Reader(text)
    assert page.open == []
    for tag, attributes in page.tags:
        for name in ("src", "href"):
            assert (attributes.get(name) or "data:").startswith("data:"), tag
    assert "@import" not in text and not re.search(r"url\((?!data:|#)", re.sub(r"base64,[^\"]*", "", text))


def test_every_picture_has_a_text_alternative(made):
    page = Reader(made.read_text(encoding="utf-8"))
    pictures = [attributes for tag, attributes in page.tags if tag in ("img", "canvas")]
    assert len(pictures) >= 6
    for attributes in pictures:
        if attributes.get("id") != "part":  # the canvas of marks lies over it and speaks for both
            assert attributes.get("alt") or attributes.get("aria-label"), attributes


def test_inputs_are_told_in_round_numbers_and_in_the_words_of_the_case_file():
    case = edited(('inlet_temperature = "8 degC"', 'inlet_temperature = "46 degF"'))
    page = inputs(case, {"water": {"inlet_temperature": "46 degF", "flow": "3 L/min"}})
    assert "<td>7.77778 degC</td><td>case file: 46 degF</td>" in page
    assert "<td>3 L/min</td><td>case file</td>" in page


def test_report_tells_results_with_errors_cautions_and_where_inputs_come_from(made, case, tiny):
    page, (heater, outcome) = Reader(made.read_text(encoding="utf-8")), tiny
    words = re.sub(r"\s+", " ", page.words)
    assert entry(outcome, "heat_to_water_W", "W", 0) in words
    found = judge(case, heater.model.section, outcome)
    assert found
    for caution in found:
        assert (
            caution.words.replace("degC", "°C") in words
            and caution.source.replace("degC", "°C").replace("degF", "°F") in words
        )
    for always in (*ALWAYS, DEFER):
        assert always in words
    assert "case file" in words and "default or derived" in words
    for region in heater.model.section.regions:
        assert region.material is None or re.sub(r"\s+", " ", region.material.source) in words
    assert "coil to buy" in words and "25 m" in words
    assert "invented example" in words


def test_words_of_a_case_stay_words_and_a_flue_without_a_coil_has_no_gap_map(tmp_path, run):
    case = tmp_path / "odd.toml"
    title = ('title = "Small"', 'title = "<b>1 & 2</b></script>"')
    case.write_text(edited_text(title, *NO_COIL), encoding="utf-8")
    status, _, _ = run("report", case, "--out", tmp_path / "odd.html")
    text = (tmp_path / "odd.html").read_text(encoding="utf-8")
    assert status == 0
    assert "<b>1 &" not in text and "&lt;b&gt;1 &amp; 2&lt;/b&gt;" in text
    assert Reader(text).open == []
    assert 'value="gaps"' not in text


def test_report_is_refused_under_another_name(run, case_file, tmp_path):
    status, _, err = run("report", case_file, "--out", tmp_path / "report.pdf")
    assert status == 2
    assert "must be the name of a file that ends in .html" in err
    assert not (tmp_path / "report.pdf").exists()


def unpacked(packed: dict) -> np.ndarray:
    return packed["low"] + packed["step"] * np.frombuffer(base64.b64decode(packed["data"]), "<u2")


def test_packed_temperatures_are_those_of_the_pieces_to_half_a_step():
    heater = solved()
    packed = embed_field(heater, join(heater.model))["temperature"]
    assert packed["step"] < 0.01
    assert unpacked(packed) == pytest.approx(to_celsius(heater.field.temperature), abs=0.501 * packed["step"])


def test_joined_pieces_keep_volume_regions_and_mean_temperature():
    model, field = solved().model, solved().field
    joined = join(model, most=model.pieces.count // 2)
    assert joined.volume.size < 0.4 * model.pieces.count
    assert joined.volume.sum() == pytest.approx(model.pieces.volume.sum())
    for number in range(len(model.pieces.regions)):
        mine, ours = model.pieces.region == number, joined.region == number
        if mine.any():
            expected = np.average(field.temperature[mine], weights=model.pieces.volume[mine])
            found = np.average(joined.mean(field.temperature)[ours], weights=joined.volume[ours])
            assert found == pytest.approx(expected, rel=1e-12)
    whole = embed_section(model, joined)
    assert len(whole["r"]) == model.pieces.grid.r_face.size // 2 + 1


def test_a_straightened_line_keeps_its_ends_and_stays_near():
    t = np.linspace(0, np.pi, 400)
    line = np.stack([10 * np.cos(t), 10 * np.sin(t)], axis=1)
    short = straighten(line, 0.02)
    assert (short[[0, -1]] == line[[0, -1]]).all()
    # chord of sagitta 0.02 on radius 10: angle 2 acos(1 - 0.002) = 0.126, so 25 chords; halves make up to twice as many
    assert 25 <= len(short) - 1 <= 50


# -- in a browser

browser = find_browser()
in_browser = pytest.mark.skipif(browser is None, reason="no Chromium on this machine: apt-get install chromium")


def region_of(part: str) -> str:
    """Name of a region from the page's words."""
    return {"filling": "filler", "flue wall": "flue"}.get(part, part.replace(", turn", ""))


def readings(page: Browser) -> dict[str, str]:
    return page.run(
        "Object.fromEntries([...document.querySelectorAll('#reading dt')]"
        ".map((t) => [t.textContent, t.nextElementSibling.textContent]))"
    )


def read(heater: SteadyHeater, region: str, r: float, z: float) -> float:
    """Temperature at a place [mm] by the slope of the piece of that region in its cell. [degC]"""
    p, temperature = heater.field.pieces, heater.field.temperature
    r, z = 1e-3 * r, 1e-3 * z
    i, j = np.searchsorted(p.grid.r_face, r) - 1, np.searchsorted(p.grid.z_face, z) - 1
    which = p.region_index(region)
    piece = int(np.flatnonzero((p.cell == i * p.grid.shape[1] + j) & (p.region == which))[0])
    along_r, along_z = (float((slope[[piece]] @ temperature)[0]) for slope in p.gradient)
    return to_celsius(float(temperature[piece]) + along_r * (r - p.r[piece]) + along_z * (z - p.z[piece]))


def number_in(words: str) -> float:
    found = re.search(r"[−-]?\d[\d\u202f]*(\.\d+)?", words)
    assert found is not None, words
    return float(found[0].replace("\u202f", "").replace("−", "-"))


@in_browser
def test_browser_opens_the_report_without_errors_or_requests_and_sorts_its_tables(made, tiny):
    with Browser(browser) as page:
        page.open(made.as_uri())
        heat = tiny[1]["heat_to_turn_W"]
        shown = "[...document.querySelectorAll('table')].at(%d)"
        turns = page.run(
            "[...document.querySelectorAll('caption')].findIndex((c) => c.textContent.startsWith('Every turn'))"
        )
        rows = f"{shown % turns}.tBodies[0].rows"
        page.run(f"{shown % turns}.id = 'turns'")
        page.click("#turns th:nth-child(2) button")
        first = page.run(f"{rows}[0].cells[0].textContent")
        assert int(first) == 1 + int(np.argmax(heat))
        page.click("#turns th:nth-child(2) button")
        assert int(page.run(f"{rows}[0].cells[0].textContent")) == 1 + int(np.argmin(heat))
        assert page.run(f"{shown % turns}.tHead.rows[0].cells[1].getAttribute('aria-sort')") == "ascending"
        assert page.console == []
        assert [address for address in page.requests if not address.startswith("data:")] == [made.as_uri()]


@in_browser
def test_pointer_and_keys_read_the_section_as_the_solver_has_it(made, tiny):
    """Against the field itself, and at the flue wall against the extremes in result.json."""
    heater, result = tiny
    with Browser(browser) as page:
        page.open(made.as_uri())
        box = page.box("#mark")
        seen: set[str] = set()
        for number, across in enumerate(np.linspace(0.13, 0.99, 80)):  # fine enough to meet the shroud
            for down in (0.3, 0.6)[: 1 + (number % 8 == 0)]:
                page.point(box["x"] + across * box["width"], box["y"] + down * box["height"])
                found = readings(page)
                r, z = (number_in(words) for words in found["place"].split(","))
                seen.add(found["part"].split(",")[0])
                if found["part"].startswith(("water", "gas")):
                    continue
                expected = read(heater, region_of(found["part"]), r, z)
                # the place is told to 0.005 mm, in which the steepest place changes by some tenths of a degree
                assert number_in(found["temperature"]) == pytest.approx(expected, abs=0.2), found
        assert {"filling", "insulation", "shroud"} <= seen
        # up the inside of the flue wall, by keys
        page.run("document.querySelector('#mark').focus()")
        wall = []
        page.point(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
        for _ in range(400):
            page.press("ArrowLeft", modifiers=0)
            r = number_in(readings(page)["place"])
            if r < 76.0:
                break
        for _ in range(20):
            page.press("ArrowUp", modifiers=8)
        for _ in range(60):
            found = readings(page)
            if found["part"] == "flue wall":
                wall.append(number_in(found["temperature"]))
            page.press("ArrowDown")
        assert page.console == []
    assert min(wall) == pytest.approx(result["wall_min_C"], abs=0.2)
    assert max(wall) == pytest.approx(result["wall_max_C"], abs=0.2)


@in_browser
def test_stripes_and_gaps_are_drawn_and_explained(made, tiny):
    with Browser(browser) as page:
        page.open(made.as_uri())
        dots = "document.querySelector('#part').toDataURL().length"
        temperature = page.run("document.querySelector('#part').toDataURL()")
        page.click("input[value=stripes]")
        stripes = page.run("document.querySelector('#part').toDataURL()")
        words = page.text("#words-key")
        told = re.findall(r"the water[^:]*: ([\d.]+) W", words)
        # told to three digits; heat that leaves tubes again is told apart
        assert sum(map(float, told)) == pytest.approx(tiny[1]["heat_to_water_W"], rel=0.02)
        page.click("input[value=gaps]")
        gaps = page.run("document.querySelector('#part').toDataURL()")
        assert len({temperature, stripes, gaps}) == 3
        assert page.run(dots) > 5000  # a blank one has some 2000
        assert "costs the water" in page.text("#words-key")
        assert page.console == []
