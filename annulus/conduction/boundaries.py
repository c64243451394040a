"""Laws of a boundary: what heat flux enters the body at a surface temperature.

Goes in: coefficients, temperatures or fluxes, each one number or a function
of position. Comes out: `linearise(T_surface, r, z) -> (q_0, h)`, meaning a heat
flux q_0 - h T_surface into the body. A new kind of boundary is one class with
that method.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
OfPlace = float | Callable[[Floats, Floats], Floats]

HELD = 1e20  # [W/(m2 K)]; a film beside which any piece's own resistance counts and its own does not
STEFAN_BOLTZMANN = 5.670374419e-8  # [W/(m2 K4)] CODATA 2018


class Boundary(Protocol):
    """Whatever answers `linearise`."""

    def linearise(self, temperature: Floats, r: Floats, z: Floats) -> tuple[Floats, Floats]:
        """Return (q_0, h) at surface temperatures [K] and places [m]; flux into the body is q_0 - h T."""


def _at(value: OfPlace, r: Floats, z: Floats) -> Floats:
    found = value(r, z) if callable(value) else value
    return np.broadcast_to(np.asarray(found, dtype=float), r.shape)


@dataclass(frozen=True)
class Film:
    """Convection: `coefficient` [W/(m2 K)] to `ambient` [K], numbers or functions of (r, z)."""

    coefficient: OfPlace
    ambient: OfPlace

    def linearise(self, temperature: Floats, r: Floats, z: Floats) -> tuple[Floats, Floats]:
        h = _at(self.coefficient, r, z)
        return h * _at(self.ambient, r, z), h


@dataclass(frozen=True)
class Held:
    """Prescribed surface temperature [K], a number or a function of (r, z)."""

    temperature: OfPlace

    def linearise(self, temperature: Floats, r: Floats, z: Floats) -> tuple[Floats, Floats]:
        h = np.full(r.shape, HELD)
        return HELD * _at(self.temperature, r, z), h


@dataclass(frozen=True)
class Flux:
    """Prescribed heat flux into the body [W/m2], a number or a function of (r, z)."""

    flux: OfPlace

    def linearise(self, temperature: Floats, r: Floats, z: Floats) -> tuple[Floats, Floats]:
        return _at(self.flux, r, z).astype(float), np.zeros(r.shape)


@dataclass(frozen=True)
class Radiating:
    """Grey surface of `emissivity` that sees surroundings at `surroundings` [K].

    Linearised about the surface temperature (Newton), so that iterating on it
    converges quadratically.
    """

    emissivity: float
    surroundings: OfPlace
    depends_on_temperature = True

    def linearise(self, temperature: Floats, r: Floats, z: Floats) -> tuple[Floats, Floats]:
        strength = self.emissivity * STEFAN_BOLTZMANN
        h = 4.0 * strength * temperature**3
        flux = strength * (_at(self.surroundings, r, z) ** 4 - temperature**4)
        return flux + h * temperature, h
