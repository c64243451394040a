"""Temperatures read on the wrong scale: whole columns, and displays switched in mid-burn.

Goes in: temperatures by role. Comes out: the same on the right scale, and
findings. A column is judged by the columns beside it: the water of one loop
and tank lies within a few tens of kelvin, gas above the coil is colder than
below it, and a cold flue is as warm as the air.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from annulus.logs.columns import AIR, GAS, LOOP, TANK, Use
from annulus.logs.findings import Finding, runs
from annulus.units.celsius import from_celsius, to_celsius

Floats = NDArray[np.float64]

SAMPLE = 2000  # rows that a whole column is judged by
# Costs in kelvin by which readings of the group are weighed against one another; common practice, no source.
UNUSUAL = 35.0  # a reading outside what such a heater shows
CONVERTED = 10.0  # so that what the file states holds unless much speaks against it
DECIDES = 10.0  # an other scale must be better by this
WATER_LOW, WATER_HIGH = -2.0, 103.0  # [degC]
WATER_AT_START = (0.0, 50.0)  # [degC]
GAS_HOTTEST, GAS_MILD = 750.0, 90.0  # [degC], 95 of 100 readings lie below; above
DROP = (-0.08, 0.6)  # of gas over the coil, over its rise above the water
COLD = 110.0  # [degC], a flue that may be unlit; it is as warm all along
ALIKE = 6.0  # [K], and its two probes agree within this
OFFSETS = 20.0  # [K], by which two sound probes may differ there
AIR_LOW, AIR_HIGH = -35.0, 45.0  # [degC]
USUAL_AIR = 15.0  # [degC], where nothing tells
WARM_ROOM = 28.0  # [degC], of a stove's room, where water of a well may be all that tells of the air
NEAR_AIR = 15.0  # [K], how near to the air or water an unlit flue is; it is not colder
JUMP_TOLERANCE = {"gas": 0.1, "water": 0.05}  # of the reading, by which a switch of scale may be missed
LEAST_JUMP = {"gas": 150.0, "water": 3.0}  # [degC], below this a jump may be a fire that is lit
LEAST_ROWS = 3  # that a switched display lasts
LONGEST_STEP = {"gas": 120.0, "water": 900.0}  # [s], between rows: a fire of fresh wood doubles its gas in minutes


def other_scale(kelvin: Floats, unit_is_fahrenheit: bool) -> Floats:
    """The same numbers read on the other of the two scales. [K]"""
    number = to_celsius(kelvin)
    if unit_is_fahrenheit:
        return from_celsius(1.8 * number + 32.0)
    return from_celsius((number - 32.0) / 1.8)


def is_fahrenheit(use: Use) -> bool:
    """True if the numbers of the column are read as Fahrenheit."""
    return "f" in use.unit.lower()


def _is_kelvin(use: Use) -> bool:
    return use.unit.strip() == "K"


def settle_scales(
    channels: Mapping[str, Floats], uses: Mapping[str, Use], lines: NDArray[np.int64]
) -> tuple[dict[str, Floats], list[Finding]]:
    """Put columns on the other scale whose numbers only make sense there."""
    mended = dict(channels)
    findings: list[Finding] = []
    water = [role for role in (*TANK, *LOOP) if role in mended]
    for group in (water, [role for role in GAS if role in mended], [role for role in AIR if role in mended]):
        changeable = [role for role in group if not _is_kelvin(uses[role])]
        if not changeable:
            continue
        step = max(1, lines.size // SAMPLE)
        sample = {role: mended[role][::step] for role in group}
        for role in _wrong(group, changeable, sample, uses, _air(mended, water)):
            mended[role] = other_scale(mended[role], is_fahrenheit(uses[role]))
            findings.append(_finding(uses[role], lines, 0, lines.size - 1, "the whole column"))
    return mended, findings


def settle_switches(
    time: Floats,
    channels: Mapping[str, Floats],
    uses: Mapping[str, Use],
    lines: NDArray[np.int64],
    findings: list[Finding],
) -> dict[str, Floats]:
    """Put rows back on their scale that a display switched in mid-burn shows; spikes must be gone by then."""
    mended = dict(channels)
    for role in (*TANK, *LOOP, *GAS):
        if role in mended and not _is_kelvin(uses[role]):
            mended[role] = _switched(time, mended[role], role, uses[role], lines, findings)
    return mended


def _finding(use: Use, lines: NDArray[np.int64], first: int, last: int, what: str) -> Finding:
    right = "degC" if is_fahrenheit(use) else "degF"
    stated = "stated" if use.unit_is_stated else "taken"
    return Finding(
        int(lines[first]),
        int(lines[last]),
        "celsius" if is_fahrenheit(use) else "fahrenheit",
        use.column,
        f"{what} reads as {right}, {stated} as {use.unit}",
        f"read as {right}",
    )


def _air(channels: Mapping[str, Floats], water: Sequence[str]) -> float:
    """About the temperature of an unlit flue: that of the room, else of the water at the start. [degC]"""
    for role in (*AIR, *water):
        if role in channels:
            known = channels[role][np.isfinite(channels[role])]
            if known.size and AIR_LOW <= to_celsius(float(known[0])) <= AIR_HIGH:
                return to_celsius(float(known[0]))
    return USUAL_AIR


def _wrong(
    group: Sequence[str], changeable: Sequence[str], sample: Mapping[str, Floats], uses: Mapping[str, Use], air: float
) -> list[str]:
    """Columns that are better read on the other scale; the cheapest of all combinations."""
    best: list[str] = []
    as_stated = cost = _cost(group, sample, air)
    for choice in product((False, True), repeat=len(changeable)):
        changed = [role for role, other in zip(changeable, choice, strict=True) if other]
        tried = {
            role: other_scale(values, is_fahrenheit(uses[role])) if role in changed else values
            for role, values in sample.items()
        }
        tried_cost = _cost(group, tried, air) + CONVERTED * len(changed)
        if tried_cost < cost and tried_cost < as_stated - DECIDES:
            best, cost = changed, tried_cost
    return best


def _cost(group: Sequence[str], sample: Mapping[str, Floats], air: float) -> float:
    """How much speaks against these readings. [K]"""
    known = {role: to_celsius(sample[role]) for role in group}
    known = {role: values for role, values in known.items() if np.isfinite(values).any()}
    if group[0] in GAS:
        return _gas_cost(known, air)
    if group[0] in AIR:
        return sum(UNUSUAL for values in known.values() if not AIR_LOW <= float(np.nanmedian(values)) <= AIR_HIGH)
    cost = 0.0
    roles = list(known)
    for n, role in enumerate(roles):
        values = known[role]
        first = float(values[np.isfinite(values)][0])
        low, high = np.nanquantile(values, (0.01, 0.99))
        cost += UNUSUAL * (not low >= WATER_LOW) + UNUSUAL * (high > WATER_HIGH)
        cost += UNUSUAL * (not WATER_AT_START[0] <= first <= WATER_AT_START[1]) / 3
        cost += sum(_apart(values, known[other]) for other in roles[n + 1 :])
    return cost


def _apart(a: Floats, b: Floats) -> float:
    """Median distance of two columns. [K]"""
    both = np.isfinite(a) & np.isfinite(b)
    return float(np.median(np.abs(a[both] - b[both]))) if both.any() else 0.0


def _gas_cost(known: Mapping[str, Floats], air: float) -> float:
    cost = 0.0
    first = [float(values[np.isfinite(values)][0]) for values in known.values()]
    for values, begins in zip(known.values(), first, strict=True):
        high = float(np.nanquantile(values, 0.95))
        cost += UNUSUAL * (high > GAS_HOTTEST) + UNUSUAL * (high < GAS_MILD)
        cost += UNUSUAL * (begins < air - NEAR_AIR) / 2
    if len(known) < 2:
        return cost
    low, high = sorted(first)
    if high < COLD and abs(low - air) < NEAR_AIR:
        cost += min(max(high - low - OFFSETS, 0.0), UNUSUAL)
    elif high < COLD and high - low < ALIKE and low > max(air, WARM_ROOM) + NEAR_AIR:
        cost += UNUSUAL
    below, above = known["gas_below"], known["gas_above"]
    hot = np.isfinite(below) & np.isfinite(above) & (np.fmax(below, above) > COLD)
    if hot.any():
        drop = float(np.median((below[hot] - above[hot]) / (below[hot] - air)))
        cost += UNUSUAL * (not DROP[0] <= drop <= DROP[1]) / 2
    return cost


def _switched(
    time: Floats, kelvin: Floats, role: str, use: Use, lines: NDArray[np.int64], findings: list[Finding]
) -> Floats:
    """Rows between two jumps by exactly the difference of the scales, put back."""
    sort = "gas" if role in GAS else "water"
    known = np.flatnonzero(np.isfinite(kelvin))
    number = to_celsius(kelvin[known])
    if is_fahrenheit(use):
        number = 1.8 * number + 32.0
    before, after = number[:-1], number[1:]
    # on a Celsius column a switch multiplies, on a Fahrenheit column it divides; the way back is the other one
    is_near = np.diff(time[known]) <= LONGEST_STEP[sort]
    up = _is_jump(before, after, sort) & is_near
    down = _is_jump(after, before, sort) & is_near
    out, back = (down, up) if is_fahrenheit(use) else (up, down)
    flags = np.zeros(kelvin.size, dtype=bool)
    n = 0
    for start in np.flatnonzero(out).tolist():
        if start < n:
            continue
        returns = np.flatnonzero(back[start + 1 :])
        end = start + 1 + int(returns[0]) if returns.size else number.size - 1
        if end - start < LEAST_ROWS:
            continue
        flags[known[start + 1] : known[end] + 1] = True
        n = end
    mended = kelvin.copy()
    for first, last in runs(flags):
        findings.append(_finding(use, lines, first, last, "display switched:"))
    mended[flags] = other_scale(kelvin[flags], is_fahrenheit(use))
    return mended


def _is_jump(celsius: Floats, fahrenheit: Floats, sort: str) -> NDArray[np.bool_]:
    """True where one number is the Fahrenheit of the number beside it."""
    miss = np.abs(fahrenheit - (1.8 * celsius + 32.0))
    return (miss <= JUMP_TOLERANCE[sort] * np.abs(fahrenheit)) & (celsius > LEAST_JUMP[sort])
