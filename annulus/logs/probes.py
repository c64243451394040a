"""Faults of single probes: codes, impossible values, spikes, stuck and saturated readings, probes exchanged.

Goes in: temperatures by role in [K]. Comes out: the same with what is no
reading set to NaN, exchanged probes put back, and findings.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from annulus.logs.columns import GAS, LOOP, TANK, Use
from annulus.logs.findings import Finding, runs
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]

# Common practice, no source: what such a heater can show, [degC]
POSSIBLE = {"gas": (-45.0, 1250.0), "water": (-5.0, 125.0), "air": (-60.0, 60.0)}
SPIKE = {"gas": 60.0, "water": 5.0, "air": 8.0}  # [K], at least, off both neighbours
SPIKE_SCATTER = 12.0  # and this many times the usual distance from the neighbours' middle
AROUND, SPIKE_ROWS = 7, 2  # rows whose median tells the level; rows of a spike at most
NEIGHBOURS_AGREE = 0.35  # of the spike
TOWERS = 4.0  # times the limit
STUCK_ROWS, STUCK_TIME = 8, 600.0  # rows and [s] that a reading must stand still
STUCK_RUN = 4.0  # times the run of equal readings that 19 of 20 do not exceed
MOVED = {"gas": 15.0, "water": 2.5, "air": 2.5}  # [K], what goes on meanwhile, or the jump when it lets go
SATURATED_ROWS = 4
AT_END = 0.4  # of the readings near the top stand exactly on it
NEAR_TOP = 0.03  # of the range
WRONG_WAY = 0.7  # of the rows that tell
LEAST_TELLING = 10  # rows
CLEAR = {"gas": 40.0, "water": 3.0}  # [K], difference that tells two probes apart when they are exchanged
EXCHANGED = 0.3  # of that difference, by which each may miss the other's reading
FIRE_IS_LIT = 150.0  # [degC], gas


def sort_of(role: str) -> str:
    """Gas, water or air."""
    return "gas" if role in GAS else "water" if role in (*LOOP, *TANK) else "air"


def span(lines: NDArray[np.int64], first: int, last: int) -> tuple[int, int]:
    """Lines of the file of a run of rows."""
    return int(lines[first]), int(lines[last])


def words(use: Use, kelvin: float) -> str:
    """A reading as the file has it."""
    unit = use.unit.strip().lower()
    number = kelvin if unit == "k" else 1.8 * to_celsius(kelvin) + 32.0 if "f" in unit else to_celsius(kelvin)
    return f"{number:.4g} {use.unit}"


def drop_impossible(values: Floats, role: str, use: Use, lines: NDArray[np.int64], found: list[Finding]) -> Floats:
    """Readings that no such place can have are codes of a broken or unplugged probe."""
    low, high = POSSIBLE[sort_of(role)]
    celsius = to_celsius(values)
    outside = (celsius < low) | (celsius > high)
    for first, last in runs(outside):
        equal = last > first and np.ptp(values[first : last + 1]) == 0.0
        kind = "fault code" if equal or celsius[first] > 2 * high or celsius[first] < 2 * low else "impossible"
        found.append(Finding(*span(lines, first, last), kind, use.column, words(use, values[first]), "left out"))
    return np.where(outside, np.nan, values)


def drop_spikes(values: Floats, role: str, use: Use, lines: NDArray[np.int64], found: list[Finding]) -> Floats:
    """One row or two far off all around them, with neighbours on both sides that agree."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size < AROUND:
        return values
    x = values[known]
    off = np.abs(x - median_filter(x, AROUND, mode="nearest"))
    usual = float(np.median(np.abs(x[1:-1] - 0.5 * (x[:-2] + x[2:]))))
    limit = max(SPIKE[sort_of(role)], SPIKE_SCATTER * usual)
    spikes = np.zeros(x.size, dtype=bool)
    for first, last in _peaks(off, limit):
        if last - first >= SPIKE_ROWS or first == 0 or last == x.size - 1:
            continue
        before, after = x[first - 1], x[last + 1]
        alike = abs(after - before) < NEIGHBOURS_AGREE * float(off[first : last + 1].min())
        # the bottom of a dip is far from the level around it, but not from its neighbours
        if alike and float(np.abs(x[first : last + 1] - 0.5 * (before + after)).min()) > limit:
            spikes[first : last + 1] = True
    rows = known[spikes]
    for row in rows.tolist():
        read = f"{words(use, values[row])} between readings that agree"
        found.append(Finding(*span(lines, row, row), "spike", use.column, read, "left out"))
    mended = values.copy()
    mended[rows] = np.nan
    return mended


def _peaks(off: Floats, limit: float) -> Iterator[tuple[int, int]]:
    """Runs of rows far off; where one towers over a run, as a spike does beside a door just opened, that part alone."""
    for first, last in runs(off > limit):
        most = float(off[first : last + 1].max())
        towers = most > TOWERS * limit
        parts = runs(off[first : last + 1] > NEIGHBOURS_AGREE * most) if towers else iter([(0, last - first)])
        yield from ((first + a, first + b) for a, b in parts)


