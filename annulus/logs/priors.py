"""What is known of a parameter before the log is read.

Goes in: a range that the trade gives. Comes out: a `Prior` that turns a standard
normal coordinate into a value, so that all parameters are fitted in like steps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from scipy.special import ndtr, ndtri

from annulus.errors import InputError
from annulus.units import Kind

NINETY = 1.6449  # standard deviations to either side of a 90 % interval
Shape = Literal["ratio", "even", "offset"]


@dataclass(frozen=True)
class Prior:
    """Range of a parameter: 9 of 10 heaters lie between low and high.

    Attributes
    ----------
    name : str
    low, high : float
    shape : {"ratio", "even", "offset"}
        "ratio": the logarithm is normal. "even": alike anywhere from low to high, nowhere
        else, for ranges that begin at zero. "offset": normal.
    words, source : str
        The range as a reader sees it, and where it comes from.
    is_free : bool
        Asked for; else it is carried along because the log depends on it.
    kind : str
        Of what the range is given in, as in `annulus.units`.
    """

    name: str
    low: float
    high: float
    shape: Shape
    words: str
    source: str
    is_free: bool = False
    kind: Kind = "number"

    def __post_init__(self) -> None:
        if not self.low < self.high:
            raise InputError(f"{self.name}: range {self.low:g} to {self.high:g} is empty")
        if self.shape == "ratio" and not self.low > 0:
            raise InputError(f"{self.name}: range {self.low:g} to {self.high:g} of a ratio must be positive")

    def value(self, u: float) -> float:
        """Value at a standard normal coordinate."""
        if self.shape == "even":
            return self.low + (self.high - self.low) * float(ndtr(u))
        if self.shape == "offset":
            return 0.5 * (self.low + self.high) + u * (self.high - self.low) / (2 * NINETY)
        middle = 0.5 * (math.log(self.low) + math.log(self.high))
        return math.exp(middle + u * math.log(self.high / self.low) / (2 * NINETY))

    def coordinate(self, value: float) -> float:
        """Coordinate of a value; infinite at the ends of an even range."""
        if self.shape == "even":
            return float(ndtri((value - self.low) / (self.high - self.low)))
        if self.shape == "offset":
            return (value - 0.5 * (self.low + self.high)) * 2 * NINETY / (self.high - self.low)
        middle = 0.5 * (math.log(self.low) + math.log(self.high))
        return (math.log(value) - middle) * 2 * NINETY / math.log(self.high / self.low)


def of_range(
    name: str, low: float, high: float, words: str, source: str, is_free: bool = False, kind: Kind = "number"
) -> Prior:
    """Prior of a range: by ratio, or even where it begins at zero or below."""
    return Prior(name, low, high, "ratio" if low > 0 else "even", words, source, is_free, kind)


def of_error(name: str, relative: float, words: str, source: str) -> Prior:
    """Prior of a factor about 1 with this standard deviation of its logarithm."""
    half = math.exp(NINETY * relative)
    return Prior(name, 1.0 / half, half, "ratio", words, source)


def of_offset(name: str, sd: float, words: str, source: str) -> Prior:
    """Prior of a probe's offset with this standard deviation. [K]"""
    return Prior(name, -NINETY * sd, NINETY * sd, "offset", words, source, kind="temperature_difference")
