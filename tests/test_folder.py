"""Results of a run come all at once, and one run at a time writes to a folder."""

import os
import signal
import subprocess
import sys

import pytest

from annulus.commands.folder import PART, READY, claimed, shown, staged
from annulus.errors import InputError


def fill(folder, **files):
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text)


def held(folder):
    return {path.name: path.read_text() for path in folder.iterdir()}


def test_files_are_there_when_the_run_is_done_and_not_before(tmp_path):
    out = tmp_path / "out"
    with staged(out) as stage:
        fill(stage, a="1", b="2")
        assert not out.exists()
    assert held(out) == {"a": "1", "b": "2"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_other_files_of_the_folder_stay(tmp_path):
    out = tmp_path / "out"
    fill(out, mine="kept", a="old")
    with staged(out) as stage:
        fill(stage, a="new")
    assert held(out) == {"mine": "kept", "a": "new"}


@pytest.mark.parametrize("stop", [KeyboardInterrupt, OSError, ValueError])
def test_a_run_that_fails_leaves_the_earlier_results(tmp_path, stop):
    out = tmp_path / "out"
    fill(out, a="old", b="old")
    with pytest.raises(stop), staged(out) as stage:
        fill(stage, a="new")
        raise stop
    assert held(out) == {"a": "old", "b": "old"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_place_where_no_folder_can_be_made_is_refused_before_the_work(tmp_path):
    (tmp_path / "file").write_text("mine")
    begun = False
    with pytest.raises(OSError) as told, staged(tmp_path / "file" / "out"):
        begun = True
    assert not begun
    assert told.value.filename == str(tmp_path / "file" / "out")


def test_a_run_that_fails_leaves_no_empty_folders(tmp_path):
    with pytest.raises(ValueError), staged(tmp_path / "deep" / "down" / "out"):
        assert list(tmp_path.iterdir()) == []  # nor one that is killed
        raise ValueError
    assert list(tmp_path.iterdir()) == []
    with staged(tmp_path / "deep" / "down" / "out") as stage:
        fill(stage, a="1")
    assert held(tmp_path / "deep" / "down" / "out") == {"a": "1"}


def test_the_next_run_finishes_a_move_that_was_cut_short(tmp_path):
    out = tmp_path / "out"
    fill(out, a="new", b="old")  # a had moved already
    fill(tmp_path / f".out{READY}", b="new")
    fill(tmp_path / f".out.123{PART}", c="half")
    with claimed(out):
        pass
    assert held(out) == {"a": "new", "b": "new"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_second_run_is_kept_out_until_the_first_is_gone_even_if_it_is_killed(tmp_path):
    out = tmp_path / "out"
    words = "import sys, time, pathlib; from annulus.commands.folder import claimed\n"
    words += "with claimed(pathlib.Path(sys.argv[1])):\n    print('in', flush=True); time.sleep(60)"
    first = subprocess.Popen([sys.executable, "-c", words, str(out)], stdout=subprocess.PIPE)
    assert first.stdout is not None and first.stdout.readline() == b"in\n"
    with pytest.raises(InputError, match="another run writes there"), claimed(out):
        pass
    os.kill(first.pid, signal.SIGTERM)
    first.wait()
    first.stdout.close()
    with claimed(out):
        pass


def test_the_folder_that_was_asked_for_is_told(tmp_path):
    with staged(tmp_path / "my.flue") as stage:
        assert shown(stage) == tmp_path / "my.flue"
    assert shown(tmp_path / "out") == tmp_path / "out"


FULL = """
import resource, signal, sys
from annulus.cli import main
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))
sys.exit(main(["section", sys.argv[1], "--out", sys.argv[2]]))
"""


def test_a_disk_that_is_full_is_told_and_leaves_the_earlier_results(tmp_path, case_file):
    """No file may grow beyond 2000 bytes: the system then answers as for a full disk."""
    out = tmp_path / "out"
    fill(out, mine="kept")
    ended = subprocess.run([sys.executable, "-c", FULL, str(case_file), str(out)], capture_output=True, text=True)
    assert ended.returncode == 2 and "Traceback" not in ended.stderr
    assert str(out) in ended.stderr or "File too large" in ended.stderr
    assert held(out) == {"mine": "kept"}
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]
