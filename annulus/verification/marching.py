"""Marching a known problem: readings at its times, the step that will do, the order in time.

Goes in: a problem and temperatures known at its times. Comes out: rows.

A problem is marched with even steps, halved until that changes no reading by
half of the error allowed; there the readings must hold. They must hold too
with steps chosen by their error. The order in time is that of whole fields
over the next halvings but one: at the first, a jump at the start may still be
felt, and fields then settle faster than the order says.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.network import connect
from annulus.conduction.pieces import Pieces
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import Field, conductivity_of_pieces, linearise, resistance_table
from annulus.conduction.transient import Boundaries, History, march
from annulus.errors import ConvergenceError
from annulus.verification.order import observed_order
from annulus.verification.readings import side_temperature
from annulus.verification.rows import Also, Row, quoted, worst, zero

Floats = NDArray[np.float64]

ERROR = 2e-3  # of the span, at a step whose halving changes less than half of that
ORDER, ORDER_ERROR = 2.0, 0.2
LOST = 1e-9  # heat of any step, of what moved
MAX_HALVINGS = 10
HALVINGS_FOR_ORDER = 3  # after the step that will do
STEP_TOLERANCE = 1e-4  # of the span: error of a step that chooses itself


@dataclass(frozen=True)
class Problem:
    """What a march needs but its steps. SI units."""

    pieces: Pieces
    conductivity: Mapping[str, float]
    capacity: Mapping[str, float]
    boundaries: Boundaries
    times: tuple[float, ...]
    span: float
    initial: float = 0.0
    contacts: Mapping[tuple[str, str], float] = field(default_factory=dict)

    def march(self, fixed_step: float | None = None) -> History:
        """Even steps, or steps that choose themselves. [s]"""
        return march(
            self.pieces,
            self.conductivity,
            self.capacity,
            self.boundaries,
            self.initial,
            self.times,
            contacts=self.contacts,
            tolerance=STEP_TOLERANCE * self.span,
            fixed_step=fixed_step,
        )

    def fields(self, history: History) -> list[Field]:
        """Fields with their flows and faces at the wished times."""
        return [self._field(time, T) for time, T in zip(self.times, history.temperature, strict=True)]

    def _field(self, time: float, temperature: Floats) -> Field:
        pieces = self.pieces
        laws = self.boundaries(time) if callable(self.boundaries) else self.boundaries
        q0, h = linearise(pieces, laws, np.zeros(pieces.surface_piece.size))
        k = conductivity_of_pieces(pieces, self.conductivity, temperature)
        network = connect(pieces, k, resistance_table(pieces, self.contacts), q0, h)
        flow = network.surface_flow(temperature)
        return Field(
            network=network,
            temperature=temperature,
            link_flow=network.link_flow(temperature),
            surface_flow=flow,
            surface_temperature=network.surface_temperature(temperature, flow),
            radiant=None,
            imbalance=float(flow.sum()),
            rounding=network.rounding(temperature),
            solver="none",
            rounds=0,
            factorisations=0,
            seconds=0.0,
        )


@dataclass(frozen=True)
class Answer:
    """A temperature known at one of a problem's times. `read` finds it in a field."""

    name: str
    expected: float
    time: int
    read: Callable[[Field], float]


def at(r: float, z: float = 0.5) -> Callable[[Field], float]:
    """Reading inside. [m]"""
    return lambda found: float(temperature_at(found, r, z)[0])


def on(side: str, along: float = 0.5) -> Callable[[Field], float]:
    """Reading on a side. [m]"""
    return lambda found: side_temperature(found, side, along)


def time_rows(problem: Problem, answers: Sequence[Answer], first_step: float, error: float = ERROR) -> list[Row]:
    """Rows of a march.

    Parameters
    ----------
    first_step : float
        Longest step tried. [s]
    error : float
        Allowed, of the span.

    Raises
    ------
    ConvergenceError
        If no halving leaves the readings as they are.
    """

    def readings(history: History) -> Floats:
        found = problem.fields(history)
        return np.array([answer.read(found[answer.time]) for answer in answers])

    allowed = 0.5 * error
    histories = [problem.march(first_step)]
    chosen, change = None, math.inf
    while chosen is None or len(histories) <= chosen + HALVINGS_FOR_ORDER:
        if len(histories) > MAX_HALVINGS:
            raise ConvergenceError(f"{MAX_HALVINGS} halvings of a step of {first_step:g} s still change {change:.1e}")
        histories.append(problem.march(first_step / 2 ** len(histories)))
        if chosen is None:
            change = worst(np.abs(readings(histories[-1]) - readings(histories[-2]))) / problem.span
            chosen = len(histories) - 2 if change < allowed else None
    even = histories[chosen]
    finer = [history.temperature for history in histories[chosen + 1 :]]
    differences = [worst(np.abs(a - b).ravel()) for a, b in pairwise(finer)]
    order = observed_order([2.0**-n for n in range(len(differences))], differences)
    controlled = problem.march()

    words = "steps that choose themselves"
    rows = [
        Row(a.name, "", a.expected, float(T), error, problem.span, also=(Also(words, float(other), error),))
        for a, T, other in zip(answers, readings(even), readings(controlled), strict=True)
    ]
    lost = worst(np.abs(np.concatenate([history.imbalance for history in (*histories, controlled)])))
    return [
        *rows,
        zero(f"change if steps of {first_step / 2**chosen:.3g} s are halved", change, allowed),
        Row("order in time", "", ORDER, order, ORDER_ERROR),
        zero("heat lost in any step", lost, LOST),
    ]


def digits(answers: Sequence[Answer], worked: Sequence[float], rounding: float) -> Row:
    """Quoted answers beside the closed form worked again."""
    return quoted([(a.expected, float(T), rounding) for a, T in zip(answers, worked, strict=True)])
