"""Sums and differences of long vectors, each in one pass over them: compiled.

Goes in: vectors. Comes out: their products and differences.
"""

from __future__ import annotations

from numba import njit


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
