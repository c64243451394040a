"""Sentences of the report: the job in a paragraph, and how it was computed.

Goes in: a case, its section, its outcome. Comes out: text.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from annulus.case import Case
from annulus.present.tables import number
from annulus.present.words import celsius, degrees, millimetres
from annulus.section import Section
from annulus.units import show

Outcome = Mapping[str, Any]


def job(case: Case, section: Section, outcome: Outcome) -> str:
    """What is built, in what fire, and what comes of it."""
    sentences = [_flue(case, section)]
    if case.coil is not None:
        sentences.append(_coil(case))
    sentences += [_around(case), _fire(case, outcome)]
    water = number(outcome["heat_to_water_W"], "W", 0, outcome.get("heat_to_water_error_W"))
    if case.coil is not None:
        sentences.append(f"Of the heat of this steady fire {water} reach the water.")
    return " ".join(sentence for sentence in sentences if sentence)


def _flue(case: Case, section: Section) -> str:
    flue = case.flue
    return (
        f"A flue of {flue.material}, {millimetres(flue.inner_diameter)} mm wide inside with a wall of "
        f"{millimetres(flue.wall)} mm; {millimetres(section.height)} mm of it are described here."
    )


def _coil(case: Case) -> str:
    coil = case.coil
    assert coil is not None  # asked only where there is one
    turns = "one turn" if coil.turns == 1 else f"{coil.turns} turns"
    least, most = millimetres(min(coil.gap)), millimetres(max(coil.gap))
    apart = (
        "touching the flue" if most == "0" else f"{least if least == most else f'{least} to {most}'} mm off the flue"
    )
    size = f"{millimetres(coil.tube_outer_diameter)} x {millimetres(coil.tube_wall)} mm"
    water = case.water
    assert water is not None  # a case with a coil has water
    return (
        f"Around it are wound {turns} of {coil.material} tube {size} at a pitch of {millimetres(coil.pitch)} mm, "
        f"{apart}. "
        f"{_small(show(water.flow, 'water_flow'))} of water enter at {celsius(water.inlet_temperature)} and flow "
        f"{'upwards' if water.direction == 'up' else 'downwards'}."
    )


def _around(case: Case) -> str:
    layers = []
    filler = case.filler.material + (f", {case.filler.packing}," if case.filler.packing else "")
    if case.shroud is not None:
        layers.append(
            f"a cavity of {filler} inside a shroud of {millimetres(case.shroud.sheet)} mm {case.shroud.material}"
        )
    if case.insulation is not None:
        layers.append(f"{millimetres(case.insulation.thickness)} mm of {case.insulation.material}")
    if case.jacket is not None:
        layers.append(f"a jacket of {millimetres(case.jacket.thickness)} mm {case.jacket.material}")
    return f"Outside follow {_list(layers)}." if layers else "Nothing is wrapped around it."


def _fire(case: Case, outcome: Outcome) -> str:
    fire, flow = case.fire, f"{1e3 * outcome['gas_flow_kg_s']:.3g} g/s"
    gas = f"{flow} of gas enter the flue at {degrees(outcome['gas_in_C'])}"
    if fire.wood_rate is not None:
        return f"{_small(show(fire.wood_rate, 'mass_flow', 'kg/h'))} of wood burn; {gas}."
    return f"{gas[0].upper()}{gas[1:]}."


def _small(text: str) -> str:
    """A number with its unit, to four digits."""
    value, _, unit = text.partition(" ")
    return f"{float(value):.4g} {unit}"


def _list(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def method(outcome: Outcome, shape: tuple[int, int], solver: str) -> list[str]:
    """How the numbers were computed."""
    across, up = shape
    return [
        f"Steady heat conduction in the cut through the flue's axis, everything taken as rings: {across} x {up} cells, "
        f"cut by the circles of the tubes into {outcome['pieces']} pieces with one temperature each; second order in "
        "the size of a cell. Conductivities depend on temperature; across still air heat is conducted and radiated.",
        "Gas and water are computed with the section in one system: gas in bands of height, one for each turn, water "
        f"turn after turn. {outcome['rounds']} rounds until nothing moves ({solver}); "
        f"the energy of gas, water and section closes to {outcome['balance_error']:.0e} of the heat from the gas.",
        "Everything is computed on two grids, one twice as fine. What stands after ± comes from the change between "
        "them: it is the error of the grid, not of the laws. A gas-side law is good to some 40 %, and no error bar "
        "here contains that.",
    ]
