"""Film between flue gas and pipe: convection by a named law, plus gas radiation.

Goes in: gas flow, bore, heated length, gas and wall temperature by bands, the
gas. Comes out: a `GasFilm`, convective and radiative coefficient apart. A
multiplier fitted from a burn log is the caller's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.errors import InputError
from annulus.films.gas import GasLaws
from annulus.films.gas_radiation import COLDEST, radiative_coefficient
from annulus.films.natural import nusselt_vertical, softened
from annulus.films.pipe_convection import (
    LAMINAR_END,
    mean_buoyancy,
    nusselt_en13384,
    nusselt_forced,
    opposed_factor,
    reynolds,
)
from annulus.films.properties import GRAVITY, Values, first_beyond

SOOTED_WALL = 0.95  # emissivity of the inside of a flue after its first fire
WIDE_BORE = 1e3  # Ra_D D / L; above it a tube wall convects as a free plate (Elenbaas 1942, from memory)
DEFAULT_LAW = "opposed"
WITH_ENDS = float(np.nextafter(0.0, -1.0)), float(np.nextafter(1.0, 2.0))  # bounds of an emissivity, 0 and 1 allowed


@dataclass(frozen=True, eq=False)
class _Flow:
    """What a convection law may ask of the flow; arrays over bands, each computed once."""

    mass_flow: ArrayLike
    diameter: ArrayLike
    length: ArrayLike
    gas: GasLaws
    gas_temperature: NDArray[np.float64]
    wall_temperature: NDArray[np.float64]

    @cached_property
    def viscosity(self) -> Values:
        return self.gas.viscosity(self.gas_temperature)

    @cached_property
    def conductivity(self) -> Values:
        return self.gas.conductivity(self.gas_temperature)

    @cached_property
    def re(self) -> Values:
        return reynolds(self.mass_flow, self.diameter, self.viscosity)

    @cached_property
    def pr(self) -> Values:
        return self.gas.cp(self.gas_temperature) * self.viscosity / self.conductivity

    @cached_property
    def slenderness(self) -> Values:
        return np.asarray(self.diameter) / self.length

    @cached_property
    def forced(self) -> Values:
        return nusselt_forced(self.re, self.pr, self.slenderness) * self.conductivity / self.diameter

    @cached_property
    def standard(self) -> Values:
        return nusselt_en13384(self.re, self.pr, self.slenderness) * self.conductivity / self.diameter

    @cached_property
    def _natural(self) -> tuple[Values, Values]:
        film = 0.5 * (self.gas_temperature + self.wall_temperature)
        viscosity, conductivity = self.gas.viscosity(film), self.gas.conductivity(film)
        pr = self.gas.cp(film) * viscosity / conductivity
        drive = softened(self.gas_temperature - self.wall_temperature) / film
        grashof = GRAVITY * drive * np.asarray(self.length) ** 3 * (self.gas.density(film) / viscosity) ** 2
        rayleigh = grashof * pr
        return rayleigh, nusselt_vertical(rayleigh, pr) * conductivity / self.length

    @property
    def rayleigh(self) -> Values:
        """On the heated length, at the film temperature."""
        return self._natural[0]

    @property
    def natural(self) -> Values:
        """Pipe wall as a vertical plate of the heated length. [W/(m2 K)]"""
        return self._natural[1]


def _forced(flow: _Flow) -> Values:
    return flow.forced


def _opposed(flow: _Flow) -> Values:
    return np.cbrt(flow.forced**3 + flow.natural**3)


def _standard(flow: _Flow) -> Values:
    return flow.standard


def _opposed_turbulent(flow: _Flow) -> Values:
    viscosity = flow.viscosity / flow.gas.density(flow.gas_temperature)
    ratio = np.minimum(flow.wall_temperature / flow.gas_temperature, 1.0)
    grashof = GRAVITY * mean_buoyancy(ratio) * np.asarray(flow.diameter) ** 3 / viscosity**2
    return flow.standard * opposed_factor(flow.re, flow.pr, grashof)


LAWS: dict[str, Callable[[_Flow], Values]] = {
    "opposed": _opposed,
    "opposed turbulent": _opposed_turbulent,
    "forced": _forced,
    "EN 13384-1": _standard,
}


@dataclass(frozen=True)
class GasFilm:
    """Film coefficients on the inside of the flue, one per band.

    Attributes
    ----------
    convective, radiative : ndarray
        Both refer to T_gas - T_wall. [W/(m2 K)]
    reynolds : ndarray
        At the gas temperature.
    in_range : ndarray of bool
        Whether every law used holds there.
    range_note : str
        What lies outside, in words; empty if nothing does.
    law : str
        Name of the convection law.
    """

    convective: NDArray[np.float64]
    radiative: NDArray[np.float64]
    reynolds: NDArray[np.float64]
    in_range: NDArray[np.bool_]
    range_note: str
    law: str

    @property
    def total(self) -> NDArray[np.float64]:
        """Convective plus radiative. [W/(m2 K)]"""
        return self.convective + self.radiative


def gas_film(
    mass_flow: ArrayLike,
    diameter: ArrayLike,
    length: ArrayLike,
    gas_temperature: ArrayLike,
    wall_temperature: ArrayLike,
    gas: GasLaws,
    *,
    wall_emissivity: float = SOOTED_WALL,
    flame_emissivity: ArrayLike = 0.0,
    law: str = DEFAULT_LAW,
) -> GasFilm:
    """Film between flue gas and pipe, by bands of height.

    Convection is the MEAN over the whole heated length, given to every band with that band's own
    properties: the entrance part of a law is not spread over the height, so that the bands
    integrate to the mean which the sources publish. A published law is good to +/- 40 % here.

    Laws
    ----
    "opposed" (default): (h_forced^3 + h_natural^3)^(1/3), forced by `nusselt_forced`, natural by
        `nusselt_vertical` on the heated length. The gas cools as it rises, so buoyancy opposes the
        flow at the wall; a flue runs at Re 1000-5000 with Gr/Re of order 1000, far beyond the few
        tens at which opposed pipe flow turns unstable (Scheele and Hanratty 1962, from memory). It is
        mixed by eddies, so the two parts add; they do not subtract as in a laminar opposed film. Of the
        laws here it alone has both limits right (all forced, all natural) and is smooth at every flow.
    "opposed turbulent": `nusselt_en13384` times `opposed_factor`; higher, below Re 3000 beyond its data.
    "forced": `nusselt_forced`; no buoyancy, a lower bound.
    "EN 13384-1": the chimney standard; no buoyancy.

    Parameters
    ----------
    mass_flow : float or ndarray
        Positive. Of many fires a column, shape (n_fires, 1); so are the other numbers then. [kg/s]
    diameter : float or ndarray
        Bore of the flue. [m]
    length : float or ndarray
        Whole heated length. [m]
    gas_temperature, wall_temperature : float or ndarray
        Bulk gas and inner surface, by bands. [K]
    gas : FlueGas or FlueGases
    wall_emissivity : float
        Inner surface, sooted by default; the exchange law wants more than 0.8.
    flame_emissivity : float or ndarray
        Luminous soot in the gas, 0 to 1.
    law : str
        A key of `LAWS`.

    Returns
    -------
    GasFilm
        Arrays of the broadcast shape of the two temperatures.

    Raises
    ------
    InputError
        On a size, flow or temperature that is not positive, an emissivity outside 0 to 1,
        or an unknown law.
    """
    hot, wall = np.broadcast_arrays(np.asarray(gas_temperature, dtype=float), np.asarray(wall_temperature, dtype=float))
    _check(mass_flow, diameter, length, hot, wall, wall_emissivity, flame_emissivity, law)
    flow = _Flow(mass_flow, diameter, length, gas, hot, wall)
    number = flow.re

    convective = LAWS[law](flow)
    radiative = radiative_coefficient(gas, diameter, hot, wall, wall_emissivity, flame_emissivity)

    complaints = _complaints(flow, number, wall_emissivity, law)
    outside = np.zeros(hot.shape, dtype=bool)
    for where, _ in complaints:
        outside |= where
    return GasFilm(
        convective=np.asarray(convective),
        radiative=np.asarray(radiative),
        reynolds=np.asarray(number),
        in_range=np.asarray(~outside),
        range_note="; ".join(words for where, words in complaints if np.any(where)),
        law=law,
    )


def _check(
    mass_flow: ArrayLike,
    diameter: ArrayLike,
    length: ArrayLike,
    hot: NDArray[np.float64],
    wall: NDArray[np.float64],
    wall_emissivity: float,
    flame_emissivity: ArrayLike,
    law: str,
) -> None:
    faults = [
        f"{name} {beyond} {unit} must be positive and finite"
        for name, value, unit in (
            ("gas flow", mass_flow, "kg/s"),
            ("flue bore", diameter, "m"),
            ("heated length", length, "m"),
        )
        if (beyond := first_beyond(value, 0.0, float("inf"))) is not None
    ]
    for name, field in (("gas", hot), ("wall", wall)):
        if not np.all(np.isfinite(field) & (field > 0.0)):
            faults.append(
                f"{name} temperature must be positive kelvin everywhere; was degC given, or did an iteration diverge?"
            )
    for name, value in (("wall emissivity", wall_emissivity), ("flame emissivity", flame_emissivity)):
        if (beyond := first_beyond(value, *WITH_ENDS)) is not None:
            faults.append(f"{name} {beyond} must lie between 0 and 1")
    if law not in LAWS:
        faults.append(f"convection law {law!r} is unknown; choose one of {', '.join(LAWS)}")
    if faults:
        raise InputError("gas film: " + "; ".join(faults))


def _complaints(
    flow: _Flow, number: NDArray[np.float64], wall_emissivity: float, law: str
) -> list[tuple[NDArray[np.bool_], str]]:
    """Each rule that may be broken: where, and in what words."""
    everywhere = np.ones(number.shape, dtype=bool)
    found = [
        (~flow.gas.in_range(flow.gas_temperature), "gas outside the 250-2000 K of its property laws"),
        (flow.gas_temperature < COLDEST, "gas below 200 C: emissivity held at its 200 C value"),
        (everywhere & (wall_emissivity <= 0.8), "wall emissivity not above 0.8: gas radiation overstated"),
        (everywhere & (flow.slenderness > 1.0), "heated length under one bore: entrance law stretched"),
        (number > 1e6, "Reynolds number above 1e6"),
    ]
    if law in ("opposed", "opposed turbulent"):
        hotter = flow.gas_temperature < flow.wall_temperature
        found.append((hotter, "wall hotter than gas: buoyancy aids the flow, the law opposes it"))
    if law == "opposed":
        # a degree or two of difference: the natural part is too small for its range to matter
        driven = np.abs(flow.gas_temperature - flow.wall_temperature) > 10.0
        room_in_bore = flow.rayleigh * flow.slenderness**4
        found.append((driven & (room_in_bore < WIDE_BORE), "bore too thin for its length: wall layers meet"))
    if law == "opposed turbulent":
        found.append((number < LAMINAR_END, "Reynolds number below 2300: turbulent law held at 2300"))
    return found
