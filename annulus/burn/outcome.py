"""What a builder reads from a burn: flat names, unit last; and its history row by row.

Goes in: a `March`. Comes out: a dictionary of numbers, the content of result.json, and columns over time.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from annulus.burn.cold_wall import cold_wall
from annulus.burn.equations import WAYS
from annulus.burn.readings import readings
from annulus.burn.record import March
from annulus.burn.upset import Upset
from annulus.burn.verdicts import COIL_BOILS, TANK_BOILS, TARGET, make_events, turn_saturation
from annulus.films import lower_heating_value, water
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]

ENDINGS = {
    TARGET: "target reached",
    COIL_BOILS: "water boils in the coil",
    TANK_BOILS: "water boils in the tank",
    None: "time is up",
}
HOTTEST = ("wall_max", "bore_max", "tube_max", "filler_max", "insulation_max", "outside_max", "coil_water_max")
STANDS = 1e-4  # [kg/s], 6 mL/min: water that moves less stands
BOILS = 1e-3  # [K], short of boiling by less is boiling
WARMING = 900.0  # [s]; the coldest wall is looked for after that: every cold flue is wet at first


def summarise_burn(march: March) -> dict[str, Any]:
    """Results of a burn by name.

    Parameters
    ----------
    march : March

    Returns
    -------
    dict
        Heats in [J] over the whole burn; `stored_J` by part. Temperatures are the highest of the
        burn, but `wall_min_C` is the lowest after the first quarter of an hour and `gas_above_coil_C` the mean.

    Notes
    -----
    wood_J = lost_before_flue_J + up_chimney_J + from_bare_flue_J + through_outside_J + through_ends_J +
    from_tank_J + the sum of stored_J; `ledger_error` is what is left, of wood_J. `efficiency` is the heat
    stored in the tank's water over wood_J, on the lower heating value; `capture` the heat to the coil's water
    over what the gas brought above room temperature. `mean_useful_heat_W` is the heat stored in the tank's water over
    the time; `mean_heat_to_water_W` that which left the coil's wall, warming of the coil's own water, drum and the
    tank's loss included.
    """
    system, case = march.system, march.system.case
    end = march.steps[-1].end
    heat, stored = march.heat(), march.stored()
    available = heat["wood"] - heat["stove"]
    in_tank = stored["tank_water"]
    spent = {
        "lost_before_flue_J": heat["stove"],
        "up_chimney_J": heat["chimney"],
        "from_bare_flue_J": heat["bare_flue"],
        "through_outside_J": heat["outside"],
        "through_ends_J": heat["ends"],
        "from_tank_J": heat["tank_loss"],
    }
    gap = heat["wood"] - sum(spent.values()) - sum(stored.values())
    tank = system.parts_of(system.split(end.z)[1])[2]
    boils = march.event in (COIL_BOILS, TANK_BOILS)
    return {
        "title": case.title,
        "invented": case.invented,
        "ended": ENDINGS[march.event],
        "duration_s": end.time,
        "time_to_target_s": time_to_target(march),
        "time_to_boiling_s": end.time if boils else None,
        "boiling_turn": boiling_turn(march),
        "mean_heat_to_water_W": heat["coil"] / end.time,
        "mean_useful_heat_W": in_tank / end.time,
        "wood_kg": heat["wood"] / lower_heating_value(case.fire.moisture_wet),
        "efficiency": in_tank / heat["wood"],
        "capture": heat["coil"] / available if available else None,
        "tank_C": to_celsius(system.room + float(tank.mean())),
        "tank_bottom_C": to_celsius(system.room + float(tank[0])),
        "tank_top_C": to_celsius(system.room + float(tank[-1])),
        **_circulation(march),
        "wood_J": heat["wood"],
        **spent,
        "heat_to_water_J": heat["coil"],
        "stored_J": stored,
        "ledger_error": abs(gap) / heat["wood"],
        "worst_step_imbalance": max(abs(step.imbalance) for step in march.steps),
        **_temperatures(march),
        **cold_wall(march),
        "steps": len(march.steps),
        "steps_refused": march.refused,
        "factorisations": march.factorisations,
        "unknowns": system.size,
    }


def _circulation(march: March) -> dict[str, Any]:
    """Flow of the water: its mean, its range, how long it stood or ran backwards, and its rise over the coil."""
    lengths = np.array([step.length for step in march.steps])
    flow = np.array([step.end.moment.signed_flow for step in march.steps])
    coil = np.array([step.heat[WAYS.index("coil")] for step in march.steps])
    moved = float(np.abs(flow) @ lengths)
    case = march.system.case
    assert case.tank is not None  # refused before where it is missing
    carried = moved * float(water.specific_heat(case.tank.start_temperature))
    return {
        "circulation": case.loop.circulation if case.loop is not None else "pumped",
        "water_flow_kg_s": moved / float(lengths.sum()),
        "water_flow_least_kg_s": float(np.abs(flow).min()),
        "water_flow_most_kg_s": float(np.abs(flow).max()),
        "water_stood_s": float(lengths[np.abs(flow) < STANDS].sum()),
        "water_ran_backwards_s": float(lengths[flow <= -STANDS].sum()),
        "water_rise_K": float(coil.sum()) / carried if moved else None,
    }


def time_to_target(march: March) -> float | None:
    """When the tank first had its target temperature, between steps on the parabola of three ends. [s]"""
    system = march.system
    reading = make_events(system, to_target=True)[TARGET]
    moments = [march.first, *(step.end for step in march.steps)]
    values = [reading(now) for now in moments]
    if march.event == TARGET:
        return moments[-1].time
    for n in range(1, len(moments)):
        if values[n] >= 0 > values[n - 1]:
            near = slice(max(0, n - 2), n + 1)
            return _crossing(np.array([now.time for now in moments[near]]), np.array(values[near]))
    return 0.0 if values[0] >= 0 else None


def _crossing(times: Floats, values: Floats) -> float:
    """Where a parabola through three points (a line through two) passes zero within the last interval."""
    low, high = float(times[-2]), float(times[-1])
    law = np.polynomial.Polynomial.fit(times, values, len(times) - 1)
    roots = np.asarray(law.roots(), dtype=complex)
    inside = [float(root) for root in roots.real[np.abs(roots.imag) < 1e-9] if low <= float(root) <= high]
    return inside[0] if inside else high


def boiling_turn(march: March) -> int | None:
    """Turn, counted from 1 at the bottom, that boils where the coil boils."""
    if march.event != COIL_BOILS:
        return None
    return int(np.argmin(times_to_boiling(march))) + 1


def times_to_boiling(march: March) -> list[float]:
    """When each turn, bottom first, would boil, from the start. [s]

    Exact for the turn that ends the burn; for the others straight on from there at the
    rate at which each warms, infinite for one that cools. No state is computed beyond boiling.
    """
    system, end = march.system, march.steps[-1].end
    _, y = system.split(end.z)
    _, coil, _ = system.parts_of(y)
    warming = system.parts_of(system.split(end.gathers)[1])[1] / system.water_masses(y)[0]
    short = np.maximum(turn_saturation(system) - system.room - coil, 0.0)
    later = np.divide(short, warming, out=np.full(coil.size, np.inf), where=warming > 0)
    return (end.time + np.where(short <= BOILS, 0.0, later)).tolist()


def summarise_upset(march: March, upset: Upset) -> dict[str, Any]:
    """What follows what went wrong: `upset` in words, its instants, and when each turn would boil [s]."""
    begins, boils = upset.begins, march.event in (COIL_BOILS, TANK_BOILS)
    later = times_to_boiling(march) if march.event == COIL_BOILS else []
    return {
        "upset": [{"time_s": time, "words": words} for time, words in upset.marks()],
        "upset_at_s": begins,
        "upset_to_boiling_s": march.steps[-1].end.time - begins if boils else None,
        "turn_boils_after_s": [time - begins if np.isfinite(time) else None for time in later],
    }


def _temperatures(march: March) -> dict[str, float | None]:
    """What limits judge: the hottest of each part, the coldest wall once warm, gas over the burn. [degC]"""
    system = march.system
    moments = [step.end for step in march.steps]
    seen = [readings(now) for now in moments]
    found: dict[str, float | None] = {}
    for name in HOTTEST:
        values = [one[name] for one in seen if name in one]
        found[f"{name}_C"] = to_celsius(max(values)) if values else None
    walls = [one["wall_min"] for now, one in zip(moments, seen, strict=True) if now.time >= WARMING]
    above = [step.length * one["gas_above"] for step, one in zip(march.steps, seen, strict=True)]
    boiling = turn_saturation(system)
    return found | {
        "wall_min_C": to_celsius(min(walls, default=seen[-1]["wall_min"])),
        "gas_in_C": to_celsius(max(now.moment.fire.supply.temperature for now in moments)),
        "gas_below_coil_C": to_celsius(max(one["gas_below"] for one in seen)),
        "gas_above_coil_C": to_celsius(sum(above) / moments[-1].time),
        "water_out_C": to_celsius(max(one["water_out"] for one in seen)),
        "water_boils_at_C": to_celsius(float(boiling.min())),
        "dew_point_C": to_celsius(moments[-1].moment.fire.supply.gas.dew_point),
        "room_C": to_celsius(system.room),
    }


def history(march: March) -> dict[str, list[float]]:
    """Columns over time by name with unit: temperatures at the ends of steps, heats so far.

    Returns
    -------
    dict
        "time [s]", then temperatures [degC], the water's flow [kg/s], heats and stored heats [J]. All lists are
        of one length.
    """
    moments = [march.first, *(step.end for step in march.steps)]
    columns: dict[str, list[float]] = {"time [s]": [now.time for now in moments]}
    seen = [readings(now) for now in moments]
    for name in seen[0]:
        columns[f"{name} [degC]"] = [to_celsius(one[name]) for one in seen]
    columns["water_flow [kg/s]"] = [now.moment.signed_flow for now in moments]
    columns["fired_power [W]"] = [now.moment.fire.fired_power for now in moments]
    heats = np.cumsum([np.zeros(len(WAYS)), *(step.heat for step in march.steps)], axis=0)
    for n, way in enumerate(WAYS):
        columns[f"{way} [J]"] = heats[:, n].tolist()
    for part in march.stored():
        so_far = np.cumsum([0.0, *(step.stored[part] for step in march.steps)])
        columns[f"stored_{part} [J]"] = so_far.tolist()
    return columns
