"""Radiation of carbon dioxide, water vapour and a trace of soot to the flue wall.

Goes in: gas and wall temperature, bore, partial pressures. Comes out: the heat
flux, and the coefficient h_r = q / (T_gas - T_wall), smooth through equal temperatures.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial.polynomial import polyval
from numpy.typing import ArrayLike, NDArray

from annulus.films.gas import GasLaws
from annulus.films.properties import STEFAN_BOLTZMANN, Values

BEAM_OVER_DIAMETER = 0.9  # mean beam length of a long pipe, optical thickness of a flue (0.95 when thin)
COLDEST = 473.15  # K; below, the fit runs out of its data and is held
SOFT_CORNER = 25.0  # K above COLDEST over which holding sets in, so that no kink is left
HOTTEST = 2400.0  # K, end of the fit
LEAST_PATH = 1e-9  # bar cm; keeps the logarithm finite where a species is absent
LIMIT_STEP = 0.1  # K; inside it h_r is drawn straight between T_wall -/+ LIMIT_STEP (error 1e-7)

# Rows: power of x = log10(path / bar cm). Columns: power of t = T / 1000 K.
WATER = np.array(
    [
        [-2.2118, -1.1987, 0.035596],
        [0.85667, 0.93048, -0.14391],
        [-0.10838, -0.17156, 0.045915],
    ]
)
CARBON_DIOXIDE = np.array(
    [
        [-3.9893, 2.7669, -2.1081, 0.39163],
        [1.2710, -1.1090, 1.0195, -0.21897],
        [-0.23678, 0.19731, -0.19544, 0.044644],
    ]
)


def _held(temperature: ArrayLike) -> NDArray[np.float64]:
    """Temperature, held at COLDEST from below with a parabola instead of a corner."""
    over = np.asarray(temperature, dtype=float) - COLDEST
    inside = np.clip(over, -SOFT_CORNER, SOFT_CORNER)
    bend = (inside + SOFT_CORNER) ** 2 / (4.0 * SOFT_CORNER)
    return COLDEST + bend + np.maximum(over - SOFT_CORNER, 0.0)


def _emissivity(table: NDArray[np.float64], temperature: ArrayLike, path: ArrayLike) -> Values:
    t = np.minimum(_held(temperature), HOTTEST) / 1000.0
    x = np.log10(np.maximum(np.asarray(path, dtype=float), LEAST_PATH))
    rows = polyval(t, table.T)
    return np.exp(rows[0] + x * (rows[1] + x * rows[2]))


def emissivity_water(temperature: ArrayLike, path: ArrayLike) -> Values:
    """Emissivity of water vapour at 1 bar and small partial pressure.

    Self-broadening (a factor up to 1.1 at 0.12 bar of vapour) is left out.

    Parameters
    ----------
    temperature : float or ndarray
        473 to 2400 K; colder is held at 473 K. [K]
    path : float or ndarray
        Partial pressure times mean beam length, 0.1 to 1000. [bar cm]

    References
    ----------
    B. Leckner, Combustion and Flame 19, 1972, 33-48; coefficients quoted from memory and
    checked against the charts of H. C. Hottel (they differ by 15-20 % among themselves).
    """
    return _emissivity(WATER, temperature, path)


def emissivity_carbon_dioxide(temperature: ArrayLike, path: ArrayLike) -> Values:
    """Emissivity of carbon dioxide; arguments, range and source as `emissivity_water`."""
    return _emissivity(CARBON_DIOXIDE, temperature, path)


def overlap(path_water: ArrayLike, path_carbon_dioxide: ArrayLike) -> Values:
    """What the sum of the two emissivities counts twice; paths in bar cm. Source as above.

    Zero where the two paths together are under 1 bar cm.
    """
    together = np.maximum(np.asarray(path_water, dtype=float) + path_carbon_dioxide, LEAST_PATH)
    share = np.asarray(path_water, dtype=float) / together
    reach = np.maximum(np.log10(together), 0.0)
    return (share / (10.7 + 101.0 * share) - 0.0089 * share**10.4) * reach**2.76


def gas_emissivity(temperature: ArrayLike, path_water: ArrayLike, path_carbon_dioxide: ArrayLike) -> Values:
    """Emissivity of the mixture; paths in bar cm."""
    return (
        emissivity_water(temperature, path_water)
        + emissivity_carbon_dioxide(temperature, path_carbon_dioxide)
        - overlap(path_water, path_carbon_dioxide)
    )


def gas_absorptivity(
    gas_temperature: ArrayLike,
    wall_temperature: ArrayLike,
    path_water: ArrayLike,
    path_carbon_dioxide: ArrayLike,
) -> Values:
    """What the gas absorbs of black radiation from the wall; paths in bar cm.

    alpha = (T_gas / T_wall)^(1/2) eps(T_wall, path T_wall / T_gas), Leckner's exponent
    for both species; equal to the emissivity at equal temperatures.
    """
    ratio = np.asarray(gas_temperature, dtype=float) / np.asarray(wall_temperature, dtype=float)
    seen = gas_emissivity(wall_temperature, path_water / ratio, path_carbon_dioxide / ratio)
    return np.sqrt(ratio) * seen


def exchange(
    gas_temperature: ArrayLike,
    wall_temperature: ArrayLike,
    emissivity: ArrayLike,
    absorptivity: ArrayLike,
    wall_emissivity: float,
) -> Values:
    """Net radiative flux from gas to a wall that encloses it. [W/m2]

    q = (E_wall + 1) / 2 x sigma (eps T_gas^4 - alpha T_wall^4); for E_wall > 0.8, a
    duller or sooted wall. A shinier wall gets too much.

    References
    ----------
    H. C. Hottel, in McAdams, Heat Transmission, 3rd ed., ch. 4; from memory, checked
    against a worked textbook tube.
    """
    black = np.asarray(emissivity) * np.asarray(gas_temperature, dtype=float) ** 4
    back = np.asarray(absorptivity) * np.asarray(wall_temperature, dtype=float) ** 4
    return 0.5 * (wall_emissivity + 1.0) * STEFAN_BOLTZMANN * (black - back)


def radiative_flux(
    gas: GasLaws,
    diameter: ArrayLike,
    gas_temperature: ArrayLike,
    wall_temperature: ArrayLike,
    wall_emissivity: float,
    flame_emissivity: ArrayLike = 0.0,
) -> Values:
    """Net radiative flux from the flue gas to its pipe. [W/m2]

    Soot adds as one more grey layer: eps = 1 - (1 - eps_gas)(1 - flame_emissivity),
    the same for the absorptivity. Arguments as `gas_side.gas_film`.
    """
    beam = BEAM_OVER_DIAMETER * np.asarray(diameter) * 100.0  # cm
    path_water, path_carbon_dioxide = gas.p_h2o * 1e-5 * beam, gas.p_co2 * 1e-5 * beam
    emitted = gas_emissivity(gas_temperature, path_water, path_carbon_dioxide)
    absorbed = gas_absorptivity(gas_temperature, wall_temperature, path_water, path_carbon_dioxide)
    clear = 1.0 - np.asarray(flame_emissivity)
    return exchange(
        gas_temperature,
        wall_temperature,
        1.0 - (1.0 - emitted) * clear,
        1.0 - (1.0 - absorbed) * clear,
        wall_emissivity,
    )


def radiative_coefficient(
    gas: GasLaws,
    diameter: ArrayLike,
    gas_temperature: ArrayLike,
    wall_temperature: ArrayLike,
    wall_emissivity: float,
    flame_emissivity: ArrayLike = 0.0,
) -> Values:
    """h_r = q / (T_gas - T_wall), with its limit where the two meet. [W/(m2 K)]"""
    hot, wall = np.broadcast_arrays(np.asarray(gas_temperature, dtype=float), np.asarray(wall_temperature, dtype=float))
    gap = hot - wall

    def at(difference: NDArray[np.float64]) -> Values:
        flux = radiative_flux(gas, diameter, wall + difference, wall, wall_emissivity, flame_emissivity)
        return flux / difference

    near = np.abs(gap) < LIMIT_STEP
    if not np.any(near):
        return at(gap)
    step = np.full_like(gap, LIMIT_STEP)
    below, above = at(-step), at(step)
    between = below + (gap + LIMIT_STEP) / (2.0 * LIMIT_STEP) * (above - below)
    return np.where(near, between, at(np.where(near, step, gap)))
