"""A folder of results: all files of a run come at once, and one run at a time writes.

Files are made in a hidden folder beside the one that was asked for. When the
run is done that folder is renamed, which marks it as whole, and its files move
into place. Killed before, nothing has changed; killed while files move, the next
run into the folder moves the rest first. A lock keeps a second run on this
machine out.

Goes in: the folder of --out. Comes out: the folder to write to meanwhile.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from annulus.errors import InputError
from annulus.texts import real_path

PART, READY = ".part", ".ready"  # suffixes of the hidden folder: being made, whole


@contextmanager
def claimed(out: Path) -> Iterator[None]:
    """Keep other runs on this machine out of a folder; finish what a killed one left whole.

    Raises
    ------
    InputError
        If another run is at work there.
    """
    mark = hashlib.sha256(str(real_path(out)).encode()).hexdigest()[:24]
    user = os.getuid() if sys.platform != "win32" else 0
    with (Path(tempfile.gettempdir()) / f"annulus-{user}-{mark}.lock").open("a+b") as lock:
        if not _lock(lock):
            raise InputError(f"--out {out}: another run writes there; wait for it, or choose another folder")
        _clear(out)
        yield


@contextmanager
def staged(out: Path) -> Iterator[Path]:
    """A hidden folder whose files move to `out` once all are there; without an error only.

    It is made and taken away at once, so that a place where no folder can be made is refused before the work is done.
    """
    stage = out.parent / f".{out.name}.{os.getpid()}{PART}"
    try:
        _try(stage)
        yield stage
        if stage.is_dir():
            os.replace(stage, _ready(out))
            _move(_ready(out), out)
    except OSError as fault:
        if isinstance(fault.filename, str) and fault.filename.startswith(str(stage)):
            fault.filename = str(out)  # the folder that the user knows
        raise
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def _try(stage: Path) -> None:
    """Make a folder, and take it away again with all that had to be made for it; OSError if that cannot be done."""
    missing = [folder for folder in (stage, *stage.parents) if not folder.exists()]
    stage.mkdir(parents=True)
    for folder in missing:
        folder.rmdir()


def shown(folder: Path) -> Path:
    """The folder that was asked for, of one that `staged` gave."""
    if not (folder.name.startswith(".") and folder.name.endswith(PART)):
        return folder
    return folder.parent / folder.name[1 : -len(PART)].rpartition(".")[0]


def _ready(out: Path) -> Path:
    return out.parent / f".{out.name}{READY}"


def _clear(out: Path) -> None:
    """Finish a move that was cut short; throw away what a killed run had not finished."""
    if _ready(out).is_dir():
        _move(_ready(out), out)
    for left in out.parent.glob(f".{out.name}.*{PART}"):
        if left.is_dir() and shown(left) == out:
            shutil.rmtree(left, ignore_errors=True)


def _move(ready: Path, out: Path) -> None:
    for path in sorted(path for path in ready.rglob("*") if path.is_file()):
        target = out / path.relative_to(ready)
        target.parent.mkdir(parents=True, exist_ok=True)
        os.replace(path, target)
    shutil.rmtree(ready)


def _lock(file: IO[bytes]) -> bool:
    """Lock a file until it is closed, which the system does for a killed run; False if it is taken."""
    try:
        if sys.platform == "win32":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
