"""Film coefficient between a wall and the packed bed that lies against it.

Goes in: grain diameter, gas, temperature, emissivities, roughness. Comes out:
the conductance of the layer at the wall, where grains touch in points and the
packing is looser. It counts beside the bed's own conductivity, taken up to the
wall.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.errors import MaterialError
from annulus.materials.bed import (
    ACCOMMODATION_AIR,
    FREE_PATH_AIR,
    FREE_PATH_TEMPERATURE,
    STEFAN_BOLTZMANN,
)

COVERED = 0.8  # share of the wall that the first layer of grains covers [-]
ROUGHNESS = 5e-6  # of sand grains and sheet steel; trade figure of the same law's worked values [m]

Floats = NDArray[np.float64]


def wall_coefficient(
    temperature: ArrayLike,
    gas_conductivity: ArrayLike,
    grain_diameter: float,
    wall_emissivity: float | None = None,
    bed_emissivity: float | None = None,
    roughness: float = ROUGHNESS,
    accommodation: float = ACCOMMODATION_AIR,
) -> Floats:
    """Heat transfer from a wall into a packed bed of round grains.

    Parameters
    ----------
    temperature : array_like
        Near the wall, air at about one atmosphere. [K]
    gas_conductivity : array_like, broadcastable with temperature
        Of the gas in the pores, at that temperature. [W/(m K)]
    grain_diameter : float
        [m]
    wall_emissivity, bed_emissivity : float or None
        In (0, 1]; radiation is left out unless both are given. [-]
    roughness : float
        Height that keeps grain and wall apart where they touch. [m]
    accommodation : float
        Thermal accommodation of the gas, in (0, 1]. [-]

    Returns
    -------
    ndarray
        [W/(m2 K)]

    Raises
    ------
    MaterialError
        If an argument lies outside its range; all are named.

    Notes
    -----
    With x = 2 (l + s) / d, l the modified mean free path and s the roughness,

        h = 0.8 (4 k/d) [(1 + x) ln(1 + 1/x) - 1] + 0.2 (2 k/d) / (sqrt(2) + x) + h_r

    where the second term is the share of the wall that the next layer of grains
    faces, and h_r = 4 sigma T^3 / (1/E_wall + 1/E_bed - 1). Grains in air from
    0.05 to 2 mm; the law is for a bed at rest. The roughness is the least known:
    half of it gives a fifth more for sand.

    References
    ----------
    E. U. Schluender, VDI Heat Atlas, section on heat transfer from a wall to a
    packed bed (from memory). Values at 400 K: the project's fact sheet, whose
    short form lacks the second term but whose numbers hold it.
    """
    T, k = np.asarray(temperature, dtype=float), np.asarray(gas_conductivity, dtype=float)
    emissivities = [e for e in (wall_emissivity, bed_emissivity) if e is not None]
    faults = [
        f"{name} {value!r} must {rule}"
        for name, value, holds, rule in (
            ("temperature", temperature, bool(np.all(np.isfinite(T) & (T > 0))), "be positive and finite"),
            ("gas_conductivity", gas_conductivity, bool(np.all(np.isfinite(k) & (k > 0))), "be positive and finite"),
            ("grain_diameter", grain_diameter, 0 < grain_diameter < math.inf, "be positive and finite"),
            ("emissivity", emissivities, all(0 < e <= 1 for e in emissivities), "lie in (0, 1]"),
            ("roughness", roughness, 0 <= roughness < math.inf, "not be negative"),
            ("accommodation", accommodation, 0 < accommodation <= 1, "lie in (0, 1]"),
        )
        if not holds
    ]
    if faults:
        raise MaterialError("layer of a packed bed at a wall: " + "; ".join(faults))

    free_path = FREE_PATH_AIR * T / FREE_PATH_TEMPERATURE * 2.0 * (2.0 - accommodation) / accommodation
    x = 2.0 * (free_path + roughness) / grain_diameter
    touching = COVERED * 4.0 * k / grain_diameter * ((1.0 + x) * np.log1p(1.0 / x) - 1.0)
    behind = (1.0 - COVERED) * 2.0 * k / grain_diameter / (math.sqrt(2.0) + x)
    radiation = np.zeros_like(T)
    if wall_emissivity is not None and bed_emissivity is not None:
        radiation = 4.0 * STEFAN_BOLTZMANN * T**3 / (1.0 / wall_emissivity + 1.0 / bed_emissivity - 1.0)
    return np.asarray(touching + behind + radiation)
