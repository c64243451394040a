"""A case's own heat rate in other fires, for the fair comparison.

Goes in: a case. Comes out: a `Law`, solved on the ports of its section.
"""

from __future__ import annotations

from annulus.case import Case
from annulus.errors import InputError
from annulus.heater import solve_heater
from annulus.heater.port_heater import solve_on_ports
from annulus.heater.ports import Ports
from annulus.logs.fair import Conditions

FINENESS = 1  # a ratio of heat rates hardly feels the grid


class ModelLaw:
    """Steady heat to the water of a case as the law of its fire.

    Parameters
    ----------
    case : Case
        With a coil.
    """

    def __init__(self, case: Case):
        if case.water is None:
            raise InputError(f"case '{case.title}': has no coil, and --fair needs its heat to the water")
        self.case = case
        self.ports = Ports(solve_heater(case, FINENESS))

    def rate(self, conditions: Conditions) -> float:
        """Heat to the water. [W]"""
        fire = self.case.fire.model_copy(
            update={
                "gas_temperature": conditions.gas,
                "gas_flow": conditions.flow,
                "wood_rate": None,
                "loss_before_coil": None,
            }
        )
        assert self.case.water is not None  # as in __init__
        water = self.case.water.model_copy(update={"inlet_temperature": conditions.water})
        case = self.case.model_copy(update={"fire": fire, "water": water})
        return -float(solve_on_ports(self.ports, case).flow[self.ports.plan.water].sum())
