"""What may be computed of a design: a steady fire, or a burn in time.

Goes in: a `Case`. Comes out: results by name. Each function stands alone in its
module, so that a worker in another process finds it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from annulus.burn import burn_with_errors, summarise_burn
from annulus.burn.fast import FastBurner
from annulus.case import Case
from annulus.heater import solve_heater, solve_with_errors, summarise
from annulus.heater.steady import DEFAULT_FINENESS

Results = dict[str, Any]
Result = Callable[[Case], Results]


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
    return summarise_burn(FastBurner(case, DEFAULT_FINENESS // 2).first.march)
