"""Commands through `main(argv)`: what they print, what they write, and what they refuse in one message."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from heaters import SMALL, edited_text

from annulus import __version__, cli
from annulus.case import dump, load, starter
from annulus.cli import Progress, main
from annulus.errors import ConvergenceError

TINY = edited_text(("turns = 4", "turns = 2"))
COMPILER = ("compiling", "compiled")


@pytest.fixture
def case_file(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(TINY, encoding="utf-8")
    return path


@pytest.fixture
def run(capsys):
    """Run a command; give its status, and lines on stdout and stderr (the compiler's word apart)."""

    def call(*words):
        status = main([str(word) for word in words])
        out, err = capsys.readouterr()
        return status, out, "\n".join(line for line in err.splitlines() if not any(word in line for word in COMPILER))

    return call


def write(folder: Path, *changes, name="mine.toml"):
    path = folder / name
    path.write_text(edited_text(*changes, text=TINY), encoding="utf-8")
    return path


def contents(folder: Path):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


# --- starting up


def test_help_and_commands_need_none_of_the_heavy_libraries():
    """Which is what lets help answer at once."""
    heavy = "('numpy', 'numba', 'scipy', 'matplotlib', 'pydantic', 'CoolProp', 'ht', 'fluids')"
    code = f"import sys, annulus.cli; annulus.cli._parser(); print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    "words", [[], ["starter"], ["section"], ["steady"], ["compare"], ["materials"]], ids=lambda w: w[0] if w else "main"
)
def test_help_is_there_for_every_command(words, capsys):
    with pytest.raises(SystemExit) as stop:
        main([*words, "--help"])
    assert stop.value.code == 0
    assert "usage: annulus" in capsys.readouterr().out


def test_help_says_where_to_start(capsys):
    with pytest.raises(SystemExit):
        main(["--help"])
    assert "annulus starter" in capsys.readouterr().out


def test_version_is_that_of_the_package(capsys):
    with pytest.raises(SystemExit) as stop:
        main(["--version"])
    assert stop.value.code == 0 and capsys.readouterr().out.strip() == f"annulus {__version__}"


@pytest.mark.parametrize(
    "words",
    [[], ["weld"], ["steady"], ["compare"], ["starter"], ["steady", "a.toml", "--colour", "red"]],
    ids=" ".join,
)
def test_words_that_are_no_command_end_with_status_2(words, capsys):
    with pytest.raises(SystemExit) as stop:
        main(words)
    assert stop.value.code == 2
    assert "error:" in capsys.readouterr().err


