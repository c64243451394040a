"""Gas probes that ended below the fire: what a fit makes of readings at the end of their range.

Goes in: observations. Comes out: priors of how much hotter the gas was below the coil, and every run of such readings
with what became of it.

Above the coil the gas is a result of the burn: a mean that holds readings at the probe's end is the least it was.
Below the coil it drives the burn: over those rows the gas is the probe's end and some kelvin, which are fitted along.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from annulus.logs.findings import runs
from annulus.logs.observing import Observation, hotter_name
from annulus.logs.priors import Prior, of_range
from annulus.logs.ranges import usual_hotter

USED = {
    "gas_below": "gas taken as hotter than this by",
    "gas_above": "means over these rows count as the least that the gas was",
}


@dataclass(frozen=True)
class AtLimit:
    """A run of readings at the end of their probe.

    Attributes
    ----------
    log, column : str
    first_line, last_line : int
        Of the log's file.
    used : str
        What the fit makes of them.
    """

    log: str
    column: str
    first_line: int
    last_line: int
    used: str


def hotter_priors(observations: Sequence[Observation]) -> list[Prior]:
    """How much hotter the gas was than the end of the probe below the coil, one for each log that has such readings."""
    low, high = usual_hotter()
    words, source = f"{low:g} to {high:g} K", "probe at its end"
    return [
        of_range(hotter_name(one.name), low, high, words, source, kind="temperature_difference")
        for one in observations
        if one.hotter_share.any()
    ]


def at_limit(observations: Sequence[Observation]) -> list[AtLimit]:
    """Every run of readings at the end of their probe, by row."""
    found = []
    for one in observations:
        for role, used in USED.items():
            rows = one.log.at_limit.get(role)
            if rows is None:
                continue
            words = f"{used} {hotter_name(one.name)}" if role == "gas_below" else used
            for first, last in runs(np.asarray(rows)):
                lines = int(one.log.lines[first]), int(one.log.lines[last])
                found.append(AtLimit(one.name, one.log.column(role), *lines, words))
    return found
