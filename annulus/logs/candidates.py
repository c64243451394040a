"""Measurements that a builder could add next time, as a fit sees them.

Goes in: a fit and its predictor. Comes out: `Probe`s for `annulus.logs.next_probe`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from annulus.logs.calibrate import Fit, values_at
from annulus.logs.next_probe import Probe, with_offset
from annulus.logs.parameters import GAS_FLOW, LOSS, PROBE_ABOVE, PROBE_BELOW, VOLUME, WATER_FLOW
from annulus.logs.predicting import OF_BURN, Predictor
from annulus.logs.priors import NINETY, Prior

Floats = NDArray[np.float64]

# What tells a parameter by itself: words, parameter, standard deviation of the value (of its logarithm for a ratio).
# Common practice, no source.
DIRECT = (
    ("gas flow from CO2 or O2 in the flue gas, to 10 %", GAS_FLOW, 0.10),
    ("water in the tank by weighed buckets, to 1 %", VOLUME, 0.01),
    ("loss of the tank from a night's cooling, to 10 %", LOSS, 0.10),
    ("flow of water by bucket and clock, to 3 %", WATER_FLOW, 0.03),
    ("shielded gas probe below the coil, to 3 K", PROBE_BELOW, 3.0),
    ("shielded gas probe above the coil, to 3 K", PROBE_ABOVE, 3.0),
)
# What is read all through the burn: words, name in a burn's readings, error of a mean, offset of the probe. [K]
READ = (
    ("probe on the flue wall between the turns", "wall_max", 3.0, 8.0),
    ("probe in the hottest filler", "filler_max", 2.0, 4.0),
    ("probe on the outside, at its hottest", "outside_max", 1.0, 2.0),
    ("gas probe above the coil", "gas_above", 4.0, 10.0),
    ("probe in the hose out of the coil", "water_out", 0.3, 0.3),
)


def candidate_probes(fitted: Fit, predictor: Predictor) -> list[Probe]:
    """Probes that the logs have not had, with their slopes at the fit."""
    names = [prior.name for prior in fitted.priors]
    probes = []
    for words, name, error in DIRECT:
        row = np.zeros((1, len(names)))
        row[0, names.index(name)] = 1.0
        probes.append(Probe(words, row, np.array([[(error / _spread(fitted.priors[names.index(name)])) ** 2]])))
    slopes = _slopes(fitted, predictor)
    logged = {OF_BURN[channel] for one in predictor.observations for channel in one.readings}
    for words, name, error, offset in READ:
        if name in slopes and name not in logged:
            probes.append(Probe(words, slopes[name], with_offset(error, offset, slopes[name].shape[0])))
    return probes


def _spread(prior: Prior) -> float:
    """Standard deviation of a prior's value, of its logarithm for a ratio."""
    if prior.shape == "ratio":
        return math.log(prior.high / prior.low) / (2 * NINETY)
    return (prior.high - prior.low) / (2 * NINETY)


def _slopes(fitted: Fit, predictor: Predictor) -> dict[str, Floats]:
    """Slopes along the coordinates of every reading of the first log's burn, each (spans, p)."""
    one = predictor.observations[0]
    middle = predictor.course(one, fitted.values)
    columns: dict[str, list[Floats]] = {name: [] for name in middle}
    for n in range(len(fitted.priors)):
        step = math.sqrt(fitted.covariance[n, n])
        moved = fitted.coordinates.copy()
        moved[n] += step
        course = predictor.course(one, values_at(fitted.priors, moved))
        for name, column in columns.items():
            column.append((course[name] - middle[name]) / step)
    return {name: np.stack(column, axis=1) for name, column in columns.items()}
