"""Results as CSV for a spreadsheet.

Goes in: an outcome. Comes out: text, comma-separated: every single number with
its error and unit, and a table with one line per turn.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from annulus.heater.precision import error_key

UNITS = {  # by the end of a name
    "W": "W",
    "C": "degC",
    "K_W": "K/W",
    "kg_s": "kg/s",
    "W_m2K": "W/m2K",
    "m": "m",
}
BY_TURN = ("heat_to_turn_W", "gas_C", "wall_coldest_C", "water_after_turn_C", "gas_film_W_m2K", "water_film_W_m2K")


def results_csv(outcome: Mapping[str, Any]) -> str:
    """One line per result: name, value, error, unit; a fraction has no unit."""
    rows = []
    for key, value in outcome.items():
        if isinstance(value, bool) or not isinstance(value, int | float) or key == error_key(key):
            continue
        if key.rpartition("_")[0].endswith("_error"):
            continue  # it stands beside its result
        rows.append(
            (key, repr(value), repr(outcome[error_key(key)]) if error_key(key) in outcome else "", unit_of(key))
        )
    return _text(("result", "value", "error", "unit"), rows)


def turns_csv(outcome: Mapping[str, Any]) -> str:
    """One line per turn (per band of height without a coil), bottom first; the unit ends each heading."""
    keys = [key for key in BY_TURN if outcome.get(key)]
    heads = [head for key in keys for head in ((key, error_key(key)) if error_key(key) in outcome else (key,))]
    count = len(outcome["gas_C"])
    return _text(("turn", *heads), [(n + 1, *(repr(outcome[head][n]) for head in heads)) for n in range(count)])


def unit_of(key: str) -> str:
    """Unit that ends a name; nothing for a fraction or a count."""
    for end in sorted(UNITS, key=len, reverse=True):
        if key.endswith(f"_{end}"):
            return UNITS[end]
    return ""


def _text(heads: tuple[str, ...], rows: list[tuple[Any, ...]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows(rows)
    return out.getvalue()
