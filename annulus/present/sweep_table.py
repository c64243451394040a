"""A sweep as text: the table for other programs, and the few lines that a builder reads.

Goes in: a `Sweep`. Comes out: CSV, one row a design; text. No physics.
"""

from __future__ import annotations

import csv
import io
import textwrap
from collections import Counter
from typing import Any

from annulus.present.tables import LINE, columns, invented_mark, number, plain
from annulus.present.trade import COSTS, pick_evenly
from annulus.studies.limits import TOO_CLOSE
from annulus.studies.reading import LESS_IS_BETTER, Reading, Sweep

LISTED = 8  # designs of each list on the terminal; of so many fires and rooms together
REASON_WIDTH = 160  # characters of a reason on the terminal


def sweep_csv(sweep: Sweep) -> str:
    """Table of all designs.

    Returns
    -------
    str
        CSV with a head: number of the design, what was varied (with its unit), whether it keeps the limits,
        why it has no results, results (unit at the end of the name). Numbers are written so that they read
        back exactly; what a design does not have is empty.
    """
    varied = [column for variation in sweep.variations for column in variation.columns]
    judged = ["kept"] if sweep.limits else []
    names = sweep.names
    text = io.StringIO()
    write = csv.writer(text, lineterminator="\n").writerow
    write(["design", *varied, *judged, "reason", *names])
    for reading in sweep.readings:
        cells = [_cell(cell) for setting in reading.settings for cell in setting.cells]
        kept = [reading.kept or ""] if judged else []
        results = [_cell(reading.results.get(name)) for name in names]
        write([reading.number, *cells, *kept, " / ".join(reading.reason.splitlines()), *results])
    return text.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return f"{value:.0f}"
    return repr(value) if isinstance(value, float) else str(value)


def sweep_table(sweep: Sweep, shown: str) -> str:
    """What a builder reads from a sweep: the best designs, those that nothing beats, those that failed."""
    computed = [reading for reading in sweep.readings if reading.results]
    failed = [reading for reading in sweep.readings if not reading.results]
    count = f"{len(sweep.readings)} design{'s' if len(sweep.readings) > 1 else ''}"
    title = sweep.title + invented_mark(sweep.invented)
    lines = f"{count} of {title}: {len(computed)} computed, {len(failed)} without a result"
    parts = [textwrap.fill(lines, LINE)]
    if sweep.limits:
        parts.append(_limits(sweep, computed))
    rivals = sweep.apart()
    for name, part in rivals:
        parts += _of_rivals(part, shown, f", {name}" if name else "", max(1, LISTED // len(rivals)))
    if failed:
        reasons = Counter(reading.reason for reading in failed)
        told = [f"  {count} x {_short(reason)}" for reason, count in reasons.most_common(LISTED)]
        parts.append("Without a result\n" + "\n".join(told))
    return "\n\n".join(parts)


def _of_rivals(sweep: Sweep, shown: str, where: str, listed: int) -> list[str]:
    """The best of designs that can be compared, and those that nothing beats; so many of each list."""
    best, parts = sweep.best(shown), []
    if best:
        head = f"{'Least' if shown in LESS_IS_BETTER else 'Most'} {shown}{where}"
        parts.append(f"{head}\n{_rows(sweep, best[:listed], (shown,))}")
    for cost in COSTS:
        among = sweep.not_beaten(shown, cost.name, cost.less_is_better) if _varies(sweep, cost.name) else []
        if len(among) > 1:
            head = f"Nothing beats these in {shown} against {cost.words}{where} ({len(among)} of {len(best)})"
            parts.append(f"{head}\n{_rows(sweep, pick_evenly(among, listed), (shown, cost.name))}")
    return parts


def _limits(sweep: Sweep, computed: list[Reading]) -> str:
    kept, close = sum(r.counts for r in computed), sum(r.kept == TOO_CLOSE for r in computed)
    words = " and ".join(limit.words for limit in sweep.limits)
    return textwrap.fill(
        f"{kept} keep {words} with their whole error bar; {close} come too close to tell and are not counted.", LINE
    )


def _varies(sweep: Sweep, name: str) -> bool:
    return len({reading.value(name) for reading in sweep.readings if reading.results}) > 1


def _rows(sweep: Sweep, readings: list[Reading], names: tuple[str, ...]) -> str:
    varied = [variation.name for variation in sweep.variations]
    rows = [("design", *varied, *names)]
    for reading in readings:
        settings = [setting.name for setting in reading.settings]
        rows.append((f"{reading.number}", *settings, *(_entry(reading, name) for name in names)))
    return columns(rows)


def _entry(reading: Reading, name: str) -> str:
    value, error = reading.value(name), reading.error(name)
    if value is None:
        return "-"
    return number(value, "", 0, error).strip() if error else plain(value, 2)


def _short(reason: str) -> str:
    first = " / ".join(reason.splitlines())
    return first if len(first) <= REASON_WIDTH else first[: REASON_WIDTH - 3] + "..."
