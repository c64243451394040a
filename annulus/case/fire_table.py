"""A fire over time from a file: comma-separated rows of time, gas temperature and gas flow.

Goes in: a path. Comes out: rows as a case file would hold them, or an InputError that names the line.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

from annulus.errors import InputError
from annulus.texts import read_text

COLUMNS = ("time", "gas_temperature", "gas_flow")
_HEAD = re.compile(r"\s*(\w+)\s*\[([^\]]+)\]\s*")
HEAD_EXAMPLE = "time [min],gas_temperature [degC],gas_flow [g/s]"


def read_fire_table(path: Path) -> list[list[str]]:
    """Rows of [time, temperature, flow] as text with units.

    Parameters
    ----------
    path : Path
        First line: names with units, such as "time [min],gas_temperature [degC],gas_flow [g/s]".

    Raises
    ------
    InputError
        If the file cannot be read, a column is missing, or a row has not one number for each column.
    """
    text = read_text(path, "the table's file")
    lines = [(n, row) for n, row in enumerate(csv.reader(text.splitlines()), 1) if any(cell.strip() for cell in row)]
    if not lines:
        raise InputError(f"{path}: is empty; its first line must be like {HEAD_EXAMPLE!r}")
    units: dict[str, tuple[int, str]] = {}
    for place, cell in enumerate(lines[0][1]):
        found = _HEAD.fullmatch(cell)
        if found is not None:
            units[found[1]] = place, found[2].strip()
    missing = [name for name in COLUMNS if name not in units]
    if missing:
        raise InputError(
            f"{path}, line {lines[0][0]}: has no column {', '.join(missing)}; the first line must be like "
            f"{HEAD_EXAMPLE!r}, with commas between"
        )
    rows = []
    for n, row in lines[1:]:
        if len(row) != len(lines[0][1]):
            raise InputError(f"{path}, line {n}: has {len(row)} columns and the first line has {len(lines[0][1])}")
        rows.append([f"{row[place].strip()} {unit}" for place, unit in (units[name] for name in COLUMNS)])
    return rows
