"""One thing found in a log: where, what was read, what was done about it.

Goes in: rows of a log. Comes out: `Finding`s, in the order of the rows.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

KINDS = {
    "unreadable": "cell that is no number",
    "missing": "empty cells",
    "gap": "rows missing",
    "duplicate": "same time again",
    "back": "time goes back",
    "clock": "clock set back",
    "no time": "time unreadable",
    "fahrenheit": "Fahrenheit among Celsius",
    "celsius": "Celsius among Fahrenheit",
    "swapped": "probes swapped",
    "fault code": "fault code of a probe",
    "impossible": "impossible value",
    "stuck": "probe stuck",
    "saturated": "probe at its end",
    "spike": "spike",
    "disagreement": "estimates disagree",
}


@dataclass(frozen=True, order=True)
class Finding:
    """One finding.

    Attributes
    ----------
    first_line, last_line : int
        Lines of the file it concerns.
    kind : str
        One of `KINDS`.
    column : str
        Heading, several joined by " and ", or empty for whole rows.
    read : str
        What the file says there.
    done : str
        What was done about it.
    """

    first_line: int
    last_line: int
    kind: str
    column: str
    read: str
    done: str


def runs(flags: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """First and last index of every run of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    for first, after in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        yield first, after - 1
