"""Text of a file that someone wrote, and its TOML.

Goes in: a path. Comes out: text or a tree, or an InputError that says what hinders.
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path
from typing import Any

from annulus.errors import InputError


def real_path(path: Path) -> Path:
    """Where a path leads, links followed; a circle of links, which only reading refuses, leads to itself."""
    return Path(os.path.realpath(path))


def read_text(file: Path, what: str) -> str:
    """Read a file as UTF-8; a mark of byte order before it is left out.

    Parameters
    ----------
    file : Path
    what : str
        Kind of file in words, such as "the case file".

    Raises
    ------
    InputError
        If it cannot be read or is no such text.
    """
    try:
        return file.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(f"{file}: cannot be read ({error.strerror}); check the name of {what}") from error
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise InputError(
            f"{file}: is not UTF-8 text ({error.reason}, line {line}, byte {error.start}); "
            f"was {what} saved in another encoding, or is it another file?"
        ) from error
    except ValueError as error:  # a name that no file can have, such as one with a zero byte
        raise InputError(f"{str(file)!r}: cannot be read ({error}); check the name of {what}") from error


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """Tree of a TOML text; InputError that begins with `name` if it is none."""
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise InputError(f"{name}: is not valid TOML: brackets nested too deep; is it a case file at all?") from error
    except ValueError as error:  # also a whole number of more digits than Python reads
        raise InputError(
            f'{name}: is not valid TOML: {error}; a value with a unit needs quotes, as in wall = "2 mm", '
            "and a key may stand once in its table"
        ) from error
