"""Two fires are never the same: what of a gain came from the fire, what from the heater, and does it stand out?

Goes in: crunched logs, each with the name of the heater it was made on, and a law that
tells what a heater's heat rate would have been in another fire. Comes out: a `Comparison` for
each heater with the first.

A gain in heat rate is the product of a faster fire (wood an hour) and of more heat from a
kilogram. Beside it stands the gain at equal gas temperature, gas flow and water temperature.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from scipy.stats import t as student

from annulus.errors import InputError
from annulus.logs.crunch import NINETY, Crunched
from annulus.logs.ranges import Fires
from annulus.units.celsius import from_celsius

PRIOR_FIRES = 4.0  # degrees of freedom that the trade's scatter between fires counts for
TOLD = 0.9  # level of the interval that must leave out no gain
FIRE_MOST = 0.5  # share of a gain beyond which it is mostly the fire's, or mostly the heater's

Cause = Literal["fire", "heater", "both", "no gain"]


@dataclass(frozen=True)
class Gain:
    """A ratio with its 90 % interval; `stands_out` if the interval leaves out 1."""

    ratio: float
    low: float
    high: float

    @property
    def stands_out(self) -> bool:
        return self.low > 1.0 or self.high < 1.0


@dataclass(frozen=True)
class Comparison:
    """One heater against the first.

    Attributes
    ----------
    name, base : str
    rate : Gain
        Heat rate into the tank, as logged.
    burning : float
        Wood an hour, ratio.
    per_wood : Gain or None
        Heat into the tank from a kilogram of wood; None where a log has no wood.
    equal_conditions : Gain or None
        Heat rate at equal gas temperature, gas flow and water temperature; None where a log lacks them or its
        probe below the coil stood at its end.
    share_of_fire : float or None
        Of the gain in rate on a scale of ratios (logarithms), what the faster fire brought.
    cause : str
        Where most of the gain in rate came from.
    """

    name: str
    base: str
    rate: Gain
    burning: float | None
    per_wood: Gain | None
    equal_conditions: Gain | None
    share_of_fire: float | None
    cause: Cause


@dataclass(frozen=True)
class Conditions:
    """Means of a burn: gas below the coil and water into it [K], flow of gas [kg/s]."""

    gas: float
    water: float
    flow: float


class Law(Protocol):
    """What a heater's heat rate depends on besides itself."""

    def rate(self, conditions: Conditions) -> float:
        """Heat rate, in any unit."""
        ...


@dataclass(frozen=True)
class PowerLaw:
    """Heat rate as the gas's excess over the water times a power of its flow.

    Between the two limits of an exchanger: a gas that is cooled right down gives
    its heat in proportion to the flow, one that passes too fast by its film alone.
    """

    exponent: float

    def rate(self, conditions: Conditions) -> float:
        return (conditions.gas - conditions.water) * conditions.flow**self.exponent


def compare_fairly(logs: Sequence[tuple[str, Crunched]], law: Law, fires: Fires) -> list[Comparison]:
    """Every heater against the first.

    Parameters
    ----------
    logs : sequence of (name of the heater, crunched log)
        Logs of one heater are its repeated fires, which tell the scatter.
    law : Law
    fires : Fires
        The trade's scatter, which counts as a few fires, and the error of the law.

    Raises
    ------
    InputError
        If all logs are of one heater, or one warmed no tank.

    Notes
    -----
    Logarithms of ratios are taken as normal. Their variance is that of the logs' own errors
    (without the tank's volume and the wood's heating value, which all share), of the scatter between
    fires over their number, and of the law's exponent; intervals are Student's.
    """
    heaters: dict[str, list[Crunched]] = {}
    for name, crunched in logs:
        heaters.setdefault(name, []).append(crunched)
    if len(heaters) < 2:
        raise InputError("--fair: needs logs of two heaters at least; all are named alike")
    for name, crunched in logs:
        heat = crunched.result["mean_heat_to_tank_W"]
        if heat <= 0:
            raise InputError(
                f"{crunched.log.file}: the tank of {name} gained no heat ({heat / 1e3:.2f} kW); --fair compares fires "
                "that warmed their tanks"
            )
    scatter, freedom = _scatter(heaters, law, fires)
    base, *others = heaters
    quantile = float(student.ppf(0.5 + 0.5 * TOLD, freedom))
    return [_compare(name, heaters[name], base, heaters[base], law, fires, scatter, quantile) for name in others]