def test_the_package_runs_as_a_module():
    done = subprocess.run([sys.executable, "-m", "annulus", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == f"annulus {__version__}"


def test_a_reader_that_stops_early_is_no_error():
    command = f"{sys.executable} -m annulus materials | head -n 1"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", command], capture_output=True, text=True, check=False)
    assert done.stdout.startswith("material") and done.stderr == ""


# --- starter


def test_starter_writes_a_case_that_can_be_read(run, tmp_path):
    path = tmp_path / "my-flue.toml"
    status, out, err = run("starter", path)
    assert (status, err) == (0, "") and str(path) in out
    assert path.read_text(encoding="utf-8") == starter()
    assert load(path).title


def test_starter_never_overwrites(run, case_file):
    status, out, err = run("starter", case_file)
    assert status == 2 and out == ""
    assert str(case_file) in err and "exists" in err
    assert case_file.read_text(encoding="utf-8") == TINY


def test_starter_makes_the_folder(run, tmp_path):
    assert run("starter", tmp_path / "new" / "a.toml")[0] == 0


# --- section


def test_section_lists_what_to_buy(run, case_file):
    status, out, err = run("section", case_file)
    assert (status, err) == (0, "")
    for words in ("turns", "tube with both tails", "filler mass", "shroud sheet", "insulation"):
        assert words in out
    assert contents(case_file.parent) == ["mine.toml"]


def test_section_takes_a_folder_that_holds_a_case(run, tmp_path):
    write(tmp_path, name="case.toml")
    assert run("section", tmp_path)[1].startswith("Small")


def test_section_draws_into_a_folder(run, case_file, tmp_path):
    out = tmp_path / "out"
    status, text, err = run("section", case_file, "--out", out)
    assert (status, err) == (0, "")
    assert contents(out) == ["case.toml", "section.png"]
    assert "section.png" in text and str(out) in text


# --- steady


def test_steady_prints_where_the_heat_goes(run, case_file):
    status, out, err = run("steady", case_file)
    assert (status, err) == (0, "")
    for words in ("Where the heat goes", "heat to the water", "turn 2", "Energy closes to", "Cautions", "DANGER"):
        assert words in out
    assert contents(case_file.parent) == ["mine.toml"]


def test_steady_writes_results_case_and_pictures(run, case_file, tmp_path):
    out = tmp_path / "out"
    (tmp_path / "out").mkdir()
    (out / "mine.txt").write_text("not ours")
    status, text, err = run("steady", case_file, "--out", out)
    assert (status, err) == (0, "")
    ours = {"case.toml", "result.json", "stripes.png", "temperature.png"}
    assert set(contents(out)) == {*ours, "mine.txt"}
    said = text.strip().splitlines()[-1]
    assert all(name in said for name in ours) and "mine.txt" not in said
    assert load(out / "case.toml") == load(case_file)
    result = json.loads((out / "result.json").read_text(encoding="utf-8"))
    assert result["annulus"] == __version__
    assert f"{result['heat_to_water_W']:.1f} ± " in text
    assert 0 < result["heat_to_water_error_W"] < 0.01 * result["heat_to_water_W"]
    assert {"level", "words", "remedy"} == set(result["cautions"][0])
    for name in ("stripes.png", "temperature.png"):
        assert (out / name).read_bytes().startswith(b"\x89PNG")


def test_steady_of_the_resolved_case_gives_the_same_table(run, case_file, tmp_path):
    (tmp_path / "resolved.toml").write_text(dump(load(case_file)), encoding="utf-8")
    assert run("steady", case_file)[1] == run("steady", tmp_path / "resolved.toml")[1]


def test_a_smaller_error_may_be_asked_for(run, case_file):
    shares = []
    for words in ((), ("--within", "0.1 %")):
        out = run("steady", case_file, *words)[1]
        line = next(line for line in out.splitlines() if line.startswith("heat to the water"))
        value, error = line.removesuffix(" W").split()[-3::2]
        shares.append(float(error) / float(value))
    assert shares[1] <= 1.1e-3 < shares[0]  # the error is rounded up to its last digit


@pytest.mark.parametrize(
    ("share", "said"), [("0 %", "positive"), ("-1 %", "positive"), ("2 W", "W"), ("small", "small")]
)
def test_an_error_that_cannot_be_asked_for_is_one_message(run, case_file, share, said):
    status, out, err = run("steady", case_file, f"--within={share}")
    assert (status, out) == (2, "")
    assert said in err and len(err.splitlines()) == 1


def test_an_error_out_of_reach_is_status_1(run, case_file):
    status, out, err = run("steady", case_file, "--within", "0.000001 %")
    assert (status, out) == (1, "")
    assert "finest grid" in err and len(err.splitlines()) == 1


# --- compare


def test_compare_sets_cases_side_by_side(run, tmp_path):
    first = write(tmp_path, name="sand.toml")
    second = write(tmp_path, ('packing = "vibrated"', 'packing = "loose"'), name="loose.toml")
    status, out, err = run("compare", first, second)
    assert (status, err) == (0, "")
    differs = out[out.index("What differs") : out.index("Where the heat goes")]
    assert differs.count("\n") == 4 and "filler.packing" in differs  # heading, names, one row, and a blank line
    assert "sand" in out and "loose" in out and "1.00 x" in out


def test_compare_writes_picture_results_and_every_case(run, tmp_path):
    write(tmp_path, name="sand.toml")
    write(tmp_path, ('packing = "vibrated"', 'packing = "loose"'), name="loose.toml")
    out = tmp_path / "out"
    status, _, err = run("compare", tmp_path / "sand.toml", tmp_path / "loose.toml", "--out", out)
    assert (status, err) == (0, "")
    assert contents(out) == ["compare.png", "loose.toml", "result.json", "sand.toml"]
    result = json.loads((out / "result.json").read_text(encoding="utf-8"))
    assert set(result["cases"]) == {"sand", "loose"}
    assert load(out / "loose.toml") == load(tmp_path / "loose.toml")


def test_compare_of_one_case_with_itself_differs_in_name_only(run, case_file):
    status, out, _ = run("compare", case_file, case_file)
    assert status == 0 and "do not differ" in out and "mine-1" in out and "mine-2" in out


# --- materials


def test_materials_lists_name_value_and_mark(run):
    status, out, err = run("materials")
    assert (status, err) == (0, "")
    for words in ("quartz sand, vibrated", "mineral wool", "W/mK", "marks:"):
        assert words in out


def test_one_material_comes_with_its_source(run):
    status, out, _ = run("materials", "quartz sand", "--packing", "loose")
    assert status == 0 and "source:" in out and "loose" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["quarz sand"], "quartz sand"),
        (["sawdust"], "smoulders or burns"),
        (["quartz sand", "--packing", "stamped"], "'loose'"),
        (["--packing", "loose"], "--packing"),
    ],
    ids=["unknown", "banned", "wrong packing", "no name"],
)
def test_a_material_that_is_not_to_be_had_is_one_message(run, words, said):
    status, out, err = run("materials", *words)
    assert (status, out) == (2, "")
    assert said in err and len(err.splitlines()) == 1


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
    monkeypatch.setattr(cli, "_solve", lambda *_: pytest.fail("was solved"))
    status, _, err = run("compare", case_file, bad)
    assert status == 2 and "bad.toml" in err


