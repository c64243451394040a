"""Where a result leaves the range that a law was published for.

Goes in: a `SteadyHeater`. Comes out: sentences, one per law that is used
outside its range; none if all hold.
"""

from __future__ import annotations

import numpy as np

from annulus.films import atmospheric_pressure, gas_film, water_film
from annulus.films import room as room_side
from annulus.films import slot as slot_law
from annulus.heater.sides import heated_length
from annulus.heater.steady import SteadyHeater
from annulus.units.celsius import to_celsius


def range_notes(heater: SteadyHeater) -> list[str]:
    """Laws used outside their published range, in words.

    Parameters
    ----------
    heater : SteadyHeater
    """
    found = {
        "gas side": _gas(heater),
        "water side": _water(heater),
        "outside": _room(heater),
        "cavity": _slot(heater),
    }
    return [f"{place}: {words}" for place, words in found.items() if words] + _materials(heater)


def _gas(heater: SteadyHeater) -> str:
    case, model = heater.case, heater.model
    if case.fire.film_coefficient is not None:
        return ""
    wall = heater.field.surface_temperature[model.gas_surfaces]
    coldest = np.full(heater.gas.size - 1, np.inf)
    np.minimum.at(coldest, model.gas_band, wall)
    film = gas_film(
        heater.supply.flow,
        case.flue.inner_diameter,
        heated_length(case),
        0.5 * (heater.gas[1:] + heater.gas[:-1]),
        coldest,
        heater.supply.gas,
        flame_emissivity=case.fire.flame_emissivity,
    )
    return film.range_note


def _water(heater: SteadyHeater) -> str:
    case, turns = heater.case, heater.model.section.turns
    if not turns or case.water is None or case.water.film_coefficient is not None:
        return ""
    hottest = float(heater.field.surface_temperature[heater.model.water_surfaces].max())
    winding = 2 * float(np.mean([turn.r for turn in turns]))
    return water_film(case.water.flow, 2 * turns[0].inner_radius, winding, heater.water, hottest).range_note


def _room(heater: SteadyHeater) -> str:
    case, section = heater.case, heater.model.section
    if case.room.film_coefficient is not None:
        return ""
    face = heater.field.surface_temperature[heater.model.outside]
    pressure = atmospheric_pressure(case.room.altitude)
    return room_side.range_note(face, case.room.temperature, section.height, 2 * section.r_max, pressure)


def _slot(heater: SteadyHeater) -> str:
    slot = heater.model.slot
    if slot is None:
        return ""
    hot, cold = (float(weight @ heater.field.temperature) for weight in (slot.inner, slot.outer))
    return slot_law.range_note(hot, cold, slot.width, slot.height, slot.pressure)


def _materials(heater: SteadyHeater) -> list[str]:
    notes = []
    for material, mine in heater.model.materials:
        temperature = heater.field.temperature[mine]
        if mine.size and not np.all(material.conductivity.in_range(temperature)):
            low, high = to_celsius(float(temperature.min())), to_celsius(float(temperature.max()))
            ends = to_celsius(material.conductivity.T_min), to_celsius(material.conductivity.T_max)
            notes.append(
                f"{material.label}: conductivity known from {ends[0]:.0f} to {ends[1]:.0f} degC, "
                f"used from {low:.0f} to {high:.0f}"
            )
    return notes
