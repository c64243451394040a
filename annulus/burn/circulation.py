"""What drives the water through the coil: a pump, or nothing but its own buoyancy.

Goes in: a case, its turns, temperatures of coil and tank. Comes out: the flow.

Without a pump the weight of the cold column less that of the hot one balances
friction at every instant; the water's inertia is left out (some 10 s in a
loop of 20 m). The pipes hold water of the temperature that flows into them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.films import pressure_gradient, water
from annulus.films.properties import GRAVITY
from annulus.section import Turn

Floats = NDArray[np.float64]

STRAIGHT = 1e6  # winding over bore of a straight pipe: the coil's laws of friction end in those of one
SLOWEST, FASTEST = 1e-7, 10.0  # [kg/s]: between them a loop's own flow is sought
FLOW_SETTLED = 1e-10  # of the logarithm of the flow
NEIGHBOUR = 1.1  # times a flow, or one over it: how far the next one is sought before anywhere else


class Circulation(Protocol):
    """Anything that moves water."""

    @property
    def jumps(self) -> tuple[float, ...]:
        """Instants at which it changes at once. [s]"""
        ...

    def flow(self, time: float, coil: Floats, tank: Floats, before: float) -> float:
        """Flow through the coil, negative against its usual direction. [kg/s]

        Parameters
        ----------
        time : float
            [s]
        coil : ndarray, shape (n_turns,)
            Water in each turn, bottom first. [K]
        tank : ndarray, shape (n_layers,)
            Bottom first. [K]
        before : float
            A flow near it. [kg/s]
        """
        ...

    def wets(self, time: float) -> bool:
        """Whether the coil holds water."""
        ...

    def drives_itself(self, time: float) -> bool:
        """Whether the flow follows from the temperatures."""
        ...


class Pump:
    """The flow of the case, whatever the temperatures."""

    jumps: tuple[float, ...] = ()

    def __init__(self, flow: float):
        self._flow = flow

    def flow(self, time: float, coil: Floats, tank: Floats, before: float) -> float:
        """Flow of the pump. [kg/s]"""
        return self._flow

    def wets(self, time: float) -> bool:
        """Always."""
        return True

    def drives_itself(self, time: float) -> bool:
        """Never."""
        return False


@dataclass(frozen=True)
class Pipework:
    """What the water must pass; lengths in [m].

    Attributes
    ----------
    bore, winding : float
        Of the coil's tube, and between its centres across the coil.
    lengths : ndarray, shape (n_turns,)
    tails : float
        Straight tube of the coil's bore, both ends together.
    pipe_bore, pipe_length : float
        Of the pipe between coil and tank, both ways together.
    fittings : float
        Loss coefficients, added up, at the speed in the pipe.
    """

    bore: float
    winding: float
    lengths: Floats
    tails: float
    pipe_bore: float
    pipe_length: float
    fittings: float

    def friction(self, flow: float, coil: Floats, into_coil: float, out_of_coil: float) -> float:
        """Pressure that a flow takes. [Pa]

        Parameters
        ----------
        flow : float
            Positive. [kg/s]
        coil : ndarray, shape (n_turns,)
            [K]
        into_coil, out_of_coil : float
            Water in the two pipes, half of the length each. [K]

        Notes
        -----
        Helical coil: Schmidt's laws (`annulus.films.pressure_gradient`), which end in 64/Re and
        Colebrook's law for a straight pipe.
        """
        ends = np.array([into_coil, out_of_coil])
        bore, winding, length = self._pieces
        gradient = pressure_gradient(flow, bore, winding, np.concatenate([coil, ends, ends]))
        speed = flow / (0.25 * np.pi * self.pipe_bore**2)
        bends = self.fittings * speed**2 / 2 * float((1 / water.density(ends)).mean())
        return float(gradient @ length) + bends

    @cached_property
    def _pieces(self) -> tuple[Floats, Floats, Floats]:
        """Bore, winding and length of turns, then of both halves of the tails and of the pipe. [m]"""
        straight = np.repeat([self.bore, self.pipe_bore], 2)
        return (
            np.append(np.full(self.lengths.size, self.bore), straight),
            np.append(np.full(self.lengths.size, self.winding), STRAIGHT * straight),
            np.append(self.lengths, 0.5 * np.repeat([self.tails, self.pipe_length], 2)),
        )


def balance(drive: float, friction: Callable[[float], float], near: float = 0.0) -> float:
    """Flow whose friction equals a driving pressure [Pa]; zero if nothing drives. [kg/s]

    It is sought close to `near` [kg/s] first: a moment later a flow has hardly changed.
    """
    low, high = max(near / NEIGHBOUR, SLOWEST), min(near * NEIGHBOUR, FASTEST)
    if near <= 0.0 or not friction(low) < drive < friction(high):
        low, high = SLOWEST, FASTEST
        if drive <= friction(low):
            return 0.0
        if drive >= friction(high):
            return high

    from scipy.optimize import brentq  # takes 0.25 s to import, which only a loop without a pump need wait for

    def short(power: float) -> float:  # hardly bends: friction is nearly a power of the flow
        return float(np.log(friction(float(np.exp(power))) / drive))

    return float(np.exp(brentq(short, np.log(low), np.log(high), xtol=FLOW_SETTLED)))


class Buoyancy:
    """The flow that the loop drives by itself, up through the coil if the tank is higher.

    Parameters
    ----------
    case : Case
        With a coil, a tank and a loop.
    turns : sequence of Turn
    """

    jumps: tuple[float, ...] = ()

    def __init__(self, case: Case, turns: Sequence[Turn]):
        assert case.coil is not None and case.loop is not None and case.tank is not None  # as in `Heating`
        self._height = case.height
        self._of_turn = case.height / len(turns)
        self._bottom = 0.5 * case.height + case.loop.tank_above_coil
        self._tank_height = case.tank.height
        self._pipework = Pipework(
            bore=2 * turns[0].inner_radius,
            winding=2 * float(np.mean([turn.r for turn in turns])),
            lengths=np.array([turn.length for turn in turns]),
            tails=2 * case.coil.tails,
            pipe_bore=case.loop.pipe_bore,
            pipe_length=case.loop.pipe_length,
            fittings=case.loop.fittings,
        )

    def flow(self, time: float, coil: Floats, tank: Floats, before: float) -> float:
        """Flow that balances buoyancy and friction; the way it already flows if both would hold. [kg/s]"""
        ways = (1, -1) if before >= 0 else (-1, 1)
        for way in ways:
            into, out = (tank[0], coil[-1]) if way > 0 else (tank[-1], coil[0])
            friction = partial(self._pipework.friction, coil=coil, into_coil=float(into), out_of_coil=float(out))
            found = balance(way * self.drive(coil, tank, upwards=way > 0), friction, way * before)
            if found > 0:
                return way * found
        return 0.0

    def wets(self, time: float) -> bool:
        """Always."""
        return True

    def drives_itself(self, time: float) -> bool:
        """Always."""
        return True

    def drive(self, coil: Floats, tank: Floats, upwards: bool) -> float:
        """Pressure that drives water up through the coil, with the pipes filled as that flow fills them. [Pa]"""
        lower, upper = (tank[0], coil[-1]) if upwards else (coil[0], tank[-1])
        top = self._bottom + self._tank_height
        cold = float(water.density(lower)) * self._bottom + float(water.density(tank).mean()) * self._tank_height
        hot = float(water.density(coil).sum()) * self._of_turn + float(water.density(upper)) * (top - self._height)
        return GRAVITY * (cold - hot)


def mix(valve: float, out: float, tank: float) -> tuple[float, float | None]:
    """What a valve mixes that lets no water colder than it is set to into the coil.

    Parameters
    ----------
    valve, out, tank : float
        What it is set to, the water at the coil's end and that drawn from the tank, on one scale. [K]

    Returns
    -------
    share : float
        Of the water into the coil, that comes from the tank; the rest comes back from the coil's end. [-]
    held : float or None
        The temperature into the coil where both are mixed. [K]
    """
    if tank >= valve:
        return 1.0, None
    if out <= valve:
        return 0.0, None
    return (out - valve) / (out - tank), valve


def make_circulation(case: Case, turns: Sequence[Turn]) -> Circulation:
    """Circulation of a case with a tank."""
    assert case.loop is not None and case.water is not None  # a tank brings [loop] along, a coil has water
    return Buoyancy(case, turns) if case.loop.circulation == "natural" else Pump(case.water.flow)
