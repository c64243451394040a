"""Closed forms of the transient cases: series, products, error functions and an inverted transform.

Goes in: places and times. Comes out: temperatures, one for each place.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import erfc, j0, j1, y0

Floats = NDArray[np.float64]

TERMS = 60  # of a series; at the least Fourier number asked of any, 0.01, the 60th is below 1e-150
POLES = 24  # of the inverse transform, which then is good to 1e-9


def _roots(f: Callable[[float], float], highest: float, spacing: float) -> Floats:
    """Roots of f between 0 and `highest`, where no two are closer than twice the spacing."""
    x = np.arange(1e-6, highest, spacing)
    value = np.array([f(float(one)) for one in x])
    turns = np.flatnonzero(np.sign(value[:-1]) != np.sign(value[1:]))
    return np.array([brentq(f, x[n], x[n + 1], xtol=1e-14, rtol=1e-14) for n in turns])


def cylinder_roots(biot: float) -> Floats:
    """Roots of x J1(x) = Bi J0(x)."""
    return _roots(lambda x: x * j1(x) - biot * j0(x), TERMS * math.pi, 0.5)


def cylinder(biot: float, fourier: float, r: ArrayLike) -> Floats:
    """Excess temperature of a solid cylinder of radius 1 in a film, of the first excess.

    Carslaw & Jaeger, Conduction of Heat in Solids, 7.7, from memory; the sum
    of the coefficients at time zero is 1.
    """
    x = cylinder_roots(biot)
    weight = 2 * biot / ((x**2 + biot**2) * j0(x)) * np.exp(-(x**2) * fourier)
    return j0(np.multiply.outer(np.asarray(r, dtype=float), x)) @ weight


def wall(biot: float, fourier: float, x: ArrayLike) -> Floats:
    """The same of a wall from 0, where no heat passes, to 1, where the film is."""
    root = _roots(lambda b: b * math.sin(b) - biot * math.cos(b), TERMS * math.pi, 0.5)
    weight = 2 * np.sin(root) / (root + np.sin(root) * np.cos(root)) * np.exp(-(root**2) * fourier)
    return np.cos(np.multiply.outer(np.asarray(x, dtype=float), root)) @ weight


def hollow_cylinder(time: float, r: ArrayLike) -> Floats:
    """Ring from r = 1 to 2 of diffusivity 1, at 1 first, faces at 0. Carslaw & Jaeger 13.4, from memory."""
    root = _roots(lambda a: j0(a) * y0(2 * a) - j0(2 * a) * y0(a), TERMS * math.pi, 0.5)
    across = np.multiply.outer(np.asarray(r, dtype=float), root)
    shape = j0(across) * y0(2 * root) - j0(2 * root) * y0(across)
    weight = math.pi * j0(root) / (j0(root) + j0(2 * root)) * np.exp(-(root**2) * time)
    return shape @ weight


def driven_bar(x: float, time: float, length: float, diffusivity: float, swing: float, frequency: float) -> float:
    """Bar at 0 first and always at x = 0; its other end at `swing` times the sine of frequency times time.

    The straight line between the ends and a sine series for the rest (Duhamel).
    """
    n = np.arange(1, 2000)
    decay = diffusivity * (n * math.pi / length) ** 2
    coefficient = 2 * (-1.0) ** (n + 1) / (n * math.pi)
    lag = decay * np.cos(frequency * time) + frequency * np.sin(frequency * time) - decay * np.exp(-decay * time)
    rest = -coefficient * swing * frequency * lag / (decay**2 + frequency**2)
    return float(swing * math.sin(frequency * time) * x / length + rest @ np.sin(n * math.pi * x / length))


def half_space(x: float, time: float, diffusivity: float) -> float:
    """Half-space at 0 first, its face at 1. Carslaw & Jaeger 2.4, from memory."""
    return float(erfc(x / (2 * math.sqrt(diffusivity * time))))


def half_space_with_film(x: float, time: float, diffusivity: float, conductivity: float, film: float) -> float:
    """Half-space at 0 first in a film from 1. Carslaw & Jaeger 2.7, from memory."""
    reach = math.sqrt(diffusivity * time)
    ratio = film / conductivity
    behind = math.exp(ratio * x + (ratio * reach) ** 2) * erfc(x / (2 * reach) + ratio * reach)
    return float(erfc(x / (2 * reach)) - behind)


def two_layers(
    x: float,
    time: float,
    thickness: tuple[float, float],
    conductivity: tuple[float, float],
    capacity: tuple[float, float],
    contact: float,
    other_side: bool = False,
) -> float:
    """Two layers at 0 first, the first one's face at 1, the second one's back adiabatic, a contact between.

    Laplace transform, inverted on the contour of Talbot (fixed form).

    Parameters
    ----------
    x : float
        From the face. [m]
    other_side : bool
        At the contact: the side of the second layer.

    References
    ----------
    J. Abate, P. P. Valko, Multi-precision Laplace transform inversion, Int. J.
    Numer. Meth. Engng 60 (2004) 979. From memory, checked on 1/p and by the digits quoted.
    """
    (one, two), (k1, k2), (c1, c2) = thickness, conductivity, capacity

    def transform(p: complex) -> complex:
        q1, q2 = np.sqrt(p * c1 / k1), np.sqrt(p * c2 / k2)
        back = contact + 1 / (k2 * q2 * np.tanh(q2 * two))  # temperature over flux, seen from the contact
        at_face = np.cosh(q1 * one) + np.sinh(q1 * one) / (back * k1 * q1)
        at_contact = 1 / (p * at_face)
        if x < one or (x == one and not other_side):
            return at_contact * (np.cosh(q1 * (one - x)) + np.sinh(q1 * (one - x)) / (back * k1 * q1))
        beyond = at_contact * (1 - contact / back)
        return beyond * np.cosh(q2 * (one + two - x)) / np.cosh(q2 * two)

    return talbot(transform, time)


def talbot(transform: Callable[[complex], complex], time: float) -> float:
    """Function of time whose Laplace transform is given."""
    reach = 2 * POLES / (5 * time)
    total = 0.5 * math.exp(reach * time) * transform(complex(reach)).real
    for n in range(1, POLES):
        angle = n * math.pi / POLES
        cot = 1 / math.tan(angle)
        p = reach * angle * complex(cot, 1)
        bend = complex(1, angle + (angle * cot - 1) * cot)
        total += (np.exp(time * p) * transform(p) * bend).real
    return float(total * reach / POLES)


def lumped(time: float, first: float, gas: float, time_constant: float) -> float:
    """Body of one temperature in a film."""
    return gas + (first - gas) * math.exp(-time / time_constant)
