"""The gap of every turn from one gap and the turns that differ, and back.

Goes in: `gap = "0.2 mm"` with `gap_at = { 7 = "2 mm", 12-15 = "1 mm" }`. Comes
out: one gap per turn. Turns count from 1, the lowest first.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import groupby
from typing import Any

from annulus.case.faults import Fault, Path
from annulus.case.quantities import WIDEST, Quantity
from annulus.errors import InputError

GAP = Quantity("length", least=0.0, most=WIDEST)
PATH: Path = ("coil", "gap_at")
_TURNS = re.compile(r"([1-9]\d*)(?:-([1-9]\d*))?")


def spread(gap: Any, gap_at: Any, turns: int | None) -> tuple[list[Any], list[Fault]]:
    """One gap per turn, as text of the case file.

    Parameters
    ----------
    gap : Any
        Value of `gap`; a list is complete by itself.
    gap_at : Any
        Value of `gap_at`: a table from turns to gaps.
    turns : int or None
        None where the number is unknown because something else is wrong.

    Returns
    -------
    gaps : list
        Entries that could not be read are those of `gap`.
    faults : list of Fault
    """
    if not isinstance(gap_at, dict):
        return [gap] * (turns or 1), [Fault(PATH, 'must be a table of turns, such as { 7 = "2 mm" }', gap_at)]
    if isinstance(gap, list):
        return gap, [Fault(PATH, "and a list in gap state the gaps twice; keep one")]
    gaps, faults = [gap] * (turns or 1), []
    stated: set[int] = set()
    for key, text in gap_at.items():
        path = (*PATH, key)
        match = _TURNS.fullmatch(key)
        low, high = (int(match[1]), int(match[2] or match[1])) if match else (1, 0)
        if low > high:
            faults.append(Fault(path, "names no turn; write 7, or 12-15 for several, counted from 1 at the bottom"))
        elif turns is not None and high > turns:
            faults.append(Fault(path, f"is above the top turn, which is number {turns}"))
        elif not stated.isdisjoint(range(low, high + 1)):
            faults.append(Fault(path, "names a turn that another key of gap_at names already"))
        else:
            stated |= set(range(low, high + 1))
            if turns is not None:
                gaps[low - 1 : high] = [text] * (high + 1 - low)
        try:
            GAP.read(text)
        except InputError as error:
            faults.append(Fault(path, str(error), text))
            gaps = [gap if entry is text else entry for entry in gaps]
    return gaps, faults


def widest(gap: Any, gap_at: Any) -> float | None:
    """Widest of all stated gaps; None if one of them cannot be read. [m]"""
    listed = gap if isinstance(gap, list) and gap else [gap]
    more = list(gap_at.values()) if isinstance(gap_at, dict) else []
    try:
        return max(GAP.read(text) or 0.0 for text in [*listed, *more])
    except InputError:
        return None


def shorten(gaps: Sequence[float]) -> tuple[float, dict[str, float]] | None:
    """The commonest gap and the turns that differ, by "7" or "12-15"; None if a list is shorter to read. [m]"""
    usual, count = Counter(gaps).most_common(1)[0]
    if 2 * count <= len(gaps):
        return None
    odd: dict[str, float] = {}
    number = 1
    for gap, run in groupby(gaps):
        last = number + len(list(run)) - 1
        if gap != usual:
            odd[f"{number}-{last}" if last > number else f"{number}"] = gap
        number = last + 1
    return usual, odd
