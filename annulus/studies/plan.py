"""What a sweep is to do: what is varied, which result counts, which limits hold.

Goes in: words of options, or `sweep.toml` beside a case. Comes out: a `Plan`.

    vary = ["coil.gap = 0 mm .. 3 mm x 7"]
    table = "fires.csv"                   # beside this file
    show = "heat_to_water_W"
    keep = ["wall_min_C > 60"]
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from annulus.errors import InputError
from annulus.studies.limits import Limit, read_limit
from annulus.studies.vary import Variation, read_table, read_variation
from annulus.texts import parse_toml, read_text

PLAN_FILE = "sweep.toml"
LISTS, TEXTS = ("vary", "keep"), ("table", "show")


@dataclass(frozen=True)
class Plan:
    """What a sweep is to do; `show` is None where the usual result will do."""

    variations: tuple[Variation, ...]
    limits: tuple[Limit, ...]
    show: str | None


def make_plan(
    vary: Sequence[str], table: Path | None, keep: Sequence[str], show: str | None, place: str = "--"
) -> Plan:
    """Read the words of a plan; `place` goes before the name of each in messages."""
    tables = [read_table(table, f"{place}table")] if table is not None else []
    variations = tables + [read_variation(words, f"{place}vary") for words in vary]
    if not variations:
        raise InputError(f"{place}vary: nothing is varied; write for instance --vary 'coil.pitch = 16 mm .. 40 mm x 9'")
    return Plan(tuple(variations), tuple(read_limit(words, f"{place}keep") for words in keep), show)


def find_plan(case: Path) -> Path | None:
    """The plan beside a case: `sweep.toml` in its folder."""
    path = (case if case.is_dir() else case.parent) / PLAN_FILE
    return path if path.is_file() else None


def read_plan(path: Path) -> Plan:
    """Read a plan from its file.

    Raises
    ------
    InputError
        If it cannot be read; unknown keys and values of another kind are named.
    """
    content = parse_toml(read_text(path, "the sweep's file"), str(path))
    _check(path, content)
    table = content.get("table")
    return make_plan(
        content.get("vary", []),
        None if table is None else path.parent / table,
        content.get("keep", []),
        content.get("show"),
        f"{path}: ",
    )


def _check(path: Path, content: Mapping[str, Any]) -> None:
    for key, value in content.items():
        if key not in (*LISTS, *TEXTS):
            raise InputError(f"{path}: key '{key}': is none of {', '.join((*LISTS, *TEXTS))}")
        if key in TEXTS and not isinstance(value, str):
            raise InputError(f"{path}: key '{key}': must be text in \"quotes\"")
        if key in LISTS and not (isinstance(value, list) and all(isinstance(item, str) for item in value)):
            raise InputError(f"{path}: key '{key}': must be a list of texts in square brackets")
