"""Next guesses of an iteration from the last guesses and what came of them.

Goes in: guesses and their answers, of many small problems, one a row, or of one
large problem as they come. Comes out: the guesses whose misses should be least:
where repeating alone creeps, this strides.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MIXED = 15  # earlier steps of a large problem that take part; with 5, 10, 15 circulating air takes 37, 32, 28 rounds
NEGLIGIBLE = 1e-14  # square of what is left of a step, of its own square: below, it repeats another step


def mixed(tried: Sequence[Floats], found: Sequence[Floats]) -> Floats:
    """Next guesses from the last guesses and their answers, so that their misses cancel best (Anderson), row by row.

    References
    ----------
    H. F. Walker, P. Ni, SIAM J. Numer. Anal. 49 (2011) 1715. From memory.
    """
    misses = [b - a for a, b in zip(tried, found, strict=True)]
    guess, miss = found[-1].copy(), misses[-1].copy()
    basis: list[tuple[Floats, Floats, Floats]] = []
    for n in range(len(found) - 1, 0, -1):
        step, change = misses[n] - misses[n - 1], found[n] - found[n - 1]
        whole = _dot(step, step)
        for one, its_change, square in basis:
            share = _dot(one, step) / square
            step, change = step - share * one, change - share * its_change
        square = _dot(step, step)
        square = np.where(square > NEGLIGIBLE * whole, square, np.inf)
        share = _dot(step, miss) / square
        miss, guess = miss - share * step, guess - share * change
        basis.append((step, change, square))
    return guess


def _dot(one: Floats, other: Floats) -> Floats:
    """Inner products of rows, as a column."""
    return np.einsum("bn,bn->b", one, other)[:, None]


class Mixing:
    """The same for one problem of many unknowns, a round at a time.

    Changes of the step are kept orthonormal, each with the change of where it
    leads (state + step), so that the best mixture needs inner products only.

    References
    ----------
    H. F. Walker, P. Ni, SIAM J. Numer. Anal. 49 (2011) 1715. From memory.
    """

    def __init__(self) -> None:
        self._answered: list[Floats] = []
        self._led: list[Floats] = []
        self._last: tuple[Floats, Floats] | None = None

    def next(self, state: Floats, step: Floats) -> Floats:
        """State to try next.

        Parameters
        ----------
        state, step : ndarray, shape (n,)
            The plain iteration would go on with state + step.

        Returns
        -------
        ndarray, shape (n,)
        """
        goal = state + step
        if self._last is None:
            self._last = goal, step
            return goal
        led, answered = goal - self._last[0], step - self._last[1]
        self._last = goal.copy(), step
        size = float(np.linalg.norm(answered))
        for known, where in zip(self._answered, self._led, strict=True):
            _mix(known, where, answered, led, step, goal)
        left = float(np.linalg.norm(answered))
        if left**2 > NEGLIGIBLE * size**2:
            answered /= left
            led /= left
            goal -= float(answered @ step) * led
            self._answered = [*self._answered, answered][-MIXED:]
            self._led = [*self._led, led][-MIXED:]
        return goal


@njit(cache=True, fastmath={"reassoc", "contract"})
def _mix(known, where, answered, led, step, goal):
    """Take what one earlier change tells out of the newest change, and its share of the step out of the goal."""
    share = known_share = 0.0
    for k in range(known.size):
        share += known[k] * step[k]
        known_share += known[k] * answered[k]
    for k in range(known.size):
        answered[k] -= known_share * known[k]
        led[k] -= known_share * where[k]
        goal[k] -= share * where[k]
