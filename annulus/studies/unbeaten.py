"""Designs that no other beats in two respects at once.

Goes in: two numbers of each design, their errors, and which way is better.
Comes out: the designs that remain when all beaten ones are taken away.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray


def unbeaten(values: ArrayLike, errors: ArrayLike, more_is_better: Sequence[bool]) -> NDArray[np.bool_]:
    """Which designs nothing beats.

    Parameters
    ----------
    values, errors : array_like, shape (n_designs, n_respects)
        Each respect in a unit of its own; errors not negative.
    more_is_better : sequence of bool, length n_respects

    Returns
    -------
    ndarray of bool, shape (n_designs,)

    Notes
    -----
    A design is beaten by one that is no worse in any respect and better in one
    by more than the errors of both together (as independent ones). So of two
    designs that cannot be told apart neither beats the other.
    """
    sign = np.where(more_is_better, 1.0, -1.0)
    good = np.asarray(values, float).reshape(-1, sign.size) * sign
    spread = np.asarray(errors, float).reshape(-1, sign.size)
    remains = np.ones(len(good), dtype=bool)
    for n, (mine, my_error) in enumerate(zip(good, spread, strict=True)):
        no_worse = (good >= mine).all(axis=1)
        better = (good - mine > np.hypot(spread, my_error)).any(axis=1)
        remains[n] = not (no_worse & better).any()
    return remains
