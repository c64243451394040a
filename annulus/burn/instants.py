"""Whole fields at some instants of a burn: what pictures and files show of it.

Goes in: a `March`. Comes out: temperatures of all pieces, of gas and of water, at
ends of its steps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.burn.record import March

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Instant:
    """One moment of a burn.

    Attributes
    ----------
    time : float
        After lighting. [s]
    temperature : ndarray, shape (n_pieces,)
        [K]
    gas, water : ndarray
        Mean of each band and of each turn, bottom first. [K]
    """

    time: float
    temperature: Floats
    gas: Floats
    water: Floats


def instants(march: March, most: int) -> list[Instant]:
    """Beginning, end and ends of steps between them, as evenly in time as the steps let it.

    Parameters
    ----------
    march : March
    most : int
        Of instants, 2 or more.
    """
    moments = [march.first, *(step.end for step in march.steps)]
    times = np.array([now.time for now in moments])
    wished = np.linspace(times[0], times[-1], most)
    system = march.system
    found = []
    for n in np.unique(np.abs(times[:, None] - wished).argmin(axis=0)):
        now = moments[n]
        x, y = system.split(now.z)
        ambient = system.room + now.moment.ambient(y)
        n_bands = system.body.n_bands
        found.append(Instant(now.time, system.room + system.body.of_pieces(x), ambient[:n_bands], ambient[n_bands:]))
    return found
