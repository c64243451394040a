"""A case burnt: from the case to a march, and what it would be on another grid or with other steps.

Goes in: a `Case` with a tank. Comes out: a `BurnRun`, and its outcome with the error of its time.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from annulus.burn.body import Body
from annulus.burn.circulation import make_circulation
from annulus.burn.equations import Heating
from annulus.burn.fire import make_schedule
from annulus.burn.march import TOLERANCE, March, march_burn
from annulus.burn.outcome import summarise_burn
from annulus.burn.section_body import SectionBody
from annulus.burn.verdicts import make_events
from annulus.case import Case
from annulus.errors import InputError
from annulus.heater.model import Model, prepare

FINENESS = 2  # of the full march; the pair for the error is half as fine
ROUGHER = 8.0  # tolerance of the march that shows the error of the steps, over the usual one: steps twice as long
GRID_BAR = 0.9  # error over the change from the coarser grid, as for a steady heat flow
LEAST_BAR = 1e-6  # of the time

MakeBody = Callable[[Model, tuple[str, ...]], Body]


@dataclass(frozen=True)
class BurnRun:
    """A burn that has been marched.

    Attributes
    ----------
    model : Model
    march : March
    seconds : float
        Wall time.
    """

    model: Model
    march: March
    seconds: float

    @property
    def case(self) -> Case:
        return self.model.case


def run_burn(
    case: Case,
    fineness: int = FINENESS,
    tolerance: float = TOLERANCE,
    tell: Callable[[str], None] | None = None,
    without_heat: tuple[str, ...] = (),
    make_body: MakeBody = SectionBody,
) -> BurnRun:
    """March the burn of a case.

    Parameters
    ----------
    case : Case
        With a coil and a tank.
    fineness : int
        Cells of the coarsest grid are split into this many each way.
    tolerance : float
        Error of a step, anywhere. [K]
    tell : callable, optional
        Told in a few words what is going on.
    without_heat : tuple of str
        Roles of the section that are to store no heat.
    make_body : callable
        Makes the body that is marched from a model and `without_heat`.

    Returns
    -------
    BurnRun

    Raises
    ------
    InputError
        If the case has no tank.
    ConvergenceError
        If the march does not get through.
    """
    refuse_without_tank(case)
    assert case.burn is not None  # comes with the tank
    begun = time.perf_counter()
    if tell is not None:
        tell("cutting the section into pieces")
    model = prepare(case, fineness)
    body = make_body(model, without_heat)
    system = Heating(case, model.section, body, make_schedule(case), make_circulation(case, model.section.turns))
    events = make_events(system, case.burn.until == "target")
    march = march_burn(system, case.burn.duration, events, tolerance, tell)
    return BurnRun(model, march, time.perf_counter() - begun)


def refuse_without_tank(case: Case) -> None:
    """InputError for a case that says nothing about a tank."""
    if case.tank is None:
        raise InputError(
            "case: has no [tank] to heat, which a burn needs; add [tank] with volume, start_temperature and "
            "target_temperature (annulus starter shows them)"
        )


def burn_with_errors(
    case: Case, fineness: int = FINENESS, tell: Callable[[str], None] | None = None, filler: bool = False
) -> tuple[BurnRun, dict[str, Any]]:
    """March a burn, and again on a coarser grid and with longer steps, for the error of its results.

    Parameters
    ----------
    case : Case
    fineness : int
        Of the result; 2 or more.
    tell : callable, optional
    filler : bool
        March also a heater whose filler stores no heat.

    Returns
    -------
    BurnRun
    dict
        Outcome, with `time_to_target_error_s` and `mean_heat_to_water_error_W` beside the results, and
        with `filler_delay_s` if asked for: how much later the target came because the filler had to be warmed.

    Notes
    -----
    Error = 0.9 times the change from the grid with cells twice as large, plus the whole change when
    steps on that grid are made twice as long.
    """
    run = run_burn(case, fineness, tell=tell)
    coarse = summarise_burn(run_burn(case, fineness // 2, tell=tell).march)
    rough = summarise_burn(run_burn(case, fineness // 2, ROUGHER * TOLERANCE, tell=tell).march)
    outcome = summarise_burn(run.march)
    result: dict[str, Any] = {}
    for key, value in outcome.items():
        result[key] = value
        if key in ("time_to_target_s", "time_to_boiling_s", "mean_heat_to_water_W"):
            name, _, unit = key.rpartition("_")
            pair = (value, coarse[key], rough[key])
            result[f"{name}_error_{unit}"] = None if None in pair else _error(*pair)
    if filler:
        empty = summarise_burn(run_burn(case, fineness // 2, tell=tell, without_heat=("filler",)).march)
        late = None
        if coarse["time_to_target_s"] is not None and empty["time_to_target_s"] is not None:
            late = coarse["time_to_target_s"] - empty["time_to_target_s"]
        result["filler_delay_s"] = late
    return run, result


def _error(value: float, coarse: float, rough: float) -> float:
    return LEAST_BAR * abs(value) + GRID_BAR * abs(value - coarse) + abs(coarse - rough)