@pytest.mark.parametrize(
    ("watts", "said"),
    [("10", "no unit"), ("10 mm", "mm"), ("0 W", "more than 0"), ("ten W", "ten W")],
)
def test_a_stripe_that_is_no_heat_is_refused_before_computing(run, case_file, monkeypatch, watts, said):
    monkeypatch.setattr(cli, "_solve", lambda *_: pytest.fail("was solved"))
    status, _, err = run("steady", case_file, "--stripe", watts)
    assert status == 2 and "--stripe" in err and said in err and len(err.splitlines()) == 1


def test_stripes_too_many_to_count_are_refused_and_leave_nothing(run, case_file, tmp_path):
    status, _, err = run("steady", case_file, "--stripe", "1e-6 W", "--out", tmp_path / "out")
    assert status == 2 and "stripes" in err
    assert not (tmp_path / "out").exists()


def test_an_out_that_is_a_file_is_refused_before_computing(run, case_file, monkeypatch):
    monkeypatch.setattr(cli, "_solve", lambda *_: pytest.fail("was solved"))
    status, _, err = run("steady", case_file, "--out", case_file)
    assert status == 2 and "is a file" in err
    assert case_file.read_text(encoding="utf-8") == TINY


@pytest.mark.parametrize("command", ["section", "steady"])
def test_the_case_that_is_read_is_never_replaced(run, tmp_path, command):
    path = write(tmp_path, name="case.toml")
    status, _, err = run(command, tmp_path, "--out", tmp_path)
    assert status == 2 and "case.toml" in err
    assert path.read_text(encoding="utf-8") == TINY and contents(tmp_path) == ["case.toml"]


def test_compared_cases_are_never_replaced(run, case_file):
    status, _, err = run("compare", case_file, "--out", case_file.parent)
    assert status == 2 and "mine.toml" in err
    assert case_file.read_text(encoding="utf-8") == TINY


@pytest.mark.skipif(os.name != "posix", reason="uses a path that cannot be made on POSIX")
def test_a_folder_that_cannot_be_written_is_one_message(run, case_file):
    status, _, err = run("section", case_file, "--out", "/dev/null/out")
    assert status == 2 and len(err.splitlines()) == 1 and "path" in err


# --- no result


def test_boiling_is_status_1_with_its_message_and_no_file(run, tmp_path):
    path = write(tmp_path, ('inlet_temperature = "8 degC"', 'inlet_temperature = "99.9 degC"'))
    status, out, err = run("steady", path, "--out", tmp_path / "out")
    assert (status, out) == (1, "")
    assert err.startswith("annulus: water:") and "boiling point" in err and len(err.splitlines()) == 1
    assert contents(tmp_path) == ["mine.toml"]


def test_no_convergence_is_status_1_with_its_message(run, case_file, monkeypatch):
    def fail(*_):
        raise ConvergenceError("steady heater: temperatures still move")

    monkeypatch.setattr(cli, "_solve", fail)
    status, out, err = run("steady", case_file)
    assert (status, out, err) == (1, "", "annulus: steady heater: temperatures still move")


def test_stopping_by_hand_is_status_130_without_a_traceback(run, case_file, monkeypatch, tmp_path):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_solve", stop)
    status, out, err = run("steady", case_file, "--out", tmp_path / "out")
    assert (status, out) == (130, "")
    assert len(err.splitlines()) == 1 and "stopped" in err
    assert contents(tmp_path) == ["mine.toml"]


def test_stopping_while_writing_leaves_whole_files_only(run, case_file, monkeypatch, tmp_path):
    real, done = os.replace, []

    def stop_at_the_third(source, target):
        if len(done) == 2:
            raise KeyboardInterrupt
        done.append(Path(target).name)
        real(source, target)

    monkeypatch.setattr(os, "replace", stop_at_the_third)
    assert run("steady", case_file, "--out", tmp_path / "out")[0] == 130
    assert contents(tmp_path / "out") == sorted(done)


# --- progress


class Terminal:
    """A stream that says it is a terminal and keeps what is written."""

    def __init__(self):
        self.text = ""

    def isatty(self):
        return True

    def write(self, text):
        self.text += text

    def flush(self):
        pass


def test_a_terminal_sees_each_step_and_a_clean_line_at_the_end(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    with Progress() as progress:
        progress("first step")
        progress("second step")
    assert "first step" in terminal.text and "second step" in terminal.text
    assert terminal.text.endswith("\r\033[K")


def test_a_pipe_sees_nothing_of_the_steps(capsys):
    with Progress() as progress:
        progress("first step")
    assert capsys.readouterr().err == ""


def test_a_first_compilation_is_explained_and_timed(capsys):
    with Progress() as progress:
        progress("cutting the section into pieces")
        progress._explain()  # what the timer does once patience ends
        progress("solving")
    explained, timed = capsys.readouterr().err.splitlines()
    assert "once" in explained and "compiled in" in timed and timed.endswith("kept for later runs")


def test_small_case_is_the_one_that_is_edited():
    assert TINY.replace("turns = 2", "turns = 4") == SMALL
