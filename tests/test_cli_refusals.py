"""Commands that must refuse or stop: one message, the right status, and nothing left behind."""

import errno
import os
from pathlib import Path

import pytest
from commands import TINY, contents, write

from annulus import heater
from annulus.commands.progress import Progress, stop_by_hand
from annulus.errors import ConvergenceError

# --- what is refused

FAULTS = {
    "unknown key": ([('wall = "2 mm"', 'wal = "2 mm"')], ["flue.wal", "did you mean 'wall'"]),
    "missing unit": ([('wall = "2 mm"', "wall = 2")], ["flue.wall", "unit"]),
    "number without unit": ([('wall = "2 mm"', 'wall = "2"')], ["flue.wall", "no unit", "mm"]),
    "wrong unit": ([('wall = "2 mm"', 'wall = "2 kg"')], ["flue.wall", "kg", "mm"]),
    "unknown unit": ([('wall = "2 mm"', 'wall = "2 mn"')], ["flue.wall", "mn"]),
    "flow as speed": ([('flow = "3 L/min"', 'flow = "3 m/s"')], ["water.flow", "L/min"]),
    "tube larger than cavity": (
        [('clearance = "8 mm"', 'inner_diameter = "180 mm"')],
        ["shroud", "180 mm", "tube"],
    ),
    "pitch under tube": ([('pitch = "30 mm"', 'pitch = "14 mm"')], ["coil.pitch", "14 mm", "15 mm", "overlap"]),
    "wall fills tube": (
        [('tube = "EN 1057 15 x 1"', 'tube_outer_diameter = "15 mm"\ntube_wall = "8 mm"')],
        ["coil.tube_wall", "15 mm"],
    ),
    "gaps": ([('gap = "0.5 mm"', 'gap = ["0.5 mm", "1 mm", "1 mm"]')], ["coil.gap", "3 values for 2 turns"]),
    "bare size": ([('tube = "EN 1057 15 x 1"', 'tube = "1/2 in"')], ["coil.tube", "1/2 in"]),
    "banned filler": (
        [('material = "quartz sand"\npacking = "vibrated"', 'material = "sawdust"')],
        ["filler", "sawdust"],
    ),
    "unknown material": ([('"mineral wool"', '"mineral wol"')], ["insulation.material", "mineral wool"]),
    "no shroud": (
        [('[shroud]\nmaterial = "black steel"\nsheet = "1 mm"\nclearance = "8 mm"\n', "")],
        ["filler.material", "[shroud]"],
    ),
    "no fire": ([('gas_flow = "9.8 g/s"\n', "")], ["fire", "gas_flow"]),
    "ice": ([('inlet_temperature = "8 degC"', 'inlet_temperature = "-3 degC"')], ["water.inlet_temperature", "ice"]),
    "negative length": ([('wall = "2 mm"', 'wall = "-2 mm"')], ["flue.wall", "more than 0"]),
    "not TOML": ([('wall = "2 mm"', "wall = 2 mm")], ["TOML", "quotes"]),
}


@pytest.mark.parametrize("command", ["section", "steady", "compare"])
@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_one_message_that_names_file_key_and_cause(run, tmp_path, fault, command):
    changes, said = FAULTS[fault]
    path = write(tmp_path, *changes)
    status, out, err = run(command, path, "--out", tmp_path / "out")
    assert (status, out) == (2, "")
    assert len(err.splitlines()) == 1 and err.startswith(f"annulus: {path}:")
    for words in said:
        assert words in err
    assert "Traceback" not in err and "Error" not in err
    assert contents(tmp_path) == ["mine.toml"]


def test_all_faults_of_a_file_come_at_once_a_line_each(run, tmp_path):
    path = write(tmp_path, ('wall = "2 mm"', 'wal = "2 mm"'), ('pitch = "30 mm"', 'pitch = "30"'))
    status, _, err = run("steady", path)
    lines = err.splitlines()
    assert status == 2 and len(lines) == 2
    assert all(str(path) in line for line in lines)


@pytest.mark.parametrize("command", ["section", "steady", "compare"])
def test_a_file_that_is_not_there_is_one_message(run, tmp_path, command):
    status, out, err = run(command, tmp_path / "none.toml")
    assert (status, out) == (2, "")
    assert "none.toml" in err and len(err.splitlines()) == 1


def test_a_folder_without_a_case_is_one_message(run, tmp_path):
    status, _, err = run("steady", tmp_path)
    assert status == 2 and "case.toml" in err and len(err.splitlines()) == 1


def test_a_file_that_is_no_text_is_one_message(run, tmp_path):
    (tmp_path / "photo.toml").write_bytes(b"\x89PNG\xff\xfe")
    status, _, err = run("steady", tmp_path / "photo.toml")
    assert status == 2 and "UTF-8" in err and len(err.splitlines()) == 1


def test_one_bad_case_stops_a_comparison_before_it_computes(run, tmp_path, monkeypatch, case_file):
    bad = write(tmp_path, ('wall = "2 mm"', 'wall = "2"'), name="bad.toml")
    monkeypatch.setattr(heater, "solve_with_errors", lambda *_: pytest.fail("was solved"))
    status, _, err = run("compare", case_file, bad)
    assert status == 2 and "bad.toml" in err


@pytest.mark.parametrize(
    ("watts", "said"),
    [("10", "no unit"), ("10 mm", "mm"), ("0 W", "more than 0"), ("ten W", "ten W")],
)
def test_a_stripe_that_is_no_heat_is_refused_before_computing(run, case_file, monkeypatch, watts, said):
    monkeypatch.setattr(heater, "solve_with_errors", lambda *_: pytest.fail("was solved"))
    status, _, err = run("steady", case_file, "--stripe", watts)
    assert status == 2 and "--stripe" in err and said in err and len(err.splitlines()) == 1


