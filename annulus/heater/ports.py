"""The section of a heater seen from its ports: few unknowns, for every question that leaves the section as it is.

Goes in: a steady heater that was solved with all its pieces. Comes out: `Ports`:
the plan of ports, a basis of fields, films' matrices and a store of conduction
matrices. `port_heater` and the burn solve on them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.polynomial.legendre import legvander
from numpy.typing import NDArray
from scipy.sparse import diags_array

from annulus.case import Case
from annulus.conduction.exchange import PatchEquations, patch_equations
from annulus.conduction.network import Network, connect
from annulus.conduction.ports import MatrixStore, PortFilms, extend, port_films
from annulus.conduction.solvers import factor
from annulus.errors import InputError
from annulus.heater.gas_path import room_coefficient
from annulus.heater.model import Model
from annulus.heater.steady import SteadyHeater

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OUTSIDE_PER_BAND = 4  # ports of the outside in a band of the gas: films of natural convection vary between turns
RINGS_PER_END = 16  # with 12, ports left out 0.4 K beside open ends of a shroud full of air, whatever their basis
AT_ONCE = 1024  # pieces whose temperatures are looked at together, of many fields
PROFILES = 8  # shapes of ambient along each side that the first basis answers
PROFILES_IN_TIME = 3  # the same for each rate of change
SWEEPS = 3  # of correction for exchange that the factor leaves out, when a basis is made
ANSWERED = 1e-9  # of the heat that drives fields of a basis: what is short of it needs no correction
MISS, SPREAD = 0.2, 15.0  # [K] reach of the store of matrices: a few parts in 1e5 of the heat in cases/


SECTION = ("coil", "filler", "shroud", "insulation", "jacket", "contacts", "materials")
OUTSIDE_THE_SECTION = {"bare_below", "bare_above"}  # of the flue's keys


def section_parts(case: Case) -> dict[str, object]:
    """What of a case its section and the ports of it hang on, by key."""
    circulates = case.material(case.filler.material, case.filler.packing).family == "gas"
    return {
        **{key: getattr(case, key) for key in SECTION},
        "flue": case.flue.model_dump(exclude=OUTSIDE_THE_SECTION),
        "room.ends": case.room.ends,
        "room.altitude": case.room.altitude if circulates else None,
    }


def refuse_other_section(parts: Mapping[str, object], case: Case) -> None:
    """InputError if a case has another section than that of these `section_parts`, for which ports were made."""
    own = section_parts(case)
    differing = [key for key in parts if parts[key] != own[key]]
    if differing:
        raise InputError(
            f"{', '.join(differing)}: differ from the section that the ports were made for; make ports of the new one"
        )


@dataclass(frozen=True)
class PortPlan:
    """Which surface belongs to which port: bands of the flue wall, turns, bands of the outside, open ends."""

    surfaces: Ints
    port: Ints
    gas: Ints
    water: Ints
    room: Ints
    shine: Floats

    @property
    def count(self) -> int:
        return self.gas.size + self.water.size + self.room.size


def plan_ports(model: Model) -> PortPlan:
    """Group the surfaces of a model."""
    pieces = model.pieces
    n_bands, n_turns = model.band_edges.size - 1, len(model.section.turns)
    edges = model.band_edges
    fine = np.interp(np.arange(OUTSIDE_PER_BAND * n_bands + 1) / OUTSIDE_PER_BAND, np.arange(n_bands + 1), edges)
    band_of = np.clip(np.searchsorted(fine, pieces.surfaces.z[model.outside]) - 1, 0, fine.size - 2)
    at_top = pieces.surfaces.z[model.ends] > 0.5 * model.section.height
    ring = np.floor(
        RINGS_PER_END
        * (pieces.surfaces.r[model.ends] - model.section.r_min)
        / (model.section.r_max - model.section.r_min)
    )
    end_of = 2 * ring.astype(np.int64) + at_top
    room_group = np.concatenate([band_of, fine.size + end_of])
    # a port has one emissivity and one material behind it
    behind = pieces.region[pieces.surface_piece[np.concatenate([model.outside, model.ends])]]
    _, room_port = np.unique(np.stack([room_group, model.shine > 0, behind]), axis=1, return_inverse=True)
    n_room = int(room_port.max()) + 1
    shine = np.bincount(room_port, model.shine, n_room) / np.bincount(room_port, minlength=n_room)
    surfaces = np.concatenate([model.gas_surfaces, model.water_surfaces, model.outside, model.ends])
    port = np.concatenate([model.gas_band, n_bands + model.water_turn, n_bands + n_turns + room_port.ravel()])
    first = np.cumsum([0, n_bands, n_turns, n_room])
    gas, water, room = (np.arange(a, b) for a, b in pairwise(first))
    return PortPlan(surfaces, port, gas, water, room, shine)


@dataclass(frozen=True)
class Start:
    """A heater's state on its ports, from which to look for others. Temperatures in [K].

    Attributes
    ----------
    coordinates : ndarray, shape (r,)
        Of the field above the room.
    face : ndarray, shape (n_ports,)
        Means.
    gas, water : ndarray
        As in `SteadyHeater`.
    room : float
    """

    coordinates: Floats
    face: Floats
    gas: Floats
    water: Floats
    room: float


class Ports:
    """The ports of one section on one grid.

    Parameters
    ----------
    heater : SteadyHeater
        Solved with all its pieces; gives the section, and the state about which the basis is made.

    Attributes
    ----------
    model : Model
    section : dict
        Its `section_parts`.
    plan : PortPlan
    basis : ndarray, shape (n_pieces + n_patches, r)
        Of fields above the room; orthonormal by volume, so that coordinates measure kelvins.
    uniform : ndarray, shape (r,)
        Coordinates of one kelvin everywhere (an opening to the room stays at room temperature).
    films : PortFilms
    store : MatrixStore
        Its states are coordinates of absolute temperature, then the room's; of each it knows the entries of the
        conduction matrix and the depths behind ports, which hang on k(T).
    start : Start
        The heater's own state.
    solve_about : callable
        Factor of the matrix at the heater's state, films in.
    """

    def __init__(self, heater: SteadyHeater):
        self.model = heater.model
        self.section = section_parts(heater.case)
        self.plan = plan_ports(heater.model)
        pieces, radiation = self.model.pieces, self.model.radiation
        openings = ~np.isnan(radiation.held) if radiation is not None else np.empty(0, dtype=bool)
        self._opening = np.concatenate([np.zeros(pieces.count, dtype=bool), openings])
        self._weight = np.concatenate([pieces.volume / pieces.volume.sum(), np.zeros(openings.size)])
        self._conductivity = self.model.conductivity(heater.field.temperature)
        temperature = np.concatenate([heater.field.temperature, heater.patches])
        self._known = temperature
        self._room = heater.case.room.temperature
        self._streams = heater.gas, heater.water
        self._face = self._faces_of(heater)
        self.basis = np.empty((temperature.size, 0))
        self._add(np.column_stack([np.ones(temperature.size), temperature - self._room]))
        self.solve_about = self._answer_profiles(heater, temperature, np.zeros(pieces.count), PROFILES)
        self._refresh()

    def enrich(self, fields: Floats) -> None:
        """Add a field above the room, or several as columns, to the basis; all coordinates change."""
        self._add(fields.reshape(fields.shape[0], -1))
        self._refresh()

    def apart(self) -> Ports:
        """The same ports with a store of matrices of their own, so that whoever asks one leaves no trace here."""
        other = copy(self)
        other.store = replace(self.store, states=[*self.store.states], matrices=[*self.store.matrices])
        return other

    def answer_in_time(self, heater: SteadyHeater, capacity: Floats, rates: Sequence[float]) -> None:
        """Add the fields with which the section answers ambients that change at some rates; all coordinates change.

        Parameters
        ----------
        heater : SteadyHeater
            The state about which laws are linear.
        capacity : ndarray, shape (n_pieces,)
            Heat capacity of each piece. [J/K]
        rates : sequence of float
            Where the answers to exponentials are exact: a rational Krylov basis. [1/s]
        """
        temperature = np.concatenate([heater.field.temperature, heater.patches])
        for rate in rates:
            self._answer_profiles(heater, temperature, rate * capacity, PROFILES_IN_TIME)
        self._refresh()

    def field(self, coordinates: Floats) -> Floats:
        """Temperatures of pieces and patches above the room. [K]"""
        return self.basis @ coordinates

    def extremes(self, coordinates: Floats) -> Floats:
        """Lowest and highest temperature above the room of each of many fields, shape (n_fields, 2). [K]

        To single precision, which tells fields that leave their range.
        """
        wanted = coordinates.astype(np.float32)
        found = np.tile(np.array([np.inf, -np.inf], dtype=np.float32), (len(coordinates), 1))
        for rows in self._coarse:
            part = wanted @ rows
            np.minimum(found[:, 0], part.min(axis=1), out=found[:, 0])
            np.maximum(found[:, 1], part.max(axis=1), out=found[:, 1])
        return found.astype(np.float64)

    def coordinates(self, field: Floats) -> Floats:
        """Coordinates of a field above the room. [K]"""
        return self.basis.T @ (self._weight * field)

    def laws(self, coordinates: Floats, room: Floats) -> tuple[Floats, PortFilms]:
        """Reduced matrices without films at states above the room, shape (n_states, r, r) [W/K], and films' matrices.

        States have shape (n_states, r), rooms (n_states, 1).
        """
        r = self.uniform.size
        conduction, depth = np.split(self.store.at(self.state(coordinates, room)), [r * r], axis=1)
        return conduction.reshape(-1, r, r), replace(self.films, depth=depth)

    def defect(self, coordinates: Floats, room: float, h: Floats, ambient: Floats) -> Floats:
        """What a state is about short of the field that all pieces would have, films and ambients [K above room] given.

        One pass of the factor over the residual of the full equations.
        """
        above = self.field(coordinates)
        by_surface = self.by_surface(h)
        network, body = self.equations(room + above, by_surface)  # an opening is at zero above the room
        drive = np.zeros(above.size)
        drive[: self.model.pieces.count] = self.model.pieces.at_surface.T @ (
            network.surface_conductance * self.by_surface(ambient)
        )
        return self.solve_about(np.where(self._opening, 0.0, drive - body.matrix @ above))

    def by_surface(self, of_ports: Floats) -> Floats:
        """Numbers of ports spread to surfaces; zero on adiabatic ones, shape (n_surfaces,)."""
        spread = np.zeros(self.model.pieces.surface_piece.size)
        spread[self.plan.surfaces] = of_ports[self.plan.port]
        return spread

    def _add(self, fields: Floats) -> None:
        fields[self._opening] = 0.0
        self.basis = extend(self.basis, fields, self._weight)

    def _refresh(self) -> None:
        """Make everything that depends on the basis."""
        plan = self.plan
        self.uniform = self.basis.T @ self._weight
        coarse = self.basis.T.astype(np.float32)
        self._coarse = [coarse[:, n : n + AT_ONCE].copy() for n in range(0, coarse.shape[1], AT_ONCE)]
        self.films: PortFilms = port_films(
            self.model.pieces, self._conductivity, self.basis, plan.surfaces, plan.port, plan.count
        )
        self.store = MatrixStore(lambda state: self._laws(self.absolute(state)), MISS, SPREAD)
        known = self.coordinates(self._known - self._room)
        self.start = Start(known, self._face, *self._streams, self._room)
        self.store.learn(self.state(known, np.array([self._room])))

    def absolute(self, state: Floats) -> Floats:
        """Temperatures of pieces and patches at a state of the store. [K]"""
        return np.where(self._opening, state[-1], self.basis @ state[:-1])

    def state(self, coordinates: Floats, room: Floats) -> Floats:
        """State of the store: coordinates of absolute temperature, then the room's, shape (..., r + 1). [K]"""
        return np.concatenate([coordinates + room * self.uniform, room], axis=-1)

    def _laws(self, temperature: Floats) -> Floats:
        """Entries of the reduced conduction matrix, then the mean depth behind each port. [W/K], [m2 K/W]"""
        surfaces, plan, pieces = self.model.pieces.surfaces, self.plan, self.model.pieces
        conductivity = self.model.conductivity(temperature[: pieces.count])[pieces.surface_piece[plan.surfaces]]
        through = surfaces.area[plan.surfaces] * surfaces.distance_a[plan.surfaces] / conductivity
        depth = np.bincount(plan.port, through, plan.count) / self.films.area
        return np.concatenate([self.projected(temperature).ravel(), depth])

    def projected(self, temperature: Floats) -> Floats:
        """Reduced conduction matrix at temperatures of pieces and patches, films left out. [W/K]"""
        _, body = self.equations(temperature, np.zeros(self.model.pieces.surface_piece.size))
        return self.basis.T @ body.leaving(self.basis)

    def equations(self, temperature: Floats, h: Floats, datum: float = 0.0) -> tuple[Network, Network | PatchEquations]:
        """Network and body at temperatures of pieces and patches, with films h by surface; nothing drives them.

        Unknowns count from `datum`. [K]
        """
        model, n = self.model, self.model.pieces.count
        network = connect(model.pieces, model.conductivity(temperature[:n]), model.resistance, np.zeros(h.size), h)
        if model.radiation is None:
            return network, network
        return network, patch_equations(network, model.resistance, model.radiation, temperature[n:], datum)

    def _answer_profiles(self, heater: SteadyHeater, temperature: Floats, storage: Floats, profiles: int):
        """Add the fields that smooth profiles of ambient along each side cause; returns the factor that found them.

        With `storage` [W/K] by pieces the ambients grow exponentially, without they stay.
        """
        plan, pieces = self.plan, self.model.pieces
        network, body = self.equations(temperature, self.by_surface(self._films_of(heater)))
        kept = np.pad(storage, (0, temperature.size - pieces.count))
        solve = factor(body.to_factor + diags_array(kept))
        shapes = np.zeros((plan.count, 0))
        for side in (plan.gas, plan.water, plan.room):
            if side.size:
                of_side = np.zeros((plan.count, min(profiles, side.size)))
                of_side[side] = legvander(np.linspace(-1.0, 1.0, side.size), of_side.shape[1] - 1)
                shapes = np.concatenate([shapes, of_side], axis=1)
        drive = np.zeros((temperature.size, shapes.shape[1]))
        ambient = np.stack([self.by_surface(shape) for shape in shapes.T], axis=1)
        drive[: pieces.count] = pieces.at_surface.T @ (network.surface_conductance[:, None] * ambient)
        answers = solve(drive)
        for _ in range(SWEEPS):
            left = drive - body.leaving(answers) - kept[:, None] * answers
            if np.abs(left).max() <= ANSWERED * np.abs(drive).max():
                break
            answers += solve(left)
        self._add(answers)
        return solve

    def _films_of(self, heater: SteadyHeater) -> Floats:
        """Films of a solved heater at the ports. [W/(m2 K)]"""
        plan, section = self.plan, self.model.section
        h = np.empty(plan.count)
        h[plan.gas] = 1.0 / (1.0 / heater.gas_film + section.inner_resistance)
        h[plan.water] = heater.water_film
        h[plan.room] = room_coefficient(heater.case, self._faces_of(heater)[plan.room], section.height, plan.shine)
        return h

    def _faces_of(self, heater: SteadyHeater) -> Floats:
        """Mean face temperature of each port. [K]"""
        plan = self.plan
        area = self.model.pieces.surfaces.area[plan.surfaces]
        face = heater.field.surface_temperature[plan.surfaces]
        return np.asarray(np.bincount(plan.port, area * face, plan.count) / np.bincount(plan.port, area, plan.count))
