"""A case burnt: from the case to a march.

Goes in: a `Case` with a tank. Comes out: a `BurnRun`.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from annulus.burn.body import Body
from annulus.burn.circulation import make_circulation
from annulus.burn.equations import Heating
from annulus.burn.fire import make_schedule
from annulus.burn.march import TOLERANCE, march_burn
from annulus.burn.record import March
from annulus.burn.section_body import SectionBody
from annulus.burn.upset import HeatedFire, StoppedFlow, Upset
from annulus.burn.verdicts import make_events
from annulus.case import Case
from annulus.errors import ConvergenceError, InputError
from annulus.heater.model import Model, prepare
from annulus.heater.suspects import blame
from annulus.section import Section

FINENESS = 2  # the pair for the error is half as fine

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
        return self.march.system.case


def run_burn(
    case: Case,
    fineness: int = FINENESS,
    tolerance: float = TOLERANCE,
    tell: Callable[[str], None] | None = None,
    without_heat: tuple[str, ...] = (),
    make_body: MakeBody = SectionBody,
    upset: Upset | None = None,
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
    upset : Upset, optional
        What goes wrong; the burn then does not end with the target.

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
    begun = time.perf_counter()
    if tell is not None:
        tell("cutting the section into pieces")
    model = prepare(case, fineness)
    march = march_case(case, model.section, make_body(model, without_heat), tolerance, tell, upset)
    return BurnRun(model, march, time.perf_counter() - begun)


def march_case(
    case: Case,
    section: Section,
    body: Body,
    tolerance: float = TOLERANCE,
    tell: Callable[[str], None] | None = None,
    upset: Upset | None = None,
) -> March:
    """March the burn of a case with a body that stands ready; arguments as `run_burn`."""
    assert case.burn is not None  # comes with the tank
    schedule, circulation = make_schedule(case), make_circulation(case, section.turns)
    duration = case.burn.duration
    if upset is not None:
        schedule = HeatedFire(schedule, upset.heats, case.room.temperature)
        circulation = StoppedFlow(circulation, upset)
        duration = upset.begins + upset.watched
    system = Heating(case, section, body, schedule, circulation)
    events = make_events(system, case.burn.until == "target" and upset is None)
    try:
        return march_burn(system, duration, events, tolerance, tell)
    except ConvergenceError as fault:
        raise ConvergenceError(blame(case, fault), fault.residuals, fault.field) from fault


def refuse_without_tank(case: Case) -> None:
    """InputError for a case that says nothing about a tank."""
    if case.tank is None:
        raise InputError(
            f"case '{case.title}': has no [tank] to heat, which a burn needs; add [tank] with volume, "
            "start_temperature and target_temperature (annulus starter shows them)"
        )
