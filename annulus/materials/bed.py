"""Conductivity of a packed bed of grains with gas in the pores.

Goes in: conductivities of grain and gas, porosity, grain size, temperature.
Comes out: the effective conductivity of the bed by the cell model of Zehner,
Bauer and Schluender, with radiation from grain to grain, the rarefied-gas
effect in fine powder and the flattened contacts between grains.

The published formula is a difference of large terms divided by powers of a
quantity N that passes through zero (for B = kp without radiation). The form
computed here is the same function after both divisions were carried out by
hand, so it is smooth through N = 0 and loses no digits near it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from annulus.errors import MaterialError

STEFAN_BOLTZMANN = 5.670374419e-8  # CODATA 2018 [W/(m2 K4)]
FREE_PATH_AIR = 0.07e-6  # mean free path of air at FREE_PATH_TEMPERATURE and 1 atm [m]
FREE_PATH_TEMPERATURE = 296.0  # [K]
ACCOMMODATION_AIR = 0.85  # thermal accommodation of air on mineral grains, 0.8-0.9 [-]

SPHERES, CRUSHED, CYLINDERS = 1.25, 1.4, 2.5  # shape factor Cf of the model [-]

SERIES_BELOW = 0.1  # |y| under which the power series replaces the logarithm
SERIES_TERMS = 18  # 0.1**18 lies below double precision

Floats = NDArray[np.float64]


def radiation_ratio(
    temperature: ArrayLike, grain_diameter: float, emissivity: float, fluid_conductivity: ArrayLike
) -> Floats:
    """Radiation from grain to grain as a conductivity over that of the gas.

    Parameters
    ----------
    temperature : array_like
        Mean bed temperature. [K]
    grain_diameter : float
        Grain diameter. [m]
    emissivity : float
        Emissivity of the grain surface, in (0, 1]. [-]
    fluid_conductivity : array_like, broadcastable with temperature
        Conductivity of the gas. [W/(m K)]

    Returns
    -------
    ndarray
        k_r = 4 sigma T^3 d / ((2/E - 1) k_f). [-]

    References
    ----------
    R. Bauer, E. U. Schluender, Int. Chem. Eng. 18 (1978) 181; quoted from the
    project's fact sheet, which follows the VDI Heat Atlas.
    """
    T = np.asarray(temperature, dtype=float)
    k_f = np.asarray(fluid_conductivity, dtype=float)
    return 4.0 * STEFAN_BOLTZMANN * T**3 * grain_diameter / ((2.0 / emissivity - 1.0) * k_f)


def rarefaction_ratio(
    temperature: ArrayLike, grain_diameter: float, accommodation: float = ACCOMMODATION_AIR
) -> Floats:
    """Conductivity of air in the narrow pore gaps over that of free air.

    Below a grain size of about 0.1 mm the gap near a contact is no longer
    wide against the mean free path (Smoluchowski effect).

    Parameters
    ----------
    temperature : array_like
        Mean bed temperature, air at about one atmosphere. [K]
    grain_diameter : float
        Grain diameter. [m]
    accommodation : float
        Thermal accommodation coefficient, in (0, 1]. [-]

    Returns
    -------
    ndarray
        k_G = 1 / (1 + 2 l / d), l the modified mean free path; in (0, 1). [-]

    References
    ----------
    As `radiation_ratio`.
    """
    T = np.asarray(temperature, dtype=float)
    stretch = 2.0 * (2.0 - accommodation) / accommodation
    free_path = FREE_PATH_AIR * T / FREE_PATH_TEMPERATURE * stretch
    return 1.0 / (1.0 + 2.0 * free_path / grain_diameter)


def relative_conductivity(
    solid_ratio: ArrayLike,
    porosity: float,
    shape_factor: float = SPHERES,
    radiation: ArrayLike = 0.0,
    rarefaction: ArrayLike = 1.0,
    flattening: float = 0.0,
) -> Floats:
    """Bed conductivity over gas conductivity, everything dimensionless.

    Parameters
    ----------
    solid_ratio : array_like
        kp, grain over gas conductivity, positive. [-]
    porosity : float
        Void fraction e, in (0, 1). [-]
    shape_factor : float
        Cf: `SPHERES` 1.25, `CRUSHED` 1.4, `CYLINDERS` 2.5. [-]
    radiation : array_like
        k_r of `radiation_ratio`; 0 leaves radiation out. [-]
    rarefaction : array_like
        k_G of `rarefaction_ratio`; 1 leaves it out. [-]
    flattening : float
        phi, fraction of the cell's cross-section where grains touch: 0 for
        loose hard grains, about 0.001 for sand, 0.0077 for steel balls. [-]

    Returns
    -------
    ndarray
        k_bed / k_f, in the broadcast shape of the arrays. [-]

    Raises
    ------
    MaterialError
        If an argument lies outside the range given above; all are named.

    Notes
    -----
    With B = Cf ((1-e)/e)^(10/9), P = kp + k_r, Q = B (k_G + (1 - k_G) P) and
    y = (P - Q)/Q the published core term becomes, exactly,

        k_c = (k_G kp/Q) { (kp/Q) [(B-1) h(y) - B g(y) + (B+1)/(1+y)]
                           + (B+1) k_r / (B k_G (1+y)) }

    where ln(1+y) = y - y^2 g/2 and g = 1 - y h, so g(0) = 1 and h(0) = 2/3.
    Without radiation and rarefaction, kp = B gives k_c = (2 B + 1)/3 and
    kp = 1 gives a bed exactly as conducting as its gas.

    Where grain and fluid conduct nearly alike the model falls under the
    lowest value any mixture can have (`conductivity_bounds`): by up to 2 % for
    kp below 6, and up to 4 % for kp below 50 at porosities near 0.9. Mineral
    and metal grains packed in air have kp of 30 and more.

    Bed and wall: within some four grain diameters of a wall the packing is
    looser and the bed conducts less than this.

    References
    ----------
    P. Zehner, E. U. Schluender, Chem. Ing. Tech. 42 (1970) 933;
    R. Bauer, E. U. Schluender, Int. Chem. Eng. 18 (1978) 181; equations quoted
    from the project's fact sheet, which checked them in an open library that
    cites the VDI Heat Atlas, 11th ed.
    """
    kp = np.asarray(solid_ratio, dtype=float)
    k_r = np.asarray(radiation, dtype=float)
    k_G = np.asarray(rarefaction, dtype=float)
    _check_relative(kp, porosity, shape_factor, k_r, k_G, flattening)

    B = shape_factor * ((1.0 - porosity) / porosity) ** (10.0 / 9.0)
    P = kp + k_r
    Q = B * (k_G + (1.0 - k_G) * P)
    y = P / Q - 1.0
    g, h = _log_remainders(y)
    bracket = (B - 1.0) * h - B * g + (B + 1.0) / (1.0 + y)
    core = (k_G * kp / Q) * ((kp / Q) * bracket + (B + 1.0) * k_r / (B * k_G * (1.0 + y)))

    solid_share = np.sqrt(1.0 - porosity)
    through_gas = (1.0 - solid_share) * porosity * (1.0 / (porosity - 1.0 + 1.0 / k_G) + k_r)
    through_core = solid_share * (flattening * kp + (1.0 - flattening) * core)
    return np.asarray(through_gas + through_core)


def bed_conductivity(
    temperature: ArrayLike,
    solid_conductivity: ArrayLike,
    fluid_conductivity: ArrayLike,
    porosity: float,
    grain_diameter: float,
    emissivity: float,
    shape_factor: float = SPHERES,
    flattening: float = 0.0,
    accommodation: float | None = ACCOMMODATION_AIR,
) -> Floats:
    """Effective conductivity of a dry packed bed.

    Parameters
    ----------
    temperature : array_like
        Mean bed temperature. [K]
    solid_conductivity, fluid_conductivity : array_like, broadcastable with temperature
        Conductivity of grain and of pore gas at that temperature. [W/(m K)]
    porosity : float
        Void fraction, in (0, 1). [-]
    grain_diameter : float
        Grain diameter, positive. [m]
    emissivity : float
        Emissivity of the grain surface, in (0, 1]. [-]
    shape_factor, flattening : float
        As `relative_conductivity`. [-]
    accommodation : float or None
        As `rarefaction_ratio`; None leaves the rarefied-gas effect out. [-]

    Returns
    -------
    ndarray
        Bed conductivity, shape of the broadcast arrays. [W/(m K)]

    Raises
    ------
    MaterialError
        If an argument lies outside its range; all are named.

    Notes
    -----
    Published comparison at 350-1300 K: good when hot, too high when cold
    (J. Heat Transfer 116, 1994, as reported in the project's fact sheet).

    References
    ----------
    As `relative_conductivity`.
    """
    T = np.asarray(temperature, dtype=float)
    k_s = np.asarray(solid_conductivity, dtype=float)
    k_f = np.asarray(fluid_conductivity, dtype=float)
    faults = [
        f"{name} {value!r} {rule}"
        for name, value, holds, rule in (
            ("temperature", temperature, _positive(T), "K must be positive and finite"),
            ("fluid_conductivity", fluid_conductivity, _positive(k_f), "W/mK must be positive and finite"),
            ("grain_diameter", grain_diameter, _positive(grain_diameter), "m must be positive and finite"),
            ("emissivity", emissivity, 0.0 < emissivity <= 1.0, "must lie in (0, 1]"),
            (
                "accommodation",
                accommodation,
                accommodation is None or 0.0 < accommodation <= 1.0,
                "must lie in (0, 1], or be None to leave the rarefied gas out",
            ),
        )
        if not holds
    ]
    if faults:
        raise MaterialError("packed bed: " + "; ".join(faults))

    k_r = radiation_ratio(T, grain_diameter, emissivity, k_f)
    k_G = 1.0 if accommodation is None else rarefaction_ratio(T, grain_diameter, accommodation)
    return k_f * relative_conductivity(k_s / k_f, porosity, shape_factor, k_r, k_G, flattening)


def conductivity_bounds(solid_conductivity: float, fluid_conductivity: float, porosity: float) -> tuple[float, float]:
    """Lowest and highest conductivity of any isotropic mixture of the two.

    Parameters
    ----------
    solid_conductivity, fluid_conductivity : float
        Positive. [W/(m K)]
    porosity : float
        Volume fraction of the fluid, in (0, 1). [-]

    Returns
    -------
    low, high : float
        [W/(m K)]

    Raises
    ------
    MaterialError
        If an argument lies outside its range.

    Notes
    -----
    The bound with the fluid continuous is also Maxwell's formula for spheres
    in a fluid. Radiation and rarefied gas are not in it.

    References
    ----------
    Z. Hashin, S. Shtrikman, J. Appl. Phys. 33 (1962) 3125; numbers checked
    against the project's verification sheet, case V27.
    """
    _check_relative(
        np.asarray(solid_conductivity / fluid_conductivity), porosity, SPHERES, np.zeros(()), np.ones(()), 0.0
    )

    def spheres_in(outer: float, inner: float, inner_share: float) -> float:
        lean = inner_share * (outer - inner)
        return outer * (inner + 2.0 * outer - 2.0 * lean) / (inner + 2.0 * outer + lean)

    bounds = (
        spheres_in(fluid_conductivity, solid_conductivity, 1.0 - porosity),
        spheres_in(solid_conductivity, fluid_conductivity, porosity),
    )
    return min(bounds), max(bounds)


def _log_remainders(y: Floats) -> tuple[Floats, Floats]:
    """g and h with ln(1+y) = y - y^2 g/2 and g = 1 - y h, accurate through y = 0."""
    small = np.abs(y) < SERIES_BELOW
    y_small = np.where(small, y, 0.0)
    y_large = np.where(small, 1.0, y)

    h_series = np.zeros_like(y_small)
    for n in range(SERIES_TERMS, -1, -1):
        h_series = 2.0 / (n + 3.0) - y_small * h_series
    g_direct = 2.0 * (y_large - np.log1p(y_large)) / y_large**2
    h = np.where(small, h_series, (1.0 - g_direct) / y_large)
    g = np.where(small, 1.0 - y_small * h_series, g_direct)
    return g, h


def _positive(value: ArrayLike) -> bool:
    array = np.asarray(value, dtype=float)
    return bool(np.all(np.isfinite(array)) and np.all(array > 0.0))


def _check_relative(
    kp: Floats, porosity: float, shape_factor: float, k_r: Floats, k_G: Floats, flattening: float
) -> None:
    faults = [
        f"{name} {value!r} must {rule}"
        for name, value, holds, rule in (
            ("solid_ratio", kp, _positive(kp), "be positive and finite"),
            ("porosity", porosity, 0.0 < porosity < 1.0, "lie between 0 and 1; was a per cent figure meant?"),
            ("shape_factor", shape_factor, _positive(shape_factor), "be positive and finite"),
            ("radiation", k_r, bool(np.all(np.isfinite(k_r)) and np.all(k_r >= 0.0)), "not be negative"),
            ("rarefaction", k_G, _positive(k_G) and bool(np.all(k_G <= 1.0)), "lie in (0, 1]"),
            ("flattening", flattening, 0.0 <= flattening < 1.0, "lie in [0, 1)"),
        )
        if not holds
    ]
    if faults:
        raise MaterialError("packed bed: " + "; ".join(faults))
