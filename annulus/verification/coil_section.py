"""V30: eight tubes in the filler between flue and shroud, the whole conducting section of a coil heater.

Goes in: nothing. Comes out: rows; the section and its measures also serve
the variants with poor contact, narrow gaps and voids.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

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
LAYERS = {"flue": 45.0, "filler": 0.0, "shroud": 45.0, "insulation": 0.08, "jacket": 45.0}  # [W/(m K)]; see `filler`
COPPER, AIR = 390.0, 0.03  # [W/(m K)]
TUBE, BORE = 6.35 * MM, 5.55 * MM
GAS, ROOM, WATER = 550.0, 20.0, 40.0
SIZE = 0.25 * MM  # of cells in the filler on the coarse grid
IN_WALL, IN_SHROUD, LARGEST, GROWTH = 0.375 * MM, 0.5 * MM, 3 * MM, 0.2  # cells elsewhere, and how they grow
ON_STRIP = 0.025 * MM  # cells about a contact strip 0.2 mm wide
COARSE, FINE = 1, 2  # parts into which those cells are split: 0.25 and 0.125 mm
FINE_SHARE = 1 / 3  # of what is allowed on the coarse cells
ON_COARSE = "cells of 0.25 mm"


@dataclass(frozen=True)
class CoilSection:
    """Sizes [m], conductivity of the filler [W/(m K)], contact of tubes and filler [m2 K/W].

    A void is (r_min, r_max, z_min, z_max), filled with air that only conducts.
    """

    filler: float
    pitch: float = 17 * MM
    centre: float = 83.15 * MM
    contact: float = 0.0
    void: tuple[float, float, float, float] | None = None

    @property
    def height(self) -> float:
        return len(TURNS) * self.pitch

    @property
    def middle(self) -> Floats:
        """Height of every tube's centre. [m]"""
        return (np.array(TURNS) + 0.5) * self.pitch

    @property
    def touches(self) -> bool:
        """Whether the tubes touch the flue."""
        return self.centre - RADII[1] < TUBE

    def grid(self, fineness: int) -> Grid:
        """Cells of `SIZE` in the filler, each split into `fineness`; they grow in the insulation.

        Where tubes touch the flue the heat passes a strip narrower than one
        such cell and spreads from it in the flue wall, so cells shrink towards
        the strip in both directions.
        """

        def radial(r: Floats) -> Floats:
            near = ON_STRIP + GROWTH * np.abs(r - RADII[1]) if self.touches else np.full(r.shape, np.inf)
            in_filler, inside, in_shroud = (r > RADII[1] - 1e-9) & (r < RADII[2] + 1e-9), r < RADII[1], r < RADII[3]
            growing = np.minimum(SIZE + GROWTH * np.abs(r - RADII[3]), LARGEST)
            return np.minimum(np.select([in_filler, inside, in_shroud], [SIZE, IN_WALL, IN_SHROUD], growing), near)

        def axial(z: Floats) -> Floats:
            to_middle = np.abs(z[:, None] - self.middle).min(axis=1)
            return np.minimum(SIZE, ON_STRIP + GROWTH * to_middle) if self.touches else np.full(z.shape, SIZE)

        void = self.void or ()
        blocks = self.pitch * np.arange(len(TURNS) + 1)
        fixed = (*blocks, *self.middle) if self.touches else (0.0, self.height, *void[2:])
        return Grid(graded_faces((*RADII, *void[:2]), radial, fineness), graded_faces(fixed, axial, fineness))

    def solve(self, fineness: int) -> Field:
        """Field on the grid of that fineness."""
        layers = {name: Rectangle(RADII[n], RADII[n + 1], 0.0, self.height) for n, name in enumerate(LAYERS)}
        painted = [Painted("filler", layers.pop("filler"))]
        if self.void is not None:
            painted.append(Painted("void", Rectangle(*self.void)))
        for i in TURNS:
            painted.append(Painted(f"tube {i}", Disc(self.centre, float(self.middle[i]), TUBE)))
            painted.append(Painted(f"bore {i}", Disc(self.centre, float(self.middle[i]), BORE), conducts=False))
        painted += [Painted(name, shape) for name, shape in layers.items()]
        tubes = {f"tube {i}": COPPER for i in TURNS}
        conductivity = LAYERS | {"filler": self.filler, "void": AIR} | tubes
        boundaries = {"r_min": Film(30.0, GAS), "r_max": Film(10.0, ROOM)}
        boundaries |= {f"bore {i}": Film(2000.0, WATER) for i in TURNS}
        contacts = {(tube, "filler"): self.contact for tube in tubes}
        return solve_steady(cut_grid(self.grid(fineness), painted), conductivity, boundaries, contacts)


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
TURN = 0.002  # allowed of the heat of one tube
ALIKE = 0.001  # allowed between tubes that sit alike


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


