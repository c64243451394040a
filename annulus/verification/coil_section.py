"""V30: eight tubes in the filler between flue and shroud, the whole conducting section of a coil heater.

Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid, graded_faces
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import region_extremes
from annulus.conduction.steady import Field, solve_steady
from annulus.shapes import Disc, Rectangle
from annulus.verification.rows import Also, Case, Row, relative, worst, zero

Floats = NDArray[np.float64]

MM = 1e-3
TURNS = range(8)
RADII = [75 * MM, 76.5 * MM, 93 * MM, 94 * MM, 124.5 * MM, 125 * MM]
LAYERS = ("flue", "filler", "shroud", "insulation", "jacket")
HEIGHT = 136 * MM
CENTRE, TUBE, BORE = 83.15 * MM, 6.35 * MM, 5.55 * MM
WATER = 40.0
FINE, COARSE = 0.125 * MM, 0.25 * MM
FINE_SHARE = 1 / 3  # of what is allowed on the coarse cells


@dataclass(frozen=True)
class Reference:
    """Heat flows [W], temperatures [degC] and the resistance from bore face to water [K/W]."""

    gas_side: float
    tubes: float
    outside: float
    wall_max: float
    wall_min: float
    filler_max: float
    outer_face_max: float
    mean_bore_face: float
    resistance: float


# Finite elements made for this case: quadratic, body-fitted curved triangles, energy-exact; two meshes agree
# to 2e-6 and two independently written assemblies to 1e-6. Keyed by the filler's conductivity [W/(m K)].
REFERENCES = {
    0.3: Reference(887.17, 882.91, 4.2602, 89.947, 85.992, 89.655, 23.988, 88.568, 0.05501),
    2.0: Reference(955.95, 951.51, 4.4407, 54.037, 50.446, 53.695, 24.157, 52.798, 0.01345),
}
LAST_DIGIT = 1e-5  # of the resistance [K/W]

# Name in the table, unit, allowed on the coarse cells. Temperatures are judged above the water's.
# Heat alone is a weak test, for the gas film allows only 980.6 W; the resistance is the strong one.
QUANTITIES = {
    "resistance": ("resistance, bore face to water", "K/W", 0.01),
    "gas_side": ("heat in from the gas", "W", 0.002),
    "tubes": ("heat to the tubes", "W", 0.002),
    "outside": ("heat to the outside", "W", 0.005),
    "wall_max": ("flue wall, hottest", "degC", 0.01),
    "wall_min": ("flue wall, coldest", "degC", 0.01),
    "filler_max": ("filler, hottest", "degC", 0.01),
    "outer_face_max": ("outer face, hottest", "degC", 0.01),
    "mean_bore_face": ("bore face, mean", "degC", 0.01),
}


def solve_section(size: float, filler: float) -> Field:
    """Field of the section.

    Parameters
    ----------
    size : float
        Of square cells in the filler; a few lie across each sheet, and they grow in the insulation. [m]
    filler : float
        Conductivity. [W/(m K)]
    """

    def wished(r: Floats) -> Floats:
        in_filler, in_wall, in_shroud = (r > RADII[1] - 1e-9) & (r < RADII[2] + 1e-9), r < RADII[1], r < RADII[3]
        growing = np.minimum(size + 0.2 * np.abs(r - RADII[3]), 3 * MM)
        return np.select([in_filler, in_wall, in_shroud], [size, 0.375 * MM, 0.5 * MM], growing)

    z_face = np.linspace(0.0, HEIGHT, round(HEIGHT / size) + 1)
    painted = [Painted("filler", Rectangle(RADII[1], RADII[2], 0.0, HEIGHT))]
    for i in TURNS:
        z = (8.5 + 17 * i) * MM
        painted.append(Painted(f"tube {i}", Disc(CENTRE, z, TUBE)))
        painted.append(Painted(f"bore {i}", Disc(CENTRE, z, BORE), conducts=False))
    painted += [
        Painted(name, Rectangle(RADII[n], RADII[n + 1], 0.0, HEIGHT))
        for n, name in enumerate(LAYERS)
        if name != "filler"
    ]
    conductivity = {"flue": 45.0, "filler": filler, "shroud": 45.0, "insulation": 0.08, "jacket": 45.0}
    conductivity |= {f"tube {i}": 390.0 for i in TURNS}
    boundaries = {"r_min": Film(30.0, 550.0), "r_max": Film(10.0, 20.0)}
    boundaries |= {f"bore {i}": Film(2000.0, WATER) for i in TURNS}
    return solve_steady(cut_grid(Grid(graded_faces(RADII, wished), z_face), painted), conductivity, boundaries)


def heat_of_turns(field: Field) -> Floats:
    """Heat that each tube takes. [W]"""
    return -np.array([field.heat_into(f"bore {i}") for i in TURNS])


def measure(field: Field) -> Reference:
    """The reference's quantities; extremes over whole solids, their faces included."""
    on_bore = field.pieces.boundary_surfaces("r_min")
    mean = np.average(field.surface_temperature[on_bore], weights=field.pieces.surfaces.area[on_bore])
    tubes = float(heat_of_turns(field).sum())
    wall_min, wall_max = region_extremes(field, "flue")
    return Reference(
        gas_side=field.heat_into("r_min"),
        tubes=tubes,
        outside=-field.heat_into("r_max"),
        wall_max=wall_max,
        wall_min=wall_min,
        filler_max=region_extremes(field, "filler")[1],
        outer_face_max=float(field.surface_temperature[field.pieces.boundary_surfaces("r_max")].max()),
        mean_bore_face=float(mean),
        resistance=(float(mean) - WATER) / tubes,
    )


