"""Section, gas, coil water and tank at one moment, as one linear system with storage.

Goes in: a case, a `Body`, a fire, a circulation, a state to read laws at. Comes
out: a `Moment`: the rate at which heat gathers in every unknown, the matrix
and its approximate inverse, and where every watt goes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.burn.body import Body, BodyEquations, Inverse, Storage
from annulus.burn.circulation import Circulation, mix
from annulus.burn.fire import Fire, Schedule
from annulus.burn.streams import Flow, StreamEquations, make_streams
from annulus.burn.tank import Vessel
from annulus.case import Case
from annulus.conduction.solvers import Operator
from annulus.films import water
from annulus.films import water_film as film_of_water
from annulus.heater.gas_path import BareFlue, GasSupply, gas_coefficient, pass_bare_flue
from annulus.heater.water_path import capacity_flow
from annulus.section import Section

Floats = NDArray[np.float64]

LEAST_FLOW = 1e-6  # [kg/s]; the film of slower water is that of still water, as if by conduction alone (Nu 3.66)
BARE_SETTLED = 1e-6  # of the gas temperature: walls of bare flue in a burn

# Where heat goes, in the order of `Moment.rates`. [W]
WAYS = ("wood", "stove", "bare_flue", "chimney", "outside", "ends", "tank_loss", "gas", "coil", "tank")


@dataclass(frozen=True)
class Mass:
    """What body and streams store.

    Attributes
    ----------
    body : Storage
    streams : ndarray, shape (n_streams,)
        Heat capacities; zero for gas. [J/K]
    """

    body: Storage
    streams: Floats

    @property
    def stores(self) -> NDArray[np.bool_]:
        """False for an unknown that stores nothing."""
        return np.concatenate([self.body.stores, self.streams > 0])

    def __matmul__(self, change: Floats) -> Floats:
        """Heat that a change stores in each unknown. [J]"""
        n = self.body.stores.size
        return np.concatenate([self.body @ change[:n], self.streams * change[n:]])

    def diagonal(self) -> Floats:
        """Heat capacity of each unknown by itself. [J/K]"""
        return np.concatenate([self.body.diagonal(), self.streams])


@dataclass(frozen=True)
class Moment:
    """Laws frozen at one state; linear in the unknowns z = body, gas rises, coil water, tank layers.

    Attributes
    ----------
    supply_loss : BareFlue
        Bare length below the section.
    gas_in : float
        At the bottom of the section. [K]
    """

    system: Heating
    time: float
    body: BodyEquations
    streams: StreamEquations
    fire: Fire
    supply_loss: BareFlue
    gas_in: float

    def ambient(self, y: Floats) -> Floats:
        """Mean gas and water at every segment, above the room. [K]"""
        return self.streams.mean @ y + self.streams.fixed

    def taken(self, x: Floats, y: Floats) -> Floats:
        """Heat into the body through every segment. [W]"""
        return self.body.conductance * self.ambient(y) - self.body.felt @ x

    def gathers(self, z: Floats) -> Floats:
        """Heat that gathers in every unknown. [W]"""
        x, y = self.system.split(z)
        ambient = self.ambient(y)
        of_body = self.body.drive - self.body.matrix @ x + self.body.given @ ambient
        of_streams = self.streams.source - self.streams.carried @ y
        of_streams[: ambient.size] -= self.body.conductance * ambient - self.body.felt @ x
        return np.concatenate([of_body, of_streams])

    def matrix(self, rate: float, mass: Mass) -> Operator:
        """rate * mass less the derivative of `gathers`."""
        streams, body = self.streams, self.body

        def product(d: Floats) -> Floats:
            x, y = self.system.split(d)
            ambient = streams.mean @ y
            of_body = body.matrix @ x - body.given @ ambient
            of_streams = streams.carried @ y
            of_streams[: ambient.size] += body.conductance * ambient - body.felt @ x
            return np.concatenate([of_body, of_streams]) + rate * (mass @ d)

        diagonal = np.concatenate([_diagonal(body.matrix), np.diag(self._own)]) + rate * mass.diagonal()
        return Operator(product, diagonal)

    @property
    def _own(self) -> Floats:
        """What the streams do to their own balances. [W/K]"""
        own = self.streams.carried.copy()
        own[: self.body.conductance.size] += self.body.conductance[:, None] * self.streams.mean
        return own

    def inverse(self, rate: float, mass: Mass) -> Inverse:
        """Approximate inverse of `matrix`."""
        own = self._own + np.diag(rate * mass.streams)
        return self.body.inverse(rate, mass.body, self.streams.mean, own)

    def inputs(self, z: Floats) -> Floats:
        """Walls of all segments above the room [K], then the water's flow, signed, that drives itself [kg/s]."""
        x, y = self.system.split(z)
        walls = self.body.walls(x, self.ambient(y))
        _, coil, tank = self.system.parts_of(y)
        room = self.system.room
        flow = self.system.circulation.flow(self.time, room + coil, room + tank, self.signed_flow)
        return np.append(walls, flow)

    @property
    def signed_flow(self) -> float:
        """Water that passes the coil, negative against its usual direction. [kg/s]"""
        flow = self.streams.flow
        return flow.rate if flow.from_bottom else -flow.rate

    def rates(self, z: Floats) -> Floats:
        """Where heat goes, in the order of `WAYS`. [W]

        "gas" is what the section takes from the gas, "coil" what it gives to the coil's water, "tank" what the
        water brings to the tank. Nothing in the section hangs on the bare flue above it: what that gives to the room
        still counts as "chimney" here (`flue_above.share_out` parts them).
        """
        system, supply, bare = self.system, self.fire.supply, self.supply_loss.heat
        x, y = system.split(z)
        taken = self.taken(x, y)
        n = system.body.n_bands
        from_gas = float(taken[:n].sum())
        enthalpy = supply.gas.enthalpy(np.array([supply.temperature, system.room, self.gas_in]))
        available = supply.flow * float(enthalpy[0] - enthalpy[1])
        outside, ends = self.body.room_heat(x)
        _, _, tank = system.parts_of(y)
        lost = float((system.vessel.loss() * (system.room + tank - system.vessel.surroundings)).sum())
        to_tank = self.to_tank(y)
        chimney = available - bare - from_gas
        stove = self.fire.fired_power - available
        coil = -float(taken[n:].sum())
        return np.array([self.fire.fired_power, stove, bare, chimney, outside, ends, lost, from_gas, coil, to_tank])

    def gas_above(self, from_gas: float) -> float:
        """Gas at the top of the section, from what the section took of its heat [W]. [K]"""
        supply = self.fire.supply
        return float(supply.gas.temperature(supply.gas.enthalpy(self.gas_in) - from_gas / supply.flow))

    def to_tank(self, y: Floats) -> float:
        """Heat that the water carries from coil to tank. [W]"""
        _, coil, tank = self.system.parts_of(y)
        flow = self.streams.flow
        last = coil[-1] if flow.upwards else coil[0]
        if flow.held is not None:
            return self.streams.water_capacity * float(last - flow.held)
        drawn = tank[0] if flow.from_bottom else tank[-1]
        return self.streams.water_capacity * flow.drawn * float(last - drawn)


