"""A burn log in SI on one axis of time, with everything that was found in it.

Goes in: a CSV file, and the mapping of the case file if there is one. Comes
out: a `Log`. Cells that say nothing are NaN; nothing is changed without a
finding that says so.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from annulus.errors import InputError
from annulus.logs.columns import ROLES, TIMES, Use, assign
from annulus.logs.findings import Finding, runs
from annulus.logs.mending import mend
from annulus.logs.table import Table, numbers, read_table
from annulus.logs.times import place_rows
from annulus.units import parse

Floats = NDArray[np.float64]

UNREADABLE = 0.5  # of the filled cells are no numbers: the column is no column of numbers
SPARSE = 0.3  # of the rows empty: the column is filled now and then, which is no fault


@dataclass(frozen=True)
class Log:
    """A burn log.

    Attributes
    ----------
    name, file : str
    time : ndarray, shape (n,)
        Since the first row, rising. [s]
    begins : str
        Time of the first row as the file writes it.
    lines : ndarray of int, shape (n,)
        Line of the file.
    channels : mapping of str to ndarray, shape (n,)
        By role, in SI, NaN where nothing is known. Wood is what was laid on at the row, 0 for none. [K, kg, kg/s]
    at_limit : mapping of str to ndarray of bool, shape (n,)
        By role, readings at the end of their probe, above which the truth lies; roles without any are left out.
    uses : tuple of Use
    findings : tuple of Finding
        In the order of the rows.
    rows_read : int
        Rows of the file, those left out included.
    """

    name: str
    file: str
    time: Floats
    begins: str
    lines: NDArray[np.int64]
    channels: Mapping[str, Floats]
    at_limit: Mapping[str, NDArray[np.bool_]]
    uses: tuple[Use, ...]
    findings: tuple[Finding, ...]
    rows_read: int

    def column(self, role: str) -> str:
        """Heading of a role's column."""
        return next(use.column for use in self.uses if use.role == role)


def read_log(path: str | os.PathLike[str], mapping: Mapping[str, str] | None = None) -> Log:
    """Read a burn log and mend what can be mended, naming it row by row.

    Parameters
    ----------
    path : path
        CSV, see `annulus.logs.table.read_table`.
    mapping : mapping of str to str, optional
        Role to column, see `annulus.logs.columns.assign`; guessed if left out.

    Raises
    ------
    InputError
        If it is not readable as a log; the message names file, line or column.
    """
    table = read_table(path)
    uses = assign(table.headings, mapping, table.file)
    clock = next(use for role in TIMES for use in uses if use.role == role)
    times = place_rows(table, clock)
    lines = table.lines[times.kept]
    findings = list(times.findings)
    channels: dict[str, Floats] = {}
    for use in uses:
        if use.role is None or use.role in TIMES:
            continue
        channels[use.role] = _channel(table, use, times.kept, findings)
    if not channels:
        raise InputError(
            f"{table.file}: no column but the time is known among {', '.join(map(repr, table.headings))}; "
            'name them in the case file, as in [log] tank = "drum"'
        )
    channels, at_limit, found = mend(times.seconds, channels, {use.role: use for use in uses if use.role}, lines)
    return Log(
        Path(path).stem,
        table.file,
        times.seconds,
        times.begins,
        lines,
        channels,
        at_limit,
        tuple(uses),
        tuple(sorted([*findings, *found])),
        len(table.lines),
    )


def _channel(table: Table, use: Use, kept: NDArray[np.int64], findings: list[Finding]) -> Floats:
    """One column in SI; empty and unreadable cells are NaN and named."""
    assert use.role is not None  # asked for columns in use only
    cells = table.columns[table.headings.index(use.column)]
    values, odd = numbers(cells, table.decimal_comma)
    values, odd = values[kept], odd[kept]
    lines = table.lines[kept]
    filled = sum(1 for n in kept.tolist() if cells[n])
    if odd.sum() > UNREADABLE * filled:
        sample = cells[kept[int(np.flatnonzero(odd)[0])]]
        comma = (
            "; a decimal comma needs semicolons or tabs between columns" if re.fullmatch(r"-?\d+,\d+", sample) else ""
        )
        raise InputError(
            f"{table.file}: column {use.column!r}: {odd.sum()} of {filled} cells are no numbers, such as "
            f"{sample[:30]!r}; write numbers there, and their unit in the heading{comma}"
        )
    for first, last in runs(odd):
        read = repr(cells[kept[first]]) + (f" and {last - first} more" if last > first else "")
        findings.append(Finding(int(lines[first]), int(lines[last]), "unreadable", use.column, read, "left out"))
    if use.role == "wood":
        return np.nan_to_num(to_si(values, use))
    empty = np.isnan(values) & ~odd
    if empty.mean() <= SPARSE:
        for first, last in runs(empty):
            count = last - first + 1
            words = "empty" if count == 1 else f"{count} rows empty"
            findings.append(
                Finding(int(lines[first]), int(lines[last]), "missing", use.column, words, "bridged by straight lines")
            )
    return to_si(values, use)


def to_si(values: Floats, use: Use) -> Floats:
    """Numbers of a column in SI."""
    assert use.role is not None  # asked for columns in use only
    kind = ROLES[use.role][0]
    zero = parse(f"0 {use.unit}", kind)
    return zero + values * (parse(f"1000 {use.unit}", kind) - zero) / 1000.0
