"""Limits held against results: condensation, overheating, boiling, touch.

Goes in: a case, its section and its outcome. Comes out: cautions in three
levels, each with number, limit, source and what to do. The tool warns; codes
and licensed people decide.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from annulus.case import Case
from annulus.section import Section
from annulus.units.celsius import to_celsius

Level = Literal["note", "warning", "danger"]

TAR_LIMIT = 120.0  # [degC] inner wall while flaming; common practice, no source
DEW_MARGIN = 10.0  # [K] above the water dew point; common practice, no source
GAS_ABOVE_COIL = (250.0, 200.0)  # [degC] warn, danger; common practice, no source
TOUCH_LIMIT = 60.0  # [degC] bare metal; ASTM C1055 (5 s contact), quoted from memory
BORE_MARGIN = 10.0  # [K] below boiling; common practice, no source
BULK_MARGIN = 5.0  # [K] below boiling; common practice, no source
SOLDER_LIMIT = 121.0  # [degC] soft solder's last rating, 250 degF; copper tube handbook, quoted from memory

DEFER = "Local codes, the stove's listing and a licensed installer or sweep decide; annulus does not."
ALWAYS = (
    "Water: leave the tank open to air, or fit a temperature-and-pressure relief valve that nothing can shut off; "
    "a closed coil is a bomb. Never let cold water into a hot dry coil.",
    "Fire: a cooled flue makes tar and draws less. Sweep below and above the coil, look monthly, keep a "
    "carbon monoxide alarm. A wrap does not shorten the clearance to wood.",
    "Dust: pour dry and slowly, mask on (quartz: P3 or N100); vent the cavity at the top, damp filler makes steam.",
)


@dataclass(frozen=True)
class Caution:
    """One finding: how bad, what, and what to do."""

    level: Level
    words: str
    remedy: str


def judge(case: Case, section: Section, outcome: Mapping[str, Any]) -> tuple[Caution, ...]:
    """Cautions for a steady outcome, worst first.

    Parameters
    ----------
    case : Case
    section : Section
    outcome : mapping
        From `annulus.heater.summarise`.
    """
    found = [
        *_flue(outcome),
        *_water(outcome),
        *_materials(section, outcome),
        *_touch(outcome),
    ]
    rank: dict[Level, int] = {"danger": 0, "warning": 1, "note": 2}
    return tuple(sorted(found, key=lambda caution: rank[caution.level]))


def _flue(outcome: Mapping[str, Any]) -> Iterator[Caution]:
    wall, dew = outcome["wall_min_C"], outcome["dew_point_C"]
    remedy = "burn hot, start with warm water or a pump that waits for a warm wall, wind the top turns looser"
    if wall < dew + DEW_MARGIN:
        yield Caution(
            "danger",
            f"coldest flue wall {wall:.0f} degC: below the water dew point of {dew:.0f} degC plus {DEW_MARGIN:.0f} K; "
            "smoke condenses and the steel corrodes",
            remedy,
        )
    elif wall < TAR_LIMIT:
        yield Caution(
            "warning", f"coldest flue wall {wall:.0f} degC: below {TAR_LIMIT:.0f} degC, where tar settles", remedy
        )
    gas, (warn, bad) = outcome["gas_above_coil_C"], GAS_ABOVE_COIL
    if gas < warn:
        level: Level = "danger" if gas < bad else "warning"
        limit = bad if gas < bad else warn
        yield Caution(
            level,
            f"gas above the coil {gas:.0f} degC: below {limit:.0f} degC while flaming",
            "fewer turns; check draught",
        )


def _water(outcome: Mapping[str, Any]) -> Iterator[Caution]:
    boils = outcome["water_boils_at_C"]
    if boils is None:
        return
    if outcome["water_out_C"] > boils - BULK_MARGIN:
        yield Caution(
            "danger",
            f"water leaves at {outcome['water_out_C']:.0f} degC and boils at {boils:.0f} degC: "
            f"less than {BULK_MARGIN:.0f} K between",
            "more flow, or fewer turns",
        )
    elif outcome["bore_max_C"] > boils - BORE_MARGIN:
        yield Caution(
            "warning",
            f"hottest bore {outcome['bore_max_C']:.0f} degC: within {BORE_MARGIN:.0f} K of boiling at {boils:.0f} degC",
            "more flow",
        )
    if outcome["tube_max_C"] > SOLDER_LIMIT:
        yield Caution(
            "warning",
            f"hottest tube {outcome['tube_max_C']:.0f} degC: above {SOLDER_LIMIT:.0f} degC, soft solder's last rating",
            "no soldered joint inside the shroud or within 300 mm of it",
        )
    yield Caution(
        "note",
        "if the water stops, the coil goes to the temperature of the wall and any water in it boils",
        "an open vent, a layout that circulates by itself, or a pump on a battery",
    )


def _materials(section: Section, outcome: Mapping[str, Any]) -> Iterator[Caution]:
    hottest = {"filler": outcome["filler_max_C"], "insulation": outcome["insulation_max_C"]}
    said: set[str] = set()
    for region in section.regions:
        material = region.material
        if material is None:
            continue
        for words in material.warnings:
            if words not in said:
                said.add(words)
                subject = "" if words.startswith(material.name) else f"{material.name}: "
                yield Caution("note", f"{subject}{words}", "read its data sheet; annulus materials has the source")
        reached = hottest.get(region.role)
        if reached is not None and material.service_limit is not None:
            limit = to_celsius(material.service_limit)
            if reached > limit:
                yield Caution(
                    "danger",
                    f"{region.role} reaches {reached:.0f} degC: {material.name} serves to {limit:.0f} degC",
                    "another material",
                )


def _touch(outcome: Mapping[str, Any]) -> Iterator[Caution]:
    for place, key in (("outside of the coil section", "outside_max_C"), ("bare flue", "bare_flue_max_C")):
        reached = outcome[key]
        if reached is not None and reached > TOUCH_LIMIT:
            yield Caution(
                "warning",
                f"{place} reaches {reached:.0f} degC: bare metal above {TOUCH_LIMIT:.0f} degC burns at a touch",
                "insulation, a guard, and the full clearance to wood",
            )
