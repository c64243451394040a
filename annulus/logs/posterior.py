"""What logs have taught, kept for other designs: saved beside a calibrated case and used by later burns.

Goes in: a `Fit` and the case it was made on. Comes out: a calibrated case; JSON, and a
`Fit` read back from it that applies to cases which already carry the fitted values.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from annulus.case import Case
from annulus.errors import InputError
from annulus.logs.calibrate import Fit, values_at
from annulus.logs.parameters import carried, with_values
from annulus.logs.priors import Prior, of_range
from annulus.logs.ranges import usual_errors
from annulus.studies.uncertain import uncertain_inputs
from annulus.texts import read_text

OF_FILLER = ("conductivity.filler", "contacts.filler")  # what another filler does not share


@dataclass(frozen=True)
class Posterior:
    """A fit as other cases see it.

    Attributes
    ----------
    fit : Fit
    written : tuple of str
        Parameters whose fitted values stand in the calibrated case already.
    ratios : tuple of str
        Of these the ones that multiply what a case states.
    fillers : tuple of str
        Of the heaters that were logged.
    """

    fit: Fit
    written: tuple[str, ...]
    ratios: tuple[str, ...]
    fillers: tuple[str, ...]

    def values_for_calibrated(self, values: Mapping[str, float]) -> dict[str, float]:
        """Values as a case takes them that already carries the fitted ones."""
        fitted = self.fit.values
        return {
            name: value / fitted[name] if name in self.ratios and name in self.written else value
            for name, value in values.items()
        }


def calibrated(case: Case, fitted: Fit) -> tuple[Case, tuple[str, ...]]:
    """The case with the free parameters that the logs determine; which they are."""
    written = tuple(one.prior.name for one in fitted.estimates() if one.prior.is_free and one.is_determined)
    neutral = {prior.name: prior.value(0.0) for prior in carried(usual_errors())}
    values = {**neutral, **{name: fitted.values[name] for name in written}}
    return with_values(case, values), written


def posterior_of(cases: Sequence[Case], fitted: Fit) -> Posterior:
    """A fit ready to be kept; the first case is the one that is calibrated."""
    case = cases[0]
    _, written = calibrated(case, fitted)
    along = {prior.name for prior in carried(usual_errors())}
    factors = {found.key for found in uncertain_inputs(case) if found.by == "factor"}
    ratios = tuple(name for name in written if name in along | factors)
    return Posterior(fitted, written, ratios, tuple(one.filler.material for one in cases))


def for_next(fitted: Fit, fillers: Sequence[str], following: Case) -> Fit:
    """The fit with what the next design does not share with the logs: its own filler, known from the trade alone."""
    if following.filler.material not in fillers:
        extra = []
        kept = [prior for prior in fitted.priors if prior.name not in OF_FILLER]
        for found in uncertain_inputs(following):
            if found.key in OF_FILLER:
                extra.append(of_range(found.key, found.low, found.high, found.words, found.source, kind=found.kind))
        keep = [n for n, prior in enumerate(fitted.priors) if prior in kept]
        jacobian = np.hstack([fitted.jacobian[:, keep], np.zeros((fitted.jacobian.shape[0], len(extra)))])
        coordinates = np.concatenate([fitted.coordinates[keep], np.zeros(len(extra))])
        return replace(fitted, priors=(*kept, *extra), jacobian=jacobian, coordinates=coordinates)
    return fitted


def to_json(posterior: Posterior) -> dict[str, Any]:
    """A posterior as a dictionary."""
    fitted = posterior.fit
    return {
        "priors": [asdict(prior) for prior in fitted.priors],
        "coordinates": fitted.coordinates.tolist(),
        "covariance": fitted.covariance.tolist(),
        "values": values_at(fitted.priors, fitted.coordinates),
        "written": list(posterior.written),
        "ratios": list(posterior.ratios),
        "fillers": list(posterior.fillers),
    }


def read_posterior(path: Path) -> Posterior:
    """Read what `to_json` wrote.

    Raises
    ------
    InputError
        If it is no such file.
    """
    text = read_text(path, "what calibrate --out wrote")
    try:
        content = json.loads(text)
        priors = tuple(Prior(**entry) for entry in content["priors"])
        coordinates = np.array(content["coordinates"], dtype=np.float64)
        covariance = np.array(content["covariance"], dtype=np.float64)
        written, ratios, fillers = (tuple(content[name]) for name in ("written", "ratios", "fillers"))
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise InputError(f"{path}: is no posterior.json as annulus calibrate writes it ({error})") from error
    if covariance.shape != (len(priors), len(priors)) or coordinates.size != len(priors):
        raise InputError(f"{path}: holds {len(priors)} parameters and a covariance of shape {covariance.shape}")
    # a square root of what the data add to the prior stands for the Jacobian that made it
    try:
        information = np.linalg.inv(covariance) - np.eye(len(priors))
        squares, directions = np.linalg.eigh(information)
    except np.linalg.LinAlgError as error:
        raise InputError(f"{path}: its covariance is none ({error}); was the file edited?") from error
    jacobian = (directions * np.sqrt(np.maximum(squares, 0.0))).T
    return Posterior(Fit(priors, coordinates, jacobian, np.zeros(0), 1.0, 0), written, ratios, fillers)
