"""What drives the water through the coil.

Goes in: a case and temperatures of coil and tank. Comes out: the flow.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case

Floats = NDArray[np.float64]


class Circulation(Protocol):
    """Anything that moves water."""

    def flow(self, coil: Floats, tank: Floats, before: float) -> float:
        """Flow through the coil, negative against its usual direction. [kg/s]

        Parameters
        ----------
        coil : ndarray, shape (n_turns,)
            Water in each turn, bottom first. [K]
        tank : ndarray, shape (n_layers,)
            Bottom first. [K]
        before : float
            A flow near it. [kg/s]
        """
        ...


class Pump:
    """The flow of the case, whatever the temperatures."""

    def __init__(self, case: Case):
        assert case.water is not None  # a case with a tank has water
        self._flow = case.water.flow

    def flow(self, coil: Floats, tank: Floats, before: float) -> float:
        """Flow of the pump. [kg/s]"""
        return self._flow


def make_circulation(case: Case) -> Circulation:
    """Circulation of a case with a tank."""
    return Pump(case)
