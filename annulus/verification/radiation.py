"""V28: heat across air gaps, by closed forms and in a section; what a plane sees of a row of tubes.

Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import math

import numpy as np

from annulus.conduction.boundaries import STEFAN_BOLTZMANN, Held
from annulus.conduction.steady import solve_steady
from annulus.verification.cavities import (
    MM,
    between_layers,
    height_of,
    patches_of,
    radiate,
    row_of_tubes,
    see,
    view_factor,
)
from annulus.verification.rows import Case, Row, relative, worst, zero

# Grey diffuse surfaces, sigma = 5.670374419e-8 W/(m2 K4). Arithmetic, repeated below:
# plates: sigma (500^4 - 350^4) / (1/0.8 + 1/0.6 - 1), gap free
# cylinders: 2 pi r1 sigma (500^4 - 330^4) / (1/0.8 + (r1/r2)(1/0.3 - 1)), r1 = 76.5, r2 = 93 mm
PLATES, PLATES_FILM, CYLINDERS = 1405.08180, 9.3672120, 435.49447  # W/m2, W/(m2 K), W/m
GAP = {"plane": 20 * MM, "cylindrical": 16.5 * MM}
HEAT = {"plane": PLATES, "cylindrical": CYLINDERS}
WORDS = {"plane": ("plates", "W/m2"), "cylindrical": ("cylinders", "W/m")}
STILL, HARDLY = 0.03, 1e-4  # air [W/(m K)]
ALGEBRA = 1e-6


def heat_per_metre(coordinates: str, height: float, air: float, cells: int = 20) -> tuple[float, float]:
    """Heat from the inner to the outer wall, per metre of height [W/m], and the share of it that is lost."""
    cold, shine = (350.0, 0.6) if coordinates == "plane" else (330.0, 0.3)
    inner = 0.0 if coordinates == "plane" else 76.5 * MM
    pieces = between_layers(GAP[coordinates], height, cells, inner, coordinates)
    radiation = radiate(pieces, see(pieces, patch=height / cells), {"inside": 0.8, "outside": shine}, {})
    conductivity = {"air": air, "inside": 1e4, "outside": 1e4}
    walls = {"r_min": Held(500.0), "r_max": Held(cold)}
    field = solve_steady(pieces, conductivity, walls, radiation=radiation)
    heat = field.heat_into("r_min")
    return heat / height, abs(field.imbalance) / heat


def conducted(coordinates: str, air: float) -> float:
    """Through still air alone, per metre of height. [W/m]"""
    if coordinates == "plane":
        return air * 150.0 / GAP["plane"]
    return 2 * math.pi * air * 170.0 / math.log(93 / 76.5)


def formula_rows() -> list[Row]:
    """The closed forms themselves."""
    plates = STEFAN_BOLTZMANN * (500.0**4 - 350.0**4) / (1 / 0.8 + 1 / 0.6 - 1)
    r1, r2 = 76.5 * MM, 93 * MM
    cylinders = 2 * math.pi * r1 * STEFAN_BOLTZMANN * (500.0**4 - 330.0**4) / (1 / 0.8 + r1 / r2 * (1 / 0.3 - 1))
    return [
        relative("plates, formula", "W/m2", PLATES, plates, ALGEBRA),
        relative("plates as a film coefficient, formula", "W/m2K", PLATES_FILM, plates / 150.0, ALGEBRA),
        relative("cylinders, formula", "W/m", CYLINDERS, cylinders, ALGEBRA),
    ]


def gap_rows() -> list[Row]:
    """A section 8 m high loses 0.07 % at its ends, which reradiate; the limit of tall ones follows from two heights."""
    rows, lost = [], []
    for coordinates, expected in HEAT.items():
        name, unit = WORDS[coordinates]
        radiant = {}
        for words, air, height in (("still air", STILL, 8.0), ("hardly any air", HARDLY, 8.0), ("low", HARDLY, 2.0)):
            heat, share = heat_per_metre(coordinates, height, air)
            radiant[words] = heat - conducted(coordinates, air)
            lost.append(share)
        low = radiant.pop("low")
        rows += [relative(f"{name}, {words}, 8 m high", unit, expected, heat, 1e-3) for words, heat in radiant.items()]
        endless = (4 * radiant["hardly any air"] - low) / 3
        rows.append(relative(f"{name}, without ends", unit, expected, endless, 1e-4))
    return [*rows, zero("heat lost, of the heat", worst(lost), 1e-7)]


PITCHES = (1.02, 1.1, 1.25, 1.5, 2.0, 3.0, 5.0)  # of a row of tubes, of their diameter
ASPECTS = (0.5, 1.0, 4.0)  # height of two plates over their distance
SIGHT = 5e-3  # 0.15 % was measured, of rays along rims


def row_factor(pitch_over_diameter: float) -> float:
    """Share of a plane's radiation that an infinite row of equal cylinders before it takes.

    Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 6th ed., table 13.1,
    "infinite plane and row of cylinders"; from memory. Rechecked below by crossed strings.
    """
    x = 1 / pitch_over_diameter
    return 1 - math.sqrt(1 - x**2) + x * math.atan(math.sqrt((1 - x**2) / x**2))


def row_factor_by_strings(pitch_over_diameter: float) -> float:
    """The same by Hottel's crossed strings between neighbours of unit diameter.

    Cylinder to cylinder: (2 crossed - 2 uncrossed) / 2; what a cylinder does not send to its two
    neighbours goes to both sides alike, and reciprocity turns that round to the plane.
    """
    pitch = pitch_over_diameter
    crossed = math.sqrt(pitch**2 - 1) + math.asin(1 / pitch)  # tangent through the middle, wrapped on both
    to_neighbour = (crossed - pitch) / math.pi
    return math.pi / pitch * (1 - 2 * to_neighbour) / 2


def seen_of_row(ratio: float) -> float:
    """What the plane sees of the tubes, in the middle pitch of fifteen."""
    turns, pitch = 15, ratio * 12 * MM
    pieces = row_of_tubes(turns, pitch, 48)
    found = see(pieces, patch=pitch / 4)
    height = height_of(pieces, found) / pitch
    middle = patches_of(pieces, found, "r_min")
    middle = middle[(height[middle] > turns // 2) & (height[middle] < turns // 2 + 1)]
    tubes = np.flatnonzero(found.region >= 1)
    return float(found.exchange[np.ix_(middle, tubes)].sum() / found.area[middle].sum())


def sight_rows() -> list[Row]:
    """View factors in a section, by rays, against closed forms."""
    rows = []
    for aspect in ASPECTS:
        pieces = between_layers(20 * MM, aspect * 20 * MM, 40, across=24)
        found = see(pieces, patch=2 * MM)
        exact = math.sqrt(1 + aspect**-2) - 1 / aspect  # Hottel, aligned strips: sqrt(1 + (h/w)^2) - h/w
        note = f", plates {aspect:g} gaps high"
        across, aside, own = (view_factor(pieces, found, "inside", name) for name in ("outside", "z_min", "inside"))
        rows.append(relative(f"view of the other plate{note}", "", exact, across, SIGHT))
        rows.append(relative(f"view of an end{note}", "", (1 - exact) / 2, aside, SIGHT))
        rows.append(Row(f"view of itself{note}", "", 0.0, own, 1e-9))
    for ratio in PITCHES:
        words = f"view of a row of tubes, pitch {ratio:g} D"
        rows.append(relative(words, "", row_factor(ratio), seen_of_row(ratio), SIGHT))
    apart = worst(abs(row_factor(ratio) / row_factor_by_strings(ratio) - 1) for ratio in (1.001, 1.05, *PITCHES))
    return [*rows, zero("row of tubes, formula against strings", apart, 1e-12)]


def radiation_rows() -> list[Row]:
    return [*formula_rows(), *gap_rows(), *sight_rows()]


CASES = (
    Case(
        "V28",
        "Grey surfaces across still air",
        "radiation between faces in a section, and what sees what",
        "closed forms; Incropera & DeWitt ch. 13, Hottel's crossed strings",
        radiation_rows,
    ),
)
