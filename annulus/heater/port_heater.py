"""The steady heater solved on its ports: any fire, flow, water and room in milliseconds.

Goes in: `Ports` and a `Case` that shares their section. Comes out: a
`PortState`, energy closed, with an estimate of what the few unknowns leave out.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.conduction.beyond import refuse_beyond
from annulus.conduction.exchange import PatchEquations, with_radiation
from annulus.conduction.steady import Field
from annulus.errors import ConvergenceError
from annulus.films import water
from annulus.heater.gas_path import GasSupply, gas_coefficient, gas_supply, pass_bare_flue, room_coefficient
from annulus.heater.ports import Ports, refuse_other_section
from annulus.heater.steady import SteadyHeater, refuse_boiling
from annulus.heater.streams import outlet_weight
from annulus.heater.water_path import WATER, capacity_flow, water_coefficient

Floats = NDArray[np.float64]

SETTLED = 1e-8  # change between rounds, of the span of temperatures
MAX_ROUNDS = 60
MIXED = 2  # earlier rounds that take part in the next guess
LEAST_SPAN = 1e-3  # [K]
LEAST_HEAT = 1.0  # [W], a heat from the gas below this is judged as if it were this
CLOSED = 1e-8  # energy balance, of the heat from the gas


@dataclass(frozen=True)
class PortState:
    """A heater's steady state on its ports. Temperatures in [K], heat flows in [W].

    Attributes
    ----------
    coordinates : ndarray, shape (r,)
        Of the field above the room.
    gas, water : ndarray
        As in `SteadyHeater`.
    film, ambient, flow, face : ndarray, shape (n_ports,)
        Film [W/(m2 K)], ambient, heat into the section, mean face temperature.
    through_openings : float
        Radiant heat from open still air into the room.
    balance_error : float
        Of gas, water and section, of the heat from the gas. [-]
    rounds : int
    """

    case: Case
    supply: GasSupply
    coordinates: Floats
    gas: Floats
    water: Floats
    film: Floats
    ambient: Floats
    flow: Floats
    face: Floats
    through_openings: float
    balance_error: float
    rounds: int


def solve_on_ports(ports: Ports, case: Case, near: PortState | None = None) -> PortState:
    """Solve a case for its steady state on the ports of its section.

    Parameters
    ----------
    ports : Ports
    case : Case
        The section's own keys must be those that the ports were made for.
    near : PortState, optional
        Where to start; the result does not depend on it beyond `SETTLED`.

    Raises
    ------
    InputError
        If the case has another section.
    ConvergenceError
        If temperatures do not settle, leave the range of gas, water and room, or energy does not close.
    """
    refuse_other_section(ports.model.case, case)
    laws = _Laws(ports, case)
    tried, found = [], []
    guess = laws.guess() if near is None else np.concatenate([near.coordinates, near.face, near.gas, near.water])
    changes: list[float] = []
    for _ in range(MAX_ROUNDS):
        answer = laws.answer(guess)
        tried.append(guess)
        found.append(answer.temperatures)
        moved = float(np.abs(found[-1] - guess)[ports.uniform.size :].max())
        changes.append(moved / max(float(np.ptp(answer.ambient)), LEAST_SPAN))
        if changes[-1] < SETTLED:
            break
        guess = _mixed(tried, found)
    else:
        raise ConvergenceError(
            f"steady heater on ports: temperatures still move by {changes[-1]:.1e} of their span after "
            f"{MAX_ROUNDS} rounds; is a flow close to zero?",
            residuals=changes,
        )
    y, face, gas, wet = laws.parts(answer.temperatures)
    through_openings = float(ports.uniform @ answer.conduction @ y)
    error = _close(case, laws.supply, ports, answer.flow, gas, wet, through_openings)
    ends = laws.supply.temperature, laws.water_in, laws.room
    refuse_beyond(laws.room + ports.field(y), min(ends), max(ends), "steady heater on ports")
    ambient = laws.room + answer.ambient
    return PortState(
        case, laws.supply, y, gas, wet, answer.film, ambient, answer.flow, face, through_openings, error, len(changes)
    )


@dataclass(frozen=True)
class _Answer:
    """One linear solve with laws read at a guess."""

    temperatures: Floats
    film: Floats
    ambient: Floats
    flow: Floats
    conduction: Floats


class _Laws:
    """The laws of a case on its ports; temperatures are coordinates, then faces, gas and water."""

    def __init__(self, ports: Ports, case: Case):
        self.ports, self.case = ports, case
        self.room = case.room.temperature
        self.supply = gas_supply(case)
        self.gas_in = pass_bare_flue(case, self.supply, self.supply.temperature, case.flue.bare_below).gas_out
        self.water_in = case.water.inlet_temperature if case.water is not None else self.room
        self.n_bands, self.n_turns = ports.plan.gas.size, ports.plan.water.size
        self.order = _order(case, self.n_turns)
        self._ends = np.cumsum([ports.uniform.size, ports.plan.count, self.n_bands + 1])

    def parts(self, temperatures: Floats) -> list[Floats]:
        """Coordinates, faces, gas, water."""
        return np.split(temperatures, self._ends)

    def guess(self) -> Floats:
        """Everything halfway between gas and water."""
        middle = 0.5 * (self.gas_in + self.water_in)
        return np.concatenate(
            [
                (middle - self.room) * self.ports.uniform,
                np.full(self.ports.plan.count, middle),
                np.full(self.n_bands + 1, self.gas_in),
                np.full(self.n_turns + 1, self.water_in),
            ]
        )

    def films(self, face: Floats, gas: Floats, wet: Floats) -> Floats:
        """Film of every port. [W/(m2 K)]"""
        case, plan, section = self.case, self.ports.plan, self.ports.model.section
        h = np.empty(plan.count)
        gas_film = gas_coefficient(case, self.supply, 0.5 * (gas[1:] + gas[:-1]), face[plan.gas])
        h[plan.gas] = 1.0 / (1.0 / gas_film + section.inner_resistance)
        if self.n_turns:
            h[plan.water] = water_coefficient(case, section.turns, face[plan.water], wet)
        h[plan.room] = room_coefficient(case, face[plan.room], section.height, plan.shine)
        return h

    def answer(self, temperatures: Floats) -> _Answer:
        """Solve section and streams with the laws at these temperatures."""
        case, ports, plan, films = self.case, self.ports, self.ports.plan, self.ports.films
        y, face, gas, wet = self.parts(temperatures)
        h = self.films(face, gas, wet)
        conductance, drives, drains = films.conductance(h), films.drives(h), films.drains(h)
        conduction = ports.conduction(y, self.room)
        streams = [(plan.gas, self.gas_in - self.room, capacity_flow(self.supply.flow, gas, self.supply.gas))]
        if self.n_turns:
            assert case.water is not None  # a case with a coil has water
            capacity = capacity_flow(case.water.flow, wet, WATER)
            streams.append((plan.water[self.order], self.water_in - self.room, capacity))
        system, drive, mean, inlet = _join(conduction + films.system(h), conductance, drives, drains, streams)
        y_new, rises = np.split(np.asarray(np.linalg.solve(system, drive), dtype=np.float64), [y.size])
        ambient = mean @ rises + inlet
        flow = conductance * ambient - drains @ y_new
        gas_rises, wet_rises = np.split(rises, [self.n_bands])
        new = [
            y_new,
            self.room + films.face(y_new, flow),
            np.array([self.gas_in]),
            self.gas_in + gas_rises,
            np.array([self.water_in]),
            self.water_in + wet_rises,
        ]
        return _Answer(np.concatenate(new), h, ambient, flow, conduction)


def _mixed(tried: list[Floats], found: list[Floats]) -> Floats:
    """Next guess from the last guesses and their answers, so that their misses cancel best (Anderson).

    References
    ----------
    H. F. Walker, P. Ni, SIAM J. Numer. Anal. 49 (2011) 1715. From memory.
    """
    last = slice(-MIXED - 1, None)
    misses = np.stack([b - a for a, b in zip(tried[last], found[last], strict=True)])
    if len(misses) == 1:
        return found[-1]
    steps = np.diff(misses, axis=0)
    share = np.linalg.lstsq(steps.T, misses[-1], rcond=None)[0]
    return found[-1] - share @ np.diff(np.stack(found[last]), axis=0)


def _order(case: Case, n_turns: int) -> NDArray[np.int64]:
    """Turns in the order of flow."""
    upwards = np.arange(n_turns)
    return upwards[::-1] if case.water is not None and case.water.direction == "down" else upwards


def _join(
    matrix: Floats,
    conductance: Floats,
    drives: Floats,
    drains: Floats,
    streams: list[tuple[NDArray[np.int64], float, Floats]],
) -> tuple[Floats, Floats, Floats, Floats]:
    """Equations of the reduced section, then of each stream's rises above its inlet.

    A stream is its ports in the order of flow, its inlet above the room, and its heat capacity flow by segment;
    the equations are those of `streams.couple`, one port a segment.
    """
    n_ports = conductance.size
    n = sum(ports.size for ports, _, _ in streams)
    mean, inlet = np.zeros((n_ports, n)), np.zeros(n_ports)
    carried, wetted = np.zeros((n, n)), np.empty(n, dtype=np.int64)
    first = 0
    for ports, start, capacity in streams:
        own = np.arange(first, first + ports.size)
        weight = outlet_weight(conductance[ports] / capacity)
        mean[ports, own] = weight
        mean[ports[1:], own[:-1]] = 1.0 - weight[1:]
        inlet[ports] = start
        carried[own, own] = capacity
        carried[own[1:], own[:-1]] = -capacity[1:]
        wetted[own] = ports
        first += ports.size
    system = np.block(
        [
            [matrix, -(drives.T @ mean)],
            [-drains[wetted], carried + (conductance[:, None] * mean)[wetted]],
        ]
    )
    drive = np.concatenate([drives.T @ inlet, -(conductance * inlet)[wetted]])
    return system, drive, mean, inlet


def _close(case, supply, ports, flow, gas, wet, through_openings) -> float:
    """Worst imbalance of gas, water and section relative to the heat from the gas."""
    plan = ports.plan
    from_gas = float(flow[plan.gas].sum())
    gaps = [
        float(flow.sum()) - through_openings,
        from_gas + supply.flow * float(np.diff(supply.gas.enthalpy(gas[[0, -1]]))[0]),
    ]
    if plan.water.size:
        gaps.append(float(flow[plan.water].sum()) + case.water.flow * float(np.diff(WATER.enthalpy(wet[[0, -1]]))[0]))
    error = max(map(abs, gaps)) / max(abs(from_gas), LEAST_HEAT)
    if not error <= CLOSED:
        raise ConvergenceError(
            f"steady heater on ports: energy closes to {error:.1e} of the heat from the gas and must close to "
            f"{CLOSED:g}; is a flow so large that its temperature hardly changes?",
            residuals=gaps,
        )
    return error


def as_heater(ports: Ports, state: PortState) -> SteadyHeater:
    """A state on ports as a heater with its whole field, for everything that reads one.

    Parameters
    ----------
    ports : Ports
    state : PortState

    Returns
    -------
    SteadyHeater
        Its balance is that of the ports; flows between pieces follow from the field.

    Raises
    ------
    BoilingError
        If water leaves a turn at or above its boiling point.
    """
    begun = time.perf_counter()
    case, plan, pieces = state.case, ports.plan, ports.model.pieces
    room = case.room.temperature
    temperature = room + ports.field(state.coordinates)
    h, ambient = ports.by_surface(state.film), ports.by_surface(state.ambient)
    network, body = ports.equations(temperature, h, room)
    network = replace(network, surface_drive=network.surface_conductance * ambient)
    of_pieces = temperature[: pieces.count]
    link_flow, surface_flow, radiant = network.link_flow(of_pieces), network.surface_flow(of_pieces), None
    face = network.surface_temperature(of_pieces, surface_flow)
    if isinstance(body, PatchEquations):
        above = temperature[pieces.count :] - room
        link_flow, surface_flow, radiant = with_radiation(body, link_flow, surface_flow, above)
    field = Field(
        network=network,
        temperature=of_pieces,
        link_flow=link_flow,
        surface_flow=surface_flow,
        surface_temperature=face,
        radiant=radiant,
        imbalance=float(state.flow.sum()) - state.through_openings,
        solver="ports",
        rounds=state.rounds,
        factorisations=0,
        seconds=time.perf_counter() - begun,
    )
    supply = state.supply
    saturation = None
    if case.water is not None and plan.water.size:
        saturation = float(water.saturation_temperature(case.water.pressure))
        refuse_boiling(state.water, saturation, case.water.direction)
    return SteadyHeater(
        model=replace(ports.model, case=case),
        supply=supply,
        below=pass_bare_flue(case, supply, supply.temperature, case.flue.bare_below),
        above=pass_bare_flue(case, supply, float(state.gas[-1]), case.flue.bare_above),
        field=field,
        gas=state.gas,
        water=state.water,
        water_saturation=saturation,
        patches=temperature[pieces.count :],
        gas_film=1.0 / (1.0 / state.film[plan.gas] - ports.model.section.inner_resistance),
        water_film=state.film[plan.water],
        balance_error=state.balance_error,
        seconds=time.perf_counter() - begun,
    )
