"""What to buy and what it weighs.

Goes in: a case and its shapes. Comes out: lengths, areas, volumes and masses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from annulus.case import Case
from annulus.materials import Material, stock_coil
from annulus.section.rings import disc_volume, rectangle_volume, union
from annulus.shapes import Disc, Rectangle


@dataclass(frozen=True)
class Bill:
    """Amounts for the coil section; bare lengths of flue are not counted.

    Parameters
    ----------
    tube_length_wound : float
        Along the helix. [m]
    tube_length_to_buy : float
        With a tail at each end. [m]
    stock_coil : str or None
        Shortest coil sold that is long enough; None if there is no coil or one
        stock coil does not suffice (a joint has no place inside the shroud).
    filler_volume, void_volume : float
        Cavity without tubes and what else lies in it; voids of gas without tubes. [m3]
    inserts : tuple of (str, float, float)
        What else is packed into the cavity where the case states a void of another material: its label, its
        volume [m3] and its mass [kg], without tubes.
    filler_mass, flue_mass, copper_mass : float
        copper_mass includes the tails, and is that of the tube whatever its metal. [kg]
    sheet_area : float
        Shroud and jacket, each at the middle of its thickness, no seams. [m2]
    shroud_area, jacket_area, insulation_area : float
        At the middle of the thickness. [m2]
    insulation_volume : float
        [m3]
    water_volume_in_coil : float
        Wound part, without tails. [m3]
    """

    tube_length_wound: float
    tube_length_to_buy: float
    stock_coil: str | None
    filler_volume: float
    void_volume: float
    inserts: tuple[tuple[str, float, float], ...]
    filler_mass: float
    flue_mass: float
    copper_mass: float
    sheet_area: float
    shroud_area: float
    jacket_area: float
    insulation_area: float
    insulation_volume: float
    water_volume_in_coil: float


def make_bill(
    case: Case,
    layers: dict[str, tuple[Rectangle, Material]],
    voids: Sequence[tuple[Rectangle, Material]],
    tubes: Sequence[Disc],
    turn_lengths: Sequence[float],
) -> Bill:
    """Bill of a laid-out case.

    Parameters
    ----------
    case : Case
    layers : dict
        Rectangle and material of "filler", "flue", "shroud", ...; absent ones left out.
    voids : sequence of (Rectangle, Material)
        In painting order: what a later one covers is the later one's.
    tubes : sequence of Disc
        Outside of each turn.
    turn_lengths : sequence of float
        [m]

    Returns
    -------
    Bill
    """
    filler_volume = void_volume = filler_mass = 0.0
    inserts: dict[str, tuple[float, float]] = {}
    if "filler" in layers:
        cavity, material = layers["filler"]
        volumes = _volumes(voids, cavity, tubes)
        void_volume = math.fsum(volume for other, volume in volumes if other.family == "gas")
        for other, volume in volumes:
            if other.family != "gas":
                before, mass = inserts.get(other.label, (0.0, 0.0))
                inserts[other.label] = (before + volume, mass + volume * other.density)
        filler_volume = _without_tubes(cavity, tubes) - math.fsum(volume for _, volume in volumes)
        filler_mass = filler_volume * material.density

    wound = math.fsum(turn_lengths)
    to_buy = copper = water = 0.0
    if case.coil is not None:
        coil = case.coil
        outer = coil.tube_outer_diameter / 2
        bore = outer - coil.tube_wall
        to_buy = wound + 2 * coil.tails
        copper = math.pi * (outer**2 - bore**2) * to_buy * case.material(coil.material).density
        water = math.pi * bore**2 * wound

    shroud, jacket, insulation = (_area(layers, name) for name in ("shroud", "jacket", "insulation"))
    return Bill(
        tube_length_wound=wound,
        tube_length_to_buy=to_buy,
        stock_coil=None if case.coil is None else stock_coil(to_buy, case.coil.tube),
        filler_volume=filler_volume,
        void_volume=void_volume,
        inserts=tuple((label, *amounts) for label, amounts in inserts.items()),
        filler_mass=filler_mass,
        flue_mass=rectangle_volume(layers["flue"][0]) * layers["flue"][1].density,
        copper_mass=copper,
        sheet_area=shroud + jacket,
        shroud_area=shroud,
        jacket_area=jacket,
        insulation_area=insulation,
        insulation_volume=rectangle_volume(layers["insulation"][0]) if "insulation" in layers else 0.0,
        water_volume_in_coil=water,
    )


def _volumes(
    voids: Sequence[tuple[Rectangle, Material]], cavity: Rectangle, tubes: Sequence[Disc]
) -> list[tuple[Material, float]]:
    """What each run of voids of one material fills, without tubes: what no later one covers. [m3]"""
    shapes = [shape for shape, _ in voids]
    starts = [n for n, (_, material) in enumerate(voids) if n == 0 or material.label != voids[n - 1][1].label]
    covered = [
        math.fsum(_without_tubes(piece, tubes) for piece in union(shapes[n:], cavity)) for n in [*starts, len(voids)]
    ]
    return [(voids[n][1], whole - later) for n, (whole, later) in zip(starts, pairwise(covered), strict=True)]


def _without_tubes(rectangle: Rectangle, tubes: Sequence[Disc]) -> float:
    return rectangle_volume(rectangle) - math.fsum(disc_volume(tube, rectangle) for tube in tubes)


def _area(layers: dict[str, tuple[Rectangle, Material]], name: str) -> float:
    """Area of a layer at the middle of its thickness; 0 if absent. [m2]"""
    if name not in layers:
        return 0.0
    shape = layers[name][0]
    return math.pi * (shape.r_min + shape.r_max) * (shape.z_max - shape.z_min)
