"""What differs between cases.

Goes in: cases. Comes out: the keys whose resolved values differ, with the
values as the case file writes them.
"""

from __future__ import annotations

import itertools
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from annulus.case import Case, dump
from annulus.texts import real_path

NAMES_ONLY = ("title", "description", "invented")


def differences(cases: Sequence[Case]) -> list[tuple[str, list[str]]]:
    """Keys that differ between resolved cases, in the order of the case file.

    Returns
    -------
    list of (key, values)
        Key as "table.key"; one text per case, "-" where a case lacks it.
    """
    flat = [dict(_flatten(tomllib.loads(dump(case)))) for case in cases]
    keys = dict.fromkeys(key for values in flat for key in values if key not in NAMES_ONLY)
    rows = [(key, [values.get(key, "-") for values in flat]) for key in keys]
    return [(key, values) for key, values in rows if len(set(values)) > 1]


def short_names(paths: Sequence[Path]) -> list[str]:
    """Names to tell cases apart: the folder's if the file is case.toml, else the file's; repeats numbered."""
    plain = [path.name if path.suffix != ".toml" else path.stem for path in map(real_path, paths)]
    named = [real_path(path).parent.name if name == "case" else name for path, name in zip(paths, plain, strict=True)]
    taken = {name for name in named if named.count(name) == 1}
    return [name if name in taken else _numbered(name, taken) for name in named]


def _numbered(name: str, taken: set[str]) -> str:
    """The name with the first number that makes it unlike all that are taken; takes it."""
    found = next(f"{name}-{n}" for n in itertools.count(1) if f"{name}-{n}" not in taken)
    taken.add(found)
    return found


def _flatten(table: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _flatten(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", str(value)
