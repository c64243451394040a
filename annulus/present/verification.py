"""The table of verification cases.

Goes in: families of cases and their results. Comes out: text, or a dictionary
for other programs. No physics.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

from annulus.present.tables import LINE
from annulus.verification import Case, Family, Result, Row

HEAD = ("", "", "expected", "computed", "error", "tolerance", "order/least", "verdict")
LEFT = (0, 1, 7)  # columns that start at the left
LEAST_DIGITS, MOST_DIGITS = 4, 10  # of a value
SMALL_SHARE = 1e-5  # below this an error is not worth its per cent sign


def verification_table(families: Sequence[Family], results: Sequence[Result]) -> str:
    """Expected beside computed for every case that was run, by family, and a line that counts.

    Parameters
    ----------
    families : sequence of Family
        Their order and words.
    results : sequence of Result
    """
    by_case = {result.case.id: result for result in results}
    cells = [_cells(row) for result in results for row in result.rows]
    widths = [max(map(len, column)) for column in zip(HEAD, *cells, strict=True)]
    parts = []
    for family in families:
        found = [by_case[case.id] for case in family.cases if case.id in by_case]
        if not found:
            continue
        heading = [family.title.upper(), *textwrap.wrap(family.words, LINE)]
        blocks = [_block(result, widths) for result in found]
        parts.append("\n".join([*heading, "", _line(HEAD, widths), *blocks]))
    return "\n\n".join([*parts, closing(results)])


def closing(results: Iterable[Result]) -> str:
    """How many rows hold, and which do not."""
    results = list(results)
    rows = [row for result in results for row in result.rows]
    holding = sum(row.holds for row in rows)
    refused = sum(bool(result.fault) for result in results)
    seconds = sum(result.seconds for result in results)
    lines = [f"{holding} of {len(rows) + refused} hold ({_cases(len(results))}, {seconds:.0f} s)"]
    if holding < len(rows) or refused:
        lines.append("Falls short:")
    for result in results:
        if result.fault:
            lines.append(f"  {result.case.id}  {result.fault}")
        lines += [
            f"  {result.case.id}  {row.quantity}: {', '.join(row.faults)}" for row in result.rows if not row.holds
        ]
    return "\n".join(lines)


def verification_dictionary(results: Sequence[Result]) -> dict[str, Any]:
    """The same for other programs: a number that is none is null; errors and tolerances as in the rows.

    `relative` tells whether errors and tolerances are shares of `scale` or in the row's unit.
    """
    return {
        "holds": all(result.holds for result in results),
        "cases": [
            {
                "id": result.case.id,
                "title": result.case.title,
                "tests": result.case.tests,
                "source": result.case.source,
                "seconds": round(result.seconds, 3),
                "holds": result.holds,
                "fault": result.fault,
                "rows": [_entry(row) for row in result.rows],
            }
            for result in results
        ],
    }


def _entry(row: Row) -> dict[str, Any]:
    return {
        "quantity": row.quantity,
        "unit": row.unit,
        "expected": _finite(row.expected),
        "computed": _finite(row.computed),
        "error": _finite(row.error),
        "tolerance": row.tolerance,
        "relative": row.scale is not None,
        "scale": row.scale,
        "order": _finite(row.order),
        "order_wanted": row.order_wanted,
        "also": [
            {
                "grid": other.grid,
                "computed": _finite(other.computed),
                "error": _finite(row.error_of(other.computed)),
                "tolerance": other.tolerance,
            }
            for other in row.also
        ],
        "verdict": _verdict(row),
    }


def _block(result: Result, widths: Sequence[int]) -> str:
    fault = [f"  COULD NOT BE COMPUTED: {result.fault}"] if result.fault else []
    return "\n".join([*_heading(result.case), *fault, *(_line(_cells(row), widths) for row in result.rows), ""])


def _heading(case: Case) -> list[str]:
    indent = " " * 5
    lines = [f"{case.id:<4} {case.title}"]
    for words in (f"tests: {case.tests}", f"source: {case.source}"):
        lines += textwrap.wrap(words, LINE, initial_indent=indent, subsequent_indent=indent)
    return lines


def _cells(row: Row) -> tuple[str, ...]:
    order = "-" if row.order_wanted is None else f"{_number(row.order, '.2f')}/{row.order_wanted:g}"
    expected, computed = _values(row)
    error, tolerance = (_error(row, value) for value in (row.error, row.tolerance))
    return (f"  {row.quantity}", row.unit, expected, computed, error, tolerance, order, _verdict(row))


def _values(row: Row) -> tuple[str, str]:
    """Expected and computed with as many decimals as the tolerance makes worth reading."""
    if row.expected == 0:
        return "0", _number(row.computed, ".2g")
    size = abs(row.expected)
    allowed = row.tolerance * (1.0 if row.scale is None else row.scale) / size
    digits = 2 - math.floor(math.log10(allowed)) if allowed > 0 else MOST_DIGITS
    digits = min(max(digits, LEAST_DIGITS), MOST_DIGITS)
    decimals = digits - 1 - math.floor(math.log10(size))
    if not 0 <= decimals <= MOST_DIGITS:
        return _number(row.expected, f".{digits}g"), _number(row.computed, f".{digits}g")
    known = len(f"{row.expected:.{MOST_DIGITS}g}".partition(".")[2])  # no zeros that no source gives
    return _number(row.expected, f".{min(decimals, known)}f"), _number(row.computed, f".{decimals}f")


def _error(row: Row, value: float) -> str:
    if not math.isfinite(value):
        return "none"
    if row.scale is None:
        unit = {"degC": " K", "": "", "roundings": ""}.get(row.unit, f" {row.unit}")
        return f"{value:.2g}{unit}"
    if value == 0:
        return "0"
    return f"{100 * value:.2g} %" if value >= SMALL_SHARE else f"{value:.0e}"


def _verdict(row: Row) -> str:
    return "holds" if row.holds else f"FALLS SHORT: {', '.join(row.faults)}"


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    padded = [
        cell.ljust(width) if n in LEFT else cell.rjust(width)
        for n, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    return "  ".join(padded).rstrip()


def _number(value: float | None, style: str) -> str:
    return "none" if value is None or not math.isfinite(value) else format(value + 0.0, style)


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _cases(count: int) -> str:
    return "1 case" if count == 1 else f"{count} cases"
