"""The section as a body in time: every piece an unknown, and every patch that radiates.

Goes in: a `Model`. Comes out: a `Body` for the march.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import block_array, csr_matrix, diags_array

from annulus.burn.body import Inverse, Linear
from annulus.case import Case
from annulus.conduction.exchange import PatchEquations, patch_equations
from annulus.conduction.network import Network, connect
from annulus.conduction.solvers import factor
from annulus.heater.cavity import is_open
from annulus.heater.gas_path import room_coefficient
from annulus.heater.model import Model

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

REACHED = ("flue", "tube")  # parts that a hand touches where nothing covers the coil
FACE_ROUNDS = 2  # of the room's film and the face it acts on; both move little with each other


class SectionBody:
    """A `Body` of pieces, then patches.

    Parameters
    ----------
    model : Model
    without_heat : sequence of str
        Roles whose heat capacity is taken for zero: what if the filler stored nothing?
    """

    def __init__(self, model: Model, without_heat: tuple[str, ...] = ()):
        self.model = model
        pieces, regions = model.pieces, model.section.regions
        self.n_bands, self.n_turns = model.band_edges.size - 1, len(model.section.turns)
        self.room = model.case.room.temperature
        self.n_patches = model.radiation.enclosure.count if model.radiation is not None else 0
        self.size = pieces.count + self.n_patches
        self.parts: tuple[str, ...] = tuple(dict.fromkeys(r.role for r in regions if r.material is not None))
        number = {part: n for n, part in enumerate(self.parts)}
        of_region = np.array([number.get(region.role, 0) for region in regions])
        self.part = of_region[pieces.region]
        self._volume = np.where(np.isin(pieces.region, self._regions_of(*without_heat)), 0.0, pieces.volume)
        # surfaces that gas and water wet, and the segment of each
        self.wet = np.concatenate([model.gas_surfaces, model.water_surfaces])
        self.segment = np.concatenate([model.gas_band, self.n_bands + model.water_turn])
        self.n_segments = self.n_bands + self.n_turns
        wide = (self.wet.size, self.size)
        self.behind = _widened(pieces.truly_at_surface.tocsr()[self.wet], wide)
        self.at = _widened(pieces.at_surface.tocsr()[self.wet], wide)
        self.open = np.concatenate([model.outside, model.ends])
        self.behind_open = pieces.truly_at_surface.tocsr()[self.open]

    def with_case(self, case: Case) -> SectionBody:
        """The same section with the room of another case."""
        other = copy(self)
        other.model, other.room = replace(self.model, case=case), case.room.temperature
        return other

    def _regions_of(self, *roles: str) -> list[int]:
        return [n for n, region in enumerate(self.model.section.regions) if region.role in roles]

    def uniform(self, temperature: float) -> Floats:
        """One temperature everywhere [K]; openings keep the room's."""
        x = np.full(self.size, temperature - self.room)
        if self.model.radiation is not None:
            held = ~np.isnan(self.model.radiation.held)
            x[self.model.pieces.count :][held] = 0.0
        return x

    def storage(self, x: Floats) -> PieceStorage:
        """Heat capacity of every piece; patches store nothing."""
        temperature = self.room + x[: self.model.pieces.count]
        values = np.zeros(self.size)
        for material, mine in self.model.materials:
            values[mine] = self._volume[mine] * material.density * material.heat_capacity(temperature[mine])
        return PieceStorage(values, self.part, len(self.parts))

    def of_pieces(self, x: Floats) -> Floats:
        """Temperatures of all pieces, above the room. [K]"""
        return x[: self.model.pieces.count]

    def judged(self, x: Floats) -> Floats:
        """Temperatures of pieces that store heat. [K]"""
        return x[: self.model.pieces.count][self._volume > 0]

    def seen(self, x: Floats) -> Floats:
        """Temperatures of all pieces, above the room. [K]"""
        return self.of_pieces(x)

    def equations(self, x: Floats, gas_film: Floats, water_film: Floats) -> SectionEquations:
        """Network of pieces and patches at a state."""
        model, pieces = self.model, self.model.pieces
        of_pieces, of_patches = np.split(x, [pieces.count])
        temperature = self.room + of_pieces
        k = model.conductivity(temperature)
        h = np.zeros(pieces.surface_piece.size)
        through_soot = 1.0 / (1.0 / gas_film + model.section.inner_resistance)
        h[self.wet] = np.concatenate([through_soot, water_film])[self.segment]
        h[self.open] = self._room_film(of_pieces, k)
        network = connect(pieces, k, model.resistance, np.zeros(h.size), h)
        patches = None
        if model.radiation is not None:
            patches = patch_equations(network, model.resistance, model.radiation, self.room + of_patches, self.room)
        return SectionEquations(self, network, patches)

    def _room_film(self, of_pieces: Floats, k: Floats) -> Floats:
        """Film of every surface that is open to the room, at the temperature of its own face. [W/(m2 K)]"""
        model, pieces = self.model, self.model.pieces
        behind = self.behind_open @ of_pieces
        depth = pieces.surfaces.distance_a[self.open] / k[pieces.surface_piece[self.open]]
        face = behind
        for _ in range(FACE_ROUNDS):
            h = room_coefficient(model.case, self.room + face, model.section.height, model.shine)
            face = behind / (1.0 + h * depth)
        return h