def conditions_of(crunched: Crunched) -> Conditions | None:
    """Mean conditions of a log; None where it lacks gas or wood, or knows no more than the gas's least.

    Gas that is colder than the water drives no law either.
    """
    result = crunched.result
    if "gas_below_mean_C" in result["bounds"]:
        return None
    if result["gas_below_mean_C"] is None or not result["wood_kg"]:
        return None
    water = result["water_in_mean_C"]
    if water is None:
        water = 0.5 * (result["tank_start_C"] + result["tank_end_C"])
    if result["gas_below_mean_C"] <= water:
        return None
    flow = result["wood_kg"] / result["duration_s"]  # gas in proportion to wood: the factor cancels in ratios
    return Conditions(from_celsius(result["gas_below_mean_C"]), from_celsius(water), flow * crunched.gas_per_wood)


def _scatter(heaters: Mapping[str, list[Crunched]], law: Law, fires: Fires) -> tuple[float, float]:
    """Standard deviation between fires on one heater, and its degrees of freedom."""
    squares, freedom = PRIOR_FIRES * fires.scatter**2, PRIOR_FIRES
    for repeated in heaters.values():
        for values in (_logs_at_equal(repeated, law), _logs_per_wood(repeated)):
            if values is not None and len(values) > 1:
                squares += float(np.sum((values - values.mean()) ** 2))
                freedom += len(values) - 1
                break
    return math.sqrt(squares / freedom), freedom


def _logs_at_equal(crunched: Sequence[Crunched], law: Law):
    """Logarithms of heat rates over what the law says; None where a log lacks its conditions."""
    found = [conditions_of(one) for one in crunched]
    if any(one is None for one in found):
        return None
    rates = [one.result["mean_heat_to_tank_W"] for one in crunched]
    return np.log(rates) - np.log([law.rate(one) for one in found if one is not None])


def _logs_per_wood(crunched: Sequence[Crunched]):
    """Logarithms of heat from a kilogram; None where a log has no wood."""
    if any(not one.result["wood_kg"] for one in crunched):
        return None
    return np.log([one.result["heat_to_tank_J"] / one.result["wood_kg"] for one in crunched])


def _own_error(crunched: Crunched) -> float:
    """Relative standard deviation of a log's heat that other logs of the same tank do not share."""
    result = crunched.result
    whole = result["heat_to_tank_error_J"] / NINETY / result["heat_to_tank_J"]
    return math.sqrt(max(whole**2 - crunched.facts.errors.volume**2, 1e-6))


def _compare(
    name: str,
    mine: Sequence[Crunched],
    base: str,
    first: Sequence[Crunched],
    law: Law,
    fires: Fires,
    scatter: float,
    quantile: float,
) -> Comparison:
    both = (mine, first)
    own = sum(sum(_own_error(one) ** 2 for one in group) / len(group) ** 2 for group in both)
    between = scatter**2 * sum(1.0 / len(group) for group in both)
    errors = first[0].facts.errors

    def gain(groups, variance: float) -> Gain:
        change = float(np.mean(groups[0]) - np.mean(groups[1]))
        half = quantile * math.sqrt(variance)
        return Gain(math.exp(change), math.exp(change - half), math.exp(change + half))

    rates = [np.log([one.result["mean_heat_to_tank_W"] for one in group]) for group in both]
    rate = gain(rates, own)  # as logged: that fires differ is no error of it
    wood = [_logs_per_wood(group) for group in both]
    per_wood, burning, share = None, None, None
    if wood[0] is not None and wood[1] is not None:
        scale = sum((errors.wood**2 + errors.moisture**2) / len(group) for group in both)
        per_wood = gain(wood, own + between + scale)
        burning = rate.ratio / per_wood.ratio
        share = math.log(burning) / math.log(rate.ratio) if rate.stands_out else None
    equal = [_logs_at_equal(group, law) for group in both]
    equal_conditions = None
    if equal[0] is not None and equal[1] is not None:
        seen = [[found for one in group if (found := conditions_of(one)) is not None] for group in both]
        excess = [float(np.mean([one.gas - one.water for one in group])) for group in seen]
        flows = [float(np.mean([math.log(one.flow) for one in group])) for group in seen]
        probe = sum((errors.gas_probe / span) ** 2 for span in excess)
        bent = (fires.flow_exponent_error * (flows[0] - flows[1])) ** 2
        equal_conditions = gain(equal, own + between + probe + bent)
    return Comparison(name, base, rate, burning, per_wood, equal_conditions, share, _cause(rate, per_wood, share))


def _cause(rate: Gain, per_wood: Gain | None, share: float | None) -> Cause:
    if share is None or per_wood is None:
        return "no gain"
    if share > FIRE_MOST and not per_wood.stands_out:
        return "fire"
    if share > FIRE_MOST:
        return "both"
    return "heater"