def quantity_row(name: str, expected: Reference, fine: Reference, coarse: Reference, rounding: float = 0.0) -> Row:
    """Row of one quantity, shown on the fine cells and held on the coarse ones too.

    `rounding` is what the reference's digits leave open, of the value.
    """
    words, unit, allowed = QUANTITIES[name]
    exact = getattr(expected, name)
    scale = abs(exact - WATER) if unit == "degC" else exact
    also = Also(ON_COARSE, getattr(coarse, name), allowed + rounding)
    return Row(words, unit, exact, getattr(fine, name), allowed * FINE_SHARE + rounding, scale, also=(also,))


def share_row(words: str, shares: Sequence[float], allowed: float) -> Row:
    """Row of a share that ought to be nothing, on the fine and the coarse cells; a third is allowed on the fine."""
    fine, coarse = shares
    also = Also(ON_COARSE, coarse, allowed)
    return Row(words, "", 0.0, fine, allowed * FINE_SHARE, 1.0, also=(also,))


def filler_rows(filler: float) -> list[Row]:
    """Rows of one conductivity of the filler. [W/(m K)]"""
    expected = REFERENCES[filler]
    fields = {fineness: CoilSection(filler).solve(fineness) for fineness in (FINE, COARSE)}
    fine, coarse = (measure(field) for field in fields.values())
    rows = []
    for name in QUANTITIES:
        rounding = LAST_DIGIT / expected.resistance / 2 if name == "resistance" else 0.0
        rows.append(quantity_row(name, expected, fine, coarse, rounding))
    turns = {fineness: heat_of_turns(field) for fineness, field in fields.items()}
    each = expected.tubes / 8
    also = Also(ON_COARSE, float(turns[COARSE].mean()), TURN)
    rows.append(Row("heat to one tube", "W", each, float(turns[FINE].mean()), TURN * FINE_SHARE, each, also=(also,)))
    spread = [float(np.ptp(turns[fineness]) / turns[fineness].mean()) for fineness in (FINE, COARSE)]
    rows.append(share_row("spread of the eight tubes", spread, ALIKE))
    lost = worst(abs(field.imbalance) / field.heat_into("r_min") for field in fields.values())
    rows.append(zero("heat lost, of the heat", lost, 1e-9))
    return [named(row, f"k {filler:g}") for row in rows]


def named(row: Row, words: str) -> Row:
    """The row with words before its quantity."""
    return replace(row, quantity=f"{words}: {row.quantity}")


def bore_area() -> Row:
    """Pappus: the ring's surface is circumference times path of the centre."""
    section = CoilSection(0.3)
    pieces = section.solve(COARSE).pieces
    area = float(pieces.surfaces.area[pieces.boundary_surfaces("bore 3")].sum())
    return relative("surface of one bore", "m2", 2 * math.pi * BORE * 2 * math.pi * section.centre, area, 1e-11)


def section_rows() -> list[Row]:
    return [row for filler in REFERENCES for row in filler_rows(filler)] + [bore_area()]


CASES = (
    Case(
        "V30",
        "Eight copper tubes between flue and shroud",
        "everything together, as a heater has it, 0.3 mm of filler between wall and tube; k of the filler in W/mK",
        "finite elements, body-fitted quadratic triangles, two meshes agree to 2e-6",
        section_rows,
    ),
)
