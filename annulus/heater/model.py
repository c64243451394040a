"""A heater made ready to solve: its section cut into pieces, and who wets which surface.

Goes in: a `Case` and a fineness. Comes out: a `Model`: everything that stays
the same while temperatures are sought.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.conduction.exchange import Radiation
from annulus.conduction.pieces import Painted, Pieces, cut_grid
from annulus.heater.cavity import is_open, make_radiation
from annulus.heater.circulation import Slot, make_slot
from annulus.heater.gridding import block_edges, make_grid
from annulus.materials import Material
from annulus.section import Section, lay_out

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Model:
    """A heater ready to solve.

    Attributes
    ----------
    fineness : int
        By which the cells of the coarsest grid are split.
    band_edges : ndarray, shape (n_bands + 1,)
        Bands of height in which the gas has one mean temperature; one per turn. [m]
    gas_surfaces, gas_band : ndarray of int
        Surfaces on the inside of the flue, and the band of each.
    water_surfaces, water_turn : ndarray of int
        Surfaces of the bores, and the turn of each, bottom first.
    outside, ends : ndarray of int
        Surfaces towards the room: the outer side, and open ends of all layers but the flue wall.
    resistance : ndarray, shape (n_regions, n_regions)
        Contact resistances. [m2 K/W]
    materials : tuple of (Material, ndarray of int)
        Each material with its pieces.
    radiation : Radiation or None
        Across still air.
    slot : Slot or None
        Where the air of a wide cavity circulates.
    shine : ndarray, shape (n_open,)
        Emissivity towards the room of `outside`, then `ends`; zero where still air is open to the
        room, which `radiation` covers.
    """

    case: Case
    section: Section
    pieces: Pieces
    fineness: int
    band_edges: Floats
    gas_surfaces: Ints
    gas_band: Ints
    water_surfaces: Ints
    water_turn: Ints
    outside: Ints
    ends: Ints
    resistance: Floats
    materials: tuple[tuple[Material, Ints], ...]
    radiation: Radiation | None
    slot: Slot | None
    shine: Floats

    def conductivity(self, temperature: Floats) -> Floats:
        """Conductivity of every piece at its temperature, air that circulates included. [W/(m K)]"""
        k = np.empty(self.pieces.count)
        for material, mine in self.materials:
            k[mine] = material.conductivity(temperature[mine])
        if self.slot is not None:
            k[self.slot.air] *= self.slot.stirring(temperature)
        return k

    def pieces_of(self, *roles: str) -> Ints:
        """Pieces of all regions with one of these roles."""
        wanted = [n for n, region in enumerate(self.section.regions) if region.role in roles]
        return np.flatnonzero(np.isin(self.pieces.region, wanted))


def prepare(case: Case, fineness: int) -> Model:
    """Lay out, grid and cut a case.

    Parameters
    ----------
    case : Case
    fineness : int
        Cells of the coarsest grid are split into this many each way.

    Returns
    -------
    Model

    Raises
    ------
    GeometryError, MaterialError
        If the parts do not fit or a material is not allowed.
    """
    section = lay_out(case)
    pieces = cut_grid(
        make_grid(section, fineness),
        [Painted(region.name, region.shape, region.material is not None) for region in section.regions],
    )
    edges = block_edges(section)
    gas_surfaces = pieces.boundary_surfaces("r_min")
    band = np.searchsorted(edges, pieces.surfaces.z[gas_surfaces]) - 1
    bores = {region.name: region.turn for region in section.regions if region.role == "bore"}
    wet = [(pieces.boundary_surfaces(name), turn) for name, turn in bores.items()]
    water_surfaces = np.concatenate([on for on, _ in wet]) if wet else np.empty(0, dtype=np.int64)
    water_turn = np.concatenate([np.full(on.size, turn) for on, turn in wet]) if wet else np.empty(0, dtype=np.int64)
    ends = np.concatenate([pieces.boundary_surfaces("z_min"), pieces.boundary_surfaces("z_max")])
    outside = pieces.boundary_surfaces("r_max")
    is_flue = np.array([region.role == "flue" for region in section.regions])
    ends = ends[~is_flue[pieces.region[pieces.surface_piece[ends]]] & (case.room.ends == "open")]
    open_air = np.array([is_open(region) for region in section.regions])
    clear = open_air[pieces.region[pieces.surface_piece[np.concatenate([outside, ends])]]]
    return Model(
        case=case,
        section=section,
        pieces=pieces,
        fineness=fineness,
        band_edges=edges,
        gas_surfaces=gas_surfaces,
        gas_band=np.clip(band, 0, edges.size - 2),
        water_surfaces=water_surfaces,
        water_turn=water_turn,
        outside=outside,
        ends=ends,
        resistance=_resistances(section),
        materials=_group_by_material(section, pieces),
        radiation=make_radiation(case, section, pieces, edges, fineness),
        slot=make_slot(case, section, pieces),
        shine=np.where(clear, 0.0, section.outer_emissivity),
    )


def _resistances(section: Section) -> Floats:
    """Contact resistance of every pair of regions from those of their roles. [m2 K/W]"""
    table = np.zeros((len(section.regions),) * 2)
    for pair, value in section.contacts.items():
        roles = sorted(pair) * (2 if len(pair) == 1 else 1)
        one = np.array([region.role == roles[0] for region in section.regions])
        other = np.array([region.role == roles[1] for region in section.regions])
        table[np.outer(one, other) | np.outer(other, one)] = value
    return table


def _group_by_material(section: Section, pieces: Pieces) -> tuple[tuple[Material, Ints], ...]:
    groups: dict[int, tuple[Material, list[int]]] = {}
    for n, region in enumerate(section.regions):
        if region.material is not None:
            groups.setdefault(id(region.material), (region.material, []))[1].append(n)
    return tuple((material, np.flatnonzero(np.isin(pieces.region, numbers))) for material, numbers in groups.values())
