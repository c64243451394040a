"""Invented burn logs with their truth beside them: what probes and builders make of a fire.

Goes in: the true course of a burn. Comes out: rows of a CSV file with probe
lag, noise, rounding and planted faults, and a truth that names every fault by
its lines.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from annulus.logs.columns import GAS, TIMES
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]

REMARK = "# invented log: no such fire was ever lit"
LAG = {"gas": 30.0, "water": 20.0}  # [s], trade practice: 20 to 40 s
NOISE: Mapping[str, float] = {"gas": 3.0, "water": 0.2}  # [K], standard deviation; trade practice: 2 to 5 and 0.2 K
DIGITS = 1


@dataclass(frozen=True)
class Course:
    """True course of a burn on even steps.

    Attributes
    ----------
    time : ndarray, shape (n,)
        [s]
    channels : mapping of str to ndarray, shape (n,)
        By role of `annulus.logs.columns`; wood is what was laid on at the step. [K, kg, kg/s]
    truth : mapping
        What is known of it: parameters and results.
    """

    time: Floats
    channels: Mapping[str, Floats]
    truth: Mapping[str, Any]


@dataclass
class Row:
    """One row of a file to be: its cells by heading and the faults it takes part in."""

    cells: dict[str, str]
    faults: set[int] = field(default_factory=set)


@dataclass
class Sheet:
    """A file to be, row by row, and the faults planted so far.

    Attributes
    ----------
    headings : mapping of str to str
        Role to heading.
    rows : list of Row
    faults : list of (kind, column)
    """

    headings: dict[str, str]
    rows: list[Row]
    faults: list[tuple[str, str]] = field(default_factory=list)

    def plant(self, kind: str, role: str, rows: Sequence[int], change: Callable[[str], str] = str) -> None:
        """Change one column in some rows and remember it as a fault."""
        number = len(self.faults)
        self.faults.append((kind, self.headings.get(role, "")))
        for n in rows:
            row = self.rows[n]
            row.faults.add(number)
            if role:
                row.cells[self.headings[role]] = change(row.cells[self.headings[role]])

    def exchange(self, role: str, other: str, rows: Sequence[int]) -> None:
        """Two probes in each other's place."""
        a, b = self.headings[role], self.headings[other]
        self.faults.append(("swapped", f"{a} and {b}"))
        for n in rows:
            cells = self.rows[n].cells
            cells[a], cells[b] = cells[b], cells[a]
            self.rows[n].faults.add(len(self.faults) - 1)

    def lose(self, first: int, last: int) -> None:
        """Rows that were never written; the rows around them tell."""
        self.plant("gap", "", (first - 1, last + 1))
        del self.rows[first : last + 1]

    def repeat(self, row: int) -> None:
        """A row written twice."""
        again = Row(dict(self.rows[row].cells))
        self.rows.insert(row + 1, again)
        self.plant("duplicate", self._time(), (row + 1,))

    def delay(self, row: int, by: int) -> None:
        """A row written too late: after rows that came later. Another row is lost where it was."""
        moved = self.rows.pop(row)
        self.plant("gap", "", (row - 1, row))
        self.rows.insert(row + by, moved)
        self.plant("back", self._time(), (row + by,))

    def _time(self) -> str:
        return next(role for role in TIMES if role in self.headings)

    def text(self) -> str:
        """The file."""
        lines = [REMARK, ",".join(self.headings.values())]
        lines += [",".join(row.cells[heading] for heading in self.headings.values()) for row in self.rows]
        return "\n".join(lines) + "\n"

    def fault_lines(self) -> list[dict[str, Any]]:
        """Every planted fault with the lines it ended up on."""
        found = []
        for number, (kind, column) in enumerate(self.faults):
            lines = [n for n, row in enumerate(self.rows, 3) if number in row.faults]
            if not lines:
                continue  # went with rows that were lost
            found.append({"kind": kind, "column": column, "first_line": min(lines), "last_line": max(lines)})
        return sorted(found, key=lambda fault: (fault["first_line"], fault["last_line"], fault["kind"]))


def write_down(
    course: Course,
    headings: Mapping[str, str],
    step: float,
    rng: np.random.Generator,
    begins: float = 61200.0,
    noise: Mapping[str, float] = NOISE,
) -> Sheet:
    """Read the probes of a true course as a logger would.

    Parameters
    ----------
    course : Course
    headings : mapping of str to str
        Role to heading; a heading that ends in "degF]" is written in Fahrenheit. With
        "clock" times are clock times, with "elapsed" minutes.
    step : float
        Between rows; a multiple of the course's own. [s]
    rng : Generator
    begins : float
        Time of day of the first row. [s]
    noise : mapping of str to float
        Standard deviation of gas and water probes. [K]
    """
    fine = float(course.time[1] - course.time[0])
    every = round(step / fine)
    columns: dict[str, list[str]] = {}
    for role, heading in headings.items():
        if role == "clock":
            columns[heading] = [_clock(begins + t) for t in course.time[::every]]
        elif role == "elapsed":
            columns[heading] = [f"{t / 60:.4g}" for t in course.time[::every]]
        elif role == "wood":
            laid = np.add.reduceat(course.channels[role], np.arange(0, course.time.size, every))
            columns[heading] = [f"{mass:.2f}" if mass > 0 else "" for mass in laid]
        elif role == "flow":
            columns[heading] = [f"{60 * value / 0.9982:.2f}" for value in course.channels[role][::every]]
        else:
            sort = "gas" if role in GAS else "water"
            read = lagged(course.channels[role], fine, LAG[sort])[::every]
            celsius = to_celsius(read + rng.normal(0.0, noise[sort], read.size))
            columns[heading] = [_number(value, heading) for value in celsius]
    rows = [Row(dict(zip(columns, cells, strict=True))) for cells in zip(*columns.values(), strict=True)]
    return Sheet(dict(headings), rows)


def lagged(values: Floats, step: float, lag: float) -> Floats:
    """Reading of a probe of first order. The exact answer to straight pieces would differ by less than the noise."""
    keep = float(np.exp(-step / lag))
    out, _ = lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])
    return np.asarray(out)


def truth_text(sheet: Sheet, course: Course) -> str:
    """The truth beside a log, as JSON."""
    content = {"invented": True, **course.truth, "faults": sheet.fault_lines()}
    return json.dumps(content, indent=1, allow_nan=False) + "\n"


def _clock(seconds: float) -> str:
    whole = round(seconds) % 86400
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def _number(celsius: float, heading: str) -> str:
    return f"{1.8 * celsius + 32.0 if heading.endswith('degF]') else celsius:.{DIGITS}f}"


def to_fahrenheit(cell: str) -> str:
    """A Celsius cell as a Fahrenheit display would show it."""
    return f"{1.8 * float(cell) + 32.0:.{DIGITS}f}"


def capped(limit: float) -> Callable[[str], str]:
    """A cell as a probe or dial that ends at a limit shows it."""
    return lambda cell: f"{min(float(cell), limit):.{DIGITS}f}"


def constant(text: str) -> Callable[[str], str]:
    """A cell that always shows the same."""
    return lambda _: text


def save_log(folder: Path, name: str, sheet: Sheet, course: Course) -> None:
    """Write NAME.csv and NAME.truth.json."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{name}.csv").write_text(sheet.text(), encoding="utf-8", newline="\n")
    (folder / f"{name}.truth.json").write_text(truth_text(sheet, course), encoding="utf-8", newline="\n")
