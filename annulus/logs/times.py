"""Rows of a log on one axis of time that only goes forward.

Goes in: cells of the time column, and the cells beside them to tell repeated
rows. Comes out: seconds since the first row, which rows are kept, findings.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from annulus.errors import InputError
from annulus.logs.columns import Use
from annulus.logs.findings import Finding, runs
from annulus.logs.table import Table, numbers
from annulus.units import parse

Floats = NDArray[np.float64]

DAY, HALF_DAY, MINUTE = 86400.0, 43200.0, 60.0  # [s]
MOST_STRAYS = 5  # rows in one run that are strays; more are a clock set back
MOST_SET_BACK = 20  # times a clock is set back in one log
MOST_HOURS = 1000.0  # on a clock that shows hours as plain numbers
SECONDS_SINCE_1970, MILLISECONDS_SINCE_1970 = 5e8, 5e11  # the year 1985 in both; no hours come near
MOSTLY = 0.8  # of the steps go back: the rows stand in the wrong order
MANY_REPEATS = 0.2  # of the rows share their minute: the clock shows no seconds
EVEN = 0.8  # of the steps lie this near the median: a regular log
NEAR_MEDIAN = 0.2
ROW_LOST = 1.5  # steps: in a regular log a step longer than this has lost rows
LONG_STEP = 4.0  # times the step that 9 of 10 do not exceed: a gap in an irregular log

_CLOCK = re.compile(
    r"(?:(?P<date>\d{1,4}[-./]\d{1,2}[-./]\d{1,4})[ T]+)?"
    r"(?P<h>\d{1,3}):(?P<m>[0-5]\d)(?::(?P<s>[0-5]\d(?:[.,]\d+)?))?\s*(?P<half>[AaPp]\.?[Mm]\.?)?(?:Z|[+-]\d\d:?\d\d)?\Z"
)
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})\Z")


@dataclass(frozen=True)
class Times:
    """Rows on the axis of time.

    Attributes
    ----------
    seconds : ndarray, shape (n_kept,)
        Since the first kept row, rising. [s]
    kept : ndarray of int, shape (n_kept,)
        Rows of the table.
    begins : str
        First time as the file writes it.
    findings : tuple of Finding
    """

    seconds: Floats
    kept: NDArray[np.int64]
    begins: str
    findings: tuple[Finding, ...]


def place_rows(table: Table, use: Use) -> Times:
    """Times of the rows; rows without a time or that do not go forward are left out and named.

    Clock times pass midnight: a step back by more than half a day is the next day.

    Raises
    ------
    InputError
        If fewer than two rows have a time, or the newest row comes first.
    """
    cells = table.columns[table.headings.index(use.column)]
    raw = _read_clock(cells) if _is_clock(use, cells) else _read_elapsed(cells, use, table)
    findings = [
        Finding(
            int(table.lines[first]),
            int(table.lines[last]),
            "no time",
            use.column,
            f"{cells[first]!r}" if cells[first] else "empty",
            "row left out" if first == last else f"{last - first + 1} rows left out",
        )
        for first, last in runs(np.isnan(raw))
    ]
    rows = np.flatnonzero(~np.isnan(raw))
    if rows.size < 2:
        raise InputError(
            f"{table.file}: column {use.column!r}: {rows.size} of {len(cells)} cells are times; "
            'write them as "18:05", "2026-01-31 18:05:30", or as a number with the unit in the heading'
        )
    if np.mean(np.diff(raw[rows]) < 0) > MOSTLY:
        raise InputError(
            f"{table.file}: column {use.column!r}: the newest row comes first ({cells[rows[0]]!r}, then "
            f"{cells[rows[1]]!r}); sort the rows by their time"
        )
    seconds = _spread_repeats(raw[rows], table, use, rows, findings)
    seconds, kept = _forward(seconds, rows, table, use, findings)
    findings += _gaps(seconds, rows[kept], table)
    return Times(seconds - seconds[0], rows[kept], cells[rows[kept[0]]], tuple(sorted(findings)))


def _is_clock(use: Use, cells: Sequence[str]) -> bool:
    first = next((cell for cell in cells if cell), "")
    return use.role == "clock" and ":" in first


def _read_elapsed(cells: tuple[str, ...], use: Use, table: Table) -> Floats:
    """Seconds of elapsed times: numbers, or hours, minutes and seconds."""
    if any(":" in cell for cell in cells[:20]):
        return np.array([_of_day(match) if (match := _CLOCK.match(cell)) else np.nan for cell in cells])
    values = numbers(cells, table.decimal_comma)[0]
    if use.role == "clock" and not use.unit_is_stated and np.nanmax(np.append(values, 0.0)) > MOST_HOURS:
        known = values[np.isfinite(values)]
        if known.min() > SECONDS_SINCE_1970:
            return values * (1e-3 if known.min() > MILLISECONDS_SINCE_1970 else 1.0)
        raise InputError(
            f"{table.file}: column {use.column!r}: {known[0]:.10g} is no time of day; write times as "
            f'"18:05", or the unit of these numbers in the heading, as in "{use.column} [min]"'
        )
    return values * parse(f"1 {use.unit}", "time")


def _of_day(match: re.Match[str]) -> float:
    hour = int(match["h"])
    if match["half"]:
        hour = hour % 12 + (12 if match["half"][0] in "Pp" else 0)
    return 3600.0 * hour + 60.0 * int(match["m"]) + float((match["s"] or "0").replace(",", "."))


def _read_clock(cells: tuple[str, ...]) -> Floats:
    """Seconds of clock times, days added where the date changes or midnight passes."""
    seconds = np.full(len(cells), np.nan)
    day, seen, previous = 0.0, None, np.nan
    for n, cell in enumerate(cells):
        match = _CLOCK.match(cell)
        if match is None:
            continue
        time = _of_day(match)
        stated = match["date"]
        if stated is not None:
            if stated != seen:
                # only dates written year first tell how many days lie between
                iso = _ISO.match(stated)
                day = DAY * _ordinal(iso) if iso else day + (DAY if seen is not None else 0.0)
                seen = stated
        elif previous - time > HALF_DAY:
            day += DAY
        elif time - previous > HALF_DAY and day > 0.0:
            day -= DAY  # a stray row of the day before
        previous = time
        seconds[n] = day + time
    return seconds


def _ordinal(match: re.Match[str]) -> float:
    try:
        return float(date(int(match[1]), int(match[2]), int(match[3])).toordinal())
    except ValueError:
        return float("nan")


def _spread_repeats(
    seconds: Floats, table: Table, use: Use, rows: NDArray[np.int64], findings: list[Finding]
) -> Floats:
    """Rows that share a minute because the clock shows no seconds, spread over it."""
    repeats = np.diff(seconds) == 0.0
    whole = bool(np.all(seconds % MINUTE == 0.0))
    if not whole or np.count_nonzero(repeats) <= MANY_REPEATS * seconds.size:
        return seconds
    start = np.flatnonzero(np.concatenate([[True], np.diff(seconds) != 0.0]))
    counts = np.diff(np.append(start, seconds.size))
    place = np.arange(seconds.size) - np.repeat(start, counts)
    findings.append(
        Finding(
            int(table.lines[rows[0]]),
            int(table.lines[rows[-1]]),
            "clock",
            use.column,
            f"several rows to the minute, {np.median(counts):.0f} as a rule",
            "rows of one minute spread evenly over it",
        )
    )
    return seconds + MINUTE * place / np.repeat(counts, counts)


def _forward(
    seconds: Floats, rows: NDArray[np.int64], table: Table, use: Use, findings: list[Finding]
) -> tuple[Floats, NDArray[np.int64]]:
    """Times that rise, and which rows have them: strays left out, a clock that was set back put right."""
    seconds = seconds.copy()
    step = float(np.median(np.abs(np.diff(seconds)))) or 1.0
    cells = table.columns[table.headings.index(use.column)]
    for _ in range(MOST_SET_BACK):
        late = _late(seconds)
        # rows at one and the same time are repeated, however many; only a clock that jumps back was set back
        long = next(((a, b) for a, b in runs(late) if b - a + 1 > MOST_STRAYS and seconds[a] < seconds[a - 1]), None)
        if long is None:
            break
        first = long[0]
        shift = seconds[:first].max() + step - seconds[first]
        findings.append(
            Finding(
                int(table.lines[rows[first]]),
                int(table.lines[rows[-1]]),
                "clock",
                use.column,
                f"{cells[rows[first]]} after {cells[rows[first - 1]]}",
                f"this row and all after it moved on by {shift / MINUTE:.4g} min, to one step after the row before",
            )
        )
        seconds[first:] += shift
    late = _late(seconds)
    others = [column for name, column in zip(table.headings, table.columns, strict=True) if name != use.column]
    for n in np.flatnonzero(late).tolist():
        line = int(table.lines[rows[n]])
        same = seconds[n] == seconds[n - 1]
        if same:
            alike = all(column[rows[n]] == column[rows[n - 1]] for column in others)
            read = f"{cells[rows[n]]} again, {'with the same' if alike else 'with other'} readings"
            findings.append(Finding(line, line, "duplicate", use.column, read, "row left out"))
        else:
            read = f"{cells[rows[n]]} after {cells[rows[n - 1]]}"
            findings.append(Finding(line, line, "back", use.column, read, "row left out"))
    kept = np.flatnonzero(~late)
    if kept.size < 2:
        raise InputError(f"{table.file}: column {use.column!r}: all rows have the time {cells[rows[0]]!r}")
    return seconds[kept], kept


def _late(seconds: Floats) -> NDArray[np.bool_]:
    """True for a row that is not after all before it."""
    return np.concatenate([[False], seconds[1:] <= np.maximum.accumulate(seconds)[:-1]])


def _lost(count: int) -> str:
    return f", {count} row{'s' if count > 1 else ''} lost"


def _gaps(seconds: Floats, rows: NDArray[np.int64], table: Table) -> list[Finding]:
    """Steps so long that rows are missing."""
    steps = np.diff(seconds)
    usual = float(np.median(steps))
    regular = np.mean(np.abs(steps / usual - 1.0) <= NEAR_MEDIAN) >= EVEN
    limit = ROW_LOST * usual if regular else LONG_STEP * float(np.quantile(steps, 0.9))
    found = []
    for n in np.flatnonzero(steps > limit).tolist():
        lost = _lost(round(steps[n] / usual) - 1) if regular else ""
        found.append(
            Finding(
                int(table.lines[rows[n]]),
                int(table.lines[rows[n + 1]]),
                "gap",
                "",
                f"{steps[n] / MINUTE:.4g} min between two rows{lost}",
                "bridged by straight lines; wood laid on meanwhile is not in the log",
            )
        )
    return found
