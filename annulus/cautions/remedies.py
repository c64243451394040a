"""What would keep the flue wall warmer, by solving the case once more with each change.

Goes in: a case whose wall runs cold. Comes out: for each change that can be
made, the coldest wall and the heat to the water without and with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from annulus.case import Case, Filler, Void
from annulus.cautions.limits import limits
from annulus.errors import BoilingError, ConvergenceError
from annulus.heater import solve_heater, summarise
from annulus.heater.steady import DEFAULT_FINENESS
from annulus.units.celsius import to_celsius

FINENESS = DEFAULT_FINENESS // 2  # the coarser grid of the pair; case and change on the same one
WARM_INLET = 328.15  # [K], 55 degC: a usual setting of valves that hold the return of a wood boiler; common practice
SLEEVE = 3e-3  # [m], one layer of insulating paper around the flue; a size that is sold, common practice
SLEEVE_MATERIAL = "alkaline-earth-silicate blanket"
WIDE_GAP = 3e-3  # [m], turns on spacers
CHANGED = ("wall_min_C", "heat_to_water_W", "water_in_C")
NAMED = 2  # remedies named in a caution


@dataclass(frozen=True)
class Change:
    """One change to a case that warms the flue wall: in words, and the case with it."""

    words: str
    case: Case


def changes(case: Case) -> Iterator[Change]:
    """Changes that this case leaves room for."""
    water, coil, filler = case.water, case.coil, case.filler
    if water is None or coil is None:
        return
    if water.inlet_temperature < WARM_INLET:
        warm = water.model_copy(update={"inlet_temperature": WARM_INLET})
        words = f"a valve that lets no water under {to_celsius(WARM_INLET):.0f} degC into the coil"
        yield Change(words, case.model_copy(update={"water": warm}))
    wide = coil.model_copy(update={"gap": tuple(max(gap, SLEEVE) for gap in coil.gap)})
    if filler.material != "still air":
        touching = {pair: 0.0 if "filler" in pair else R for pair, R in case.contacts.items()}  # air needs no contact
        empty = case.model_copy(update={"filler": Filler(), "contacts": touching})
        yield Change("the same shroud left empty", empty)
        sleeve = Void.model_construct(r_min=0.0, r_max=SLEEVE, z_min=0.0, z_max=case.height, material=SLEEVE_MATERIAL)
        lined = filler.model_copy(update={"voids": (*filler.voids, sleeve), "film_at_flue": 0.0})
        words = f"{1e3 * SLEEVE:.0f} mm of {SLEEVE_MATERIAL} around the flue, under coil and packing"
        yield Change(words, case.model_copy(update={"coil": wide, "filler": lined}))
    elif max(coil.gap) < WIDE_GAP:
        yield Change(f"turns {1e3 * WIDE_GAP:.0f} mm off the flue", case.model_copy(update={"coil": wide}))


def try_remedies(case: Case, tell: Callable[[str], None] | None = None) -> list[dict[str, Any]]:
    """Solve a case with each change that may warm its flue wall.

    Parameters
    ----------
    case : Case
    tell : callable, optional
        Told in a few words what is going on.

    Returns
    -------
    list of dict
        "words", then "wall_min_C" and "heat_to_water_W" with the change and
        "wall_min_before_C" and "heat_to_water_before_W" without it, on one grid. First those
        that lift the wall over its limit, the most heat first; then the warmest wall.
        A change with which the water would boil is left out.
    """
    planned = list(changes(case))
    if not planned:
        return []
    before = _solve(case, tell)
    found: list[dict[str, Any]] = []
    for number, change in enumerate(planned, start=1):
        if tell is not None:
            tell(f"trying a remedy ({number} of {len(planned)})")
        try:
            after = _solve(change.case, None)
        except (BoilingError, ConvergenceError):
            continue  # no remedy
        found.append({"words": change.words, **after, **{_before(key): before[key] for key in CHANGED}})
    safe = before["dew_point_C"] + next(limit.limit for limit in limits() if limit.of == "dew_point_C")
    enough = sorted((each for each in found if each["wall_min_C"] >= safe), key=lambda each: -each["heat_to_water_W"])
    return enough + sorted((each for each in found if each["wall_min_C"] < safe), key=lambda each: -each["wall_min_C"])


def remedy_words(tried: Sequence[Mapping[str, Any]]) -> str:
    """The best changes and what each does, for a caution."""
    return f"computed, steady fire and water at {tried[0]['water_in_before_C']:.0f} degC: " + "; ".join(
        f"with {each['words']} the coldest wall goes from {each['wall_min_before_C']:.0f} to "
        f"{each['wall_min_C']:.0f} degC and the heat to the water from {each['heat_to_water_before_W']:.0f} to "
        f"{each['heat_to_water_W']:.0f} W"
        for each in tried[:NAMED]
    )


def _solve(case: Case, tell: Callable[[str], None] | None) -> dict[str, float]:
    outcome = summarise(solve_heater(case, FINENESS, tell))
    return {key: outcome[key] for key in (*CHANGED, "dew_point_C")}


def _before(key: str) -> str:
    """Name of a result without the change: wall_min_C has wall_min_before_C."""
    name, _, unit = key.rpartition("_")
    return f"{name}_before_{unit}"
