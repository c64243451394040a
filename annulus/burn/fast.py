"""Burns on ports: one set-up for a section, then any fire, tank and loop in about a second.

Goes in: a `Case` with a tank. Comes out: a `FastBurner`, which burns every case
with the same section and tells what its few unknowns leave out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from annulus.burn.left_out import LeftOut, left_out
from annulus.burn.march import TOLERANCE
from annulus.burn.port_body import PortBody
from annulus.burn.record import March
from annulus.burn.run import march_case, refuse_without_tank
from annulus.burn.upset import Upset
from annulus.case import Case
from annulus.heater import solve_heater
from annulus.heater.ports import refuse_other_section

ENOUGH = 1e-3  # of the span of temperatures: a basis that leaves out less is not made better
MOST_REFINED = 3  # times the basis is made better unless asked otherwise; each adds a few fields
HELPED = 0.8  # of what was left out before: where a better basis leaves more than this, it is not the basis
FIELDS_ADDED = 5  # shapes of what is left out, the strongest over the burn
NEVER_BOILS = 3e6  # [Pa] (234 degC), so that the heater about which the basis is made has a steady state
NOMINAL_FLOW = 0.03  # [kg/s] of water there, where the loop finds its own


@dataclass(frozen=True)
class Judged:
    """A march on ports; what it leaves out is computed when it is asked for."""

    march: March

    @cached_property
    def left_out(self) -> LeftOut:
        """Estimate of what is left out."""
        return left_out(self.march)

    @property
    def share(self) -> float:
        """Largest temperature left out, of the span from coldest to hottest of gas, water and room. [-]"""
        return float(np.abs(self.left_out.fields).max()) / _span(self.march)


class FastBurner:
    """Burns of one section on one grid.

    Parameters
    ----------
    case : Case
        With a coil and a tank; burns of other cases must share its section.
    fineness : int
        Cells of the coarsest grid are split into this many each way.
    tell : callable, optional
        Told in a few words what is going on.
    without_heat : tuple of str
        Roles of the section that are to store no heat.
    upset : Upset, optional
        What goes wrong in the first burn.
    most_refined : int
        Times the basis may be made better; each may march again.

    Attributes
    ----------
    body : PortBody
    first : Judged
        The burn of `case` itself.
    """

    def __init__(
        self,
        case: Case,
        fineness: int,
        tell: Callable[[str], None] | None = None,
        without_heat: tuple[str, ...] = (),
        upset: Upset | None = None,
        most_refined: int = MOST_REFINED,
    ):
        refuse_without_tank(case)
        say = tell or (lambda words: None)
        heater = solve_heater(_middle_of(case), fineness, tell)
        say("making a basis for the burn")
        self.body = PortBody(heater, without_heat)
        self.first = self.judge(case, tell, upset)
        for _ in range(most_refined):
            fields, before = self.first.left_out.fields, self.first.share
            if before <= ENOUGH:
                break
            _, shares = np.linalg.eigh(fields @ fields.T)  # weakest first
            self.body.enrich(fields.T @ shares[:, -FIELDS_ADDED:])
            self.first = self.judge(case, tell, upset)
            if self.first.share > HELPED * before:
                break

    def burn(
        self,
        case: Case,
        tolerance: float = TOLERANCE,
        tell: Callable[[str], None] | None = None,
        upset: Upset | None = None,
    ) -> March:
        """March a case that shares the section."""
        refuse_other_section(self.body.ports.section, case)
        return march_case(case, self.body.model.section, self.body.with_case(case), tolerance, tell, upset)

    def judge(self, case: Case, tell: Callable[[str], None] | None = None, upset: Upset | None = None) -> Judged:
        """March a case, ready to tell what the basis leaves out."""
        return Judged(self.burn(case, tell=tell, upset=upset))


def _middle_of(case: Case) -> Case:
    """The case with steady water halfway between the tank's start and its target, and no boiling."""
    assert case.tank is not None and case.water is not None  # refused before where they are missing
    middle = 0.5 * (case.tank.start_temperature + case.tank.target_temperature)
    water = case.water.model_copy(
        update={"inlet_temperature": middle, "pressure": NEVER_BOILS, "flow": case.water.flow or NOMINAL_FLOW}
    )
    return case.model_copy(update={"water": water})


def _span(march: March) -> float:
    """From the coldest to the hottest of gas, water and room during a march. [K]"""
    system = march.system
    hottest, coldest = 0.0, 0.0
    for step in march.steps:
        _, y = system.split(step.end.z)
        _, coil, tank = system.parts_of(y)
        hottest = max(hottest, step.end.moment.gas_in - system.room, float(coil.max()))
        coldest = min(coldest, float(coil.min()), float(tank.min()))
    return hottest - coldest
