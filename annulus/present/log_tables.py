"""Burn logs as text: columns, findings row by row, results with their bands.

Goes in: crunched logs. Comes out: text and tables for other programs. No physics.
"""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import asdict, astuple, fields
from typing import Any

from annulus.logs.columns import ROLES
from annulus.logs.crunch import Crunched
from annulus.logs.findings import KINDS, Finding
from annulus.logs.limits import AtLimit
from annulus.present.burning import minutes
from annulus.present.tables import LINE, columns, plain

MOST_LISTED = 40  # findings in the terminal; the file has them all
MJ, KW = 1e6, 1e3

Line = tuple[str, str, str | None, float, str, int]

# label, key, key of its error, size of the unit, unit, digits
LINES: tuple[Line, ...] = (
    ("mean heat to the tank", "mean_heat_to_tank_W", "mean_heat_to_tank_error_W", KW, "kW", 2),
    ("most over half an hour", "peak_heat_to_tank_W", None, KW, "kW", 2),
    ("heat to the tank", "heat_to_tank_J", "heat_to_tank_error_J", MJ, "MJ", 1),
    ("  of it lost by the tank meanwhile", "tank_loss_J", None, MJ, "MJ", 1),
    ("heat that the loop carried", "heat_from_loop_J", "heat_from_loop_error_J", MJ, "MJ", 1),
    ("heat that the gas gave between its probes", "heat_from_gas_J", "heat_from_gas_error_J", MJ, "MJ", 1),
    ("wood", "wood_kg", None, 1.0, "kg", 1),
    ("wood an hour", "wood_rate_kg_per_h", None, 1.0, "kg/h", 2),
    ("energy of the wood, lower heating value", "wood_energy_J", None, MJ, "MJ", 0),
    ("efficiency, on the lower heating value", "efficiency", "efficiency_error", 1.0, "%", 1),
    ("tank at the start", "tank_start_C", None, 1.0, "degC", 1),
    ("tank at the end", "tank_end_C", None, 1.0, "degC", 1),
    ("gas below the coil, mean", "gas_below_mean_C", None, 1.0, "degC", 0),
    ("gas above the coil, mean", "gas_above_mean_C", None, 1.0, "degC", 0),
)


def log_text(name: str, crunched: Crunched) -> str:
    """One log: how it was read, what was found, what it shows."""
    log = crunched.log
    rows = [("column", "read as", "in", "")]
    for use in log.uses:
        about = "not used" if use.role is None else ROLES[use.role][2]
        unit = use.unit if use.unit_is_stated or use.role in (None, "clock") else f"{use.unit}?"
        rows.append((use.column, about, "" if use.role == "clock" else unit, use.origin if use.role else ""))
    lines = [f"{name}: {log.rows_read} rows from {log.begins}, {len(log.time)} kept", "", left_columns(rows)]
    if any(use.origin == "guessed" for use in log.uses):
        lines.append("Guessed from the headings; if one is wrong, write in the case file:")
        lines.append("  [log]")
        lines += [f'  {use.role} = "{use.column}"' for use in log.uses if use.role]
    if any(use.role and use.role != "clock" and not use.unit_is_stated for use in log.uses):
        lines.append("?: the file states no unit, the usual one is taken.")
    found = sorted([*log.findings, *crunched.findings])
    lines += ["", findings_text(found), "", results_text(crunched)]
    return "\n".join(lines)


def findings_text(found: Sequence[Finding]) -> str:
    """Findings with line, column, what was read and what was done."""
    if not found:
        return "Nothing was found wrong, nothing was changed."
    rows = [("line", "found", "column", "read", "done")]
    for finding in found[:MOST_LISTED]:
        rows.append((lines_of(finding), KINDS[finding.kind], finding.column or "-", finding.read, finding.done))
    text = "Found, by line of the file\n" + left_columns(rows)
    left = len(found) - MOST_LISTED
    return text + (f"\nand {left} more; --out DIR writes them all" if left > 0 else "")


def lines_of(found: Finding | AtLimit) -> str:
    """Lines of the file, one or from-to."""
    first, last = found.first_line, found.last_line
    return f"{first}" if first == last else f"{first}-{last}"


def left_columns(rows: Sequence[Sequence[str]]) -> str:
    """Rows of words in columns, all to the left."""
    widths = [max(len(row[n]) for row in rows) for n in range(len(rows[0]))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    )


def results_text(crunched: Crunched) -> str:
    """What a log shows, with 90 % bands."""
    result = crunched.result
    rows: list[Sequence[str]] = []
    if result["target_C"] is not None:
        reached = minutes(result["time_to_target_s"], result["time_to_target_error_s"])
        rows.append((f"time to {result['target_C']:.1f} degC", reached if reached != "-" else "not reached"))
    rows.append(("time counted", minutes(result["duration_s"])))
    rows += [(line[0], _entry(result, line)) for line in LINES if result[line[1]] is not None]
    closing = "After ±: half of the 90 % interval, from probes, volume, layers in the tank, scale and moisture."
    return columns(rows) + "\n" + textwrap.fill(closing, LINE)


def side_by_side(crunched: Mapping[str, Crunched]) -> str:
    """Results of several logs in columns."""
    rows: list[Sequence[str]] = [("", *crunched)]
    results = [one.result for one in crunched.values()]
    times = [minutes(one["time_to_target_s"], one["time_to_target_error_s"]) for one in results]
    rows.append(("time to the target", *times))
    for line in LINES:
        if any(one[line[1]] is not None for one in results):
            rows.append((line[0], *(_entry(one, line) for one in results)))
    return "Side by side\n" + columns(rows)


def _entry(result: Mapping[str, Any], line: Line) -> str:
    _, key, error, size, unit, digits = line
    value, bar = result[key], result[error] if error else None
    if value is None:
        return "-"
    scale = (100.0 if unit == "%" else 1.0) / size
    side = result["bounds"].get(key)
    if side == "open":
        return "not known"  # two probes at their end
    text = (f"{side} " if side else "") + plain(scale * value, digits)
    # a band of probes and scales is itself rough: as many digits as the value has
    return f"{text} {unit}" if bar is None else f"{text} ± {scale * bar:.{digits}f} {unit}"


def findings_csv(crunched: Crunched) -> str:
    """All findings as a table for other programs."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([field.name for field in fields(Finding)])
    for finding in sorted([*crunched.log.findings, *crunched.findings]):
        writer.writerow(astuple(finding))
    return text.getvalue()


def log_result(crunched: Crunched) -> dict[str, Any]:
    """One log for result.json."""
    found = sorted([*crunched.log.findings, *crunched.findings])
    used = [use for use in crunched.log.uses if use.role]
    named = {use.role: {"column": use.column, "unit": use.unit, "origin": use.origin} for use in used}
    return {**crunched.result, "columns": named, "findings": [asdict(finding) for finding in found]}
