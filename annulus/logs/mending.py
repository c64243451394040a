"""All faults of the readings, in the order in which one may hide another.

Goes in: readings by role on one axis of time. Comes out: readings that can be
counted on, NaN where there are none, and findings.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from annulus.logs.columns import AIR, GAS, LOOP, TANK, Use
from annulus.logs.findings import Finding
from annulus.logs.probes import drop_impossible, drop_spikes, drop_stuck, find_saturated, put_back
from annulus.logs.scales import settle_scales, settle_switches

Floats = NDArray[np.float64]

MOST = {"wood": 100.0, "flow": 3.0}  # [kg] at once, [kg/s]; common practice, no source


def mend(
    time: Floats, readings: Mapping[str, Floats], uses: Mapping[str, Use], lines: NDArray[np.int64]
) -> tuple[dict[str, Floats], dict[str, NDArray[np.bool_]], list[Finding]]:
    """Leave out or put right what is no reading of its place.

    Parameters
    ----------
    time : ndarray, shape (n,)
        [s]
    readings : mapping of str to ndarray, shape (n,)
        By role, in SI, NaN where the file has none.
    uses : mapping of str to Use
        By role.
    lines : ndarray of int, shape (n,)
        Lines of the file.

    Returns
    -------
    channels : dict
    at_limit : dict of str to ndarray of bool, shape (n,)
        By role, readings at the end of their probe, where there are any.
    findings : list of Finding
    """
    uses = dict(uses)
    # the scale of a column first: on the wrong one its readings look impossible
    channels, found = settle_scales(dict(readings), uses, lines)
    temperatures = [role for role in channels if role in (*GAS, *LOOP, *TANK, *AIR)]
    for role in temperatures:
        channels[role] = drop_impossible(channels[role], role, uses[role], lines, found)
        channels[role] = drop_spikes(channels[role], role, uses[role], lines, found)
    channels = settle_switches(time, channels, uses, lines, found)
    at_limit = {role: find_saturated(channels[role], role, uses[role], lines, found) for role in temperatures}
    for role in temperatures:
        if not at_limit[role].any():
            channels[role] = drop_stuck(time, channels, role, uses[role], lines, found)
    # exchanged last: until then a reading belongs to the column it stands in
    for hotter, colder in (("gas_below", "gas_above"), ("water_out", "water_in"), ("tank_top", "tank_bottom")):
        if hotter in channels and colder in channels:
            flags = put_back(channels, hotter, colder, uses, lines, found)
            a, b = at_limit[hotter], at_limit[colder]
            at_limit[hotter], at_limit[colder] = np.where(flags, b, a), np.where(flags, a, b)
    for role in MOST:
        if role in channels:
            channels[role] = _possible(channels[role], role, uses[role], lines, found)
    return channels, {role: rows for role, rows in at_limit.items() if rows.any()}, found


def _possible(values: Floats, role: str, use: Use, lines: NDArray[np.int64], found: list[Finding]) -> Floats:
    outside = (values < 0) | (values > MOST[role])
    for row in np.flatnonzero(outside).tolist():
        line = int(lines[row])
        read = "less than nothing" if values[row] < 0 else "more than any such heater has"
        found.append(Finding(line, line, "impossible", use.column, read, "left out"))
    return np.where(outside, 0.0 if role == "wood" else np.nan, values)
