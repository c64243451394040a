"""The section as a body in time on its ports: some tens of unknowns that stand for all its pieces.

Goes in: a steady heater that was solved with all its pieces. Comes out: a
`Body` for the march.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lu_factor, lu_solve
from scipy.sparse import csr_matrix

from annulus.burn.body import Inverse
from annulus.burn.section_body import FACE_ROUNDS, REACHED, SectionBody
from annulus.case import Case
from annulus.conduction.ports import MatrixStore
from annulus.heater.cavity import is_open
from annulus.heater.gas_path import room_coefficient
from annulus.heater.ports import MISS, SPREAD, Ports
from annulus.heater.steady import SteadyHeater

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

RATES = tuple(1.0 / time for time in (20.0, 120.0, 700.0, 4000.0))  # [1/s], from the wall's warming to the insulation's
JUDGED = 400  # pieces at which the error of a step is read
PICKED = ("flue", "tube", "filler", "insulation")  # roles whose hottest place is read
EXTREMES_PER_BAND = 4  # pieces of a role in each band of height, hot and cold, among which the hottest is sought


@dataclass(frozen=True)
class PortStorage:
    """What the coordinates store.

    Attributes
    ----------
    matrix : ndarray, shape (size, size)
        [J/K]
    parts : ndarray, shape (n_parts, size)
        Heat stored in each part per unit of each coordinate; uniform @ matrix is their sum. [J/K]
    """

    matrix: Floats
    parts: Floats

    def __matmul__(self, change: Floats) -> Floats:
        return self.matrix @ change

    @property
    def stores(self) -> NDArray[np.bool_]:
        return np.ones(self.matrix.shape[0], dtype=bool)

    def diagonal(self) -> Floats:
        """Diagonal of the matrix. [J/K]"""
        return np.diag(self.matrix)

    def by_part(self, change: Floats) -> Floats:
        """Heat that a change stores in each part, shape (n_parts,). [J]"""
        return self.parts @ change


class PortBody:
    """A `Body` of the coordinates of a basis.

    Parameters
    ----------
    heater : SteadyHeater
        Solved with all its pieces.
    without_heat : sequence of str
        As in `SectionBody`.
    """

    def __init__(self, heater: SteadyHeater, without_heat: Sequence[str] = ()):
        self.full = SectionBody(heater.model, tuple(without_heat))
        self.model = heater.model
        self.room = heater.case.room.temperature
        self.parts, self.n_bands, self.n_turns = self.full.parts, self.full.n_bands, self.full.n_turns
        self.ports = Ports(heater)
        above = np.concatenate([heater.field.temperature, heater.patches]) - self.room
        capacity = self.full.storage(above).capacity[: self.model.pieces.count]
        self.ports.answer_in_time(heater, capacity, RATES)
        self._picked = self._extreme(heater)
        self._read_basis()

    def with_case(self, case: Case) -> PortBody:
        """The same section with the room of another case; basis and store are shared."""
        other = copy(self)
        other.full = self.full.with_case(case)
        other.model, other.room = other.full.model, other.full.room
        return other

    def enrich(self, fields: Floats) -> None:
        """Add fields above the room, as columns, to the basis; all coordinates change."""
        self.ports.enrich(fields)
        self._read_basis()

    def _read_basis(self) -> None:
        """Take from the basis what the march asks for often."""
        ports, pieces, plan = self.ports, self.model.pieces, self.ports.plan
        self.size = ports.uniform.size
        self.wet = np.concatenate([plan.gas, plan.water])
        outside = np.unique(plan.port[np.isin(plan.surfaces, self.model.outside)])
        self._is_outside = np.isin(plan.room, outside)
        self.store = MatrixStore(self._laws, MISS, SPREAD)
        of_pieces = ports.basis[: pieces.count]
        stores = np.flatnonzero(self.full.storage(np.zeros(self.full.size)).stores)
        self._judged = of_pieces[stores[:: max(1, stores.size // JUDGED)]]
        self._wall = pieces.truly_at_surface.tocsr()[self.model.gas_surfaces] @ of_pieces
        self._picked_rows = {role: of_pieces[mine] for role, mine in self._picked.items()}
        self._seen = np.concatenate([self._judged, *self._picked_rows.values()])

    def _extreme(self, heater: SteadyHeater) -> dict[str, Ints]:
        """Pieces of each solid role that are hottest or coldest in their band of height once all is steady."""
        model, temperature = self.model, heater.field.temperature
        regions = model.section.regions
        band = np.searchsorted(model.band_edges, model.pieces.z)
        found = {}
        for role in PICKED:
            numbers = [n for n, region in enumerate(regions) if region.role == role and not is_open(region)]
            mine = np.flatnonzero(np.isin(model.pieces.region, numbers))
            picked = []
            for upside in (-temperature, temperature):
                order = mine[np.lexsort((upside[mine], band[mine]))]
                first = np.searchsorted(band[order], band[order], side="left")
                picked.append(order[np.arange(order.size) - first < EXTREMES_PER_BAND])
            if mine.size:
                found[role] = np.unique(np.concatenate(picked))
        return found

    def uniform(self, temperature: float) -> Floats:
        """One temperature everywhere [K]; openings keep the room's."""
        return (temperature - self.room) * self.ports.uniform

    def of_pieces(self, x: Floats) -> Floats:
        """Temperatures of all pieces, above the room. [K]"""
        return self.ports.field(x)[: self.model.pieces.count]

    def judged(self, x: Floats) -> Floats:
        """Temperatures of pieces all over the section. [K]"""
        return self._judged @ x

    def seen(self, x: Floats) -> Floats:
        """Temperatures above the room of pieces all over the section and of those that are hottest or coldest. [K]"""
        return self._seen @ x

    def _laws(self, state: Floats) -> Floats:
        """Rows of conduction, storage, its parts and radiation to the room, shape (2 size + n_parts + 2, size)."""
        ports, n = self.ports, self.model.pieces.count
        temperature = ports.absolute(state)
        weighted = self.full.storage(temperature - self.room).capacity[:n, None] * ports.basis[:n]
        of_part = csr_matrix((np.ones(n), (self.full.part, np.arange(n))), (len(self.parts), n))
        return np.concatenate(
            [
                ports.projected(temperature),
                ports.basis[:n].T @ weighted,
                of_part @ weighted,
                self._through_openings(temperature[n:]),
            ]
        )

    def _through_openings(self, patches: Floats) -> Floats:
        """Radiant heat to the room, sideways then through the ends, by coordinates, shape (2, size). [W/K]"""
        radiation, pieces = self.model.radiation, self.model.pieces
        if radiation is None:
            return np.zeros((2, self.size))
        is_opening = ~np.isnan(radiation.held)
        gain = radiation.conductances(patches) @ self.ports.basis[pieces.count :]
        sideways = radiation.enclosure.region == -1 - pieces.boundaries.index("r_max")
        return np.stack([gain[is_opening & sideways].sum(axis=0), gain[is_opening & ~sideways].sum(axis=0)])

    def _laws_at(self, x: Floats) -> Floats:
        return self.store.at(self.ports.state(x, np.array([self.room]))[None])[0]

    def storage(self, x: Floats) -> PortStorage:
        """Storage at a state."""
        rows, r = self._laws_at(x), self.size
        return PortStorage(rows[r : 2 * r], rows[2 * r : -2])

    def equations(self, x: Floats, gas_film: Floats, water_film: Floats) -> PortEquations:
        """Dense matrices at a state."""
        plan, films = self.ports.plan, self.ports.films
        h = np.empty(plan.count)
        h[plan.gas] = 1.0 / (1.0 / gas_film + self.model.section.inner_resistance)
        h[plan.water] = water_film
        behind = (films.flow[0, plan.room] @ x) / films.area[plan.room]
        face = behind
        for _ in range(FACE_ROUNDS):
            h[plan.room] = room_coefficient(
                self.model.case, self.room + face, self.model.section.height, self.ports.plan.shine
            )
            face = behind / (1.0 + h[plan.room] * films.depth[plan.room])
        rows = self._laws_at(x)
        drains = films.drains(h)
        return PortEquations(
            body=self,
            matrix=rows[: self.size] + films.system(h),
            drive=np.zeros(self.size),
            given=films.drives(h)[self.wet].T,
            felt=drains[self.wet],
            conductance=films.conductance(h)[self.wet],
            gas_film=h[plan.gas],
            to_room=drains[plan.room],
            through_openings=rows[-2:],
        )


