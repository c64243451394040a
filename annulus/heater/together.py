"""Steady outcomes of many cases that share a section, with errors: one pair of ports answers all of them.

Goes in: a few cases spread over those to come, then cases. Comes out: for each what
`solve_with_errors` tells, its bars wider by what the ports leave out; or None where
the ports do not answer well enough, and the case is to be solved by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.errors import AnnulusError, BoilingError
from annulus.heater.outcome import summarise
from annulus.heater.port_heater import PortState, as_heater, solve_many
from annulus.heater.ports import Ports
from annulus.heater.precision import tubes_touch, with_errors
from annulus.heater.steady import DEFAULT_FINENESS, solve_heater

Floats = NDArray[np.float64]

ENOUGH = 3e-4  # of the span from room to gas: a field that is further off is not told
AIM = 1.5e-4  # the same for the cases that the basis is made better with
MOST_REFINED = 4  # times the basis is made better
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
        self._pair = Ports(coarse), Ports(fine)
        for ports in self._pair:
            _judged(ports, cases, AIM)

    def outcomes(self, cases: Sequence[Case]) -> list[dict[str, Any] | None]:
        """Outcomes of cases with this section; they depend on nothing but `cases` and those it was made of."""
        pair = tuple(ports.apart() for ports in self._pair)
        judged = zip(*(_judged(ports, cases, ENOUGH) for ports in pair), strict=True)
        return [self._outcome(pair, of_case) for of_case in judged]

    def _outcome(self, pair: tuple[Ports, ...], judged: Sequence[_Judged | None]) -> dict[str, Any] | None:
        """Outcome of one case from its states on both grids; None if one of them does not answer well enough."""
        answers = [(ports, one) for ports, one in zip(pair, judged, strict=True) if one and one.share <= ENOUGH]
        if len(answers) < len(pair):
            return None
        try:
            coarse, fine = (summarise(as_heater(ports, one.state)) for ports, one in answers)
        except BoilingError:
            return None  # by itself it says so
        return with_errors(fine, coarse, self._touches, max(one.share for _, one in answers))


@dataclass(frozen=True)
class _Judged:
    """A state on ports, the field that it is short of [K], and the largest of it, of the span from room to gas. [-]"""

    state: PortState
    left_out: Floats
    share: float


def _judge(ports: Ports, state: PortState | AnnulusError) -> _Judged | None:
    if isinstance(state, AnnulusError):
        return None
    room = state.case.room.temperature
    field = ports.defect(state.coordinates, room, state.film, state.ambient - room)
    span = abs(state.supply.temperature - room)
    return _Judged(state, field, float(np.abs(field).max()) / span if span else np.inf)


def _judged(ports: Ports, cases: Sequence[Case], aim: float) -> list[_Judged | None]:
    """States of cases, the basis made better with what it leaves out of the worst until none leaves out more."""
    for round_ in range(MOST_REFINED + 1):
        found = [_judge(ports, state) for state in solve_many(ports, cases)]
        short = sorted((j for j in found if j is not None and aim < j.share < np.inf), key=lambda j: -j.share)
        if not short or round_ == MOST_REFINED:
            break
        ports.enrich(np.stack([j.left_out for j in short[:FIELDS_ADDED]], axis=1))
    return found
