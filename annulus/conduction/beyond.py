"""No field leaves the range of what drives it: one that does so by far is refused.

The second-order matrix keeps the maximum principle only as the grid is refined
(V29 of `annulus verify`): a part of one or two cells can overshoot, and where no
one has seen it yet a field might grow in time. A little of that is discretisation
error; much of it is a wrong number.

Goes in: a field, the laws at its surfaces, heat released in it. Comes out: nothing, or a ConvergenceError.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from annulus.errors import ConvergenceError

Floats = NDArray[np.float64]

MOST_BEYOND = 0.1  # of the range; 0.05 was the most in 1998 of 2000 random sections on 16 cells
LEAST_RANGE = 1e-6  # of the temperature: a range less than this is judged as if it were this


def driving_range(q0: Floats, h: Floats) -> tuple[float, float] | None:
    """Lowest and highest temperature that boundaries draw their surfaces to; None if there is no such boundary.

    Parameters
    ----------
    q0, h : ndarray, shape (n_surfaces,)
        Flux into the body at zero and its fall with temperature. [W/m2], [W/(m2 K)]
    """
    tied = h > 0
    if not tied.any():
        return None
    drawn = q0[tied] / h[tied]
    return float(drawn.min()), float(drawn.max())


def fastest_change(heat: Floats, store: Floats) -> Floats:
    """Fall and rise of the range in which a field can be, by heat that no temperature draws, shape (2,). [K/s]

    With the first-order matrix, no piece warms faster than the fastest would if
    it kept all its own heat (comparison with a field that is the same everywhere
    and rises at that rate). Derived here.

    Parameters
    ----------
    heat : ndarray, shape (n_pieces,)
        Released in each piece or brought by a flux. [W]
    store : ndarray, shape (n_pieces,)
        Heat capacity of each. [J/K]
    """
    rate = heat / store
    return np.array([rate.min(initial=0.0), rate.max(initial=0.0)])


def refuse_beyond(temperature: Floats, low: float, high: float, what: str) -> None:
    """Refuse a field that leaves a range by more than `MOST_BEYOND` of it.

    Parameters
    ----------
    temperature : ndarray
        [K]
    low, high : float
        [K]
    what : str
        What the message calls the field.

    Raises
    ------
    ConvergenceError
    """
    span = max(high - low, LEAST_RANGE * max(abs(low), abs(high)))
    beyond = max(float(temperature.max()) - high, low - float(temperature.min()))
    if not beyond <= MOST_BEYOND * span:
        raise ConvergenceError(
            f"{what}: a temperature leaves the range of {low:.6g} to {high:.6g} K that drives it by {beyond:.3g} K; "
            "is a part only a cell or two across and far from its neighbours in conductivity? Take a finer grid",
            field=temperature,
        )