@dataclass(frozen=True)
class PortEquations:
    """`BodyEquations` on ports."""

    body: PortBody
    matrix: Floats
    drive: Floats
    given: Floats
    felt: Floats
    conductance: Floats
    gas_film: Floats
    to_room: Floats
    through_openings: Floats

    def walls(self, x: Floats, ambient: Floats) -> Floats:
        """Area means of wetted faces by segment, above the room."""
        films, wet = self.body.ports.films, self.body.wet
        flow = self.conductance * ambient - self.felt @ x
        return (films.flow[0, wet] @ x + flow * films.depth[wet]) / films.area[wet]

    def room_heat(self, x: Floats) -> tuple[float, float]:
        """Heat to the room through the outside and the ends, radiation through openings included."""
        leaving, (sideways, through_ends) = self.to_room @ x, self.through_openings @ x
        is_outside = self.body._is_outside
        return float(leaving[is_outside].sum() + sideways), float(leaving[~is_outside].sum() + through_ends)

    def inverse(self, rate: float, storage: PortStorage, mean: Floats, own: Floats) -> Inverse:
        """Dense factor: exact."""
        felt = np.zeros((own.shape[0], self.body.size))
        felt[: self.felt.shape[0]] = self.felt
        factored = lu_factor(np.block([[self.matrix + rate * storage.matrix, -self.given @ mean], [-felt, own]]))
        return lambda right: lu_solve(factored, right)

    def readings(self, x: Floats, ambient: Floats) -> Mapping[str, float]:
        """Extremes of the wall's faces and of the pieces that are hottest in the end. [K]"""
        body, model = self.body, self.body.model
        films, plan = body.ports.films, body.ports.plan
        behind = body._wall @ x
        share = (self.gas_film * films.depth[plan.gas] / (1.0 + self.gas_film * films.depth[plan.gas]))[model.gas_band]
        faces = behind + share * (ambient[model.gas_band] - behind)
        found = {"wall_min": float(faces.min()), "wall_max": float(faces.max())}
        hottest = {role: float((rows @ x).max()) for role, rows in body._picked_rows.items()}
        found |= {f"{role}_max": value for role, value in hottest.items() if role != "flue"}
        if model.section.outer_role == "filler":  # as in `SectionEquations.readings`
            found["outside_max"] = max(hottest[role] for role in REACHED)
            return {name: body.room + value for name, value in found.items()}
        outside = plan.room[body._is_outside]
        leaving = self.to_room[body._is_outside] @ x
        face = (films.flow[0, outside] @ x - leaving * films.depth[outside]) / films.area[outside]
        found["outside_max"] = float(face.max())
        return {name: body.room + value for name, value in found.items()}
