"""Names of the numbers that designs will have, known before anything is computed.

Goes in: cases. Comes out: names of results as `annulus.studies.designs.compute` gives them.
"""

from __future__ import annotations

from collections.abc import Iterable

from annulus.burn.precision import BARRED
from annulus.case import Case
from annulus.heater.precision import error_key, has_error
from annulus.studies.designs import BILLED

STEADY = (
    "heat_to_water_W",
    "heat_to_room_W",
    "heat_through_outside_W",
    "heat_through_ends_W",
    "heat_from_bare_flue_W",
    "heat_from_gas_W",
    "heat_available_W",
    "heat_left_in_gas_W",
    "capture",
    "gas_flow_kg_s",
    "gas_in_C",
    "gas_below_coil_C",
    "gas_above_coil_C",
    "gas_out_C",
    "water_in_C",
    "water_out_C",
    "water_boils_at_C",
    "coil_effectiveness",
    "wall_min_C",
    "wall_max_C",
    "tube_max_C",
    "bore_max_C",
    "filler_max_C",
    "void_max_C",
    "shroud_max_C",
    "insulation_max_C",
    "jacket_max_C",
    "outside_max_C",
    "bare_flue_max_C",
    "dew_point_C",
    "room_C",
    "balance_error",
    "rounding_W",
    "cells",
    "pieces",
    "rounds",
)
OF_WOOD = ("fired_power_W", "efficiency")
OF_COIL = (
    "resistance_gas_film_K_W",
    "resistance_wall_to_bore_K_W",
    "resistance_water_film_K_W",
    "share_gas_film",
    "share_wall_to_bore",
    "share_water_film",
)
OF_CHIMNEY = ("chimney_top_gas_C", "chimney_top_wall_C", "draught_Pa")
BURN = (
    "duration_s",
    "time_to_target_s",
    "time_to_boiling_s",
    "boiling_turn",
    "mean_heat_to_water_W",
    "mean_useful_heat_W",
    "wood_kg",
    "efficiency",
    "capture",
    "tank_C",
    "tank_bottom_C",
    "tank_top_C",
    "water_flow_kg_s",
    "water_flow_least_kg_s",
    "water_flow_most_kg_s",
    "water_stood_s",
    "water_ran_backwards_s",
    "water_rise_K",
    "wood_J",
    "lost_before_flue_J",
    "up_chimney_J",
    "from_bare_flue_J",
    "through_outside_J",
    "through_ends_J",
    "from_tank_J",
    "heat_to_water_J",
    "ledger_error",
    "worst_step_imbalance",
    "wall_max_C",
    "bore_max_C",
    "tube_max_C",
    "filler_max_C",
    "insulation_max_C",
    "outside_max_C",
    "coil_water_max_C",
    "bare_flue_max_C",
    "wall_min_C",
    "gas_in_C",
    "gas_below_coil_C",
    "gas_above_coil_C",
    "water_out_C",
    "water_boils_at_C",
    "dew_point_C",
    "room_C",
    "wall_below_dew_s",
    "wall_near_dew_s",
    "wall_below_tar_s",
    "steps",
    "steps_refused",
    "factorisations",
    "unknowns",
)
BURN_EXACTNESS = ("left_out_by_ports_K", "left_out_share_of_span", "left_out_share_of_warming")


def result_names(cases: Iterable[Case], burn: bool, rough: bool = False) -> list[str]:
    """Names of the numbers that at least one of the cases will have, those of errors last.

    Parameters
    ----------
    cases : iterable of Case
    burn : bool
        Burnt in time, as `burn_result` does; else steady.
    rough : bool
        As `rough_burn` and `rough_steady` do: without errors and what else tells how exact a result is.

    Returns
    -------
    list of str
        A number may still be None, or missing, where its part is: no filler, no hottest place in it.
    """
    names: dict[str, None] = {}
    for case in cases:
        names |= dict.fromkeys(BURN if burn else STEADY)
        if case.fire.wood_rate is not None and not burn:
            names |= dict.fromkeys(OF_WOOD)
        if case.coil is not None and not burn:
            names |= dict.fromkeys(OF_COIL)
        if case.chimney is not None:
            names |= dict.fromkeys(OF_CHIMNEY)
    names |= dict.fromkeys(f"{name}_{unit}" for name, unit in BILLED.items())
    if rough:
        return list(names)
    barred = BARRED if burn else [name for name in names if has_error(name)]
    return [*names, *(BURN_EXACTNESS if burn else ()), *(error_key(name) for name in barred)]
