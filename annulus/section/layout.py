"""The cut through the heater: regions in painting order, turns, contacts.

Goes in: a `Case`. Comes out: a `Section`. A later region covers an earlier one,
so a touching tube, whose disc reaches into the flue wall by a hair, is cut by
the wall along its contact strip.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from annulus.case import Case, Coil, Filler, tube_centre, turn_length
from annulus.errors import GeometryError, InputError
from annulus.materials import Material, wall_coefficient
from annulus.section.bill import Bill, make_bill
from annulus.section.rings import clip
from annulus.shapes import Disc, Rectangle

Role = Literal["flue", "filler", "void", "tube", "bore", "shroud", "insulation", "jacket"]
COATING_TEMPERATURE = 373.15  # where a coating's conductivity is taken; it hardly changes [K]
WALL_LAYER_TEMPERATURE = 373.15  # where a filler's layer at a wall is taken; 40 K change it by a tenth [K]
REPOSE = math.radians(35)  # slope at which dry sand lies; a tube's underside flatter than this stays clear of it
SLIVER = 1e-9  # a cavity or void thinner than this is not drawn [m]


@dataclass(frozen=True)
class Region:
    """One shape of the section.

    Parameters
    ----------
    name : str
        For labels; turns count from 1, bottom first.
    shape : Rectangle or Disc
    material : Material or None
        None for a hole (the water inside a tube).
    role : str
        One of `Role`.
    turn : int or None
        Index of the turn, from 0, bottom first, for roles "tube" and "bore".
    """

    name: str
    shape: Rectangle | Disc
    material: Material | None
    role: Role
    turn: int | None = None


@dataclass(frozen=True)
class Turn:
    """One turn of the coil: centre, radii and helix length, all in [m]."""

    index: int
    r: float
    z: float
    outer_radius: float
    inner_radius: float
    length: float


@dataclass(frozen=True)
class Section:
    """The (r, z) picture of a heater, axisymmetric, z from the bottom of the coil section.

    Parameters
    ----------
    r_min, r_max, z_min, z_max : float
        Bore of the flue, outermost surface, bottom, top. [m]
    regions : tuple of Region
        In painting order: filler, voids, per turn tube then bore, then flue,
        shroud, insulation, jacket.
    contacts : dict
        Resistance of a pair of roles, {frozenset(("tube", "flue")): R}; a pair
        that is not listed touches perfectly. The coating's film is included in
        every pair of the flue. [m2 K/W]
    inner_resistance : float
        Soot on the inside of the flue, per area of the flue's bore. [m2 K/W]
    coating_resistance : float
        Coating on the outside of the flue; already in `contacts`. [m2 K/W]
    turns : tuple of Turn
        Bottom first; empty without a coil.
    flue_radius : float
        Outside of the flue wall. [m]
    cavity_radius : float
        Outside of the cavity; equal to `flue_radius` if there is none. [m]
    outer_role : str
        Role of the outermost layer.
    outer_emissivity : float
        Of the surface that faces the room; for a bare coil that of the tube.
    bill : Bill
    """

    r_min: float
    r_max: float
    z_min: float
    z_max: float
    regions: tuple[Region, ...]
    contacts: dict[frozenset[str], float]
    inner_resistance: float
    coating_resistance: float
    turns: tuple[Turn, ...]
    flue_radius: float
    cavity_radius: float
    outer_role: Role
    outer_emissivity: float
    bill: Bill
    coordinates: Literal["cylindrical"] = "cylindrical"

    @property
    def height(self) -> float:
        """Height of the coil section. [m]"""
        return self.z_max - self.z_min


def lay_out(case: Case) -> Section:
    """Draw the section of a case.

    Parameters
    ----------
    case : Case

    Returns
    -------
    Section

    Raises
    ------
    GeometryError
        If a layer has no thickness or height left.
    MaterialError
        If a material is unknown or banned.
    """
    height = case.height
    if height <= 0:
        raise GeometryError(f"case '{case.title}': height {height} m must be positive; give flue.height or a coil")
    flue = Rectangle(case.flue.inner_diameter / 2, case.flue.outer_radius, 0.0, height)
    turns = _place_turns(case.coil, flue.r_max)
    layers = _layers(case, flue, turns)
    cavity = layers["filler"][0] if "filler" in layers else None
    voids = _voids(case, cavity, turns)

    regions = []
    if cavity is not None:
        regions.append(Region("filler", cavity, layers["filler"][1], "filler"))
        regions += voids
    if case.coil is not None:
        metal = case.material(case.coil.material)
        for turn in turns:
            outside, inside = (Disc(turn.r, turn.z, radius) for radius in (turn.outer_radius, turn.inner_radius))
            regions.append(Region(f"tube {turn.index + 1}", outside, metal, "tube", turn.index))
            regions.append(Region(f"water {turn.index + 1}", inside, None, "bore", turn.index))
    around: tuple[Role, ...] = ("flue", "shroud", "insulation", "jacket")
    regions += [Region(role, *layers[role], role) for role in around if role in layers]

    outer_role, emissivity = _outside(case, layers)
    coating = _coating_resistance(case)
    return Section(
        r_min=flue.r_min,
        r_max=max(shape.r_max for shape, _ in layers.values()),
        z_min=0.0,
        z_max=height,
        regions=tuple(regions),
        contacts=_contacts(case, coating),
        inner_resistance=_soot_resistance(case),
        coating_resistance=coating,
        turns=turns,
        flue_radius=flue.r_max,
        cavity_radius=cavity.r_max if cavity is not None else flue.r_max,
        outer_role=outer_role,
        outer_emissivity=emissivity,
        bill=make_bill(
            case,
            layers,
            [
                (void.shape, void.material)
                for void in voids
                if isinstance(void.shape, Rectangle) and void.material is not None
            ],
            [Disc(turn.r, turn.z, turn.outer_radius) for turn in turns],
            [turn.length for turn in turns],
        ),
    )


def _place_turns(coil: Coil | None, flue_radius: float) -> tuple[Turn, ...]:
    """Turns in the middle of their pitch blocks, bottom first."""
    if coil is None:
        return ()
    outer = coil.tube_outer_diameter / 2
    turns = []
    for index, gap in enumerate(coil.gap):
        r = tube_centre(flue_radius, outer, gap, coil.contact_strip)
        z = (index + 0.5) * coil.pitch
        turns.append(Turn(index, r, z, outer, outer - coil.tube_wall, turn_length(r, coil.pitch)))
    return tuple(turns)


def _layers(case: Case, flue: Rectangle, turns: tuple[Turn, ...]) -> dict[str, tuple[Rectangle, Material]]:
    """Rectangle and material of every layer there is, inside out, by role."""
    layers = {"flue": (flue, case.material(case.flue.material))}
    edge = max((turn.r + turn.outer_radius for turn in turns), default=flue.r_max)
    if case.shroud is not None:
        edge += case.shroud.clearance
    if edge - flue.r_max > SLIVER:
        cavity = Rectangle(flue.r_max, edge, flue.z_min, flue.z_max)
        layers["filler"] = (cavity, case.material(case.filler.material, case.filler.packing))
    else:
        edge = flue.r_max

    sheets = (
        ("shroud", case.shroud.material, case.shroud.sheet) if case.shroud else None,
        ("insulation", case.insulation.material, case.insulation.thickness) if case.insulation else None,
        ("jacket", case.jacket.material, case.jacket.thickness) if case.jacket else None,
    )
    for role, material, thickness in (sheet for sheet in sheets if sheet is not None):
        shape = Rectangle(edge, edge + thickness, flue.z_min, flue.z_max)
        layers[role] = (shape, case.material(material))
        edge = shape.r_max
    return layers


def _voids(case: Case, cavity: Rectangle | None, turns: tuple[Turn, ...]) -> list[Region]:
    """Voids of the filler, clipped to the cavity: settled top, film, strips, stated regions.

    Film and strips end where the settled top begins.
    """
    if cavity is None:
        return []
    filler: Filler = case.filler
    air = case.material("still air")
    packed = Rectangle(cavity.r_min, cavity.r_max, cavity.z_min, cavity.z_max - filler.settled_top)
    planned: list[tuple[str, Rectangle | None, Material]] = []
    if filler.settled_top > 0:
        top = Rectangle(cavity.r_min, cavity.r_max, packed.z_max, cavity.z_max)
        planned.append(("settled top", top, air))
    if filler.film_at_flue > 0:
        film = Rectangle(packed.r_min, packed.r_min + filler.film_at_flue, packed.z_min, packed.z_max)
        planned.append(("film at the flue", film, air))
    if filler.strip_under_tubes > 0:
        for turn in turns:
            half = turn.outer_radius * math.sin(REPOSE)
            low = turn.z - turn.outer_radius - filler.strip_under_tubes
            high = turn.z - turn.outer_radius * math.cos(REPOSE)  # the tube, painted later, covers what is its own
            strip = Rectangle(turn.r - half, turn.r + half, low, high)
            planned.append((f"strip under tube {turn.index + 1}", clip(strip, packed), air))
    for index, void in enumerate(filler.voids):
        shape = Rectangle(cavity.r_min + void.r_min, cavity.r_min + void.r_max, void.z_min, void.z_max)
        planned.append((f"void {index + 1}", shape, case.material(void.material)))

    clipped = ((name, clip(shape, cavity), material) for name, shape, material in planned if shape is not None)
    return [
        Region(name, shape, material, "void")
        for name, shape, material in clipped
        if shape is not None and min(shape.r_max - shape.r_min, shape.z_max - shape.z_min) > SLIVER
    ]


def _contacts(case: Case, coating_resistance: float) -> dict[frozenset[str], float]:
    """Resistances that are not zero, by pair of roles."""
    contacts = {
        frozenset(pair.split("-")): wall_layer_resistance(case, pair) if R is None else R
        for pair, R in case.contacts.items()
    }
    for neighbour in ("tube", "filler", "void", "shroud", "insulation"):
        pair = frozenset(("flue", neighbour))
        contacts[pair] = contacts.get(pair, 0.0) + coating_resistance
    return {pair: R for pair, R in contacts.items() if R > 0}


def wall_layer_resistance(case: Case, pair: str) -> float:
    """Resistance of the filler's layer at the other surface of a pair, at `WALL_LAYER_TEMPERATURE`. [m2 K/W]

    InputError where that surface, or a filler of known grains, is not there.
    """
    filler = case.material(case.filler.material, case.filler.packing)
    wall = next(end for end in pair.split("-") if end != "filler")
    part = case.coil if wall == "tube" else case.shroud
    emissivity: float | None = case.flue.emissivity
    if wall != "flue":
        emissivity = case.material(part.material).emissivity if part is not None else None
    if emissivity is None or filler.grain_diameter is None:
        raise InputError(f"contact {pair}: cannot be computed without a {wall} and a filler whose grains are known")
    T = WALL_LAYER_TEMPERATURE
    air = case.material("still air").conductivity(T)
    return 1.0 / float(wall_coefficient(T, air, filler.grain_diameter, emissivity, filler.emissivity))


def _coating_resistance(case: Case) -> float:
    """Coating as a plane film; it is thin against the flue's radius. [m2 K/W]"""
    flue = case.flue
    if flue.coating is None or flue.coating_thickness == 0:
        return 0.0
    return flue.coating_thickness / case.material(flue.coating).conductivity(COATING_TEMPERATURE)


def _soot_resistance(case: Case) -> float:
    """Soot as a hollow cylinder inside the bore, per area of the bore. [m2 K/W]"""
    flue = case.flue
    bore = flue.inner_diameter / 2
    return bore * math.log(bore / (bore - flue.soot_thickness)) / flue.soot_conductivity


def _outside(case: Case, layers: dict[str, tuple[Rectangle, Material]]) -> tuple[Role, float]:
    """Role and emissivity of the surface that faces the room."""
    if case.jacket is not None:
        return "jacket", case.jacket.emissivity
    if case.insulation is not None:
        return "insulation", layers["insulation"][1].emissivity
    if case.shroud is not None:
        return "shroud", layers["shroud"][1].emissivity
    if case.coil is not None:
        return "filler", case.material(case.coil.material).emissivity
    return "flue", case.flue.emissivity
