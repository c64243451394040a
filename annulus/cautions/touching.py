"""A coil in air that is said to touch its flue all the way round: the best there is, and what a looser one gives.

Goes in: a case. Comes out: how many turns touch; the heat to the water with a gap that hands leave.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from annulus.case import Case
from annulus.cautions.judging import Caution
from annulus.cautions.limits import DECIDES
from annulus.cautions.remedies import FINENESS
from annulus.errors import BoilingError, ConvergenceError
from annulus.heater import solve_heater, summarise

TOUCHES = 5e-5  # a gap under this counts as touching: as tight as hands can wind; common practice, no source [m]
USUAL_GAP = 5e-4  # left by hand-wound coils, mean of the way round, of 0 to 2 mm; common practice, no source [m]


def turns_that_touch(case: Case) -> int:
    """Turns in air that touch the flue without any resistance between; 0 where a packing carries the heat."""
    if case.coil is None or case.filler.material != "still air" or case.contacts["tube-flue"]:
        return 0
    return sum(gap < TOUCHES for gap in case.coil.gap)


def try_loose(case: Case) -> dict[str, float] | None:
    """Heat to the water as the case is and with touching turns `USUAL_GAP` off the flue, on one coarse grid.

    Returns
    -------
    dict or None
        "gap_mm", "heat_to_water_W", "heat_to_water_before_W"; None where one of them has no result.
    """
    assert case.coil is not None  # turns touch
    gaps = tuple(USUAL_GAP if gap < TOUCHES else gap for gap in case.coil.gap)
    loose = case.model_copy(update={"coil": case.coil.model_copy(update={"gap": gaps})})
    try:
        before, after = (summarise(solve_heater(one, FINENESS))["heat_to_water_W"] for one in (case, loose))
    except (BoilingError, ConvergenceError):
        return None
    return {"gap_mm": 1e3 * USUAL_GAP, "heat_to_water_W": after, "heat_to_water_before_W": before}


def judge_touching(case: Case, outcome: Mapping[str, Any]) -> list[Caution]:
    """One caution where turns touch; with what `outcome` says under "loose" if that was computed."""
    count = turns_that_touch(case)
    if not count:
        return []
    assert case.coil is not None  # turns touch
    turns = "all turns" if count == case.coil.turns else f"{count} of {case.coil.turns} turns"
    loose = outcome.get("loose")
    computed: tuple[str, ...] = ()
    if loose:
        computed = (
            "computed, steady fire, on a coarser grid:",
            f"as it is: {loose['heat_to_water_before_W']:.0f} W to the water",
            f"these turns {loose['gap_mm']:g} mm off the flue: {loose['heat_to_water_W']:.0f} W to the water",
        )
    return [
        Caution(
            level="warning",
            group="touching",
            words=f"{turns} touch the flue all the way round, with air beside them: no hand-wound coil does, and the "
            "heat to the water is the most there could be",
            remedy='state the gap that is left on the mean, such as gap = "0.5 mm"; see what it does with: annulus '
            "sensitivity",
            source="the first tenth of a millimetre costs a fifth to a half of the heat: annulus sweep "
            "cases/study-gap; gaps of hand-wound coils: common practice [C]",
            decides=DECIDES["builder"],
            computed=computed,
        )
    ]
