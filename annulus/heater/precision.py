"""Error bars: every steady result from a pair of grids.

Goes in: a `Case`. Comes out: the heater on the finer grid and its outcome, in
which every heat flow and temperature stands with its discretisation error.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from annulus.case import Case
from annulus.errors import ConvergenceError
from annulus.heater.outcome import summarise
from annulus.heater.steady import DEFAULT_FINENESS, SteadyHeater, solve_heater

FINEST = 8  # the finest grid that is tried
UNITS_WITH_ERRORS = ("W", "C")
EXACT = (
    "gas_in_C",
    "gas_below_coil_C",
    "water_in_C",
    "water_boils_at_C",
    "dew_point_C",
    "room_C",
    "heat_available_W",
    "rounding_W",
)
BAR = {"W": 0.9, "C": 1.2}  # bar over the change from the coarser grid; extremes converge less evenly than flows
BAR_TOUCHING = 2.0  # the same where a tube touches the flue: flux is singular at the strip's edges, order below 1
SUMS = {"heat_to_room_W": ("heat_through_outside_W", "heat_through_ends_W", "heat_from_bare_flue_W")}
LEAST_BAR = {"W": 1e-5, "C": 1e-5}  # of the heat from the gas, of the span of gas, water and room


def error_key(key: str) -> str:
    """Name of a result's error: heat_to_water_W has heat_to_water_error_W."""
    name, _, unit = key.rpartition("_")
    return f"{name}_error_{unit}"


def has_error(key: str) -> bool:
    """Whether a steady result stands with its error: heat flows and temperatures that are not given."""
    return key.rsplit("_", 1)[-1] in UNITS_WITH_ERRORS and not key.endswith("_K_W") and key not in EXACT


def solve_with_errors(
    case: Case, within: float | None = None, tell: Callable[[str], None] | None = None
) -> tuple[SteadyHeater, dict[str, Any]]:
    """Solve a case on a pair of grids, the second with cells of half the size.

    Parameters
    ----------
    case : Case
    within : float, optional
        Refine until the error of the heat to the water (without a coil: to the
        room) is no more than this share of it. Without it, the default pair. [-]
    tell : callable, optional
        Told in a few words what is going on.

    Returns
    -------
    SteadyHeater
        On the finer grid.
    dict
        Its outcome with an error for every heat flow and temperature.

    Raises
    ------
    ConvergenceError
        If `within` is not reached on the finest grid.

    Notes
    -----
    The bar is the change from the coarser grid times `BAR`. The scheme is of
    second order, where the error left is a third of that change; the rest
    covers places where the order is not yet seen. Where a tube touches the flue
    the factor is `BAR_TOUCHING`. benchmarks/error_bars.py measures how often
    the bars hold.
    """
    fineness = DEFAULT_FINENESS
    heater = solve_heater(case, fineness // 2, tell)
    coarse = summarise(heater)
    while True:
        heater = solve_heater(case, fineness, tell, near=heater)
        fine = summarise(heater)
        outcome = with_errors(fine, coarse, tubes_touch(heater))
        goal = "water" if heater.model.section.turns else "room"
        heat, reached = outcome[f"heat_to_{goal}_W"], outcome[f"heat_to_{goal}_error_W"]
        if within is None or reached <= within * abs(heat):
            return heater, outcome
        if fineness * 2 > FINEST:
            raise ConvergenceError(
                f"heat to the {goal}: error {reached:.3g} W on the finest grid (fineness {fineness}) must be within "
                f"{100 * within:g} % of {heat:.1f} W; ask for less"
            )
        coarse, fineness = fine, 2 * fineness


def with_errors(
    fine: Mapping[str, Any], coarse: Mapping[str, Any], touches: bool, left_out: float = 0.0
) -> dict[str, Any]:
    """An outcome with an error beside every heat flow and temperature, from a coarser grid's outcome.

    `touches` says that a tube touches the flue; `left_out` is what ports leave out, of the heat from the gas and of
    the span from room to gas.
    """
    scale = {
        "W": (LEAST_BAR["W"] + left_out) * abs(fine["heat_from_gas_W"]),
        "C": (LEAST_BAR["C"] + left_out) * abs(fine["gas_in_C"] - fine["room_C"]),
    }
    factor = dict.fromkeys(UNITS_WITH_ERRORS, BAR_TOUCHING) if touches else BAR
    result: dict[str, Any] = {}
    for key, value in fine.items():
        result[key] = value
        if not has_error(key) or value is None:
            continue
        unit = key.rsplit("_", 1)[-1]
        if isinstance(value, list):
            pairs = zip(value, coarse[key], strict=True)
            result[error_key(key)] = [scale[unit] + factor[unit] * abs(one - other) for one, other in pairs]
        else:
            result[error_key(key)] = scale[unit] + factor[unit] * abs(value - coarse[key])
    for key, parts in SUMS.items():  # the parts' changes may cancel, their errors need not
        result[error_key(key)] = sum(result[error_key(part)] for part in parts)
    return result


def tubes_touch(heater: SteadyHeater) -> bool:
    """Whether a tube touches the flue."""
    section = heater.model.section
    return any(turn.r - turn.outer_radius < section.flue_radius for turn in section.turns)
