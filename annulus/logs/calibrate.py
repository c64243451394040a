"""Parameters fitted to measurements by least squares, with what the measurements do not tell.

Goes in: any `predict(values)` that computes what was measured, the
measurements with their errors, and a `Prior` for each parameter. Comes out: a
`Fit`: values with 90 % intervals, which of them the data determine, and which
combinations they cannot tell apart. No heater is known here.

In coordinates in which every prior is standard normal the sum minimised is
|predicted - measured|^2 / sd^2 + |u|^2, by Gauss-Newton steps that are halved as long as they do
not improve it (a reading that is the least its truth was counts as `one_sided` says). The posterior is the normal of
the last linearisation, widened where the data scatter more than their errors say.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from annulus.errors import ConvergenceError, InputError
from annulus.logs.priors import NINETY, Prior

Floats = NDArray[np.float64]
Predict = Callable[[Mapping[str, float]], Floats]

STEP, LEAST_STEP = 0.25, 0.05  # of the prior's standard deviation, for differences: the least is far above the
# noise of a march in time, and steps shrink to the width of the posterior as it becomes known
MAX_ROUNDS, MAX_STEPS = 8, 6  # Jacobians by differences, and steps with each
SETTLED = 0.3  # standard deviations of the posterior that the last step may move each parameter
MAX_HALVINGS = 3
DETERMINED = 0.6  # posterior over prior width: a parameter known no better than this is not reported
WEAK = 1.0  # singular value below which a direction is known better from the prior than from the data
TAKES_PART = 0.35  # of a direction of unit length, for a parameter to be named in it


@dataclass(frozen=True)
class Estimate:
    """One parameter after the fit.

    Attributes
    ----------
    prior : Prior
    value, low, high : float or None
        None where the data do not determine it.
    width : float
        Posterior over prior standard deviation.
    """

    prior: Prior
    value: float | None
    low: float | None
    high: float | None
    width: float

    @property
    def is_determined(self) -> bool:
        return self.value is not None


@dataclass(frozen=True)
class Blend:
    """A combination of free parameters that the data cannot tell apart, or hardly.

    Attributes
    ----------
    singular_value : float
        Of the scaled Jacobian, what is carried along taken out.
    shares : mapping of str to float
        By parameter, in standard deviations of the priors; those that take part.
    """

    singular_value: float
    shares: Mapping[str, float]


@dataclass(frozen=True)
class Fit:
    """A fit.

    Attributes
    ----------
    priors : tuple of Prior
    coordinates : ndarray, shape (p,)
    jacobian : ndarray, shape (n, p)
        Of predictions over their errors, widened by `misfit`.
    residuals : ndarray, shape (n,)
        Predicted less measured over the error; see `one_sided` for readings that are the least their truth was.
    misfit : float
        Root of the mean square of residuals per degree of freedom; 1 if the errors are right.
    calls : int
        Predictions that were made.
    """

    priors: tuple[Prior, ...]
    coordinates: Floats
    jacobian: Floats
    residuals: Floats
    misfit: float
    calls: int

    @cached_property
    def covariance(self) -> Floats:
        """Of the coordinates, shape (p, p)."""
        return np.asarray(np.linalg.inv(self.jacobian.T @ self.jacobian + np.eye(len(self.priors))), dtype=np.float64)

    @property
    def values(self) -> dict[str, float]:
        """Most likely values by name."""
        return values_at(self.priors, self.coordinates)

    def estimates(self) -> list[Estimate]:
        """All parameters with 90 % intervals; those that the data do not determine without a value."""
        found = []
        for n, prior in enumerate(self.priors):
            width = math.sqrt(self.covariance[n, n])
            u = float(self.coordinates[n])
            if width > DETERMINED:
                found.append(Estimate(prior, None, None, None, width))
                continue
            low, high = prior.value(u - NINETY * width), prior.value(u + NINETY * width)
            found.append(Estimate(prior, prior.value(u), low, high, width))
        return found

    def correlation(self) -> Floats:
        """Of the free parameters, shape (f, f)."""
        free = self._free
        covariance = self.covariance[np.ix_(free, free)]
        width = np.sqrt(np.diag(covariance))
        correlation: Floats = covariance / np.outer(width, width)
        return correlation

    def blends(self) -> list[Blend]:
        """Directions among the free parameters that the data know less of than the priors, weakest first."""
        free = self._free
        rest = [n for n in range(len(self.priors)) if n not in free]
        mine, others = self.jacobian[:, free], self.jacobian[:, rest]
        # what the parameters carried along could explain is no news of the free ones
        whitened = np.linalg.cholesky(np.linalg.inv(np.eye(len(rest)) + others.T @ others)) if rest else None
        information = mine.T @ mine
        if whitened is not None:
            part = whitened.T @ (others.T @ mine)
            information = information - part.T @ part
        squares, directions = np.linalg.eigh(information)
        found = []
        for square, direction in zip(squares, directions.T, strict=True):
            size = math.sqrt(max(float(square), 0.0))
            if size > WEAK:
                continue
            direction = direction * np.sign(direction[np.argmax(np.abs(direction))])
            shares = {
                self.priors[n].name: float(share)
                for n, share in zip(free, direction, strict=True)
                if abs(share) >= TAKES_PART
            }
            found.append(Blend(size, shares))
        return found

    @property
    def _free(self) -> list[int]:
        return [n for n, prior in enumerate(self.priors) if prior.is_free]


def fit(
    predict: Predict,
    measured: Floats,
    errors: Floats,
    priors: Sequence[Prior],
    tell: Callable[[str], None] | None = None,
    is_least: NDArray[np.bool_] | None = None,
) -> Fit:
    """Fit parameters to measurements.

    Parameters
    ----------
    predict : callable
        Values by name to predictions, shape (n,).
    measured, errors : ndarray, shape (n,)
        Errors are standard deviations, independent of one another.
    priors : sequence of Prior
    tell : callable, optional
        Told in a few words what is going on.
    is_least : ndarray of bool, shape (n,), optional
        Measurements that are the least their truth was, such as those of a probe at its end.

    Raises
    ------
    InputError
        If nothing is free or nothing was measured.
    ConvergenceError
        If steps do not settle.
    """
    if not any(prior.is_free for prior in priors):
        raise InputError("calibrate: no parameter is free; name one with --free, such as --free fire.gas_multiplier")
    if not measured.size:
        raise InputError("calibrate: the log has no readings to fit")
    say = tell or (lambda words: None)
    least = np.zeros(measured.size, dtype=bool) if is_least is None else is_least
    calls = 0

    def residuals(u: Floats) -> Floats:
        nonlocal calls
        calls += 1
        say(f"fitting: burn {calls}")
        left = (predict(values_at(priors, u)) - measured) / errors
        return np.where(least, one_sided(left), left)

    u = np.zeros(len(priors))
    r = residuals(u)
    steps = np.full(u.size, STEP)
    sums: list[float] = []
    for _ in range(MAX_ROUNDS):
        jacobian = _differences(residuals, u, r, steps)
        u_new, r_new = _descend(residuals, jacobian, u, r, sums)
        precision = jacobian.T @ jacobian + np.eye(u.size)
        moved, u, r = u_new - u, u_new, r_new
        if float(moved @ precision @ moved) < SETTLED**2 * u.size:
            break
        steps = np.clip(np.sqrt(np.diag(np.linalg.inv(precision))), LEAST_STEP, STEP)
    else:
        raise ConvergenceError(
            f"calibrate: after {MAX_ROUNDS} rounds the fit still moves; is a free parameter at the end of its range, "
            "or does the log belong to another case?",
            residuals=sums,
        )
    known = float(np.trace(np.linalg.solve(precision, jacobian.T @ jacobian)))
    whole = r[~least]  # one that is met by any prediction above it tells nothing of how the others scatter
    misfit = math.sqrt(float(whole @ whole) / max(whole.size - known, 1.0))
    widened = jacobian / max(misfit, 1.0)
    return Fit(tuple(priors), u, widened, r, misfit, calls)


def one_sided(left: Floats) -> Floats:
    """Residual of a reading that is the least its truth was: -sqrt(-2 ln Phi(left)).

    Its square is minus twice the logarithm of the chance of such a reading: none is left where the prediction lies well
    above, and far below it is that of any reading.

    References
    ----------
    J. Tobin, Estimation of relationships for limited dependent variables, Econometrica 26, 1958 (from memory).
    """
    return np.asarray(-np.sqrt(-2.0 * log_ndtr(left)), dtype=np.float64)


def _descend(
    residuals: Callable[[Floats], Floats], jacobian: Floats, u: Floats, r: Floats, sums: list[float]
) -> tuple[Floats, Floats]:
    """Gauss-Newton steps with one Jacobian, which learns from each step by Broyden's rule."""
    jacobian = jacobian.copy()
    for _ in range(MAX_STEPS):
        precision = jacobian.T @ jacobian + np.eye(u.size)
        step = np.linalg.solve(precision, -(jacobian.T @ r + u))
        now = float(r @ r + u @ u)
        if float(step @ precision @ step) < SETTLED**2 * u.size / 4:
            break
        for n in range(MAX_HALVINGS):
            tried = u + 0.5**n * step
            r_tried = residuals(tried)
            if float(r_tried @ r_tried + tried @ tried) < now:
                break
        else:
            break  # no better place along the step: a new Jacobian is due, or the noise of the predictions is reached
        moved = tried - u
        jacobian += np.outer(r_tried - r - jacobian @ moved, moved) / float(moved @ moved)
        u, r = tried, r_tried
        sums.append(float(r @ r))
    return u, r


