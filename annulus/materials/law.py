"""A property as a function of temperature, and the material that carries it.

Goes in: numbers with their range. Comes out: frozen laws, callable on kelvin
(number or array), and frozen materials made of them. Nothing here knows which
materials exist.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.errors import MaterialError, quoted
from annulus.units import parse

ZERO_CELSIUS = parse("0 degC", "temperature")  # [K]
FAMILIES = ("metal", "filler", "insulation", "coating", "gas")
PACKINGS = ("loose", "vibrated", "tapped", "pressed")
MARKS = {
    "P+": "published, the number was seen in public text",
    "P": "published, quoted from memory",
    "C": "common practice, no single source",
    "calc": "computed by this program or an open property library",
    "user": "given in the case file",
}
CHECK_POINTS = 200  # temperatures at which a polynomial is tested for being positive

Floats = NDArray[np.float64]
Kind = Literal["constant", "table", "polynomial"]


@dataclass(frozen=True)
class Law:
    """A positive property as a function of temperature.

    Outside `T_min`..`T_max` the value at the nearer end is held; `in_range`
    tells. A table is linear between its points and held beyond its first and
    last point, which may lie inside the range.

    Build one with `Law.constant`, `Law.table` or `Law.polynomial`.

    Parameters
    ----------
    kind : {"constant", "table", "polynomial"}
    coefficients : tuple of float
        The value; the values at `points`; or c_i of sum c_i (T - origin)^i,
        lowest power first. [unit of the property]
    points : tuple of float
        Temperatures of a table, rising; empty otherwise. [K]
    T_min, T_max : float
        Range in which the law is known to hold. [K]
    origin : float
        Zero of the polynomial's variable, 273.15 for a law in degC. [K]

    Raises
    ------
    MaterialError
        If a value is not positive and finite, the points do not rise, or the
        range is empty; all faults are named.
    """

    kind: Kind
    coefficients: tuple[float, ...]
    points: tuple[float, ...] = ()
    T_min: float = 0.0
    T_max: float = math.inf
    origin: float = 0.0
    _x: Floats = field(init=False, repr=False, compare=False)
    _y: Floats = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_x", np.array(self.points, dtype=float))
        object.__setattr__(self, "_y", np.array(self.coefficients, dtype=float))
        faults = self._faults()
        if faults:
            raise MaterialError(f"{self.kind} law: " + "; ".join(faults))

    @classmethod
    def constant(cls, value: float, T_min: float = 0.0, T_max: float = math.inf) -> Law:
        """The same value at every temperature; T_min and T_max in [K]."""
        return cls("constant", (float(value),), (), float(T_min), float(T_max))

    @classmethod
    def table(
        cls,
        temperatures: Sequence[float],
        values: Sequence[float],
        T_min: float | None = None,
        T_max: float | None = None,
    ) -> Law:
        """Linear between (temperature [K], value) points.

        T_min and T_max [K] default to the first and last temperature.
        """
        points = tuple(float(T) for T in temperatures)
        if not points:
            raise MaterialError("table law: has no points; give at least one pair of temperature and value")
        low = points[0] if T_min is None else float(T_min)
        high = points[-1] if T_max is None else float(T_max)
        return cls("table", tuple(float(v) for v in values), points, low, high)

    @classmethod
    def polynomial(cls, coefficients: Sequence[float], T_min: float, T_max: float, origin: float = 0.0) -> Law:
        """Sum of c_i (T - origin)^i, lowest power first; temperatures in [K]."""
        values = tuple(float(c) for c in coefficients)
        return cls("polynomial", values, (), float(T_min), float(T_max), float(origin))

    @overload
    def __call__(self, temperature: float) -> float: ...

    @overload
    def __call__(self, temperature: Floats) -> Floats: ...

    def __call__(self, temperature: float | Floats) -> float | Floats:
        """Value of the property.

        Parameters
        ----------
        temperature : float or ndarray
            [K]

        Returns
        -------
        float or ndarray
            A number for a number, an array of the same shape for an array.
        """
        T = np.asarray(temperature, dtype=float)
        if self.kind == "constant":
            result = np.where(np.isnan(T), np.nan, self._y[0])
        else:
            result = self._evaluate(np.clip(T, self.T_min, self.T_max))
        return float(result) if T.ndim == 0 else result

    def scaled(self, factor: float) -> Law:
        """The same law with all its values multiplied."""
        return replace(self, coefficients=tuple(factor * value for value in self.coefficients))

    def in_range(self, temperature: ArrayLike) -> bool | NDArray[np.bool_]:
        """Whether the law is known to hold at a temperature [K], shape as given."""
        T = np.asarray(temperature, dtype=float)
        inside = (self.T_min <= T) & (self.T_max >= T)
        return bool(inside) if T.ndim == 0 else inside

    def _evaluate(self, T: Floats) -> Floats:
        if self.kind == "table":
            return np.asarray(np.interp(T, self._x, self._y))
        return np.asarray(np.polynomial.polynomial.polyval(T - self.origin, self._y))

    def _faults(self) -> list[str]:
        faults = []
        if not self.T_min < self.T_max or not self.T_min >= 0.0:
            faults.append(f"range {self.T_min} K to {self.T_max} K must rise and start at or above 0 K")
        if self.kind == "table":
            if len(self.points) != len(self.coefficients):
                faults.append(f"{len(self.points)} temperatures for {len(self.coefficients)} values")
            if any(not b > a for a, b in zip(self.points, self.points[1:], strict=False)):
                faults.append(f"temperatures {self.points} K must rise; sort the table and drop doubles")
        if not np.all(np.isfinite(self._y)):
            faults.append(f"values {self.coefficients} must be finite")
        if faults:
            return faults
        if self.kind == "polynomial":
            if not math.isfinite(self.T_max):
                return [f"range ends at {self.T_max} K; a polynomial needs a finite range"]
            lowest = float(np.min(self._evaluate(np.linspace(self.T_min, self.T_max, CHECK_POINTS))))
        else:
            lowest = float(np.min(self._y))
        return [] if lowest > 0.0 else [f"value {lowest!r} must be positive over the whole range"]


@dataclass(frozen=True)
class Material:
    """What the other rooms need to know of a material. SI throughout.

    Parameters
    ----------
    name : str
        Plain trade name.
    family : {"metal", "filler", "insulation", "coating", "gas"}
    conductivity : Law
        [W/(m K)]
    density : float
        Bulk density as installed. [kg/m3]
    heat_capacity : Law
        [J/(kg K)]
    emissivity : float
        Total emissivity of its usual surface; 0 for a gas. [-]
    service_limit : float or None
        Highest continuous temperature; None where no figure is known. [K]
    source, mark : str
        Where the conductivity comes from, and one of `MARKS`.
    note : str
        What a reader should know.
    zinc : bool
        True for zinc-coated parts, which must not face the fire.
    warnings : tuple of str
        Sentences a builder must be shown when the material is used.
    packing : str or None
        One of `PACKINGS` for a filler that comes in several.
    expansion : float or None
        Linear thermal expansion. [1/K]
    conductivity_band : tuple of float or None
        Lowest and highest conductivity met near the temperatures of use. [W/(m K)]
    usual_thickness : tuple of float or None
        Lowest and highest thickness of a coating. [m]
    allowable_stress : Law or None
        Allowable tensile stress. [Pa]
    grain_diameter : float or None
        Of a packed bed. [m]

    Raises
    ------
    MaterialError
        If a value is impossible; all faults are named.
    """

    name: str
    family: str
    conductivity: Law
    density: float
    heat_capacity: Law
    emissivity: float
    service_limit: float | None
    source: str
    mark: str
    note: str = ""
    zinc: bool = False
    warnings: tuple[str, ...] = ()
    packing: str | None = None
    expansion: float | None = None
    conductivity_band: tuple[float, float] | None = None
    usual_thickness: tuple[float, float] | None = None
    allowable_stress: Law | None = None
    grain_diameter: float | None = None

    def __post_init__(self) -> None:
        faults = []
        if not self.name.strip():
            faults.append("name must not be empty")
        if self.family not in FAMILIES:
            faults.append(f"family {self.family!r} must be one of {', '.join(FAMILIES)}")
        if self.mark not in MARKS:
            faults.append(f"mark {self.mark!r} must be one of {', '.join(MARKS)}")
        if not self.source.strip():
            faults.append("source must not be empty")
        if not (math.isfinite(self.density) and self.density > 0.0):
            faults.append(f"density {self.density!r} kg/m3 must be positive")
        lowest = 0.0 if self.family == "gas" else math.ulp(0.0)
        if not lowest <= self.emissivity <= 1.0:
            faults.append(f"emissivity {self.emissivity!r} must lie in (0, 1]; was a per cent figure meant?")
        if self.service_limit is not None and not (
            math.isfinite(self.service_limit) and self.service_limit > ZERO_CELSIUS
        ):
            faults.append(f"service_limit {self.service_limit!r} K must lie above freezing; was degC meant?")
        if self.packing is not None and self.packing not in PACKINGS:
            faults.append(f"packing {self.packing!r} must be one of {', '.join(PACKINGS)}")
        for key in ("conductivity_band", "usual_thickness"):
            band = getattr(self, key)
            if band is not None and not 0.0 < band[0] <= band[1] < math.inf:
                faults.append(f"{key} {band!r} must be positive and rise")
        if faults:
            raise MaterialError(f"material {quoted(self.name)}: " + "; ".join(faults))

    @property
    def label(self) -> str:
        """Name with its packing, for tables and pictures."""
        return self.name if self.packing is None else f"{self.name}, {self.packing}"
