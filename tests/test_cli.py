"""Commands through `main(argv)`: what they print and what they write."""

import json
import subprocess
import sys

import pytest
from commands import TINY, contents, write

from annulus import __version__
from annulus.case import dump, load, starter
from annulus.cli import main
from annulus.commands.progress import Progress

# --- starting up


def test_help_and_commands_need_none_of_the_heavy_libraries():
    """Which is what lets help answer at once."""
    heavy = "('numpy', 'numba', 'scipy', 'matplotlib', 'pydantic', 'CoolProp', 'ht', 'fluids')"
    code = f"import sys, annulus.cli; annulus.cli._parser(); print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    "words",
    [[], ["starter"], ["section"], ["steady"], ["burn"], ["upset"], ["compare"], ["sweep"], ["choose"], ["materials"]],
    ids=lambda w: w[0] if w else "main",
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
    [[], ["weld"], ["steady"], ["burn"], ["upset"], ["compare"], ["starter"], ["steady", "a.toml", "--colour", "red"]],
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


@pytest.mark.parametrize(
    ("words", "pictures"),
    [
        ((), ["section.png"]),
        (("--pictures", "svg"), ["section.svg"]),
        (("--pictures", "both"), ["section.png", "section.svg"]),
    ],
)
def test_section_draws_into_a_folder(run, case_file, tmp_path, words, pictures):
    out = tmp_path / "out"
    status, text, err = run("section", case_file, "--out", out, *words)
    assert (status, err) == (0, "")
    assert contents(out) == ["case.toml", *pictures]
    assert all(name in text for name in pictures) and str(out) in text


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
    ours = {"case.toml", "ledger.png", "result.json", "stripes.png", "temperature.png"}
    assert set(contents(out)) == {*ours, "mine.txt"}
    said = text.strip().splitlines()[-1]
    assert all(name in said for name in ours) and "mine.txt" not in said
    assert load(out / "case.toml") == load(case_file)
    result = json.loads((out / "result.json").read_text(encoding="utf-8"))
    assert result["annulus"] == __version__
    assert f"{result['heat_to_water_W']:.1f} ± " in text
    assert 0 < result["heat_to_water_error_W"] < 0.01 * result["heat_to_water_W"]
    assert {"level", "words", "remedy", "source", "decides", "value", "limit"} <= set(result["cautions"][0])
    assert len(result["remedies"]) >= 2
    for name in ("ledger.png", "stripes.png", "temperature.png"):
        assert (out / name).read_bytes().startswith(b"\x89PNG")


def test_steady_of_the_resolved_case_gives_the_same_table(run, case_file, tmp_path):
    (tmp_path / "resolved.toml").write_text(dump(load(case_file)), encoding="utf-8")
    assert run("steady", case_file)[1] == run("steady", tmp_path / "resolved.toml")[1]


def test_the_resolved_case_records_versions_and_repeats_the_run_to_the_byte(run, case_file, tmp_path):
    run("steady", case_file, "--out", tmp_path / "first")
    resolved = tmp_path / "first" / "case.toml"
    written = resolved.read_text(encoding="utf-8")
    for words in (f"annulus {__version__}", "Python 3.", "numpy ", "scipy ", "numba "):
        assert words in written.splitlines()[1]
    run("steady", resolved, "--out", tmp_path / "second")
    for name in contents(tmp_path / "first"):
        assert (tmp_path / "first" / name).read_bytes() == (tmp_path / "second" / name).read_bytes(), name


def test_a_smaller_error_may_be_asked_for(run, case_file):
    shares = []
    for words in ((), ("--within", "0.1 %")):
        out = run("steady", case_file, *words)[1]
        line = next(line for line in out.splitlines() if line.startswith("heat to the water"))
        value, error = line.removesuffix(" W").split()[-3::2]
        shares.append(float(error) / float(value))
    assert shares[1] <= 1.1e-3 < shares[0]  # the error is rounded up to its last digit


@pytest.mark.parametrize(
    ("share", "said"), [("0 %", "positive"), ("-1 %", "positive"), ("2 W", "W"), ("small", "small"), ("5", "0.5 %")]
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
    differs = out[out.index("What differs") : out.index("Cautions")]
    assert differs.count("\n") == 4 and "filler.packing" in differs  # heading, names, one row, and a blank line
    assert "sand" in out and "loose" in out and "1.00 x" in out
    assert out.count("a mixing valve that lets no water under 55 degC") == 2  # what would warm each cold wall


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


@pytest.mark.parametrize(("step", "what"), [("cutting the section", "the solver"), ("tracing stripes", "stripes")])
def test_a_first_compilation_is_explained_and_timed(step, what, capsys, monkeypatch):
    monkeypatch.setattr("annulus.commands.progress.PATIENCE", 0.0)
    with Progress() as progress:
        progress(step)
        progress.timer.join()
        progress("solving")
    explained, timed = capsys.readouterr().err.splitlines()
    assert what in explained and "once" in explained
    assert "compiled in" in timed and timed.endswith("kept for later runs")