def filler_rows(filler: float) -> list[Row]:
    """Rows of one conductivity of the filler: shown on the fine cells, held on the coarse ones too."""
    expected, note, on_coarse = REFERENCES[filler], f", filler k {filler:g}", f"cells of {COARSE / MM:g} mm"
    fields = {size: solve_section(size, filler) for size in (FINE, COARSE)}
    found = {size: measure(field) for size, field in fields.items()}
    rows = []
    for name, (words, unit, allowed) in QUANTITIES.items():
        exact = getattr(expected, name)
        scale = abs(exact - WATER) if unit == "degC" else exact
        rounding = LAST_DIGIT / exact / 2 if name == "resistance" else 0.0
        also = Also(on_coarse, getattr(found[COARSE], name), allowed + rounding)
        computed, tolerance = getattr(found[FINE], name), allowed * FINE_SHARE + rounding
        rows.append(Row(f"{words}{note}", unit, exact, computed, tolerance, scale, also=(also,)))

    turns = {size: heat_of_turns(field) for size, field in fields.items()}
    each = expected.tubes / 8
    also = Also(on_coarse, float(turns[COARSE].mean()), 0.002)
    one = Row(f"heat to one tube{note}", "W", each, float(turns[FINE].mean()), 0.002 * FINE_SHARE, each, also=(also,))
    spread = {size: float(np.ptp(heat) / heat.mean()) for size, heat in turns.items()}
    also = Also(on_coarse, spread[COARSE], 0.001)
    alike = Row(f"spread of the eight tubes{note}", "", 0.0, spread[FINE], 0.001 * FINE_SHARE, 1.0, also=(also,))
    lost = worst(abs(field.imbalance) / field.heat_into("r_min") for field in fields.values())
    return [*rows, one, alike, zero(f"heat lost, of the heat{note}", lost, 1e-9)]


def bore_area() -> Row:
    """Pappus: the ring's surface is circumference times path of the centre."""
    pieces = solve_section(COARSE, 0.3).pieces
    area = float(pieces.surfaces.area[pieces.boundary_surfaces("bore 3")].sum())
    return relative("surface of one bore", "m2", 2 * math.pi * BORE * 2 * math.pi * CENTRE, area, 1e-11)


def section_rows() -> list[Row]:
    return [row for filler in REFERENCES for row in filler_rows(filler)] + [bore_area()]


CASES = (
    Case(
        "V30",
        "Eight copper tubes between flue and shroud",
        "everything together, as a heater has it; 0.3 mm of filler between wall and tube",
        "finite elements, body-fitted quadratic triangles, two meshes agree to 2e-6",
        section_rows,
    ),
)
