"""Many heaters on the ports of one section, one round at a time: laws read at a guess, section and streams solved.

Goes in: `Ports`, cases that are alike (`kind`), guesses of their temperatures, one row a case.
Comes out: for each guess an `Answer`. One heater is a batch of one.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numba import njit
from numpy.typing import NDArray

from annulus.case import Case
from annulus.heater.gas_path import GasSupply, bare_segments, pass_bare_flues
from annulus.heater.ports import Ports
from annulus.heater.sides import GasSide, RoomSide, WaterSide, gather, take
from annulus.heater.streams import outlet_weight
from annulus.heater.water_path import WATER, bulk_by_turn, capacity_flow

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_HEAT = 1.0  # [W], a heat from the gas below this is judged as if it were this
LEAST_DRIVE = 1.0  # [K] between gas and water; a start with less is not stretched


def kind(case: Case) -> Hashable:
    """What cases must share to be solved as one batch, besides their section."""
    fixed = tuple(side is None or side.film_coefficient is None for side in (case.fire, case.water, case.room))
    direction = case.water.direction if case.water is not None else ""
    return fixed, direction, bare_segments(case.flue.bare_below)


@dataclass(frozen=True)
class Answer:
    """Linear solves with laws read at guesses, one row a case.

    Attributes
    ----------
    temperatures : ndarray, shape (n_cases, n)
        As the guesses.
    film, ambient, flow : ndarray, shape (n_cases, n_ports)
        As in `PortState`; ambient above the room.
    through_openings : ndarray, shape (n_cases,)
    """

    temperatures: Floats
    film: Floats
    ambient: Floats
    flow: Floats
    through_openings: Floats

    def take(self, rows: Ints) -> Answer:
        """Answers of some cases."""
        return Answer(*(getattr(self, field.name)[rows] for field in fields(self)))


@dataclass(frozen=True)
class PortLaws:
    """The laws of cases on their ports.

    Guesses are rows: coordinates, faces of ports, gas between bands, water between turns.

    Attributes
    ----------
    water_side : WaterSide or None
        None without a coil.
    gas_in, water_in : ndarray, shape (n_cases, 1)
        Where the streams enter the section. [K]
    direction : str
        Of the water.
    """

    ports: Ports
    gas_side: GasSide
    water_side: WaterSide | None
    room_side: RoomSide
    gas_in: Floats
    water_in: Floats
    direction: str

    @classmethod
    def of(cls, ports: Ports, cases: Sequence[Case], supplies: Sequence[GasSupply]) -> PortLaws:
        """Laws of cases of one `kind`.

        Raises
        ------
        ConvergenceError
            If a bare length below the section does not settle.
        """
        turns = ports.model.section.turns
        gas_side = gather([GasSide.of(case, s.gas, s.flow) for case, s in zip(cases, supplies, strict=True)])
        room_side = gather([RoomSide.of(case) for case in cases])
        gas_in = np.array([[supply.temperature] for supply in supplies])
        bare = np.array([[case.flue.bare_below] for case in cases])
        if bare.all():
            gas_in = pass_bare_flues(cases[0], gas_side, room_side, gas_in, bare).gas_out[:, None]
        waters = [case.water for case in cases if case.water is not None]
        water_in = np.array([[water.inlet_temperature] for water in waters]) if waters else room_side.temperature
        return cls(
            ports,
            gas_side,
            gather([WaterSide.of(case, turns) for case in cases]) if turns else None,
            room_side,
            gas_in,
            water_in,
            waters[0].direction if waters else "up",
        )

    def take(self, rows: Ints) -> PortLaws:
        """Laws of some of the cases."""
        return replace(
            self,
            gas_side=take(self.gas_side, rows),
            water_side=take(self.water_side, rows) if self.water_side is not None else None,
            room_side=take(self.room_side, rows),
            gas_in=self.gas_in[rows],
            water_in=self.water_in[rows],
        )

    @property
    def room(self) -> Floats:
        """Room temperature, shape (n_cases, 1). [K]"""
        return self.room_side.temperature

    def parts(self, temperatures: Floats) -> list[Floats]:
        """Coordinates, faces, gas, water."""
        plan = self.ports.plan
        return np.split(temperatures, np.cumsum([self.ports.uniform.size, plan.count, plan.gas.size + 1]), axis=1)

    def start(self) -> Floats:
        """Guesses: the state about which the ports were made, stretched to the gas and the water that enter."""
        known, uniform = self.ports.start, self.ports.uniform
        drive = known.gas[0] - known.water[0]
        stretch = (self.gas_in - self.water_in) / drive if abs(drive) > LEAST_DRIVE else np.ones_like(self.gas_in)

        def stretched(temperature: Floats) -> Floats:
            return self.water_in + stretch * (temperature - known.water[0])

        coordinates = stretch * known.coordinates + (stretched(np.array([known.room])) - self.room) * uniform
        rows = [coordinates, stretched(known.face), stretched(known.gas), stretched(known.water)]
        return np.concatenate(rows, axis=1)

    def films(self, face: Floats, gas: Floats, wet: Floats) -> Floats:
        """Film of every port, shape (n_cases, n_ports). [W/(m2 K)]"""
        plan, section = self.ports.plan, self.ports.model.section
        h = np.empty(face.shape)
        gas_film = self.gas_side.film(0.5 * (gas[:, 1:] + gas[:, :-1]), face[:, plan.gas])
        h[:, plan.gas] = 1.0 / (1.0 / gas_film + section.inner_resistance)
        if self.water_side is not None:
            h[:, plan.water] = self.water_side.film(bulk_by_turn(wet, self.direction), face[:, plan.water])
        h[:, plan.room] = self.room_side.film(face[:, plan.room], section.height, plan.shine)
        return h

    def answer(self, guesses: Floats) -> Answer:
        """Solve sections and streams with the laws at these temperatures."""
        plan, room = self.ports.plan, self.room
        y, face, gas, wet = self.parts(guesses)
        h = self.films(face, gas, wet)
        conduction, films = self.ports.laws(y, room)
        conductance, n_wet = films.conductance(h), plan.gas.size + plan.water.size
        drives, drains = films.drives(h, n_wet), films.drains(h, n_wet)

        streams = [(plan.gas, self.gas_in, capacity_flow(self.gas_side.flow, gas, self.gas_side.gas))]
        if self.water_side is not None:
            in_order = plan.water if self.direction == "up" else plan.water[::-1]
            streams.append((in_order, self.water_in, capacity_flow(self.water_side.flow, wet, WATER)))
        ambient_by, rises = np.empty((*drains.shape[:2], y.shape[1] + 1)), []
        for of_stream, inlet, capacity in streams:
            mean, rise = _pass(conductance[:, of_stream], capacity, drains[:, of_stream], inlet - room)
            ambient_by[:, of_stream] = mean
            rises.append(rise)
        given = np.swapaxes(drives, 1, 2) @ ambient_by
        system = conduction + films.system(h) - given[..., :-1]
        y_new = np.asarray(np.linalg.solve(system, given[..., -1:]), dtype=np.float64)[..., 0]

        ambient = np.zeros(h.shape)
        ambient[:, :n_wet] = _at(ambient_by, y_new)
        flow = conductance * ambient - films.leaving(h, y_new)
        new = [y_new, room + films.face(y_new, flow), self.gas_in, self.gas_in + _at(rises[0], y_new), self.water_in]
        new += [self.water_in + _at(rise, y_new) for rise in rises[1:]]
        through_openings = ((self.ports.uniform @ conduction) * y_new).sum(axis=1)
        return Answer(np.concatenate(new, axis=1), h, ambient, flow, through_openings)

    def imbalance(self, answer: Answer) -> Floats:
        """Worst imbalance of gas, water and section relative to the heat from the gas, shape (n_cases,). [-]"""
        plan = self.ports.plan
        _, _, gas, wet = self.parts(answer.temperatures)
        from_gas = answer.flow[:, plan.gas].sum(axis=1)
        given = self.gas_side.flow * np.diff(self.gas_side.gas.enthalpy(gas[:, [0, -1]]))
        gaps = [answer.flow.sum(axis=1) - answer.through_openings, from_gas + given[:, 0]]
        if self.water_side is not None:
            taken = self.water_side.flow * np.diff(WATER.enthalpy(wet[:, [0, -1]]))
            gaps.append(answer.flow[:, plan.water].sum(axis=1) + taken[:, 0])
        worst: Floats = np.abs(gaps).max(axis=0)
        return worst / np.maximum(np.abs(from_gas), LEAST_HEAT)


def _pass(conductance: Floats, capacity: Floats, drains: Floats, inlet: Floats) -> tuple[Floats, Floats]:
    """A stream through its ports, the section's coordinates left open.

    The equations are those of `streams.couple`, one port a segment, solved forwards from the inlet.

    Parameters
    ----------
    conductance, capacity : ndarray, shape (n_cases, n)
        In the order of flow. [W/K]
    drains : ndarray, shape (n_cases, n, r)
        As `PortFilms.drains`. [W/K]
    inlet : ndarray, shape (n_cases, 1)
        Above the room. [K]

    Returns
    -------
    tuple of ndarray, shape (n_cases, n, r + 1)
        Mean of each segment above the room, and rise of its outlet above the inlet: per unit of each coordinate,
        then what is left with all at zero.
    """
    weight = outlet_weight(conductance / capacity)
    before = capacity - conductance * (1.0 - weight)
    own = capacity + conductance * weight
    source = np.concatenate([drains, -(conductance * inlet)[..., None]], axis=2) / own[..., None]
    mean, rise = _forwards(weight, before / own, source)
    mean[..., -1] += inlet
    return mean, rise


@njit(cache=True)
def _forwards(weight, share, source):
    """Means and outlets of segments, each from the outlet before it times its share, and its source."""
    cases, segments, width = source.shape
    mean, rise = np.empty_like(source), np.empty_like(source)
    for case in range(cases):
        last = np.zeros(width)
        for n in range(segments):
            for m in range(width):
                latest = share[case, n] * last[m] + source[case, n, m]
                mean[case, n, m] = last[m] + weight[case, n] * (latest - last[m])
                rise[case, n, m] = latest
                last[m] = latest
    return mean, rise


def _at(by_coordinate: Floats, y: Floats) -> Floats:
    """Values at coordinates, of rows as `_pass` gives them."""
    found: Floats = (by_coordinate[..., :-1] @ y[..., None])[..., 0] + by_coordinate[..., -1]
    return found
