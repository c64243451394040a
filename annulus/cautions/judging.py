"""One result held to one limit, error bar included.

Goes in: a limit, the outcome. Comes out: a `Caution`, or none.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from annulus.cautions.limits import DECIDES, Level, Limit
from annulus.heater.precision import error_key


@dataclass(frozen=True)
class Caution:
    """One finding: how bad, what, what to do, and whose word counts.

    Attributes
    ----------
    level : {"danger", "warning", "note"}
    group : str
        What it is about; one caution a group.
    words : str
        With the number, its error, the limit and where.
    remedy : str
    source : str
        Of the limit.
    decides : str
        Whose word counts.
    value, error, limit : float or None
        In `unit`; None where the caution has no number.
    unit : str
    result : str
        Name of what was judged; empty where the caution has no number.
    computed : tuple of str
        Remedies with their computed effect, line by line after a heading.
    """

    level: Level
    group: str
    words: str
    remedy: str
    source: str
    decides: str
    value: float | None = None
    error: float | None = None
    limit: float | None = None
    unit: str = ""
    result: str = ""
    computed: tuple[str, ...] = ()


def hold(limit: Limit, values: Mapping[str, Any]) -> Caution | None:
    """Caution of one limit, or None if it is kept with the error bar counted against it.

    Parameters
    ----------
    limit : Limit
    values : mapping
        Outcome and facts. A result that is absent or None is not judged.
    """
    value = values.get(limit.result)
    base = 0.0 if limit.of is None else values.get(limit.of)
    if value is None or base is None:
        return None
    error = values.get(error_key(limit.result)) or 0.0
    bound = base + limit.limit
    if not _passes(limit, value, error, bound):
        return None
    number = shown(value / limit.size, error / limit.size, limit.unit)
    words = f"{limit.what} {number}{_where(limit, values, bound)}: {_against(limit, bound / limit.size, base)}"
    if not _passes(limit, value, 0.0, bound):
        words += " within its error"
    return Caution(
        level=limit.level,
        group=limit.group,
        words=f"{words}; {limit.harm}",
        remedy=limit.do,
        source=f"{limit.source} [{limit.mark}]",
        decides=DECIDES[limit.decides],
        value=value / limit.size,
        error=error / limit.size,
        limit=bound / limit.size,
        unit=limit.unit,
        result=limit.result,
    )


def shown(value: float, error: float, unit: str) -> str:
    """A value with its error and unit; the error sets the decimals."""
    if error <= 0:
        return f"{value:.3g} {unit}" if abs(value) < 10 else f"{value:.0f} {unit}"
    digits = min(max(-math.floor(math.log10(error)), 0), 1)
    return f"{value:.{digits}f} ± {math.ceil(error * 10**digits) / 10**digits:.{digits}f} {unit}"


def spans(edges: Sequence[float], inside: Sequence[bool]) -> list[tuple[float, float]]:
    """Stretches of height whose bands are marked.

    Parameters
    ----------
    edges : sequence of float
        Tops of the bands, bottom first; the first band begins at 0. [m]
    inside : sequence of bool
    """
    found: list[tuple[float, float]] = []
    low = 0.0
    for top, mark in zip(edges, inside, strict=True):
        if mark and found and found[-1][1] == low:
            found[-1] = (found[-1][0], top)
        elif mark:
            found.append((low, top))
        low = top
    return found


def _passes(limit: Limit, value: float, error: float, bound: float) -> bool:
    if limit.side == "below":
        return value - error < bound
    if limit.side == "above":
        return value + error > bound
    assert limit.limit_above is not None  # tests/test_cautions.py reads every row
    return value + error > bound and value - error < limit.limit_above


def _against(limit: Limit, bound: float, base: float) -> str:
    """The limit in words."""
    if limit.limit_words:
        return limit.limit_words
    if limit.side == "between":
        return f"between {bound:.0f} and {limit.limit_above:.0f} {limit.unit}"
    number = f"{bound:.3g}" if abs(bound) < 10 else f"{bound:.0f}"
    text = f"{limit.side} {number} {limit.unit}"
    if limit.of is None:
        return text
    if limit.limit == 0:
        return f"{text}, {limit.of_words}"
    sign = "plus" if limit.limit > 0 else "less"
    return f"{text}, {limit.of_words} at {base:.0f} {limit.unit} {sign} {abs(limit.limit):.0f} K"


def _where(limit: Limit, values: Mapping[str, Any], bound: float) -> str:
    """Over which height, or in which turns."""
    profile = values.get(limit.profile) if limit.profile else None
    if not profile:
        return ""
    assert limit.profile is not None
    errors = values.get(error_key(limit.profile)) or [0.0] * len(profile)
    inside = [
        value is not None and _passes(limit, value, error, bound) for value, error in zip(profile, errors, strict=True)
    ]
    if limit.profile.startswith("wall_"):
        tops = values["band_top_m"]
        stretches = [f"{low:.2f} to {high:.2f} m" for low, high in spans(tops, inside)]
        return f", over {' and '.join(stretches)} of {tops[-1]:.2f} m" if stretches else ""
    if len(profile) == 1:
        return ""
    turns = spans(range(1, len(profile) + 1), inside)
    named = [f"{low + 1:.0f}" if high == low + 1 else f"{low + 1:.0f} to {high:.0f}" for low, high in turns]
    turn = "turn" if sum(inside) == 1 else "turns"
    return f", in {turn} {' and '.join(named)} from the bottom" if named else ""
