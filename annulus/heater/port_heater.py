"""Steady heaters solved on the ports of their section: any fire, flow, water and room, many at once.

Goes in: `Ports` and cases that share their section. Comes out: a `PortState` of
each, energy closed.
"""

from __future__ import annotations

import time
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.conduction.beyond import refuse_beyond
from annulus.conduction.exchange import PatchEquations
from annulus.conduction.radiant import with_radiation
from annulus.conduction.steady import Field
from annulus.errors import AnnulusError, ConvergenceError, InputError
from annulus.films import water
from annulus.heater.boiling import refuse_boiling
from annulus.heater.gas_path import GasSupply, gas_supplies, pass_bare_flue
from annulus.heater.mixing import mixed
from annulus.heater.port_laws import Answer, PortLaws, kind
from annulus.heater.ports import Ports, refuse_other_section
from annulus.heater.steady import SteadyHeater

Floats = NDArray[np.float64]

SETTLED = 1e-10  # change between rounds, of the span of temperatures
MAX_ROUNDS = 60
MIXED = 2  # earlier rounds that take part in the next guess
AT_ONCE = 256  # cases solved as arrays: enough to hide what a round costs in Python, and no more memory than needed
LEAST_SPAN = 1e-3  # [K]
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


def solve_on_ports(ports: Ports, case: Case) -> PortState:
    """Solve a case for its steady state on the ports of its section.

    Parameters
    ----------
    ports : Ports
    case : Case
        The section's own keys must be those that the ports were made for.

    Raises
    ------
    InputError
        If the case has another section.
    ConvergenceError
        If temperatures do not settle, leave the range of gas, water and room, or energy does not close.
    """
    (found,) = solve_many(ports, [case])
    if isinstance(found, AnnulusError):
        raise found
    return found


def solve_many(ports: Ports, cases: Sequence[Case]) -> list[PortState | AnnulusError]:
    """Solve cases that share a section, as arrays over all of them.

    Parameters
    ----------
    ports : Ports
    cases : sequence of Case
        The section's own keys must be those that the ports were made for.

    Returns
    -------
    list
        For each case its state, or the error that `solve_on_ports` raises. Matrices for k(T) and radiation are
        shared, so that a state may depend on the others within the reach of their store.
    """
    found: dict[int, PortState | AnnulusError] = {}
    alike: dict[Hashable, list[tuple[int, Case, GasSupply]]] = {}
    for n, (case, supply) in enumerate(zip(cases, gas_supplies(cases), strict=True)):
        try:
            refuse_other_section(ports.section, case)
        except InputError as error:
            found[n] = error
            continue
        if isinstance(supply, GasSupply):
            alike.setdefault(kind(case), []).append((n, case, supply))
        else:
            found[n] = supply
    for batch in alike.values():
        for first in range(0, len(batch), AT_ONCE):
            numbers, its_cases, supplies = zip(*batch[first : first + AT_ONCE], strict=True)
            found |= zip(numbers, _solve_parts(ports, its_cases, supplies), strict=True)
    return [found[n] for n in range(len(cases))]


def _solve_parts(ports: Ports, cases: Sequence[Case], supplies: Sequence[GasSupply]) -> list[PortState | AnnulusError]:
    """Solve cases of one kind; a batch that fails is halved until the case that is to blame stands alone."""
    try:
        return [*_solve_alike(ports, cases, supplies)]
    except AnnulusError as error:
        if len(cases) == 1:
            return [error]
    half = len(cases) // 2
    return [
        *_solve_parts(ports, cases[:half], supplies[:half]),
        *_solve_parts(ports, cases[half:], supplies[half:]),
    ]


def _solve_alike(ports: Ports, cases: Sequence[Case], supplies: Sequence[GasSupply]) -> list[PortState]:
    """Solve cases of one kind; those that have settled leave the rounds."""
    laws = PortLaws.of(ports, cases, supplies)
    left = np.arange(len(cases))
    states: dict[int, PortState] = {}
    guess = laws.start()
    tried: list[Floats] = []
    found: list[Floats] = []
    changes: list[Floats] = []
    for rounds in range(1, MAX_ROUNDS + 1):
        answer = laws.answer(guess)
        moved = np.abs(answer.temperatures - guess)[:, ports.uniform.size :].max(axis=1)
        changes.append(moved / np.maximum(np.ptp(answer.ambient, axis=1), LEAST_SPAN))
        done, open_ = np.flatnonzero(changes[-1] < SETTLED), np.flatnonzero(~(changes[-1] < SETTLED))
        if done.size:
            settled = _states(laws.take(done), answer.take(done), [(cases[n], supplies[n]) for n in left[done]], rounds)
            states |= zip(left[done].tolist(), settled, strict=True)
            if not open_.size:
                return [states[n] for n in range(len(cases))]
            laws, left = laws.take(open_), left[open_]
            guess, answer = guess[open_], answer.take(open_)
            tried, found, changes = ([one[open_] for one in rows] for rows in (tried, found, changes))
        tried, found = [*tried[-MIXED:], guess], [*found[-MIXED:], answer.temperatures]
        guess = mixed(tried, found)
    raise ConvergenceError(
        f"steady heater on ports: temperatures still move by {changes[-1][0]:.1e} of their span after "
        f"{MAX_ROUNDS} rounds; is a flow close to zero?",
        residuals=[float(change[0]) for change in changes],
    )


def _states(laws: PortLaws, answer: Answer, cases: Sequence[tuple[Case, GasSupply]], rounds: int) -> list[PortState]:
    """States of settled answers, their balance judged."""
    error = laws.imbalance(answer)
    wrong = np.flatnonzero(~(error <= CLOSED))
    if wrong.size:
        raise ConvergenceError(
            f"steady heater on ports: energy closes to {error[wrong[0]]:.1e} of the heat from the gas and must close "
            f"to {CLOSED:g}; is a flow so large that its temperature hardly changes?",
            residuals=error[wrong[:1]].tolist(),
        )
    y, face, gas, wet = laws.parts(answer.temperatures)
    extremes = laws.room + laws.ports.extremes(y)
    ends = np.concatenate([[[supply.temperature] for _, supply in cases], laws.water_in, laws.room], axis=1)
    for of_field, low, high in zip(extremes, ends.min(axis=1), ends.max(axis=1), strict=True):
        refuse_beyond(of_field, float(low), float(high), "steady heater on ports")
    ambient = laws.room + answer.ambient
    return [
        PortState(
            case,
            supply,
            y[n],
            gas[n],
            wet[n],
            answer.film[n],
            ambient[n],
            answer.flow[n],
            face[n],
            float(answer.through_openings[n]),
            float(error[n]),
            rounds,
        )
        for n, (case, supply) in enumerate(cases)
    ]


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
    room, radiation = case.room.temperature, ports.model.radiation
    if radiation is not None:
        radiation = replace(radiation, held=np.where(np.isnan(radiation.held), np.nan, room))
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
        rounding=body.rounding(temperature - room),
        solver="ports",
        rounds=state.rounds,
        factorisations=0,
        seconds=time.perf_counter() - begun,
    )
    supply = state.supply
    saturation = None
    if case.water is not None and plan.water.size:
        saturation = float(water.saturation_temperature(case.water.pressure))
        refuse_boiling(state.water, saturation, case.water, supply)
    return SteadyHeater(
        model=replace(ports.model, case=case, radiation=radiation),
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
