"""V23, V27: a fin by its formula and as a section; packed beds.

Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import brentq
from scipy.special import i0, i0e, i1, i1e, k0, k0e, k1, k1e

from annulus.conduction.boundaries import Film, Held
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import solve_steady
from annulus.materials import conductivity_bounds, find
from annulus.materials.bed import relative_conductivity
from annulus.shapes import Rectangle
from annulus.verification.order import SMOOTH_ERROR, Reading, of_value, refine, smooth_rows
from annulus.verification.readings import side_temperature
from annulus.verification.rows import Case, Row, relative

MM = 1e-3
ALGEBRA = 1e-6

# Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, sec. 3.6 (annular fin of constant thickness,
# adiabatic tip), from memory; the digits were computed apart from the formula repeated here.
BASE, TIP, THICKNESS, FIN_K, FIN_FILM = 12.5 * MM, 28.5 * MM, 1.0 * MM, 200.0, 40.0
EFFICIENCY, TIP_EXCESS = 0.9510866, 0.9355393
SERIES_TERMS = 40  # those left out add 4e-11


def fin_formula() -> tuple[float, float]:
    """Efficiency, and excess of the tip over that of the base, of a fin with no temperature difference across it."""
    m = math.sqrt(2 * FIN_FILM / (FIN_K * THICKNESS))
    a, b = m * BASE, m * TIP
    shape = i0(a) * k1(b) + k0(a) * i1(b)
    slope = k1(a) * i1(b) - i1(a) * k1(b)
    efficiency = 2 * BASE / (m * (TIP**2 - BASE**2)) * slope / shape
    return float(efficiency), float((i0(b) * k1(b) + k0(b) * i1(b)) / shape)


def fin_series() -> float:
    """Efficiency with the temperature difference across the fin in: 3e-5 below the formula's.

    Separation of variables over half the thickness d: cosines of L z with L tan(L d) = h / k.
    """
    d, reach = 0.5 * THICKNESS, TIP - BASE
    heat = 0.0
    for n in range(SERIES_TERMS):
        L = brentq(
            lambda x: x * math.sin(x * d) * FIN_K - FIN_FILM * math.cos(x * d), n * math.pi / d, (n + 0.5) * math.pi / d
        )
        a, b, fall = L * BASE, L * TIP, math.exp(-2 * L * reach)  # Bessel functions less their exponentials
        slope = k1e(a) * i1e(b) - i1e(a) * k1e(b) * fall
        shape = i0e(a) * k1e(b) * fall + k0e(a) * i1e(b)
        share = 4 * math.sin(L * d) / (2 * L * d + math.sin(2 * L * d))
        heat += FIN_K * 2 * math.pi * BASE * share * math.sin(L * d) * slope / shape
    return float(heat / (FIN_FILM * math.pi * (TIP**2 - BASE**2)))


def fin_readings(size: float) -> dict[str, Reading]:
    """Half the thickness of the fin, cells four times as long as wide, its base 1 K above the room. [m]"""
    cells = (round((TIP - BASE) / size), round(0.5 * THICKNESS / size * 4))
    pieces = cut_grid(
        uniform_grid((BASE, TIP), (0.0, 0.5 * THICKNESS), cells),
        [Painted("fin", Rectangle(BASE, TIP, 0.0, 0.5 * THICKNESS))],
    )
    field = solve_steady(pieces, {"fin": FIN_K}, {"r_min": Held(1.0), "z_max": Film(FIN_FILM, 0.0)}, start=1.0)
    ideal = FIN_FILM * math.pi * (TIP**2 - BASE**2)
    return {
        "efficiency, section": of_value("", fin_series(), field.heat_into("r_min") / ideal),
        "tip excess, section": of_value("", TIP_EXCESS, side_temperature(field, "r_max", 0.25 * THICKNESS)),
    }


def fin_rows() -> list[Row]:
    efficiency, tip = fin_formula()
    rows = smooth_rows(refine(fin_readings, [2 * MM, 1 * MM, 0.5 * MM]))
    return [
        relative("efficiency, formula", "", EFFICIENCY, efficiency, ALGEBRA),
        relative("tip excess, formula", "", TIP_EXCESS, tip, ALGEBRA),
        *rows,
        relative("efficiency, section against formula", "", EFFICIENCY, rows[0].computed, SMOOTH_ERROR),
    ]


# P. Zehner & E. U. Schluender, Chem. Ing. Tech. 42 (1970) 933, no contact, no radiation; the numbers were computed
# apart from the published equations. Fluid, solid, porosity, bed, all in W/(m K).
BEDS = {
    "glass in air": (0.026, 1.1, 0.38, 0.1849391),
    "quartz sand in air": (0.026, 6.0, 0.40, 0.2910815),
    "glass in water": (0.6, 1.1, 0.38, 0.8728491),
    "steel shot in air": (0.026, 16.0, 0.39, 0.3801883),
}
LOWEST, HIGHEST = 0.1328432, 0.5887112  # glass in air: Maxwell-Eucken with the fluid continuous, Hashin-Shtrikman
DRY_SAND = 0.27  # Incropera & DeWitt, table A.3, at 300 K, from memory; measured


def bed_rows() -> list[Row]:
    rows = []
    for name, (fluid, solid, porosity, expected) in BEDS.items():
        computed = fluid * float(relative_conductivity(solid / fluid, porosity))
        rows.append(relative(name, "W/mK", expected, computed, ALGEBRA))
    low, high = conductivity_bounds(1.1, 0.026, 0.38)
    rows.append(relative("glass in air, lowest possible", "W/mK", LOWEST, float(low), ALGEBRA))
    rows.append(relative("glass in air, highest possible", "W/mK", HIGHEST, float(high), ALGEBRA))
    for packing in ("loose", "vibrated"):
        sand = float(np.asarray(find("quartz sand", packing).conductivity(300.0)))
        rows.append(relative(f"library's sand, {packing}, against measured", "W/mK", DRY_SAND, sand, 0.25))
    return rows


CASES = (
    Case(
        "V23",
        "Annular fin with adiabatic tip",
        "a thin disc with films: the formula, and the section solved in (r, z)",
        "closed form, Bessel functions; Incropera & DeWitt 3.6",
        fin_rows,
    ),
    Case(
        "V27",
        "Packed beds",
        "the model behind every filler; radiation from grain to grain left out, but for the library's sand",
        "Zehner & Schluender 1970, computed apart; Hashin-Shtrikman; Incropera & DeWitt table A.3",
        bed_rows,
    ),
)
