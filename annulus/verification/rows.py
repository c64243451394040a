"""What a verification case is made of: rows that set a computed number beside a known one.

Goes in: expected and computed values, tolerances, observed orders. Comes out:
rows that know whether they hold, and in which respect they fall short.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Also:
    """The same quantity on another grid, with a tolerance of its own."""

    grid: str
    computed: float
    tolerance: float


@dataclass(frozen=True)
class Row:
    """One quantity against its known value.

    Attributes
    ----------
    quantity, unit : str
    expected, computed : float
        In `unit`.
    tolerance : float
        Of `scale`, or in `unit` where there is no scale.
    scale : float or None
        What errors are measured by: the value itself, the temperature span of the case; None for absolute errors.
    order, order_wanted : float or None
        Order of accuracy observed over several grids, and the least that is acceptable.
    also : tuple of Also
        Other grids on which the quantity must hold too.
    """

    quantity: str
    unit: str
    expected: float
    computed: float
    tolerance: float
    scale: float | None = None
    order: float | None = None
    order_wanted: float | None = None
    also: tuple[Also, ...] = ()

    def error_of(self, computed: float) -> float:
        """Distance of a value from the expected one, of the scale."""
        return abs(computed - self.expected) / (1.0 if self.scale is None else self.scale)

    @property
    def error(self) -> float:
        return self.error_of(self.computed)

    @property
    def faults(self) -> list[str]:
        """In which respects the row falls short; a value that is not a number always does."""
        found = []
        if not self.error <= self.tolerance:
            found.append("error")
        for other in self.also:
            if not self.error_of(other.computed) <= other.tolerance:
                found.append(f"error on {other.grid}")
        if self.order_wanted is not None and not (self.order is not None and self.order >= self.order_wanted):
            found.append("order")
        return found

    @property
    def holds(self) -> bool:
        return not self.faults


@dataclass(frozen=True)
class Case:
    """One problem with a known answer.

    Attributes
    ----------
    id : str
        Short name, such as "V14".
    title : str
    tests : str
        What a fault here would mean, in a few words.
    source : str
        Where the expected numbers come from.
    run : callable
        Computes the rows.
    """

    id: str
    title: str
    tests: str
    source: str
    run: Callable[[], list[Row]]


@dataclass(frozen=True)
class Family:
    """Cases of one kind, with what holds for all of them in words."""

    title: str
    words: str
    cases: tuple[Case, ...]


def relative(quantity: str, unit: str, expected: float, computed: float, tolerance: float) -> Row:
    """Row whose error is a share of the expected value."""
    return Row(quantity, unit, expected, computed, tolerance, scale=abs(expected))


def zero(quantity: str, computed: float, tolerance: float) -> Row:
    """Row of a share that ought to be nothing, such as the heat lost of the heat passed on."""
    return Row(quantity, "", 0.0, computed, tolerance, scale=1.0)


def worst(values: Iterable[float]) -> float:
    """Largest of some distances; one that is not a number is the worst of all, which `max` would hide."""
    return float(np.max(np.fromiter(values, dtype=float)))


def quoted(pairs: Iterable[tuple[float, float, float]]) -> Row:
    """Closed form worked again beside quoted digits.

    Parameters
    ----------
    pairs : iterable of (quoted, closed form, rounding)
        Rounding is what the quoted digits leave open.

    Returns
    -------
    Row
        The worst difference in units of its rounding, which must be within 1.
    """
    shares = [abs(digits - worked) / rounding for digits, worked, rounding in pairs]
    figures = "the quoted figure" if len(shares) == 1 else f"{len(shares)} quoted figures"
    return Row(f"closed form against {figures}", "roundings", 0.0, worst(shares), 1.0)
