"""Files are whole or not there at all."""

import json
import os

import pytest

from annulus.present.files import write_json, write_text


def test_bytes_are_utf_8_with_plain_line_ends(tmp_path):
    write_text(tmp_path / "a.txt", "180 °C\nΔ\n")
    assert (tmp_path / "a.txt").read_bytes() == "180 °C\nΔ\n".encode()


def test_folders_are_made(tmp_path):
    write_text(tmp_path / "x" / "y" / "a.txt", "here")
    assert (tmp_path / "x" / "y" / "a.txt").read_text() == "here"


def test_an_older_file_is_replaced(tmp_path):
    write_text(tmp_path / "a.txt", "old and long")
    write_text(tmp_path / "a.txt", "new")
    assert (tmp_path / "a.txt").read_text() == "new"


def test_nothing_else_is_left_in_the_folder(tmp_path):
    write_text(tmp_path / "a.txt", "whole")
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError])
def test_stopped_before_the_last_step_the_old_file_stays_whole(tmp_path, monkeypatch, stop):
    write_text(tmp_path / "a.txt", "old")

    def fail(*_):
        raise stop("stopped")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(stop):
        write_text(tmp_path / "a.txt", "new")
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]
    assert (tmp_path / "a.txt").read_text() == "old"


def test_text_that_cannot_be_encoded_leaves_no_file(tmp_path):
    with pytest.raises(UnicodeEncodeError):
        write_text(tmp_path / "a.txt", "half a surrogate pair: \ud800")
    assert list(tmp_path.iterdir()) == []


def test_json_reads_back_the_same(tmp_path):
    content = {"heat_to_water_W": 1398.25, "turns": [1.0, 2.0], "none": None, "title": "Ofenrohr, 150 mm, größer"}
    write_json(tmp_path / "r.json", content)
    assert json.loads((tmp_path / "r.json").read_text(encoding="utf-8")) == content
    assert "größer" in (tmp_path / "r.json").read_text(encoding="utf-8")


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_not_finite_is_an_error_and_leaves_no_file(tmp_path, value):
    with pytest.raises(ValueError, match="JSON"):
        write_json(tmp_path / "r.json", {"heat_to_water_W": value})
    assert list(tmp_path.iterdir()) == []


def test_floats_keep_every_digit(tmp_path):
    value = 0.1 + 0.2
    write_json(tmp_path / "r.json", {"x": value})
    assert json.loads((tmp_path / "r.json").read_text())["x"] == value
