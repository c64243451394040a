"""What would keep the flue wall warmer, by computing the case once more with each change.

Goes in: a case whose wall runs cold, in a steady fire or in a burn. Comes out: for each
change that can be made, the cold wall and what it costs, without and with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from annulus.burn import Upset
from annulus.burn.cold_wall import DEW_MARGIN, TAR_LIMIT
from annulus.burn.fast import FastBurner
from annulus.burn.outcome import summarise_burn
from annulus.case import Case, Filler, Void
from annulus.cautions.limits import limits
from annulus.errors import BoilingError, ConvergenceError
from annulus.heater import solve_heater, summarise
from annulus.heater.steady import DEFAULT_FINENESS
from annulus.units.celsius import to_celsius

FINENESS = DEFAULT_FINENESS // 2  # the coarser grid of a steady pair; case and change on the same one
BURN_FINENESS = 1  # the same of a burn
WARM_INLET = 328.15  # [K], 55 degC: a usual setting of valves that hold the return of a wood boiler; common practice
SLEEVE = 3e-3  # [m], one layer of insulating paper around the flue; a size that is sold, common practice
SLEEVE_MATERIAL = "alkaline-earth-silicate blanket"
WIDE_GAP = 3e-3  # [m], turns on spacers
STEADY = ("wall_min_C", "heat_to_water_W", "water_in_C", "dew_point_C")
BURN = ("wall_below_dew_s", "wall_near_dew_s", "wall_below_tar_s", "time_to_target_s", "time_to_boiling_s")
NAMED = 2  # remedies named in a caution
COLD = {  # times of a burn in words
    "wall_below_dew_s": "below the dew point",
    "wall_near_dew_s": f"under {DEW_MARGIN:.0f} K above the dew point",
    "wall_below_tar_s": f"under {TAR_LIMIT:.0f} degC",
}


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
    if _takes_valve(case):
        warm: dict[str, Any] = {"water": water.model_copy(update={"inlet_temperature": WARM_INLET})}
        if case.loop is not None:
            warm["loop"] = case.loop.model_copy(update={"mixing_valve": WARM_INLET})
        words = f"a mixing valve that lets no water under {to_celsius(WARM_INLET):.0f} degC into the coil"
        yield Change(words, case.model_copy(update=warm))
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


def _takes_valve(case: Case) -> bool:
    """Whether a mixing valve may be added and would do something; water that drives itself bears none."""
    assert case.water is not None  # a coil has water
    if case.loop is None:
        return case.water.inlet_temperature < WARM_INLET
    return case.loop.circulation == "pumped" and (case.loop.mixing_valve or 0.0) < WARM_INLET


def try_remedies(case: Case, tell: Callable[[str], None] | None = None) -> list[dict[str, Any]]:
    """Solve the steady fire of a case with each change that may warm its flue wall.

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

    def solve(changed: Case) -> dict[str, Any]:
        outcome = summarise(solve_heater(changed, FINENESS))
        return {key: outcome[key] for key in STEADY}

    found = _with_each_change(case, solve, tell)
    margin = next(limit.limit for limit in limits() if limit.of == "dew_point_C")
    enough = [each for each in found if each["wall_min_C"] >= each["dew_point_C"] + margin]
    rest = [each for each in found if each not in enough]
    return sorted(enough, key=lambda each: -each["heat_to_water_W"]) + sorted(
        rest, key=lambda each: -each["wall_min_C"]
    )


def try_remedies_of_burn(
    case: Case, measure: str, upset: Upset | None = None, tell: Callable[[str], None] | None = None
) -> list[dict[str, Any]]:
    """Burn a case, on ports, with each change that may warm its flue wall.

    Parameters
    ----------
    case : Case
        With a tank.
    measure : str
        Time of a cold wall that counts, one of `COLD`.
    upset : Upset, optional
        What goes wrong in every burn.
    tell : callable, optional
        Told in a few words what is going on.

    Returns
    -------
    list of dict
        "words" and the times of `BURN` with the change, with "before" in their names without it, on one
        grid; None for a target that is not reached. First those that keep the limit of `measure`, the
        soonest hot first; then the shortest cold. A change with which the water boils is left out.
    """

    def burn(changed: Case) -> dict[str, Any]:
        outcome = summarise_burn(FastBurner(changed, BURN_FINENESS, upset=upset, most_refined=0).first.march)
        return {key: outcome[key] for key in BURN}

    found = _with_each_change(case, burn, tell)
    calm = [each for each in found if upset is not None or each["time_to_boiling_s"] is None]
    bound = next(limit.limit for limit in limits() if limit.result == measure)
    enough = [each for each in calm if each[measure] <= bound]
    rest = [each for each in calm if each not in enough]
    return sorted(enough, key=_soonest) + sorted(rest, key=lambda each: each[measure])


def remedy_lines(tried: Sequence[Mapping[str, Any]], measure: str) -> tuple[str, ...]:
    """The case as it is and the best changes with what each does, for a caution; the first line says of what.

    Parameters
    ----------
    tried : sequence of mapping
        As `try_remedies` or `try_remedies_of_burn` gave them.
    measure : str
        Result that counts: the coldest wall, or a time of `COLD`.
    """
    named, first = tried[:NAMED], tried[0]
    if measure in COLD:
        head = f"computed, this burn on a coarser grid, flue wall {COLD[measure]}:"
        told = [(each["words"], each[measure], each["time_to_target_s"]) for each in named]
        rows = [("as it is", first[_before(measure)], first["time_to_target_before_s"]), *told]
        if all(target is None for _, _, target in rows):  # as after what goes wrong: there is nothing to compare
            return head, *(f"{words}: for {_minutes(cold)}" for words, cold, _ in rows)
        return head, *(f"{words}: for {_minutes(cold)}, target {_target(target)}" for words, cold, target in rows)
    head = f"computed, steady fire and water at {first['water_in_before_C']:.0f} degC, on a coarser grid, coldest wall:"
    told = [(each["words"], each["wall_min_C"], each["heat_to_water_W"]) for each in named]
    rows = [("as it is", first["wall_min_before_C"], first["heat_to_water_before_W"]), *told]
    return head, *(f"{words}: {wall:.0f} degC, {heat:.0f} W to the water" for words, wall, heat in rows)


def _with_each_change(
    case: Case, compute: Callable[[Case], dict[str, Any]], tell: Callable[[str], None] | None
) -> list[dict[str, Any]]:
    """What is computed of a case with each change, and under names with "before" of the case itself."""
    planned = list(changes(case))
    if not planned:
        return []
    before = {_before(key): value for key, value in compute(case).items()}
    found: list[dict[str, Any]] = []
    for number, change in enumerate(planned, start=1):
        if tell is not None:
            tell(f"trying a remedy ({number} of {len(planned)})")
        try:
            found.append({"words": change.words, **compute(change.case), **before})
        except (BoilingError, ConvergenceError):
            continue  # no remedy
    return found


def _soonest(each: Mapping[str, Any]) -> float:
    time = each["time_to_target_s"]
    return float("inf") if time is None else time


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.0f} min"


def _target(seconds: float | None) -> str:
    return "not reached" if seconds is None else f"after {_minutes(seconds)}"


def _before(key: str) -> str:
    """Name of a result without the change: wall_min_C has wall_min_before_C."""
    name, _, unit = key.rpartition("_")
    return f"{name}_before_{unit}"
