"""Sweeps: the same numbers whoever computes them, and nothing lost when they are stopped."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
import tomllib
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from pathlib import Path

import pytest
from commands import TINY, contents, write
from threadpoolctl import threadpool_limits

from annulus.burn import burn_with_errors
from annulus.case import Case, loads
from annulus.errors import ConvergenceError, InputError
from annulus.studies.designs import compute, fingerprint, make_designs
from annulus.studies.finished import LOG, FinishedLog
from annulus.studies.models import burn_result, steady_result
from annulus.studies.sweep import StoppedError, run_sweep
from annulus.studies.vary import read_variation
from annulus.studies.workers import process_pool

VARY = "coil.pitch = 10, 20, 25, 30 mm"
DESIGNS = make_designs(tomllib.loads(TINY), [read_variation(VARY)])


def height(case: Case) -> dict[str, float]:
    """A result that costs nothing."""
    return {"height_m": case.height}


def picky(case: Case) -> dict[str, float]:
    """A result that some designs do not have."""
    if case.coil.pitch > 0.022:
        raise ConvergenceError("did not settle")
    return {"height_m": case.height}


def deadly(case: Case) -> dict[str, float]:
    """A worker that is taken away at its work, as a system short of memory does."""
    os._exit(3)


class Backwards(Executor):
    """Executor that does the last task first, when it is asked for a result."""

    def __init__(self) -> None:
        self.waiting: list = []

    def submit(self, fn, /, *args, **kwargs) -> Future:
        future: Future = Future()
        self.waiting.append((future, fn, args))
        if len(self.waiting) == 3:  # the designs that fit
            for one, call, words in reversed(self.waiting):
                one.set_result(call(*words))
        return future


@pytest.fixture(scope="module")
def plain_rows(tmp_path_factory):
    """Rows of the small sweep, computed here one after another."""
    with ThreadPoolExecutor(1) as executor:
        return run_sweep(DESIGNS, executor, tmp_path_factory.mktemp("plain"))


# --- numbers


def test_rows_stand_in_the_order_of_designs_whatever_order_they_were_computed_in(tmp_path):
    with ThreadPoolExecutor(1) as executor:
        expected = run_sweep(DESIGNS, executor, tmp_path / "a", height)
    assert run_sweep(DESIGNS, Backwards(), tmp_path / "b", height) == expected
    assert expected[1]["results"]["height_m"] == pytest.approx(0.04)


def test_two_processes_give_the_digits_of_one_thread(plain_rows, tmp_path):
    with process_pool(2) as pool:
        assert json.dumps(run_sweep(DESIGNS, pool, tmp_path)) == json.dumps(plain_rows)


def test_a_dask_cluster_gives_the_digits_of_one_thread(plain_rows, tmp_path):
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    paths = [str(path) for path in (Path(__file__).parent, Path(__file__).parents[1])]
    with (
        distributed.LocalCluster(n_workers=1, threads_per_worker=2, processes=True, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        client.run(sys.path.extend, paths)
        rows = run_sweep(DESIGNS, client.get_executor(), tmp_path)
    assert json.dumps(rows) == json.dumps(plain_rows)


def test_a_row_holds_what_a_steady_run_gives(plain_rows):
    outcome = steady_result(loads(TINY))
    results = plain_rows[3]["results"]
    assert results["heat_to_water_W"] == outcome["heat_to_water_W"]
    assert results["heat_to_water_error_W"] == outcome["heat_to_water_error_W"] > 0
    assert not any(isinstance(value, (list, dict)) for value in results.values())


def test_a_row_holds_what_is_to_be_bought(plain_rows):
    results = plain_rows[3]["results"]
    assert results["tube_length_to_buy_m"] == pytest.approx(results["tube_length_wound_m"] + 4)
    assert results["filler_mass_kg"] > 0


def test_a_row_of_burns_holds_what_a_burn_gives(tmp_path):
    text = TINY + '[tank]\nvolume = "2 L"\nstart_temperature = "8 degC"\ntarget_temperature = "14 degC"\n'
    designs = make_designs(tomllib.loads(text), [read_variation("tank.volume = 1, 2 L")])
    with ThreadPoolExecutor(1) as executor:
        small, large = (row["results"] for row in run_sweep(designs, executor, tmp_path, burn_result))
    with threadpool_limits(1):  # as designs are computed: more threads add up in another order
        assert large["time_to_target_s"] == burn_with_errors(loads(text))[1]["time_to_target_s"]
    assert small["time_to_target_s"] < large["time_to_target_s"] and large["time_to_target_error_s"] > 0


# --- designs that fail


def test_a_design_that_does_not_fit_is_a_row_with_its_reason(plain_rows):
    assert "overlap" in plain_rows[0]["reason"] and "results" not in plain_rows[0]


def test_a_design_that_cannot_be_computed_is_a_row_with_its_reason(tmp_path):
    with ThreadPoolExecutor(1) as executor:
        rows = run_sweep(DESIGNS, executor, tmp_path, picky)
    assert [row.get("reason", "") for row in rows[1:]] == ["", "did not settle", "did not settle"]


def test_a_fault_of_the_program_is_not_taken_for_a_bad_design():
    with pytest.raises(KeyError):
        compute(DESIGNS[1].case, lambda case: {}["nothing"])


def test_a_worker_that_dies_ends_the_sweep_with_a_word_on_what_to_do(tmp_path):
    with pytest.raises(StoppedError, match=r"memory(.|\n)*--resume"), process_pool(1) as pool:
        run_sweep(DESIGNS, pool, tmp_path, deadly)
    assert 1 in FinishedLog(tmp_path, fingerprint_of(deadly), resume=True).rows


def fingerprint_of(result) -> str:
    from annulus import __version__

    return fingerprint(DESIGNS, f"{result.__module__}.{result.__qualname__}", __version__)


# --- going on


def test_a_sweep_that_goes_on_computes_only_what_is_missing(tmp_path):
    with ThreadPoolExecutor(1) as executor:
        rows = run_sweep(DESIGNS, executor, tmp_path, height)
        lines = (tmp_path / LOG).read_bytes().splitlines(keepends=True)
        (tmp_path / LOG).write_bytes(b"".join(lines[:3]) + lines[3][:9])  # torn in the middle of a line
        told = []
        again = run_sweep(DESIGNS, executor, tmp_path, height, True, lambda *now: told.append(now[:2]))
    assert again == rows and told == [(3, 4), (4, 4)]
    assert (tmp_path / LOG).read_bytes().splitlines()[:3] == [line.rstrip() for line in lines[:3]]


def test_a_log_torn_in_its_first_line_begins_anew(tmp_path):
    (tmp_path / LOG).write_bytes(b'{"sweep": "ab')
    with ThreadPoolExecutor(1) as executor:
        assert len(run_sweep(DESIGNS, executor, tmp_path, height, resume=True)) == 4


def test_a_sweep_is_not_begun_over_another(tmp_path):
    with ThreadPoolExecutor(1) as executor:
        run_sweep(DESIGNS, executor, tmp_path, height)
        with pytest.raises(InputError, match="--resume"):
            run_sweep(DESIGNS, executor, tmp_path, height)


@pytest.mark.parametrize(
    ("change", "vary"),
    [(("3 L/min", "4 L/min"), VARY), (("", ""), VARY + ", 40 mm")],
    ids=["the case", "what is varied"],
)
def test_a_sweep_does_not_go_on_with_a_change_of(tmp_path, change, vary):
    other = make_designs(tomllib.loads(TINY.replace(*change)), [read_variation(vary)])
    with ThreadPoolExecutor(1) as executor:
        run_sweep(DESIGNS, executor, tmp_path, height)
        with pytest.raises(InputError, match="belongs to another sweep"):
            run_sweep(other, executor, tmp_path, height, resume=True)


def test_a_sweep_goes_on_though_the_case_is_written_in_other_units(tmp_path):
    other = make_designs(tomllib.loads(TINY.replace('wall = "2 mm"', 'wall = "0.002 m"')), [read_variation(VARY)])
    with ThreadPoolExecutor(1) as executor:
        rows = run_sweep(DESIGNS, executor, tmp_path, height)
        assert run_sweep(other, executor, tmp_path, height, resume=True) == rows


@pytest.mark.parametrize("damage", [b"{nonsense}\n", b'{"other": 1}\n'])
def test_a_damaged_log_is_told_by_its_line(tmp_path, damage):
    with ThreadPoolExecutor(1) as executor:
        run_sweep(DESIGNS, executor, tmp_path, height)
        lines = (tmp_path / LOG).read_bytes().splitlines(keepends=True)
        (tmp_path / LOG).write_bytes(lines[0] + damage + b"".join(lines[2:]))
        with pytest.raises(InputError, match="line 2"):
            run_sweep(DESIGNS, executor, tmp_path, height, resume=True)


# --- the command

WORDS = ("--vary", "coil.pitch = 10, 20, 22, 24, 25, 26, 28, 30 mm")


def start(case: Path, out: Path, jobs: int, *more: str) -> subprocess.Popen:
    words = [sys.executable, "-m", "annulus", "sweep", str(case), *WORDS, "--out", str(out), "--jobs", f"{jobs}", *more]
    return subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True)


def lines_of(log: Path) -> int:
    return log.read_bytes().count(b"\n") if log.exists() else 0


def stop_after(process: subprocess.Popen, log: Path, lines: int, how: int) -> None:
    """Send a signal once the log has so many lines; the program must still be at work."""
    deadline = time.monotonic() + 60
    while lines_of(log) < lines and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.005)
    os.kill(process.pid, how)


@pytest.fixture(scope="module")
def through(tmp_path_factory):
    """The sweep as a command, run through."""
    folder = tmp_path_factory.mktemp("through")
    done = start(write(folder), folder / "out", 2)
    out, err = done.communicate(timeout=120)
    return done.returncode, out, err, folder


def test_the_command_writes_table_pictures_and_case(through):
    status, out, err, folder = through
    assert (status, err) == (0, "")
    assert contents(folder / "out") == ["case.toml", "curves.png", LOG, "sweep.csv", "trade.png"]
    assert "7 computed, 1 without a result" in out and "overlap" in out


def test_the_table_has_a_row_a_design_with_units_in_its_head(through):
    rows = list(csv.DictReader(io.StringIO((through[3] / "out" / "sweep.csv").read_text(encoding="utf-8"))))
    assert [row["coil.pitch [mm]"] for row in rows] == WORDS[1].partition(" = ")[2].removesuffix(" mm").split(", ")
    assert rows[0]["heat_to_water_W"] == "" and "overlap" in rows[0]["reason"]
    assert float(rows[-1]["heat_to_water_W"]) == steady_result(loads(TINY))["heat_to_water_W"]


def test_a_sweep_of_one_design_draws_no_curve_through_it(run, case_file, tmp_path):
    out = tmp_path / "out"
    status, said, err = run("sweep", case_file, "--vary", "coil.pitch = 20 mm", "--jobs", "1", "--out", out)
    assert (status, err) == (0, "") and "1 design of" in said
    assert contents(out) == ["case.toml", LOG, "sweep.csv"]


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX systems")
def test_a_sweep_killed_and_interrupted_ends_with_the_bytes_of_one_that_ran_through(through, tmp_path):
    case, out = write(tmp_path), tmp_path / "out"
    killed = start(case, out, 1)
    stop_after(killed, out / LOG, 3, signal.SIGKILL)
    assert killed.wait(30) == -signal.SIGKILL and not (out / "sweep.csv").exists()
    stopped = start(case, out, 1, "--resume")
    stop_after(stopped, out / LOG, lines_of(out / LOG) + 1, signal.SIGINT)
    said = stopped.communicate(timeout=30)[1]
    assert stopped.returncode == 130 and "Traceback" not in said and "go on with --resume" in said
    last = start(case, out, 1, "--resume")
    assert last.communicate(timeout=60)[1] == "" and last.returncode == 0
    assert (out / "sweep.csv").read_bytes() == (through[3] / "out" / "sweep.csv").read_bytes()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], ["--vary", "nothing is varied"]),
        (["--vary", "coil.pich = 3 mm"], ["coil.pich", "pitch"]),
        (["--vary", VARY, "--keep", "wall_min_C"], ["--keep", "wall_min_C", "> 60"]),
        (["--vary", VARY, "--keep", "wall_min_C > warm"], ["--keep", "warm"]),
        (
            ["--vary", VARY, "--keep", "wal_min_C > 6"],
            ["--keep 'wal_min_C > 6'", "mean 'wall_min_C'", "There are heat"],
        ),
        (["--vary", VARY, "--show", "heat_to_watr_W"], ["--show heat_to_watr_W", "did you mean 'heat_to_water_W'?"]),
        (["--vary", VARY, "--keep", "draught_Pa > 1"], ["--keep 'draught_Pa > 1'", "no number"]),
        (["--vary", VARY, "--jobs", "0"], ["--jobs 0"]),
        (["--table", "nowhere.csv"], ["--table nowhere.csv", "cannot be read"]),
    ],
)
def test_options_that_cannot_be_meant_are_refused_before_any_work(run, case_file, tmp_path, words, said):
    status, out, err = run("sweep", case_file, "--out", tmp_path / "out", *words)
    assert (status, out) == (2, "") and len(err.splitlines()) == 1
    for part in said:
        assert part in err
    assert contents(tmp_path) == ["mine.toml"]