@dataclass(frozen=True)
class PieceStorage:
    """`Storage` of pieces, then patches.

    Attributes
    ----------
    capacity : ndarray, shape (size,)
        [J/K]
    part : ndarray of int, shape (n_pieces,)
    """

    capacity: Floats
    part: Ints
    n_parts: int

    @property
    def stores(self) -> NDArray[np.bool_]:
        return self.capacity > 0

    def __matmul__(self, change: Floats) -> Floats:
        return self.capacity * change

    def diagonal(self) -> Floats:
        """Heat capacity of every piece. [J/K]"""
        return self.capacity

    def by_part(self, change: Floats) -> Floats:
        """Heat that a change of the state stores, by part. [J]"""
        n = self.part.size
        return np.asarray(np.bincount(self.part, self.capacity[:n] * change[:n], self.n_parts), dtype=np.float64)


@dataclass(frozen=True)
class SectionEquations:
    """`BodyEquations` of a section."""

    body: SectionBody
    network: Network
    patches: PatchEquations | None

    @cached_property
    def matrix(self) -> Linear:
        """Second-order matrix of pieces, then patches."""
        return self.network.matrix if self.patches is None else self.patches.matrix

    @cached_property
    def drive(self) -> Floats:
        """Openings that are held at the room; zero elsewhere."""
        return np.zeros(self.body.size) if self.patches is None else self.patches.drive

    @cached_property
    def _film(self) -> Floats:
        """Conductance of every wetted surface. [W/K]"""
        return self.network.surface_conductance[self.body.wet]

    @cached_property
    def _gather(self) -> csr_matrix:
        """Film conductances summed by segment, shape (n_segments, n_wet)."""
        body = self.body
        return csr_matrix((self._film, (body.segment, np.arange(body.wet.size))), (body.n_segments, body.wet.size))

    @cached_property
    def given(self) -> csr_matrix:
        """Heat of a degree of each ambient to pieces."""
        return csr_matrix((self._gather @ self.body.at).T)

    @cached_property
    def felt(self) -> csr_matrix:
        """Second-order walls times their films."""
        return csr_matrix(self._gather @ self.body.behind)

    @cached_property
    def conductance(self) -> Floats:
        """By segment. [W/K]"""
        return np.bincount(self.body.segment, self._film, self.body.n_segments).astype(float)

    def walls(self, x: Floats, ambient: Floats) -> Floats:
        """Area means of wetted faces by segment, above the room."""
        body, surfaces = self.body, self.body.model.pieces.surfaces
        area = surfaces.area[body.wet]
        face = self._faces(x, ambient)
        return np.bincount(body.segment, area * face, body.n_segments) / np.bincount(
            body.segment, area, body.n_segments
        )

    def _faces(self, x: Floats, ambient: Floats) -> Floats:
        """Every wetted face, above the room. [K]"""
        body, pieces = self.body, self.body.model.pieces
        behind = body.behind @ x
        flow = self._film * (ambient[body.segment] - behind)
        depth = pieces.surfaces.distance_a[body.wet] / self.network.conductivity[pieces.surface_piece[body.wet]]
        return behind + flow * depth / pieces.surfaces.area[body.wet]

    def _open_flow(self, x: Floats) -> tuple[Floats, Floats]:
        """Heat that leaves through every open surface by its film, and the temperature behind it. [W], [K]"""
        body = self.body
        behind = body.behind_open @ x[: body.model.pieces.count]
        return self.network.surface_conductance[body.open] * behind, behind

    def room_heat(self, x: Floats) -> tuple[float, float]:
        """Heat to the room through the outside and the ends, radiation through openings included."""
        body = self.body
        leaving, _ = self._open_flow(x)
        outside = float(leaving[: body.model.outside.size].sum())
        ends = float(leaving[body.model.outside.size :].sum())
        if self.patches is not None and body.model.radiation is not None:
            gain = self.patches.heat_into(x[body.model.pieces.count :])
            is_open_patch = ~np.isnan(body.model.radiation.held)
            sideways = -1 - body.model.pieces.boundaries.index("r_max")
            at_side = body.model.radiation.enclosure.region == sideways
            outside += float(gain[is_open_patch & at_side].sum())
            ends += float(gain[is_open_patch & ~at_side].sum())
        return outside, ends

    def inverse(self, rate: float, storage: PieceStorage, mean: Floats, own: Floats) -> Inverse:
        """Direct factor."""
        body, square = self.body, (self.patches or self.network).to_factor
        felt = self.felt.copy()
        felt.resize(own.shape[0], body.size)
        blocks = [
            [square + diags_array(rate * storage.capacity), -csr_matrix(self.given @ csr_matrix(mean))],
            [-felt, csr_matrix(own)],
        ]
        return factor(block_array(blocks, format="csr"))

    def readings(self, x: Floats, ambient: Floats) -> Mapping[str, float]:
        """Extremes of faces and pieces. [K]"""
        body, model = self.body, self.body.model
        faces = self._faces(x, ambient)[: model.gas_surfaces.size]
        found = {"wall_min": float(faces.min()), "wall_max": float(faces.max())}
        solid = {n for n, region in enumerate(model.section.regions) if not is_open(region)}
        for role in ("tube", "filler", "insulation"):
            numbers = [n for n in body._regions_of(role) if n in solid]
            mine = np.isin(model.pieces.region, numbers)
            if mine.any():
                found[f"{role}_max"] = float(x[: model.pieces.count][mine].max())
        if model.section.outer_role == "filler":  # nothing around the coil: a hand reaches its tubes and the flue
            mine = np.isin(model.pieces.region, body._regions_of(*REACHED))
            found["outside_max"] = float(x[: model.pieces.count][mine].max())
            return {name: self.body.room + value for name, value in found.items()}
        leaving, behind = self._open_flow(x)
        here = slice(0, model.outside.size)
        pieces, on = model.pieces, model.outside
        depth = pieces.surfaces.distance_a[on] / self.network.conductivity[pieces.surface_piece[on]]
        found["outside_max"] = float((behind[here] - leaving[here] * depth / pieces.surfaces.area[on]).max())
        return {name: self.body.room + value for name, value in found.items()}


def _widened(matrix: csr_matrix, shape: tuple[int, int]) -> csr_matrix:
    """The same with empty columns for patches behind those of pieces."""
    return csr_matrix((matrix.data, matrix.indices, matrix.indptr), shape)