def values_at(priors: Sequence[Prior], u: Floats) -> dict[str, float]:
    """Values by name at coordinates."""
    return {prior.name: prior.value(float(at)) for prior, at in zip(priors, u, strict=True)}


def _differences(residuals: Callable[[Floats], Floats], u: Floats, r: Floats, steps: Floats) -> Floats:
    """Jacobian by one-sided differences, towards the middle of the prior."""
    columns = []
    for n in range(u.size):
        step = -steps[n] if u[n] > 0 else steps[n]
        moved = u.copy()
        moved[n] += step
        columns.append((residuals(moved) - r) / step)
    return np.stack(columns, axis=1)


@dataclass(frozen=True)
class Forecast:
    """A result that the fit lets one foretell.

    Attributes
    ----------
    value, low, high : float
        With the 90 % interval of the fitted parameters.
    slope : ndarray, shape (p,)
        Of its logarithm along the coordinates.
    """

    value: float
    low: float
    high: float
    slope: Floats

    @property
    def share(self) -> float:
        """Width of the interval over the value."""
        return (self.high - self.low) / self.value


def foretell(fitted: Fit, result: Callable[[Mapping[str, float]], float]) -> Forecast:
    """A positive result at the fitted values with its interval.

    Parameters
    ----------
    fitted : Fit
    result : callable
        Values by name to a positive number, such as the time to target of another design.
    """
    u = fitted.coordinates
    middle = result(fitted.values)
    slope = np.empty(u.size)
    for n in range(u.size):
        step = math.sqrt(fitted.covariance[n, n])
        moved = [u.copy(), u.copy()]
        moved[0][n] += step
        moved[1][n] -= step
        high, low = (result(values_at(fitted.priors, at)) for at in moved)
        slope[n] = math.log(high / low) / (2 * step)
    half = NINETY * math.sqrt(float(slope @ fitted.covariance @ slope))
    return Forecast(middle, middle * math.exp(-half), middle * math.exp(half), slope)
