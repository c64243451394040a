"""Sums and differences of long vectors, each in one pass over them: compiled.

Goes in: vectors. Comes out: their products and differences. Large vectors are
taken in two halves side by side, always the same halves, so that results do
not depend on how many threads there are.
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ON_ONE_THREAD = 500_000  # unknowns below which waiting for threads on a busy machine costs more than they save


@njit(cache=True, fastmath={"reassoc", "contract"})
def inner(a, b):
    """Sum of products."""
    total = 0.0
    for k in range(a.size):
        total += a[k] * b[k]
    return total


@njit(cache=True, fastmath={"reassoc", "contract"})
def subtract(a, factor, b, rest):
    """rest = a - factor b."""
    for k in range(a.size):
        rest[k] = a[k] - factor * b[k]


@njit(cache=True, fastmath={"reassoc", "contract"})
def add(a, factor, b):
    """a += factor b; returns |a|^2."""
    total = 0.0
    for k in range(a.size):
        more = a[k] + factor * b[k]
        a[k] = more
        total += more * more
    return total


@njit(cache=True, parallel=True)
def _inner_in_halves(a, b):
    total, cut = np.zeros(2), a.size // 2
    for half in prange(2):
        low, high = (0, cut) if half == 0 else (cut, a.size)
        total[half] = inner(a[low:high], b[low:high])
    return total[0] + total[1]


@njit(cache=True, parallel=True)
def _add_in_halves(a, factor, b):
    total, cut = np.zeros(2), a.size // 2
    for half in prange(2):
        low, high = (0, cut) if half == 0 else (cut, a.size)
        total[half] = add(a[low:high], factor, b[low:high])
    return total[0] + total[1]


def dot(a: Floats, b: Floats) -> float:
    """Inner product."""
    return _inner_in_halves(a, b) if a.size > ON_ONE_THREAD else inner(a, b)


def take_from(a: Floats, factor: float, b: Floats) -> float:
    """Take factor b from a; returns what |a|^2 becomes."""
    return (_add_in_halves if a.size > ON_ONE_THREAD else add)(a, -factor, b)
