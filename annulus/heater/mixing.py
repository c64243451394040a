"""Next guess of an iteration from the last guesses and what came of them.

Goes in: guesses and their answers. Comes out: the guess whose miss should be
least: where repeating alone creeps, this strides.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def mixed(tried: Sequence[Floats], found: Sequence[Floats]) -> Floats:
    """Blend of answers in which the misses cancel best (Anderson).

    Parameters
    ----------
    tried, found : sequence of ndarray, shape (n,)
        Guesses and their answers, the latest last; with one only, its answer comes back.

    Returns
    -------
    ndarray, shape (n,)

    References
    ----------
    H. F. Walker, P. Ni, SIAM J. Numer. Anal. 49 (2011) 1715. From memory.
    """
    misses = np.stack([b - a for a, b in zip(tried, found, strict=True)])
    if len(misses) == 1:
        return found[-1]
    share = np.linalg.lstsq(np.diff(misses, axis=0).T, misses[-1], rcond=None)[0]
    return np.asarray(found[-1] - share @ np.diff(np.stack(found), axis=0), dtype=np.float64)
