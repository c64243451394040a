"""What limits judge beside the results: moisture, relief, zinc, and results that count only with water.

Goes in: a case, its section and its outcome. Comes out: a dictionary of numbers by name, unit last.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from annulus.case import Case
from annulus.section import Section

HOTTEST = {  # results that say how hot the material of a role gets
    "flue": ("wall_max_C", "bare_flue_max_C"),
    "filler": ("filler_max_C",),
    "void": ("void_max_C",),
    "tube": ("tube_max_C",),
    "shroud": ("shroud_max_C",),
    "insulation": ("insulation_max_C",),
    "jacket": ("jacket_max_C",),
}


def facts(case: Case, section: Section, outcome: Mapping[str, Any]) -> dict[str, Any]:
    """Numbers that limits judge and that are no results themselves; None where there is nothing to judge."""
    packed = case.filler.material != "still air" and section.bill.filler_volume > 0
    moisture = 100 * case.filler.moisture if packed else None
    sealed = case.shroud is not None and not case.shroud.vented and case.room.ends == "insulated"
    water = case.water
    zinc = [
        outcome[key]
        for region in section.regions
        if region.material is not None and region.material.zinc
        for key in HOTTEST[region.role]
        if outcome.get(key) is not None
    ]
    waters = [*(outcome.get("water_after_turn_C") or []), outcome.get("water_out_C"), outcome.get("coil_water_max_C")]
    hot = [celsius for celsius in waters if celsius is not None] if water is not None else []
    return {
        "moisture_percent": moisture,
        "sealed_moisture_percent": moisture if sealed else None,
        "relief_kPa": water.relief / 1e3 if water is not None and water.relief is not None else None,
        "zinc_max_C": max(zinc, default=None),
        "water_hottest_C": max(hot, default=None),
        "gas_below_coil_with_water_C": outcome.get("gas_below_coil_C") if water is not None else None,
        "room_with_water_C": outcome.get("room_C") if water is not None else None,
    }
