"""All limits against one outcome.

Goes in: a case, its section and its outcome. Comes out: cautions, worst first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from annulus.burn import Upset
from annulus.case import Case
from annulus.cautions.facts import HOTTEST, facts
from annulus.cautions.judging import Caution, hold, shown
from annulus.cautions.limits import DECIDES, LEVELS, limits
from annulus.cautions.remedies import COLD, remedy_lines, try_remedies, try_remedies_of_burn
from annulus.cautions.touching import judge_touching, try_loose, turns_that_touch
from annulus.heater.precision import error_key
from annulus.section import Section
from annulus.units.celsius import to_celsius

COLD_WALL = "flue wall"  # the group of limits whose remedies are computed
DEFER = "Local codes, the stove's listing and a licensed installer or sweep decide; annulus does not."
ALWAYS = (
    "Water: leave the tank open to air, or fit a temperature-and-pressure relief valve that nothing can shut off; "
    "a closed coil is a bomb. Never let cold water into a hot dry coil.",
    "Fire: a cooled flue makes tar and draws less. Sweep below and above the coil, look monthly, keep a "
    "carbon monoxide alarm. A wrap does not shorten the clearance to wood.",
    "Dust: pour dry and slowly, mask on (quartz: P3 or N100); vent the cavity at the top, damp filler makes steam.",
)


def judge(case: Case, section: Section, outcome: Mapping[str, Any]) -> tuple[Caution, ...]:
    """Cautions for an outcome, worst first; of each group only the worst.

    Parameters
    ----------
    case : Case
    section : Section
    outcome : mapping
        From `annulus.heater.summarise` or of a burn, with its error bars if it has any and with
        "remedies" and "loose" if those were tried.
    """
    found = [*_limits(case, section, outcome), *_service(section, outcome), *judge_touching(case, outcome)]
    found += [*_unjudged(case), *_handling(section)]
    return tuple(sorted(found, key=lambda caution: LEVELS.index(caution.level)))


def judge_with_remedies(
    case: Case,
    section: Section,
    outcome: dict[str, Any],
    tell: Callable[[str], None] | None = None,
    upset: Upset | None = None,
) -> tuple[Caution, ...]:
    """As `judge`; where the flue wall runs cold, `outcome` first gains "remedies".

    They are computed by `try_remedies`, or for a burn, with its `upset`, by `try_remedies_of_burn`. Where turns
    are said to touch, the outcome of a steady fire gains "loose" from `try_loose`.
    """
    if turns_that_touch(case) and not _is_burn(outcome):
        outcome["loose"] = try_loose(case)
    cautions = judge(case, section, outcome)
    cold = [caution for caution in cautions if caution.group == COLD_WALL]
    if not cold:
        return cautions
    if _is_burn(outcome):
        outcome["remedies"] = try_remedies_of_burn(case, _measure(cold[0], outcome), upset, tell)
    else:
        outcome["remedies"] = try_remedies(case, tell)
    return judge(case, section, outcome)


def _limits(case: Case, section: Section, outcome: Mapping[str, Any]) -> Iterator[Caution]:
    """The worst caution of each group of limits."""
    values = {**outcome, **facts(case, section, outcome)}
    worst: dict[str, Caution] = {}
    for limit in limits():
        caution = hold(limit, values)
        if caution is None:
            continue
        known = worst.get(limit.group)
        if known is None or LEVELS.index(caution.level) < LEVELS.index(known.level):
            worst[limit.group] = caution
    tried = outcome.get("remedies")
    if tried and COLD_WALL in worst:
        cold = worst[COLD_WALL]
        worst[COLD_WALL] = replace(cold, computed=remedy_lines(tried, _measure(cold, outcome)))
    yield from worst.values()


def _is_burn(outcome: Mapping[str, Any]) -> bool:
    return "time_to_target_s" in outcome


def _measure(cold: Caution, outcome: Mapping[str, Any]) -> str:
    """Result by which remedies against a cold wall are weighed: in a burn a time."""
    if not _is_burn(outcome) or cold.result in COLD:
        return cold.result
    return "wall_near_dew_s" if cold.level == "danger" else "wall_below_tar_s"


def _service(section: Section, outcome: Mapping[str, Any]) -> Iterator[Caution]:
    """Materials hotter than they serve to."""
    told: set[tuple[str, str]] = set()
    for region in section.regions:
        material = region.material
        if material is None or material.service_limit is None or (region.role, material.name) in told:
            continue
        told.add((region.role, material.name))
        keys = [key for key in HOTTEST[region.role] if outcome.get(key) is not None]
        if not keys:
            continue
        key = max(keys, key=lambda name: outcome[name])
        value, error = outcome[key], outcome.get(error_key(key)) or 0.0
        limit = to_celsius(material.service_limit)
        if value + error > limit:
            yield Caution(
                level="danger",
                group=f"service limit of the {region.role}",
                words=f"{region.role} reaches {shown(value, error, 'degC')}: "
                f"{material.name} serves to {limit:.0f} degC",
                remedy="another material",
                source=f"{material.source} [{material.mark}]",
                decides=DECIDES["maker"],
                value=value,
                error=error,
                limit=limit,
                unit="degC",
                result=key,
            )


def _unjudged(case: Case) -> Iterator[Caution]:
    """What the case does not let be judged."""
    if case.chimney is None:
        yield Caution(
            level="note",
            group="chimney",
            words="gas at the chimney's top and the draught left are not judged: the case has no [chimney]",
            remedy="add [chimney] with its height",
            source="limits 150 degC and 12 Pa: public agencies' advice, stove test standards [P+]",
            decides=DECIDES["sweep"],
        )
    if case.shroud is not None and not case.shroud.vented:
        yield Caution(
            level="warning",
            group="vent",
            words="the shroud has no vent: damp that comes in later makes steam",
            remedy="a hole at the top of the cavity",
            source="common practice, no source [C]",
            decides=DECIDES["builder"],
        )


def _handling(section: Section) -> Iterator[Caution]:
    """What the library says of each material."""
    said: set[str] = set()
    for region in section.regions:
        material = region.material
        for words in material.warnings if material is not None else ():
            if words in said or material is None:
                continue
            said.add(words)
            subject = "" if words.startswith(material.name) else f"{material.name}: "
            yield Caution(
                level="note",
                group=material.name,
                words=f"{subject}{words}",
                remedy=f"read its data sheet; see: annulus materials {material.name!r}",
                source="library of materials, common practice [C]",
                decides=DECIDES["maker"],
            )
