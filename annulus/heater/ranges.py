"""Where a result leaves the range that a law was published for.

Goes in: a `SteadyHeater`, or temperatures of another state at which its laws are read. Comes out: sentences, one per
law that is used outside its range; none if all hold.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.films import atmospheric_pressure, gas_film, water_film
from annulus.films import room as room_side
from annulus.films import slot as slot_law
from annulus.heater.gas_path import GasSupply
from annulus.heater.model import Model
from annulus.heater.sides import heated_length
from annulus.heater.steady import SteadyHeater
from annulus.materials import Material
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Seen:
    """What the laws of a heater are read at. Temperatures in [K].

    Attributes
    ----------
    gas, water : ndarray
        Along the section, bands and turns between them; shape (n_bands + 1,) and (n_turns + 1,).
    wall : ndarray, shape (n_bands,)
        Inner face of the flue.
    bore : float or None
        Hottest face of the tubes; None without water that flows.
    outside : ndarray
        Faces to the room.
    field : ndarray, shape (n_pieces,)
    water_flow : float
        [kg/s]
    """

    case: Case
    model: Model
    supply: GasSupply
    gas: Floats
    water: Floats
    wall: Floats
    bore: float | None
    outside: Floats
    field: Floats
    water_flow: float


def range_notes(heater: SteadyHeater) -> list[str]:
    """Laws used outside their published range, in words.

    Parameters
    ----------
    heater : SteadyHeater
    """
    model, face = heater.model, heater.field.surface_temperature
    coldest = np.full(heater.gas.size - 1, np.inf)
    np.minimum.at(coldest, model.gas_band, face[model.gas_surfaces])
    water = heater.case.water
    seen = Seen(
        case=heater.case,
        model=model,
        supply=heater.supply,
        gas=heater.gas,
        water=heater.water,
        wall=coldest,
        bore=float(face[model.water_surfaces].max()) if model.section.turns and water is not None else None,
        outside=face[model.outside],
        field=heater.field.temperature,
        water_flow=water.flow if water is not None else 0.0,
    )
    reached = [
        (material, float(heater.field.temperature[mine].min()), float(heater.field.temperature[mine].max()))
        for material, mine in model.materials
        if mine.size
    ]
    return [f"{place}: {words}" for place, words in film_notes(seen).items()] + conductivity_notes(reached)


def film_notes(seen: Seen) -> dict[str, str]:
    """Film laws that are read outside their range at one state: what is outside, by place."""
    found = {place: note(seen) for place, note in PLACES.items()}
    return {place: words for place, words in found.items() if words}


def conductivity_notes(reached: list[tuple[Material, float, float]]) -> list[str]:
    """Conductivities that are read outside their range, from materials with their coldest and hottest place [K]."""
    notes = []
    for material, coldest, hottest in reached:
        law = material.conductivity
        if law.T_min <= coldest and hottest <= law.T_max:
            continue
        low, high, known_low, known_high = map(to_celsius, (coldest, hottest, law.T_min, law.T_max))
        notes.append(
            f"{material.label}: conductivity known from {known_low:.0f} to {known_high:.0f} degC, "
            f"used from {low:.0f} to {high:.0f}"
        )
    return notes


def _gas(seen: Seen) -> str:
    case = seen.case
    if case.fire.film_coefficient is not None:
        return ""
    film = gas_film(
        seen.supply.flow,
        case.flue.inner_diameter,
        heated_length(case),
        0.5 * (seen.gas[1:] + seen.gas[:-1]),
        seen.wall,
        seen.supply.gas,
        flame_emissivity=case.fire.flame_emissivity,
    )
    return film.range_note


def _water(seen: Seen) -> str:
    case, turns = seen.case, seen.model.section.turns
    if seen.bore is None or case.water is None or case.water.film_coefficient is not None:
        return ""
    winding = 2 * float(np.mean([turn.r for turn in turns]))
    return water_film(seen.water_flow, 2 * turns[0].inner_radius, winding, seen.water, seen.bore).range_note


def _room(seen: Seen) -> str:
    case, section = seen.case, seen.model.section
    if case.room.film_coefficient is not None:
        return ""
    pressure = atmospheric_pressure(case.room.altitude)
    return room_side.range_note(seen.outside, case.room.temperature, section.height, 2 * section.r_max, pressure)


def _slot(seen: Seen) -> str:
    slot = seen.model.slot
    if slot is None:
        return ""
    hot, cold = (float(weight @ seen.field) for weight in (slot.inner, slot.outer))
    return slot_law.range_note(hot, cold, slot.width, slot.height, slot.pressure)


PLACES: dict[str, Callable[[Seen], str]] = {
    "gas side": _gas,
    "water side": _water,
    "outside": _room,
    "cavity": _slot,
}