class Heating:
    """Everything of a burn that stays the same: case, body, fire, circulation, tank.

    Parameters
    ----------
    case : Case
        With a coil and a tank.
    section : Section
    body : Body
    schedule : Schedule
    circulation : Circulation
    """

    def __init__(self, case: Case, section: Section, body: Body, schedule: Schedule, circulation: Circulation):
        assert case.tank is not None and case.water is not None  # refused before where they are missing
        self.case, self.body, self.schedule, self.circulation = case, body, schedule, circulation
        self.turns = section.turns
        self.room = case.room.temperature
        self.vessel = Vessel(case.tank, case.tank.surroundings or self.room)
        self.coil_volume = np.array([math.pi * turn.inner_radius**2 * turn.length for turn in self.turns])
        self.winding = 2 * float(np.mean([turn.r for turn in self.turns]))
        self._passed: tuple[GasSupply, BareFlue] | None = None

    @property
    def usual_flow(self) -> float:
        """Flow that the case states for the coil. [kg/s]"""
        assert self.case.water is not None  # as in __init__
        return self.case.water.flow

    @property
    def size(self) -> int:
        """Unknowns in all."""
        return self.body.size + self.body.n_bands + self.body.n_turns + self.vessel.layers

    def split(self, z: Floats) -> tuple[Floats, Floats]:
        """Unknowns of body and of streams."""
        return z[: self.body.size], z[self.body.size :]

    def parts_of(self, y: Floats) -> tuple[Floats, Floats, Floats]:
        """Rises of gas, then water of turns and of layers above the room. [K]"""
        n, m = self.body.n_bands, self.body.n_bands + self.body.n_turns
        return y[:n], y[n:m], y[m:]

    def start(self) -> Floats:
        """Heater at its start temperature, coil and tank full of the tank's water."""
        case = self.case
        assert case.burn is not None and case.tank is not None  # a tank brings [burn] along
        x = self.body.uniform(case.burn.start_temperature or self.room)
        water_above = case.tank.start_temperature - self.room
        return np.concatenate(
            [x, np.zeros(self.body.n_bands), np.full(self.body.n_turns + self.vessel.layers, water_above)]
        )

    def mass(self, z: Floats) -> Mass:
        """What all unknowns store at a state."""
        x, y = self.split(z)
        return Mass(self.body.storage(x), np.concatenate([np.zeros(self.body.n_bands), *self.water_masses(y)]))

    def water_masses(self, y: Floats) -> tuple[Floats, Floats]:
        """Heat capacities of the coil's water by turn, and of the tank's layers, drum included. [J/K]"""
        _, coil, tank = self.parts_of(y)
        hot = self.room + coil
        of_coil = self.coil_volume * water.density(hot) * water.specific_heat(hot)
        return of_coil, self.vessel.water_capacity(self.room + tank) + self.vessel.drum_capacity()

    def freeze(self, time: float, z: Floats, inputs: Floats) -> Moment:
        """Read all laws at a state.

        Parameters
        ----------
        time : float
            [s]
        z : ndarray, shape (size,)
        inputs : ndarray, shape (n_segments + 1,)
            From `Moment.inputs`, of a state near this one.
        """
        case, n = self.case, self.body.n_bands
        x, y = self.split(z)
        rises, coil, tank = self.parts_of(y)
        walls, signed = self.room + inputs[:-1], float(inputs[-1])
        fire = self.schedule.at(time)
        below = self._below(fire.supply)
        gas = np.concatenate([[below.gas_out], below.gas_out + rises])
        gas_film = gas_coefficient(case, fire.supply, 0.5 * (gas[1:] + gas[:-1]), walls[:n])
        flow = self._flow(signed, coil, tank)
        wets = self.circulation.wets(time)
        water_film = self._water_film(flow, coil, tank, walls[n:]) if wets else np.zeros(coil.size)
        equations = self.body.equations(x, gas_film, water_film)
        streams = make_streams(
            gas_above_room=below.gas_out - self.room,
            gas_capacity=capacity_flow(fire.supply.flow, gas, fire.supply.gas),
            flow=flow,
            conductance=equations.conductance,
            vessel=self.vessel,
            tank=self.room + tank,
            room=self.room,
            n_turns=self.body.n_turns,
        )
        return Moment(self, time, equations, streams, fire, below, below.gas_out)

    def _flow(self, signed: float, coil: Floats, tank: Floats) -> Flow:
        """Flow of a signed rate, with what a valve mixes at these temperatures above the room."""
        assert self.case.water is not None and self.case.loop is not None  # as in __init__; a tank brings [loop] along
        upwards = (self.case.water.direction == "up") == (signed >= 0)
        valve = self.case.loop.mixing_valve
        if valve is None:
            return Flow(abs(signed), upwards, signed >= 0)
        last, drawn = coil[-1] if upwards else coil[0], tank[0] if signed >= 0 else tank[-1]
        return Flow(abs(signed), upwards, signed >= 0, *mix(valve - self.room, float(last), float(drawn)))

    def _below(self, supply: GasSupply) -> BareFlue:
        """Bare length below the section; computed once for a fire that stays the same."""
        if self._passed is None or self._passed[0] != supply:
            near = self._passed[1] if self._passed is not None else None
            length = self.case.flue.bare_below
            self._passed = (
                supply,
                pass_bare_flue(self.case, supply, supply.temperature, length, near, BARE_SETTLED),
            )
        return self._passed[1]

    @staticmethod
    def into_coil(flow: Flow, coil: Floats, tank: Floats) -> float:
        """Water into the coil, above the room. [K]"""
        if flow.held is not None:
            return flow.held
        if flow.drawn == 0:
            return float(coil[-1] if flow.upwards else coil[0])
        return float(tank[0] if flow.from_bottom else tank[-1])

    def _water_film(self, flow: Flow, coil: Floats, tank: Floats, bore: Floats) -> Floats:
        """Film in every turn; still water has that of the slowest flow. [W/(m2 K)]"""
        assert self.case.water is not None  # as in __init__
        if self.case.water.film_coefficient is not None:
            return np.full(coil.size, self.case.water.film_coefficient)
        into = self.into_coil(flow, coil, tank)
        before = np.concatenate([[into], coil[:-1]]) if flow.upwards else np.append(coil[1:], into)
        still = flow.rate < LEAST_FLOW
        bulk = self.room + (coil if still else 0.5 * (coil + before))
        return film_of_water(
            max(flow.rate, LEAST_FLOW), 2 * self.turns[0].inner_radius, self.winding, bulk, bore
        ).coefficient


def _diagonal(matrix) -> Floats:
    return matrix.diagonal()
