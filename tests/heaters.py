"""Small heaters that solve in a fraction of a second, and edited copies of them."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from annulus.case import Case, load, loads
from annulus.heater import SteadyHeater, solve_heater, solve_with_errors
from annulus.heater.steady import DEFAULT_FINENESS

CASES = Path(__file__).parents[1] / "cases"
FOLDERS = tuple(sorted(path.parent.name for path in CASES.glob("*/case.toml")))

# Four turns in sand, every film computed; bare flue below and above.
SMALL = """
title = "Small"
invented = true

[flue]
material = "black steel"
inner_diameter = "150 mm"
wall = "2 mm"
bare_below = "0.2 m"
bare_above = "0.3 m"

[coil]
tube = "EN 1057 15 x 1"
turns = 4
pitch = "30 mm"
gap = "0.5 mm"

[filler]
material = "quartz sand"
packing = "vibrated"

[shroud]
material = "black steel"
sheet = "1 mm"
clearance = "8 mm"

[insulation]
material = "mineral wool"
thickness = "50 mm"

[fire]
gas_temperature = "420 degC"
gas_flow = "9.8 g/s"

[water]
flow = "3 L/min"
inlet_temperature = "8 degC"

[room]
temperature = "18 degC"
"""

WOOD = (('gas_temperature = "420 degC"\ngas_flow = "9.8 g/s"', 'wood_rate = "3 kg/h"\nloss_before_coil = "65 %"'),)
NO_COIL = (
    ('wall = "2 mm"', 'wall = "2 mm"\nheight = "0.12 m"'),
    (SMALL[SMALL.index("[coil]") : SMALL.index("[filler]")], ""),
    (SMALL[SMALL.index("[water]") : SMALL.index("[room]")], ""),
)
BARE_COIL = ((SMALL[SMALL.index("[filler]") : SMALL.index("[fire]")], ""),)


def edited_text(*changes: tuple[str, str], text: str = SMALL) -> str:
    """A case with some of its text replaced; each old text must be there."""
    for old, new in changes:
        assert old in text, f"{old!r} is not in the case"
        text = text.replace(old, new, 1)
    return text


def edited(*changes: tuple[str, str]) -> Case:
    """The small case with changes."""
    return loads(edited_text(*changes))


def after(line: str, more: str) -> tuple[str, str]:
    """Change that adds lines after a line."""
    return line, f"{line}\n{more}"


@cache
def solved(*changes: tuple[str, str], fineness: int = DEFAULT_FINENESS) -> SteadyHeater:
    """The small case with changes, solved once for all tests."""
    return solve_heater(edited(*changes), fineness)


@cache
def solved_pair(name: str) -> tuple[SteadyHeater, dict[str, Any]]:
    """A case of `cases/` on the default pair of grids, with its errors, solved once for all tests."""
    return solve_with_errors(load(CASES / name))


def solved_folder(name: str) -> SteadyHeater:
    """A case of `cases/` on the default grid."""
    return solved_pair(name)[0]
