"""Which single measurement would tell most next time?

Goes in: a fit, a forecast, and probes that could be added. Comes out: by how much
each would narrow the forecast's interval, expected before it is read.

For a linear Gaussian model the narrowing does not depend on what the probe will read:
C' = C - C j^T (j C j^T + S)^-1 j C, with j the probe's slopes and S the variance of its readings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.logs.calibrate import Fit, Forecast
from annulus.logs.priors import NINETY

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Probe:
    """A measurement that could be made.

    Attributes
    ----------
    name : str
    slopes : ndarray, shape (m, p)
        Of its readings along the fit's coordinates.
    error : ndarray, shape (m, m)
        Covariance of the readings, an offset that all share included.
    """

    name: str
    slopes: Floats
    error: Floats


@dataclass(frozen=True)
class Promise:
    """What a probe promises.

    Attributes
    ----------
    name : str
    share : float
        Width of the forecast's interval after it, over the value.
    narrowing : float
        One less new width over old.
    """

    name: str
    share: float
    narrowing: float


def rank_probes(fitted: Fit, forecast: Forecast, probes: Sequence[Probe]) -> list[Promise]:
    """Probes by how much they would narrow the forecast, best first."""
    covariance, slope = fitted.covariance, forecast.slope
    before = float(slope @ covariance @ slope)
    found = []
    for probe in probes:
        seen = covariance @ probe.slopes.T
        gain = np.linalg.solve(probe.slopes @ seen + probe.error, seen.T @ slope)
        after = max(before - float((seen.T @ slope) @ gain), 0.0)
        width = 2 * math.sinh(NINETY * math.sqrt(after))
        found.append(Promise(probe.name, width, 1.0 - math.sqrt(after / before) if before > 0 else 0.0))
    return sorted(found, key=lambda promise: -promise.narrowing)


def with_offset(sd: float, offset: float, count: int) -> Floats:
    """Covariance of readings with independent errors and one shared offset."""
    return sd**2 * np.eye(count) + offset**2 * np.ones((count, count))
