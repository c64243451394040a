"""Plane shapes in the (r, z) plane: what a section is drawn with and a grid is cut by.

Goes in: lengths in metres. Comes out: frozen rectangles and discs. In plane
coordinates r and z are simply x and y.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from annulus.errors import GeometryError


@dataclass(frozen=True)
class Rectangle:
    """Rectangle with sides along r and z. All lengths in [m]."""

    r_min: float
    r_max: float
    z_min: float
    z_max: float

    def __post_init__(self) -> None:
        values = (self.r_min, self.r_max, self.z_min, self.z_max)
        if not all(map(math.isfinite, values)) or self.r_max <= self.r_min or self.z_max <= self.z_min:
            raise GeometryError(f"rectangle {values} m: each side must have a positive, finite length")


@dataclass(frozen=True)
class Disc:
    """Disc of given centre and radius. All lengths in [m]."""

    r: float
    z: float
    radius: float

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (self.r, self.z, self.radius))) or self.radius <= 0:
            raise GeometryError(f"disc at ({self.r}, {self.z}) m: radius {self.radius} m must be positive")
