"""A CSV file to columns of text.

Goes in: a path. Comes out: headings, columns of cells, and the line of the
file that each row stands on.
"""

from __future__ import annotations

import csv
import os
import re
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from annulus.errors import InputError
from annulus.texts import read_text

SEPARATORS = (",", ";", "\t")
_SEPARATOR_LINE = re.compile(r"sep=.\s*\Z", re.IGNORECASE)  # of spreadsheets, before the heading
_UNIT = re.compile(r"[^\d\W]{1,8}\Z|°[CFK]\Z|%\Z|[^\d\W]{1,3}/[^\d\W]{1,4}\Z")
LARGEST = 500_000_000  # [byte], beyond any burn log


@dataclass(frozen=True)
class Table:
    """Cells of a log.

    Attributes
    ----------
    file : str
    headings : tuple of str
    columns : tuple of tuple of str
        Cells by column, stripped.
    lines : ndarray of int, shape (n,)
        Line of the file, counted from 1.
    decimal_comma : bool
    """

    file: str
    headings: tuple[str, ...]
    columns: tuple[tuple[str, ...], ...]
    lines: NDArray[np.int64]
    decimal_comma: bool


def read_table(path: str | os.PathLike[str]) -> Table:
    """Read a CSV file: comma, semicolon or tab between cells; lines that start with # are remarks.

    A second line that holds units alone goes with the headings.

    Raises
    ------
    InputError
        If it cannot be read, is no text, has no heading or no rows, or a row is longer than the heading.
    """
    file = Path(path)
    try:
        if file.stat().st_size > LARGEST:
            raise InputError(f"{file}: is larger than {LARGEST // 1_000_000} MB; is it a burn log?")
    except OSError as error:
        raise InputError(f"{file}: cannot be read ({error.strerror}); check the name of the log") from error
    text = read_text(file, "the log")

    numbered = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip() and line.lstrip()[0] != "#"]
    if numbered and _SEPARATOR_LINE.match(numbered[0][1]):
        numbered = numbered[1:]
    if len(numbered) < 3:
        count = f"{len(numbered)} line{'' if len(numbered) == 1 else 's'}"
        raise InputError(f"{file}: has {count} with cells; a log needs a heading and two rows")
    head = numbered[0][1]
    separator = max(SEPARATORS, key=head.count)
    if head.count(separator) == 0:
        raise InputError(
            f"{file}: line {numbered[0][0]}: no comma, semicolon or tab between columns: {head[:60]!r}; "
            "is it a line above the heading? put # before it"
        )
    try:
        rows = [
            [cell.strip() for cell in row] for row in csv.reader((line for _, line in numbered), delimiter=separator)
        ]
    except csv.Error as error:
        raise InputError(f"{file}: is not readable as CSV: {error}") from error
    if len(rows) != len(numbered):
        raise InputError(f"{file}: a quoted cell runs over several lines; burn logs need one row a line")
    if " " in text or (separator != "\t" and "\t" in text):
        rows = [[cell.strip() for cell in row] for row in rows]
    headings = rows[0]
    while headings and not headings[-1]:
        headings = headings[:-1]  # separators at the end of lines
    width = len(headings)
    if all(not cell or _UNIT.match(cell) for cell in rows[1]) and any(rows[1]):
        units = rows[1] + [""] * (width - len(rows[1]))
        headings = [f"{name} [{unit}]" if unit else name for name, unit in zip(headings, units, strict=False)]
        rows, numbered = [headings, *rows[2:]], [numbered[0], *numbered[2:]]
    _check_headings(headings, f"{file}: line {numbered[0][0]}")
    for (number, _), row in zip(numbered, rows, strict=True):
        if len(row) > width and any(row[width:]):
            hint = "; is a comma used both in numbers and between columns?" if separator == "," else ""
            raise InputError(f"{file}: line {number}: has {len(row)} cells, the heading {width}{hint}")
    columns = tuple(zip_longest(*rows[1:], fillvalue=""))[:width]
    columns += ((("",) * (len(rows) - 1)),) * (width - len(columns))
    return Table(
        str(file),
        tuple(headings),
        columns,
        np.array([number for number, _ in numbered[1:]], dtype=np.int64),
        separator != ",",
    )


def _check_headings(headings: list[str], place: str) -> None:
    for n, heading in enumerate(headings, 1):
        if not heading:
            raise InputError(f"{place}: column {n} has no heading")
    if all(heading.replace(".", "").replace(":", "").isdigit() for heading in headings):
        raise InputError(f"{place}: holds numbers where the heading is due; add a first line that names the columns")
    repeated = sorted({heading for heading in headings if headings.count(heading) > 1})
    if repeated:
        raise InputError(f"{place}: heading {repeated[0]!r} stands twice; give every column a name of its own")


def numbers(cells: tuple[str, ...], decimal_comma: bool) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Cells as numbers.

    Returns
    -------
    values : ndarray, shape (n,)
        NaN for an empty or unreadable cell.
    unreadable : ndarray of bool, shape (n,)
        True for a cell that holds something else than a number.
    """
    if decimal_comma:
        cells = tuple(cell.replace(",", ".") for cell in cells)
    try:
        values = np.array([float(cell) if cell else np.nan for cell in cells])
    except ValueError:
        values = np.array([_number(cell) for cell in cells])
    values[np.isinf(values)] = np.nan
    odd = np.zeros(len(cells), dtype=bool)
    unknown = np.flatnonzero(np.isnan(values))
    odd[unknown] = [bool(cells[n]) for n in unknown.tolist()]
    return values, odd


def _number(cell: str) -> float:
    try:
        return float(cell or "nan")
    except ValueError:
        return float("nan")
