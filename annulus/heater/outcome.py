"""What a builder reads from a steady heater: flat names, unit last.

Goes in: a `SteadyHeater`. Comes out: a dictionary of numbers and lists, the
content of result.json. Heat flows in [W], temperatures in [degC].
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.probe import face_temperatures, region_extremes
from annulus.heater.cavity import is_open
from annulus.heater.chimney import pass_chimney
from annulus.heater.model import Model
from annulus.heater.ranges import range_notes
from annulus.heater.steady import SteadyHeater
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]


def summarise(heater: SteadyHeater) -> dict[str, Any]:
    """Results of a steady heater by name.

    Parameters
    ----------
    heater : SteadyHeater

    Returns
    -------
    dict
        Lists run from the bottom up. Temperatures of a part that is absent are None.

    Notes
    -----
    heat_from_gas_W = heat_to_water_W + heat_to_room_W, and heat_to_room_W is the sum of
    heat_through_outside_W, heat_through_ends_W and heat_from_bare_flue_W. A heat flow is negative when
    it runs the other way (a room warmer than the water). coil_effectiveness is the fall of the gas
    over the coil relative to gas below less water inlet; capture is heat_to_water_W over
    heat_available_W, the heat of the gas above room temperature where it enters. rounding_W is the heat that
    double precision cannot tell.
    """
    model, case, field, supply = heater.model, heater.case, heater.field, heater.supply
    flow = field.surface_flow
    turns = -np.bincount(model.water_turn, flow[model.water_surfaces], len(model.section.turns))
    outside, ends = -float(flow[model.outside].sum()), -float(flow[model.ends].sum())
    bare = heater.below.heat + heater.above.heat
    through_coil = float(flow[model.gas_surfaces].sum())
    enthalpy = supply.gas.enthalpy(np.array([supply.temperature, heater.above.gas_out, case.room.temperature]))
    available, left = (supply.flow * float(enthalpy[n] - enthalpy[2]) for n in (0, 1))
    to_water = float(turns.sum())
    result: dict[str, Any] = {
        "title": case.title,
        "invented": case.invented,
        "heat_to_water_W": to_water,
        "heat_to_turn_W": turns.tolist(),
        "heat_to_room_W": outside + ends + bare,
        "heat_through_outside_W": outside,
        "heat_through_ends_W": ends,
        "heat_from_bare_flue_W": bare,
        "heat_from_gas_W": through_coil + bare,
        "heat_available_W": available,
        "heat_left_in_gas_W": left,
        "capture": to_water / available if available else None,
        "gas_flow_kg_s": supply.flow,
        "gas_in_C": to_celsius(supply.temperature),
        "gas_below_coil_C": to_celsius(float(heater.gas[0])),
        "gas_above_coil_C": to_celsius(float(heater.gas[-1])),
        "gas_out_C": to_celsius(heater.above.gas_out),
    }
    if supply.fired_power is not None:
        result |= {"fired_power_W": supply.fired_power, "efficiency": to_water / supply.fired_power}
    return result | _temperatures(heater) | _resistances(heater, to_water) | _profiles(heater) | _bookkeeping(heater)


def _temperatures(heater: SteadyHeater) -> dict[str, Any]:
    """Extremes of each part."""
    model, field = heater.model, heater.field
    inner = field.surface_temperature[model.gas_surfaces]
    wet = bool(model.section.turns)
    bare = np.concatenate([heater.below.wall, heater.above.wall])
    return {
        "water_in_C": to_celsius(float(heater.water[0])) if wet else None,
        "water_out_C": to_celsius(float(heater.water[-1])) if wet else None,
        "water_boils_at_C": to_celsius(heater.water_saturation) if heater.water_saturation is not None else None,
        "coil_effectiveness": _effectiveness(heater) if wet else None,
        "wall_min_C": to_celsius(float(inner.min())),
        "wall_max_C": to_celsius(float(inner.max())),
        "tube_max_C": _hottest(heater, "tube"),
        "bore_max_C": to_celsius(float(field.surface_temperature[model.water_surfaces].max())) if wet else None,
        "filler_max_C": _hottest(heater, "filler"),
        "void_max_C": _hottest(heater, "void"),
        "shroud_max_C": _hottest(heater, "shroud"),
        "insulation_max_C": _hottest(heater, "insulation"),
        "jacket_max_C": _hottest(heater, "jacket"),
        "outside_max_C": _outside(heater),
        "bare_flue_max_C": to_celsius(float(bare.max())) if bare.size else None,
        "dew_point_C": to_celsius(float(heater.supply.gas.dew_point)),
        "room_C": to_celsius(heater.case.room.temperature),
        **_chimney(heater),
    }


def _chimney(heater: SteadyHeater) -> dict[str, Any]:
    """Top of the chimney, and the draught left at the bottom of the flue; nothing without a chimney."""
    chimney = heater.case.chimney
    if chimney is None:
        return {}
    top = pass_chimney(heater.case, chimney, heater.supply, heater.gas, heater.below, heater.above)
    return {
        "chimney_top_gas_C": to_celsius(top.gas),
        "chimney_top_wall_C": to_celsius(top.wall),
        "draught_Pa": top.draught,
    }


def _effectiveness(heater: SteadyHeater) -> float | None:
    """Fall of the gas over the coil relative to gas below less water inlet; None if these are equal."""
    span = float(heater.gas[0] - heater.water[0])
    return float(heater.gas[0] - heater.gas[-1]) / span if span else None


def _hottest(heater: SteadyHeater, role: str) -> float | None:
    """Hottest place in the solid regions of a role, or None if there is none. [degC]"""
    names = [region.name for region in heater.model.section.regions if region.role == role and not is_open(region)]
    if not names:
        return None
    return to_celsius(region_extremes(heater.field, *names)[1])


def _outside(heater: SteadyHeater) -> float:
    """Hottest solid surface that a hand can reach in the coil section. [degC]

    Behind a bare coil that is the flue wall between the turns.
    """
    model, field = heater.model, heater.field
    if model.section.outer_role != "filler":
        return to_celsius(float(field.surface_temperature[model.outside].max()))
    pieces, regions = model.pieces, model.section.regions
    clear = np.array([is_open(region) for region in regions])
    clear_a, clear_b = clear[pieces.region[pieces.link_a]], clear[pieces.region[pieces.link_b]]
    side_a, side_b = face_temperatures(field)
    facing = np.concatenate([side_a[~clear_a & clear_b], side_b[clear_a & ~clear_b]])
    return to_celsius(float(facing.max()))


def _resistances(heater: SteadyHeater, to_water: float) -> dict[str, Any]:
    """Where the drop from gas to water lies: gas film and soot, wall to bore, water film. [K/W]

    From area means, so a share is a guide to what rules, not a network's element.
    """
    if not heater.model.section.turns or to_water <= 0:
        return {}
    model, field = heater.model, heater.field
    wall, bore = (
        _area_mean(model, field.surface_temperature, model.gas_surfaces),
        _area_mean(model, field.surface_temperature, model.water_surfaces),
    )
    gas = float(0.5 * (heater.gas[1:] + heater.gas[:-1]).mean())
    wet = float(0.5 * (heater.water[1:] + heater.water[:-1]).mean())
    drops = {"gas_film": gas - wall, "wall_to_bore": wall - bore, "water_film": bore - wet}
    named = {f"resistance_{name}_K_W": drop / to_water for name, drop in drops.items()}
    return named | {f"share_{name}": drop / (gas - wet) for name, drop in drops.items()}


def _profiles(heater: SteadyHeater) -> dict[str, Any]:
    """Lists along the height, one entry per band or turn, bottom first."""
    model, field = heater.model, heater.field
    wall = field.surface_temperature[model.gas_surfaces]
    n = model.band_edges.size - 1
    coldest = np.full(n, np.inf)
    np.minimum.at(coldest, model.gas_band, wall)
    bore = np.full(len(model.section.turns), -np.inf)
    np.maximum.at(bore, model.water_turn, field.surface_temperature[model.water_surfaces])
    wet = heater.water[1:] if heater.case.water is None or heater.case.water.direction == "up" else heater.water[:0:-1]
    return {
        "band_top_m": model.band_edges[1:].tolist(),
        "gas_C": to_celsius(heater.gas[1:]).tolist(),
        "wall_coldest_C": to_celsius(coldest).tolist(),
        "water_after_turn_C": to_celsius(wet).tolist(),
        "bore_hottest_C": to_celsius(bore).tolist(),
        "gas_film_W_m2K": heater.gas_film.tolist(),
        "water_film_W_m2K": heater.water_film.tolist(),
    }


def _bookkeeping(heater: SteadyHeater) -> dict[str, Any]:
    nr, nz = heater.model.pieces.grid.shape
    return {
        "balance_error": heater.balance_error,
        "rounding_W": heater.field.rounding,
        "cells": nr * nz,
        "pieces": heater.model.pieces.count,
        "rounds": heater.field.rounds,
        "beyond_published_range": range_notes(heater),
    }


def _area_mean(model: Model, value: Floats, surfaces: NDArray[np.int64]) -> float:
    area = model.pieces.surfaces.area[surfaces]
    return float((value[surfaces] * area).sum() / area.sum())