def test_stripes_too_many_to_count_are_refused_and_leave_nothing(run, case_file, tmp_path):
    status, _, err = run("steady", case_file, "--stripe", "1e-6 W", "--out", tmp_path / "out")
    assert status == 2 and "stripes" in err
    assert not (tmp_path / "out").exists()


def test_an_out_that_is_a_file_is_refused_before_computing(run, case_file, monkeypatch):
    monkeypatch.setattr(heater, "solve_with_errors", lambda *_: pytest.fail("was solved"))
    status, _, err = run("steady", case_file, "--out", case_file)
    assert status == 2 and "is a file" in err
    assert case_file.read_text(encoding="utf-8") == TINY


@pytest.mark.parametrize("command", ["section", "steady"])
def test_the_case_that_is_read_is_never_replaced(run, tmp_path, command):
    path = write(tmp_path, name="case.toml")
    status, _, err = run(command, tmp_path, "--out", tmp_path)
    assert status == 2 and "case.toml" in err
    assert path.read_text(encoding="utf-8") == TINY and contents(tmp_path) == ["case.toml"]


def test_a_stop_that_compiled_code_swallows_is_heard_at_the_next_step(monkeypatch):
    monkeypatch.setattr(Progress, "stopped", False)
    progress = Progress()
    progress("reading")
    with pytest.raises(KeyboardInterrupt):
        stop_by_hand()
    with pytest.raises(KeyboardInterrupt):
        progress("computing")


def test_a_place_that_cannot_be_written_is_refused_before_any_work(run, case_file, tmp_path, monkeypatch):
    monkeypatch.setattr(heater, "solve_with_errors", lambda *_: pytest.fail("was solved"))
    (tmp_path / "nowhere").symlink_to(tmp_path / "gone")
    status, _, err = run("steady", case_file, "--out", tmp_path / "nowhere")
    assert status == 2 and "nowhere: is a link that leads nowhere" in err
    monkeypatch.setattr(os, "access", lambda *_: False)  # a superuser may write anywhere
    status, _, err = run("report", case_file, "--out", tmp_path / "mine.html")
    assert status == 2 and "mine.html: cannot be written" in err


def test_a_full_disk_is_told_with_the_place_that_was_asked_for(run, case_file, tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    status, _, err = run("section", case_file, "--out", tmp_path / "out")
    assert status == 2 and f"{tmp_path / 'out'}: No space left on device; make room" in err
    status, _, err = run("starter", tmp_path / "new.toml")
    assert status == 2 and f"{tmp_path / 'new.toml'}: No space left on device; make room" in err
    assert not (tmp_path / "out").exists() and not (tmp_path / "new.toml").exists()


def test_links_that_lead_round_are_refused_in_words(run, tmp_path):
    (tmp_path / "one.csv").symlink_to(tmp_path / "two.csv")
    (tmp_path / "two.csv").symlink_to(tmp_path / "one.csv")
    status, _, err = run("log", tmp_path / "one.csv", "--water", "150 L")
    assert status == 2 and "one.csv: cannot be read (Too many levels" in err


def test_a_case_that_is_calibrated_is_never_replaced(run, case_file):
    folder = case_file.parent
    case_file.rename(folder / "before.toml")
    status, _, err = run("calibrate", folder / "before.toml", "fire.csv", "--free", "coil.gap", "--out", folder)
    assert status == 2
    assert "would replace before.toml" in err


def test_compared_cases_are_never_replaced(run, case_file):
    status, _, err = run("compare", case_file, "--out", case_file.parent)
    assert status == 2 and "mine.toml" in err
    assert case_file.read_text(encoding="utf-8") == TINY


def test_a_folder_that_cannot_be_written_is_one_message(run, case_file):
    status, _, err = run("section", case_file, "--out", case_file / "out")  # a file can hold no folder
    assert status == 2 and len(err.splitlines()) == 1 and "path" in err


# --- no result


def test_boiling_is_status_1_with_its_message_and_no_file(run, tmp_path):
    path = write(tmp_path, ('inlet_temperature = "8 degC"', 'inlet_temperature = "99.9 degC"'))
    status, out, err = run("steady", path, "--out", tmp_path / "out")
    assert (status, out) == (1, "")
    assert err.startswith("annulus: water.inlet_temperature") and "boiling point" in err and len(err.splitlines()) == 1
    assert contents(tmp_path) == ["mine.toml"]


def test_no_convergence_is_status_1_with_its_message(run, case_file, monkeypatch):
    def fail(*_):
        raise ConvergenceError("steady heater: temperatures still move")

    monkeypatch.setattr(heater, "solve_with_errors", fail)
    status, out, err = run("steady", case_file)
    assert (status, out, err) == (1, "", "annulus: steady heater: temperatures still move")


def test_stopping_by_hand_is_status_130_without_a_traceback(run, case_file, monkeypatch, tmp_path):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(heater, "solve_with_errors", stop)
    status, out, err = run("steady", case_file, "--out", tmp_path / "out")
    assert (status, out) == (130, "")
    assert len(err.splitlines()) == 1 and "stopped" in err
    assert contents(tmp_path) == ["mine.toml"]


def test_stopping_while_writing_leaves_nothing_behind(run, case_file, monkeypatch, tmp_path):
    real, done = os.replace, []

    def stop_at_the_third(source, target):
        if len(done) == 2:
            raise KeyboardInterrupt
        done.append(Path(target).name)
        real(source, target)

    monkeypatch.setattr(os, "replace", stop_at_the_third)
    assert run("steady", case_file, "--out", tmp_path / "out")[0] == 130
    assert len(done) == 2 and contents(tmp_path) == ["mine.toml"]
