"""What each gap, void, film and contact of a case costs in heat to the water.

Goes in: a `Case` and its outcome. Comes out: for every imperfection that the
case states, the heat to the water without it, all others kept, less the heat
as the case stands.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import groupby
from typing import Any

from annulus.case import Case, Coil, Void, tube_centre
from annulus.errors import InputError
from annulus.heater import solve_with_errors
from annulus.section import wall_layer_resistance
from annulus.units import show

TIGHT_GAP = 5e-5  # what is left between flue and tube wound as tight as hands can; common practice, no source [m]

Mend = Callable[[Case], Case]


@dataclass(frozen=True)
class Imperfection:
    """One imperfection: the key that states it, what it is, and the case without it."""

    key: str
    name: str
    mend: Mend


def imperfections(case: Case) -> list[Imperfection]:
    """Every imperfection that a case states.

    Parameters
    ----------
    case : Case

    Returns
    -------
    list of Imperfection
        Settled top, strips, film, voids, contacts, looser turns by their gap,
        and the tightest gap itself if it is wider than `TIGHT_GAP`. Mended one
        after another, in this order, they give the case without any.

    Raises
    ------
    InputError
        If there is no coil whose water could lose heat.

    Notes
    -----
    Where a gap closes the shroud stays where it is, and the clearance grows.
    """
    if case.coil is None:
        raise InputError("cost of gaps: is told in heat to the water, and the case has no [coil]")
    return [*_of_filler(case), *_of_contacts(case), *_of_gaps(case.coil)]


def cost_of_gaps(
    case: Case, outcome: dict[str, Any], within: float | None = None, tell: Callable[[str], None] | None = None
) -> dict[str, Any]:
    """Solve a case without each of its imperfections, and without all.

    Parameters
    ----------
    case : Case
    outcome : dict
        Of the case as it stands, from `solve_with_errors`.
    within : float, optional
        As `solve_with_errors`. [-]
    tell : callable, optional
        Told in a few words what is going on.

    Returns
    -------
    dict
        `imperfections`: a list of key, name, cost_W and cost_error_W, the dearest
        first; `together_W` and `together_error_W`: without all of them. A cost
        is positive where the imperfection keeps heat from the water. Its error
        joins those of the two solves as independent ones, for each has a grid
        of its own.

    Raises
    ------
    InputError
        As `imperfections`.
    BoilingError, ConvergenceError
        As `solve_with_errors`, of a mended case.
    """
    stated = imperfections(case)
    tasks = [(f"without {each.name}", [each.mend]) for each in stated]
    if len(stated) > 1:
        tasks.append(("without all of them", [each.mend for each in stated]))
    costs = []
    for number, (words, mends) in enumerate(tasks, start=1):
        say = _prefixed(tell, f"{words} ({number} of {len(tasks)})")
        mended = reduce(lambda changed, mend: mend(changed), mends, case)
        costs.append(_cost(outcome, solve_with_errors(mended, within, say)[1]))
    together = costs[-1] if costs else (0.0, 0.0)
    rows: list[dict[str, Any]] = [
        {"key": each.key, "name": each.name, "cost_W": cost, "cost_error_W": error}
        for each, (cost, error) in zip(stated, costs, strict=False)
    ]
    rows.sort(key=lambda row: -row["cost_W"])
    return {"imperfections": rows, "together_W": together[0], "together_error_W": together[1]}


def _cost(stated: dict[str, Any], mended: dict[str, Any]) -> tuple[float, float]:
    return (
        mended["heat_to_water_W"] - stated["heat_to_water_W"],
        math.hypot(mended["heat_to_water_error_W"], stated["heat_to_water_error_W"]),
    )


def _prefixed(tell: Callable[[str], None] | None, words: str) -> Callable[[str], None] | None:
    return None if tell is None else lambda step: tell(f"{words}: {step}")


def _of_filler(case: Case) -> list[Imperfection]:
    filler = case.filler
    names = {
        "settled_top": "settled top of {}",
        "strip_under_tubes": "strips of air under the turns, {}",
        "film_at_flue": "film of air along the flue, {}",
    }
    found = [
        Imperfection(f"filler.{key}", name.format(_mm(getattr(filler, key))), _without(key))
        for key, name in names.items()
        if getattr(filler, key) > 0
    ]
    return found + [
        Imperfection(f"filler.voids[{n}]", f"void {n + 1} in the filler", _without_void(void))
        for n, void in enumerate(filler.voids)
    ]


def _without(key: str) -> Mend:
    return lambda case: _changed(case, "filler", {key: 0.0})


def _without_void(void: Void) -> Mend:
    return lambda case: _changed(
        case, "filler", {"voids": tuple(other for other in case.filler.voids if other is not void)}
    )


def _of_contacts(case: Case) -> list[Imperfection]:
    found = []
    for pair, resistance in case.contacts.items():
        if resistance == 0:
            continue
        value = wall_layer_resistance(case, pair) if resistance is None else resistance
        size = show(float(f"{value:.3g}"), "contact_resistance")
        found.append(Imperfection(f"contacts.{pair}", f"contact {pair}, {size}", _perfect(pair)))
    return found


def _perfect(pair: str) -> Mend:
    return lambda case: case.model_copy(update={"contacts": {**case.contacts, pair: 0.0}})


def _of_gaps(coil: Coil) -> list[Imperfection]:
    least = min(coil.gap)
    found = []
    for gap in sorted(set(coil.gap) - {least}, reverse=True):
        loose = _runs([n for n, other in enumerate(coil.gap, start=1) if other == gap])
        name = f"turn{'' if loose.isdecimal() else 's'} {loose}, {_mm(gap)} off the flue, not {_mm(least)}"
        found.append(Imperfection(f"coil.gap_at.{loose}", name, _closed(gap, least)))
    if least > TIGHT_GAP:
        name = f"coil, {_mm(least)} off the flue, not {_mm(TIGHT_GAP)}"
        found.append(Imperfection("coil.gap", name, _closed(least, TIGHT_GAP)))
    return found


def _closed(gap: float, to: float) -> Mend:
    """Close the turns with this gap; nothing else moves."""

    def mend(case: Case) -> Case:
        assert case.coil is not None  # no gap without a coil
        gaps = tuple(to if other == gap else other for other in case.coil.gap)
        changed = _changed(case, "coil", {"gap": gaps})
        if case.shroud is None:
            return changed
        moved = _crowns(case.coil, case.coil.gap) - _crowns(case.coil, gaps)
        return _changed(changed, "shroud", {"clearance": case.shroud.clearance + moved})

    return mend


def _crowns(coil: Coil, gaps: Sequence[float]) -> float:
    """How far the crowns of the widest turn stand off the flue. [m]"""
    radius = coil.tube_outer_diameter / 2
    return max(tube_centre(0.0, radius, gap, coil.contact_strip) for gap in gaps) + radius


def _changed(case: Case, part: str, values: dict[str, Any]) -> Case:
    return case.model_copy(update={part: getattr(case, part).model_copy(update=values)})


def _runs(numbers: Sequence[int]) -> str:
    """Whole numbers in order as "7", or "3, 7-9"."""
    runs = [[n for _, n in run] for _, run in groupby(enumerate(numbers), lambda pair: pair[1] - pair[0])]
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)


def _mm(length: float) -> str:
    return show(length, "length")
