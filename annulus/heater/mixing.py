"""Next guesses of an iteration from the last guesses and what came of them.

Goes in: guesses and their answers, one problem a row. Comes out: the guesses
whose misses should be least: where repeating alone creeps, this strides.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

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
