"""Temperatures of a section in time.

Goes in: pieces, laws of conductivity and heat capacity, boundary laws that may
change with time, an initial field. Comes out: a `History`: fields at the wished
times, and for every step the heat through each boundary and the heat stored,
which balance.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import diags_array

from annulus.conduction.beyond import driving_range, fastest_change, refuse_beyond
from annulus.conduction.boundaries import Boundary
from annulus.conduction.network import Network, connect
from annulus.conduction.pieces import Pieces
from annulus.conduction.solvers import factor, solve_preconditioned
from annulus.conduction.steady import LEAST_SPAN, Conductivity, conductivity_of_pieces, linearise, resistance_table
from annulus.errors import ConvergenceError, InputError, MaterialError

Floats = NDArray[np.float64]
Boundaries = Mapping[str, Boundary] | Callable[[float], Mapping[str, Boundary]]

GAMMA = 2.0 - math.sqrt(2.0)  # where the first stage of a step ends; makes both stages share one matrix
WEIGHT = math.sqrt(2.0) / 4.0  # of the flows at the start and at the first stage
LAST = GAMMA / 2.0  # of the flows at the end
# A step that is taken leaves the range of its start and of steady ambients by no more than so many times its own
# estimated error, on any grid whose matrix is an M-matrix (the first-order one). With J = (1 + LAST h M^-1 L)^-1 >= 0
# the step is R = (1 + sqrt2) J^2 - sqrt2 J, its estimate E = -sqrt2/(3 LAST) (1 - J)^3, the exact step exp(-h M^-1 L),
# which keeps the range. (R - exp) / (1 - J)^3 is the Laplace transform of s^2/(2 d^3) + (3 d - 1) s/d^3 - (1 - 2 d)/d^2
# on [0, 1) less a unit jump at 1, d = LAST: of total variation 5.074, over sqrt2/(3 d) = 1.610. Derived here.
OVERSHOOT = 3.153
ERROR_WEIGHTS = (WEIGHT - (1.0 - WEIGHT) / 3.0, -1.0 / 3.0, LAST - LAST / 3.0)  # second order less third order
SAFETY = 0.8  # on the step that the error allows
GROWTH = 3.0  # of a step at most
WORTH_IT = 1.5  # a step that may not grow by this much stays, and its factor with it
SHRINK = 0.2  # of a refused step at least
FIRST = 1e-3  # of the whole time: the first step tried
SMALLEST = 1e-12  # of the whole time: a step below this has failed
MAX_FACE_ROUNDS = 40  # of Newton's iteration on radiating faces; twice the worst for 0 to 1800 K and 10 m2 K/W
FACE_SETTLED = 1e-9  # of the temperature: a change that ends it
SAME = 1e-9  # steps to even times differ by round-off: a factor good for one is good for the next
MAX_STEPS = 100_000  # taken or refused
CLOSED = 1e-9  # energy balance of a step, of the heat that moved


@dataclass(frozen=True)
class History:
    """A march in time.

    Attributes
    ----------
    times : ndarray, shape (n_times,)
        Wished times. [s]
    temperature : ndarray, shape (n_times, n_pieces)
        [K]
    ends : ndarray, shape (n_steps,)
        Times at which steps ended. [s]
    heat : dict from boundary to ndarray, shape (n_steps,)
        Heat that entered the body through it during each step. [J]
    stored : ndarray, shape (n_steps,)
        Heat stored in each step. [J]
    imbalance : ndarray, shape (n_steps,)
        Entered less stored, of the heat that moved; where nearly nothing moves, of the heat that would if the
        temperature were to change by `LEAST_SPAN` of itself. [-]
    error : ndarray, shape (n_steps,)
        What each step estimates its own error to be, anywhere. [K]
    refused, factorisations : int
        Steps done again with a smaller step; factors made.
    """

    pieces: Pieces
    times: Floats
    temperature: Floats
    ends: Floats
    heat: dict[str, Floats]
    stored: Floats
    imbalance: Floats
    error: Floats
    refused: int
    factorisations: int


def march(
    pieces: Pieces,
    conductivity: Mapping[str, Conductivity],
    capacity: Mapping[str, Conductivity],
    boundaries: Boundaries,
    initial: ArrayLike,
    times: Sequence[float],
    *,
    contacts: Mapping[tuple[str, str], float] | None = None,
    source: Callable[[Floats, Floats], Floats] | None = None,
    tolerance: float = 0.01,
    fixed_step: float | None = None,
) -> History:
    """March the field in time by the trapezoidal rule and a backward difference in turn (TR-BDF2).

    Second order, L-stable: a sudden change at a boundary does not ring. It may
    overshoot, in one step by `OVERSHOOT` times the step's error at most. The
    step follows the error of each step, filtered for stiff pieces; steps end on
    the wished times. Conductivity and capacity are read at the field
    extrapolated to the middle of a step.

    Parameters
    ----------
    pieces : Pieces
    conductivity : mapping from region name to a number or a law k(T, r, z)
        [W/(m K)]
    capacity : mapping from region name to a number or a law of (T, r, z)
        Density times heat capacity. [J/(m3 K)]
    boundaries : mapping from boundary name to a law, or a function of time that gives one
        Time counts from zero. [s]
    initial : float or ndarray, shape (n_pieces,)
        [K]
    times : sequence of float
        Positive, increasing. [s]
    contacts, source
        As in `solve_steady`.
    tolerance : float
        Error of a step, anywhere. [K]
    fixed_step : float, optional
        Take steps of this length (the last before a wished time is shorter) and
        control no error. [s]

    Returns
    -------
    History

    Raises
    ------
    InputError
        For times that do not increase, an impossible tolerance or initial field, an unknown boundary or a
        region without a law.
    MaterialError
        If a conductivity or a heat capacity is not positive and finite.
    ConvergenceError
        If a step shrinks to nothing, there are too many, energy does not close, or the field leaves the
        range of what drives it.

    References
    ----------
    M. E. Hosea, L. F. Shampine, Analysis and implementation of TR-BDF2, Appl.
    Numer. Math. 20 (1996) 21. Coefficients from memory, checked by the order observed.
    """
    wished = np.asarray(times, dtype=float)
    rising = wished.ndim == 1 and wished.size > 0 and (np.diff(wished, prepend=0.0) > 0).all()
    if not rising or not np.isfinite(wished[-1]):
        raise InputError(f"times {times} s must be positive and increase")
    if not tolerance > 0 or (fixed_step is not None and not fixed_step > 0):
        raise InputError(f"tolerance {tolerance} K and fixed step {fixed_step} s must be positive")
    stepper = _Stepper(pieces, conductivity, capacity, boundaries, contacts or {}, source)
    given = np.asarray(initial, dtype=float)
    if given.shape not in ((), (pieces.count,)) or not np.isfinite(given).all():
        raise InputError(
            f"initial temperature of shape {given.shape} must be a finite number or {pieces.count} of them"
        )
    temperature = np.broadcast_to(given, (pieces.count,)).copy()
    stepper.widen(float(temperature.min()), float(temperature.max()))
    trend = np.zeros(pieces.count)
    whole = float(wished[-1])
    now, step = 0.0, fixed_step or FIRST * whole
    found: list[Floats] = []
    records: list[_Step] = []
    brought = np.zeros(2)
    refused = 0
    for goal in wished:
        while now < goal:
            left = goal - now
            length = left if step >= left * (1 - 1e-9) else (step if step < 0.5 * left else 0.5 * left)
            if fixed_step is not None:
                length = min(fixed_step, left)
            if len(records) + refused >= MAX_STEPS:
                raise ConvergenceError(
                    f"transient field: {MAX_STEPS} steps brought it to {now:.6g} s of {whole:.6g} s; "
                    f"is the tolerance of {tolerance} K below round-off?",
                    field=temperature,
                )
            tried = stepper.take(now, length, temperature, trend)
            ratio = 0.0 if fixed_step is not None else tried.error / tolerance
            if ratio > 1.0:
                refused += 1
                step = length * max(SHRINK, SAFETY * ratio ** (-1 / 3))
                if step < SMALLEST * whole:
                    raise ConvergenceError(
                        f"transient field: at {now:.6g} s the step shrank to {step:.1e} s with an error of "
                        f"{tried.error:.1e} K; does a boundary jump without end?",
                        field=temperature,
                    )
                continue
            now = float(goal) if length >= left * (1 - 1e-9) else now + length
            trend = (tried.temperature - temperature) / length
            temperature = tried.temperature
            records.append(tried)
            brought += tried.brought
            low, high = stepper.driving + brought
            refuse_beyond(temperature, low, high, f"transient field at {now:.6g} s")
            room = SAFETY * max(ratio, 1e-6) ** (-1 / 3)
            if fixed_step is None and room > WORTH_IT:
                step = max(step, length * min(room, GROWTH))
            elif fixed_step is None and room < 1.0:
                step = length * room
        found.append(temperature)
    return History(
        pieces=pieces,
        times=wished,
        temperature=np.stack(found),
        ends=np.array([record.end for record in records]),
        heat={name: np.array([record.heat[name] for record in records]) for name in pieces.boundaries},
        stored=np.array([record.stored for record in records]),
        imbalance=np.array([record.imbalance for record in records]),
        error=np.array([record.error for record in records]),
        refused=refused,
        factorisations=stepper.factorisations,
    )


@dataclass(frozen=True)
class _Step:
    """One step, taken on trial."""

    end: float
    temperature: Floats
    error: float
    heat: dict[str, float]
    stored: float
    imbalance: float
    brought: Floats  # how far sources and fluxes can have moved the ends of the range that a field keeps [K]


class _Stepper:
    """Everything a step needs, and the factor of the step before."""

    def __init__(self, pieces, conductivity, capacity, boundaries, contacts, source):
        self.pieces = pieces
        self.conductivity = conductivity
        self.capacity = capacity
        self.boundaries = boundaries if callable(boundaries) else lambda time: boundaries
        for index in np.unique(pieces.region):
            if pieces.regions[index].name not in capacity:
                raise InputError(
                    f"region {pieces.regions[index].name!r}: no heat capacity given; there are {sorted(capacity)}"
                )
        self.resistance = resistance_table(pieces, contacts)
        self.source = pieces.volume * source(pieces.r, pieces.z) if source else np.zeros(pieces.count)
        self.factorisations = 0
        self.driving = np.array([np.inf, -np.inf])  # range of all temperatures that drive, so far
        self._key: tuple | None = None
        self._solve: Callable[[Floats], Floats] | None = None

    def take(self, start: float, length: float, T0: Floats, trend: Floats) -> _Step:
        """Try one step from T0."""
        pieces = self.pieces
        middle = T0 + 0.5 * length * trend
        k = conductivity_of_pieces(pieces, self.conductivity, middle)
        store = pieces.volume * self._capacity_of_pieces(middle)
        mass = 2.0 / (GAMMA * length) * store

        before = self._network(start, k, T0)
        f0 = self._net_heat(before, T0)
        one = self._network(start + GAMMA * length, k, T0 + GAMMA * length * trend)
        solve = self._factor(one, mass)
        guess = T0 + GAMMA * length * trend
        T1 = self._stage(one, mass, mass * (T0 - guess) + f0, solve, guess)
        two = self._network(start + length, k, T0 + length * trend)
        T2 = self._stage(two, mass, (1.0 / (GAMMA * (2.0 - GAMMA)) - 1.0) * mass * (T1 - T0), solve, T1)

        flows = [f0, self._net_heat(one, T1), self._net_heat(two, T2)]
        raw = length * np.tensordot(ERROR_WEIGHTS, np.stack(flows), axes=1)
        error = float(np.abs(solve(2.0 / (GAMMA * length) * raw)).max())
        return self._account(start + length, length, (before, one, two), (T0, T1, T2), store, error)

    def widen(self, low: float, high: float) -> None:
        """Count temperatures among those that drive the field."""
        self.driving = np.array([min(low, self.driving[0]), max(high, self.driving[1])])

    def _brought(self, network: Network, temperature: Floats, store: Floats) -> Floats:
        """How fast sources and fluxes can move the ends of the range, shape (2,). [K/s]"""
        drawn = network.surface_conductance > 0
        flux = np.where(drawn, 0.0, network.surface_flow(temperature))
        return fastest_change(self.source + self.pieces.at_surface.T @ flux, store)

    def _capacity_of_pieces(self, temperature: Floats) -> Floats:
        """Heat capacity of every piece at its temperature. [J/(m3 K)]"""
        capacity = conductivity_of_pieces(self.pieces, self.capacity, temperature)
        good = np.isfinite(capacity) & (capacity > 0)
        if not good.all():
            bad = int(np.argmin(good))
            name = self.pieces.regions[self.pieces.region[bad]].name
            raise MaterialError(f"region {name!r}: heat capacity {capacity[bad]} J/(m3 K) must be positive and finite")
        return capacity

    def _network(self, time: float, k: Floats, temperature: Floats) -> Network:
        """Conductances and drives at a time, laws linearised about the faces that a field has."""
        pieces, laws = self.pieces, self.boundaries(time)
        for name in laws:
            if name not in pieces.boundaries:
                raise InputError(f"boundary {name!r} is unknown; there are {list(pieces.boundaries)}")
        behind = pieces.truly_at_surface @ temperature
        depth = pieces.surfaces.distance_a / k[pieces.surface_piece]
        bends = any(getattr(law, "depends_on_temperature", False) for law in laws.values())
        face = behind
        for _ in range(MAX_FACE_ROUNDS):
            q0, h = linearise(pieces, laws, face)
            before, face = face, (behind + q0 * depth) / (1.0 + h * depth)
            change = float(np.abs(face - before).max(initial=0.0))
            if not bends or change <= FACE_SETTLED * float(np.abs(face).max(initial=0.0)):
                if (driving := driving_range(q0, h)) is not None:
                    self.widen(*driving)
                return connect(pieces, k, self.resistance, q0, h)
        raise ConvergenceError(
            f"transient field: at {time:.6g} s a face still changes by {change:.1e} K after {MAX_FACE_ROUNDS} rounds; "
            "does the heat that a boundary brings rise with the temperature of its face?",
            field=temperature,
        )

    def _net_heat(self, network: Network, temperature: Floats) -> Floats:
        """Heat that gathers in each piece. [W]"""
        between = self.pieces.difference.T @ network.link_flow(temperature)  # what leaves one piece enters another
        return self.pieces.at_surface.T @ network.surface_flow(temperature) + self.source - between

    def _factor(self, network: Network, mass: Floats) -> Callable[[Floats], Floats]:
        """Factor of the second-order matrix with storage; the one before if nothing changed but by round-off."""
        key = (network.link_conductance, network.surface_conductance, mass)
        if self._key is None or not all(map(_nearly_equal, key, self._key)):
            self._key, self._solve = key, factor(network.matrix + diags_array(mass))
            self.factorisations += 1
        assert self._solve is not None  # made with its key
        return self._solve

    def _stage(self, network: Network, mass: Floats, past: Floats, solve, guess: Floats) -> Floats:
        """Solve for what the guess is short of: the round-off of small changes is small, that of 300 K is not."""
        matrix = (network.matrix + diags_array(mass)).tocsr()
        short = past + self._net_heat(network, guess)
        return guess + solve_preconditioned(matrix, short, solve, np.zeros(guess.size)).x

    def _account(self, end, length, networks, fields, store, error) -> _Step:
        """Heat through each boundary and heat stored over the step."""
        weights = (WEIGHT * length, WEIGHT * length, LAST * length)
        flows = [network.surface_flow(field) for network, field in zip(networks, fields, strict=True)]
        entered = np.tensordot(weights, np.stack(flows), axes=1)
        stored = store * (fields[2] - fields[0])
        made = length * float(self.source.sum())
        moved = float(np.abs(entered).sum() + np.abs(stored).sum() + abs(made))
        hottest = float(np.abs(fields[2]).max())
        passing = length * max(float(network.surface_conductance.sum()) for network in networks)
        moved = max(moved, LEAST_SPAN * hottest * (float(store.sum()) + passing))
        gap = float(entered.sum()) + made - float(stored.sum())
        imbalance = gap / moved if moved else 0.0
        if not abs(imbalance) <= CLOSED:
            raise ConvergenceError(
                f"transient field: the step to {end:.6g} s closes its energy to {imbalance:.1e} of the heat that "
                f"moved and must close to {CLOSED:g}",
                residuals=[gap],
                field=fields[2],
            )
        rates = [self._brought(network, field, store) for network, field in zip(networks, fields, strict=True)]
        brought = length * np.array([min(rate[0] for rate in rates), max(rate[1] for rate in rates)])
        by = np.bincount(self.pieces.surface_boundary, entered, len(self.pieces.boundaries))
        heat = dict(zip(self.pieces.boundaries, by.tolist(), strict=True))
        return _Step(end, fields[2], error, heat, float(stored.sum()), imbalance, brought)


def _nearly_equal(a: Floats, b: Floats) -> bool:
    return bool(np.allclose(a, b, rtol=SAME, atol=0.0))
