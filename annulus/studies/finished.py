"""The log of a sweep: every finished design is on disk before the next one counts.

Goes in: rows, one by one. Comes out: rows of an earlier run. One line of JSON a
design, each forced to the disk; a last line that a power cut tore is dropped.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, BinaryIO

from annulus.errors import InputError

LOG = "finished.jsonl"
_MARK, _NUMBER = "sweep", "design"


class FinishedLog:
    """Rows of a sweep on disk.

    Parameters
    ----------
    folder : path
        Made if need be.
    mark : str
        Of the sweep, as `annulus.studies.designs.fingerprint` gives it.
    resume : bool
        Go on with a log that is there; without it, such a log is refused.

    Attributes
    ----------
    rows : dict
        Of the designs that are finished, by number.

    Raises
    ------
    InputError
        If there is a log and `resume` is false, if it belongs to another sweep,
        or if a line of it cannot be read.
    """

    def __init__(self, folder: Path, mark: str, resume: bool) -> None:
        self.path = folder / LOG
        self.rows: dict[int, dict[str, Any]] = {}
        folder.mkdir(parents=True, exist_ok=True)
        whole = self._read(mark, resume)
        self._file: BinaryIO = self.path.open("r+b" if self.path.exists() else "w+b")
        self._file.truncate(whole)
        self._file.seek(whole)
        if whole == 0:
            self._write({_MARK: mark})
            _force_folder(folder)

    def __enter__(self) -> FinishedLog:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def add(self, number: int, row: Mapping[str, Any]) -> None:
        """Keep the row of a design; on return it is on the disk."""
        self._write({_NUMBER: number, **row})
        self.rows[number] = dict(row)

    def _write(self, content: Mapping[str, Any]) -> None:
        line = json.dumps(content, allow_nan=False, ensure_ascii=False) + "\n"
        self._file.write(line.encode())
        self._file.flush()
        os.fsync(self._file.fileno())

    def _read(self, mark: str, resume: bool) -> int:
        """Take in the rows of an earlier run; returns the bytes that are whole lines."""
        if not self.path.exists():
            return 0
        whole, newline, _ = self.path.read_bytes().rpartition(b"\n")
        if not newline:
            return 0  # torn in its very first line
        if not resume:
            raise InputError(
                f"--out {self.path.parent}: holds a sweep already; go on with --resume, or choose another folder"
            )
        lines = whole.split(b"\n")
        head, *rows = [self._line(number, line) for number, line in enumerate(lines, start=1)]
        if head.get(_MARK) != mark:
            raise InputError(
                f"--resume: {self.path} belongs to another sweep: the case, what is varied or the version of annulus "
                "has changed since; choose another folder"
            )
        self.rows = {row.pop(_NUMBER): row for row in rows}
        return len(whole) + 1

    def _line(self, number: int, line: bytes) -> dict[str, Any]:
        try:
            content = json.loads(line)
        except ValueError as error:
            raise InputError(f"{self.path}: line {number} cannot be read ({error}); was the file edited?") from error
        if not isinstance(content, dict) or (_MARK if number == 1 else _NUMBER) not in content:
            raise InputError(f"{self.path}: line {number} is not one of a sweep; was the file edited?")
        return content


def _force_folder(folder: Path) -> None:
    """Make the new name in a folder outlast a power cut, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
