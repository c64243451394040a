"""What can be turned on the page: keys of a case file with ranges, and a case with some of them turned.

Goes in: a `Case`. Comes out: its knobs; and new cases, judged by the same rules as a file.
"""

from __future__ import annotations

import copy
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from annulus.case import Case, build, dump
from annulus.errors import InputError
from annulus.materials import names, packings
from annulus.units import Kind, show

AIR = "still air"


@dataclass(frozen=True)
class Knob:
    """A number that a slider sets, or words to choose from.

    Attributes
    ----------
    key : str
        "coil.pitch"
    words : str
        What the page calls it.
    unit : str
        Empty for a count and for a choice.
    low, high, step : float
        In that unit; a choice has none.
    choices : tuple of str
        Empty for a number.
    value : float or str
        As the case has it.
    """

    key: str
    words: str
    unit: str
    low: float
    high: float
    step: float
    choices: tuple[str, ...]
    value: float | str


# (key, words, kind, unit, low, high, step); shown where the case has the key
_NUMBERS: tuple[tuple[str, str, Kind, str, float, float, float], ...] = (
    ("flue.inner_diameter", "flue, inside", "length", "mm", 80, 250, 1),
    ("coil.pitch", "pitch of the turns", "length", "mm", 12, 60, 0.5),
    ("coil.gap", "gap between flue and tube", "length", "mm", 0, 6, 0.1),
    ("shroud.clearance", "shroud, clear of the tubes", "length", "mm", 0, 40, 0.5),
    ("insulation.thickness", "insulation", "length", "mm", 5, 150, 1),
    ("fire.gas_temperature", "gas below the coil", "temperature", "degC", 150, 900, 5),
    ("fire.gas_flow", "gas flow", "mass_flow", "g/s", 2, 40, 0.1),
    ("fire.wood_rate", "wood burnt", "mass_flow", "kg/h", 0.5, 10, 0.1),
    ("fire.excess_air", "air over the least needed", "number", "", 1.2, 8, 0.1),
    ("water.flow", "water flow", "water_flow", "L/min", 0.3, 12, 0.1),
    ("water.inlet_temperature", "water in", "temperature", "degC", 2, 80, 1),
    ("room.temperature", "room", "temperature", "degC", -10, 40, 1),
)
_TURNS = (1, 60)
_DIRECTIONS = ("up", "down")


def knobs_of(case: Case) -> list[Knob]:
    """Knobs of what a case has, in the order of its parts."""
    found = []
    if case.coil is not None:
        found.append(Knob("coil.turns", "turns", "", *_around(_TURNS, case.coil.turns), 1, (), case.coil.turns))
    for key, words, kind, unit, low, high, step in _NUMBERS:
        table, name = key.split(".")
        value = getattr(getattr(case, table), name, None)
        if value is None:
            continue
        number = value[0] if isinstance(value, tuple) else value
        shown = float(number) if kind == "number" else float(show(number, kind, unit).split()[0])
        found.append(Knob(key, words, unit, *_around((low, high), shown), step, (), shown))
    if case.shroud is not None:
        fillers = _fillers()
        now = _packed(case.filler.material, case.filler.packing)
        found.append(Knob("filler.material", "filling", "", 0, 0, 0, tuple(dict.fromkeys((now, *fillers))), now))
    if case.water is not None:
        found.append(Knob("water.direction", "water flows", "", 0, 0, 0, _DIRECTIONS, case.water.direction))
    return found


def turned(case: Case, values: Mapping[str, Any]) -> Case:
    """A case with knobs turned.

    Parameters
    ----------
    case : Case
    values : mapping
        Number (in the knob's unit) or words by key.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        For a key that is no knob of the case or a value of the wrong kind; else as a case file is judged.
    """
    knobs = {knob.key: knob for knob in knobs_of(case)}
    tree = copy.deepcopy(tomllib.loads(dump(case)))
    for key, value in values.items():
        knob = knobs.get(key)
        if knob is None:
            raise InputError(f"{key}: cannot be turned here; there are {', '.join(knobs)}")
        table, name = key.split(".")
        if knob.choices:
            if value not in knob.choices:
                raise InputError(f"{key} = {value!r}: must be one of {', '.join(knob.choices)}")
            tree[table] |= _chosen(name, value)
            continue
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise InputError(f"{key} = {value!r}: must be a number")
        tree[table][name] = _written(key, float(value), knob.unit)
        if key in ("coil.gap", "coil.turns"):
            tree[table].pop("gap_at", None)
        if key == "coil.turns" and isinstance(tree[table]["gap"], list):
            tree[table]["gap"] = tree[table]["gap"][0]
    return build(tree, "dry fit")


def _around(span: tuple[float, float], value: float) -> tuple[float, float]:
    return min(span[0], value), max(span[1], value)


def _written(key: str, value: float, unit: str) -> Any:
    if key == "coil.turns":
        return round(value)
    return f"{value:.6g} {unit}" if unit else value


def _fillers() -> list[str]:
    return [AIR, *(_packed(name, packing) for name in names("filler") for packing in (*packings(name),) or (None,))]


def _packed(name: str, packing: str | None) -> str:
    return f"{name}, {packing}" if packing else name


def _chosen(name: str, value: str) -> dict[str, Any]:
    if name != "material":
        return {name: value}
    material, _, packing = value.partition(", ")
    return {"material": material, "packing": packing or "none"}
