"""Steady outcomes of many cases that share a section, with errors: one pair of ports answers all of them.

Goes in: a few cases spread over those to come, then cases. Comes out: for each what
`solve_with_errors` tells, its bars wider by what the ports leave out; or None where
the ports do not answer well enough, and the case is to be solved by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from annulus.case import Case
from annulus.errors import AnnulusError, BoilingError
from annulus.heater.outcome import summarise
from annulus.heater.port_heater import PortState, as_heater, solve_many
from annulus.heater.ports import Ports
from annulus.heater.precision import tubes_touch, with_errors
from annulus.heater.steady import DEFAULT_FINENESS, solve_heater

ENOUGH = 3e-4  # of the span from room to gas: a field that is further off is not told
AIM = 1.5e-4  # the same for the cases that the basis is made better with
MOST_REFINED = 5  # times the basis is made better
FIELDS_ADDED = 4  # by each


class SharedSection:
    """A section on a pair of grids, ready for any fire, water and room.

    Parameters
    ----------
    cases : sequence of Case
        Of one section, spread over those to come; ports are made about the middle one.

    Raises
    ------
    AnnulusError
        If the middle case has no steady state.
    """

    def __init__(self, cases: Sequence[Case]):
        middle = cases[len(cases) // 2]
        coarse = solve_heater(middle, DEFAULT_FINENESS // 2)
        fine = solve_heater(middle, DEFAULT_FINENESS, near=coarse)
        self._touches = tubes_touch(fine)
        self._coarse, self._fine = (_refined(Ports(heater), cases) for heater in (coarse, fine))

    def outcomes(self, cases: Sequence[Case]) -> list[dict[str, Any] | None]:
        """Outcomes of cases with this section; they depend on nothing but `cases` and those it was made of."""
        coarse, fine = self._coarse.apart(), self._fine.apart()
        pairs = zip(solve_many(coarse, cases), solve_many(fine, cases), strict=True)
        return [self._outcome((coarse, one), (fine, other)) for one, other in pairs]

    def _outcome(
        self, coarse: tuple[Ports, PortState | AnnulusError], fine: tuple[Ports, PortState | AnnulusError]
    ) -> dict[str, Any] | None:
        told, worst = [], 0.0
        for ports, state in (coarse, fine):
            if isinstance(state, AnnulusError):
                return None
            worst = max(worst, _share(state, left_out(ports, state)))
            if not worst <= ENOUGH:
                return None
            try:
                told.append(summarise(as_heater(ports, state)))
            except BoilingError:
                return None
        return with_errors(told[1], told[0], self._touches, worst)


def left_out(ports: Ports, state: PortState) -> np.ndarray:
    """Field that a state on ports is short of, nearly; as `Ports.defect`. [K]"""
    room = state.case.room.temperature
    return ports.defect(state.coordinates, room, state.film, state.ambient - room)


def _share(state: PortState, field: np.ndarray) -> float:
    """Largest temperature of a field, of the span from room to gas. [-]"""
    span = abs(state.supply.temperature - state.case.room.temperature)
    return float(np.abs(field).max()) / span if span else np.inf


def _refined(ports: Ports, cases: Sequence[Case]) -> Ports:
    """Ports whose basis has what it left out of these cases, the worst first."""
    for _ in range(MOST_REFINED):
        states = [state for state in solve_many(ports, cases) if not isinstance(state, AnnulusError)]
        fields = [left_out(ports, state) for state in states]
        shares = np.array([_share(state, field) for state, field in zip(states, fields, strict=True)])
        worst = [n for n in np.argsort(-shares)[:FIELDS_ADDED] if AIM < shares[n] < np.inf]
        if not worst:
            break
        ports.enrich(np.stack([fields[n] for n in worst], axis=1))
    return ports