def drop_stuck(
    time: Floats, channels: dict[str, Floats], role: str, use: Use, lines: NDArray[np.int64], found: list[Finding]
) -> Floats:
    """Readings that stand still while the others move, or that jump when they let go."""
    values = channels[role]
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 2 * STUCK_ROWS:
        return values
    x = values[known]
    if sort_of(role) == "gas" and np.ptp(x) == 0.0:
        read = f"{words(use, x[0])} in all {x.size} rows"
        found.append(Finding(*span(lines, 0, lines.size - 1), "stuck", use.column, read, "kept; but a fire moves"))
        return values
    still = list(runs(np.diff(x) == 0.0))  # a run of k equal steps is k + 1 readings
    lengths = np.array([b - a + 2 for a, b in still])
    if not lengths.size:
        return values
    # weighted by rows: the run that a row of the column usually stands in, single readings included
    singles = x.size - int(lengths.sum())
    typical = float(np.quantile(np.concatenate([np.ones(singles), np.repeat(lengths, lengths)]), 0.5))
    mended = values.copy()
    for a, b in still:
        first, last = int(known[a]), int(known[b + 1])
        if b - a + 2 < max(STUCK_ROWS, STUCK_RUN * typical) or time[last] - time[first] < STUCK_TIME:
            continue
        if not _goes_on(channels, role, first, last, x, a, b + 1):
            continue
        read = f"{words(use, values[first])} in {b - a + 2} rows while the rest goes on"
        found.append(Finding(*span(lines, first, last), "stuck", use.column, read, "left out"))
        mended[first : last + 1] = np.nan
    return mended


def _goes_on(channels: dict[str, Floats], role: str, first: int, last: int, x: Floats, a: int, b: int) -> bool:
    """True if the reading jumps when it lets go, or its fellows move meanwhile as it usually does with them."""
    limit = MOVED[sort_of(role)]
    if b + 1 < x.size and abs(x[b + 1] - x[b]) > limit:
        return True
    fellows = [other for other in channels if other != role and sort_of(other) == sort_of(role) != "air"]
    for other in fellows:
        part = channels[other][first : last + 1]
        part = part[np.isfinite(part)]
        third = max(1, part.size // 3)
        if part.size >= STUCK_ROWS and abs(np.median(part[-third:]) - np.median(part[:third])) > limit:
            return True
        if sort_of(role) == "gas" and part.size >= STUCK_ROWS and np.ptp(part) > 2 * limit:
            return True
    return False


def find_saturated(
    values: Floats, role: str, use: Use, lines: NDArray[np.int64], found: list[Finding]
) -> NDArray[np.bool_]:
    """Readings at the end of a probe or dial: runs on the highest of the column while it would go on.

    Returns
    -------
    ndarray of bool, shape (n,)
        Every reading on that end, those outside the runs included.
    """
    none = np.zeros(values.size, dtype=bool)
    known = values[np.isfinite(values)]
    if sort_of(role) != "gas" or known.size < 2 * SATURATED_ROWS:
        return none
    top = float(known.max())
    if top == known.min():
        return none  # it never moved: stuck, or noted down once for all
    near = known > top - NEAR_TOP * (top - float(known.min()))
    if np.count_nonzero(known == top) < AT_END * np.count_nonzero(near):
        return none
    at_end = values == top
    long = [(first, last) for first, last in runs(at_end) if last - first + 1 >= SATURATED_ROWS]
    for first, last in long:
        read = f"{words(use, top)} in {last - first + 1} rows, the highest of the column"
        done = "kept as the least it was; the true gas was hotter"
        found.append(Finding(*span(lines, first, last), "saturated", use.column, read, done))
    return at_end if long else none


def put_back(
    channels: dict[str, Floats],
    hotter: str,
    colder: str,
    uses: dict[str, Use],
    lines: NDArray[np.int64],
    found: list[Finding],
) -> NDArray[np.bool_]:
    """Two probes that stand in each other's place, over the whole log or from where they were exchanged.

    Returns
    -------
    ndarray of bool, shape (n,)
        Rows in which they were put back.
    """
    a, b = channels[hotter], channels[colder]
    sort = sort_of(hotter)
    tells = np.isfinite(a) & np.isfinite(b)
    if sort == "gas":
        tells &= np.fmax(a, b) > FIRE_IS_LIT + 273.15
    elif "gas_below" in channels and hotter in LOOP:
        # water that flows past a cold flue gives heat away: only a lit fire tells
        gas = channels["gas_below"]
        tells &= ~(gas < FIRE_IS_LIT + 273.15)
    flips = _exchanges(a, b, CLEAR[sort])
    bounds = [0, *(flips + 1).tolist(), a.size]
    flags = np.zeros(a.size, dtype=bool)
    for first, after in pairwise(bounds):
        part = np.flatnonzero(tells[first:after]) + first
        difference = a[part] - b[part]
        if not difference.size or np.median(difference) > -CLEAR[sort] / 4:
            continue  # two probes of one mixed tank differ by their offsets alone
        difference = difference[np.abs(difference) > CLEAR[sort] / 4]
        if difference.size >= LEAST_TELLING and np.mean(difference < 0) > WRONG_WAY:
            flags[first:after] = True
    for first, last in runs(flags):
        read = f"{uses[hotter].column} is the colder of the two"
        both = f"{uses[hotter].column} and {uses[colder].column}"
        found.append(Finding(*span(lines, first, last), "swapped", both, read, "readings exchanged"))
    channels[hotter], channels[colder] = np.where(flags, b, a), np.where(flags, a, b)
    return flags


def _exchanges(a: Floats, b: Floats, clear: float) -> NDArray[np.int64]:
    """Rows after which each of two columns goes on where the other was."""
    apart = np.minimum(np.abs(a[:-1] - b[:-1]), np.abs(a[1:] - b[1:]))
    miss = np.maximum(np.abs(a[1:] - b[:-1]), np.abs(b[1:] - a[:-1]))
    return np.flatnonzero((apart > clear) & (miss < EXCHANGED * apart))
