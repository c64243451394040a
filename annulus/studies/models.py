"""What may be computed of a design: a steady fire, or a burn in time.

Goes in: a `Case`. Comes out: results by name. Each function stands alone in its
module, so that a worker in another process finds it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from annulus.burn import burn_with_errors, summarise_burn
from annulus.burn.bare_flue import summarise_bare_flue
from annulus.burn.fast import FastBurner
from annulus.case import Case
from annulus.heater import solve_heater, solve_with_errors, summarise
from annulus.heater.steady import DEFAULT_FINENESS
from annulus.heater.together import SharedSection

Results = dict[str, Any]
Result = Callable[[Case], Results]
Together = Callable[[Sequence[Case], Sequence[Case]], list[Results | None]]


def steady_result(case: Case) -> Results:
    """Results of a steady fire, with their errors."""
    return solve_with_errors(case)[1]


def burn_result(case: Case) -> Results:
    """Results of a burn from the cold tank on, with their errors."""
    return burn_with_errors(case)[1]


def rough_steady(case: Case) -> Results:
    """Results of a steady fire on the coarser grid of the usual pair, without errors."""
    return summarise(solve_heater(case, DEFAULT_FINENESS // 2))


def rough_burn(case: Case) -> Results:
    """Results of a burn on the coarser grid of the usual pair, without errors."""
    march = FastBurner(case, DEFAULT_FINENESS // 2).first.march
    return summarise_burn(march) | summarise_bare_flue(march)


def steady_together(spread: Sequence[Case], cases: Sequence[Case]) -> list[Results | None]:
    """As `steady_result` of cases with one section, on its ports; None for a case that is to be solved by itself.

    Parameters
    ----------
    spread : sequence of Case
        A few, spread over all cases with this section: what the ports are made of.
    cases : sequence of Case
    """
    return _shared(_Spread("".join(case.model_dump_json() for case in spread), tuple(spread))).outcomes(cases)


@dataclass(frozen=True)
class _Spread:
    """Cases known by their text."""

    text: str
    cases: tuple[Case, ...] = field(compare=False)


@lru_cache(maxsize=1)
def _shared(spread: _Spread) -> SharedSection:
    """Ports of the section at hand: a worker asks for one after another."""
    return SharedSection(spread.cases)


TOGETHER: dict[Result, Together] = {steady_result: steady_together}
