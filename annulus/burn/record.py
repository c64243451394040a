"""What a march leaves behind: states, steps, the whole burn.

Goes in: nothing. Comes out: frozen records, read by outcome, verdicts and pictures alike.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from annulus.burn.equations import WAYS, Heating, Moment
from annulus.heater.gas_path import BareFlues, GasSupply

Floats = NDArray[np.float64]


class Leaving(NamedTuple):
    """Gas at the top of the section: what it is, and its temperature. [K]"""

    supply: GasSupply
    temperature: float


@dataclass(frozen=True)
class Now:
    """State at one instant with its laws.

    Attributes
    ----------
    z : ndarray
        Unknowns, above the room. [K]
    inputs : ndarray
        Walls and flow that the laws were read at.
    gathers : ndarray
        Heat that gathers in each unknown, zero where none is stored. [W]
    """

    time: float
    z: Floats
    inputs: Floats
    gathers: Floats
    rates: Floats
    moment: Moment

    @property
    def leaving(self) -> Leaving:
        """Gas that leaves the top of the section."""
        return Leaving(self.moment.fire.supply, self.moment.gas_above(float(self.rates[WAYS.index("gas")])))


@dataclass(frozen=True)
class Step:
    """One step: its end, the heat by every way of `WAYS` and that stored in every part [J].

    `midway` is the gas that left the section at the end of the step's first stage.
    """

    length: float
    midway: Leaving
    end: Now
    error: float
    heat: Floats
    stored: Mapping[str, float]
    imbalance: float


@dataclass(frozen=True)
class March:
    """A burn in time.

    Attributes
    ----------
    first : Now
    steps : tuple of Step
    above : BareFlues
        Bare flue above the section, a row at the start and at the end of each step.
    event : str or None
        Name of the event that ended it; None if its time was up.
    refused, factorisations : int
    """

    system: Heating
    first: Now
    steps: tuple[Step, ...]
    above: BareFlues
    event: str | None
    refused: int
    factorisations: int

    def heat(self) -> dict[str, float]:
        """Heat by every way, over all steps. [J]"""
        total = np.sum([step.heat for step in self.steps], axis=0) if self.steps else np.zeros(len(WAYS))
        return dict(zip(WAYS, total.tolist(), strict=True))

    def stored(self) -> dict[str, float]:
        """Heat stored in every part, over all steps. [J]"""
        names = self.steps[0].stored if self.steps else {}
        return {name: sum(step.stored[name] for step in self.steps) for name in names}


# An event happens when its reading of a state rises to zero. [K]
Events = Mapping[str, Callable[[Now], float]]
