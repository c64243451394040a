"""The steady heater: section, gas, water and room solved together.

Goes in: a `Case`. Comes out: a `SteadyHeater`: the field of the section and the
temperatures of both streams, energy closed on every loop. A result that does
not close is a ConvergenceError, never a result.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.conduction.beyond import MOST_BEYOND, refuse_beyond
from annulus.conduction.exchange import patch_equations
from annulus.conduction.network import ROUNDING, Network, connect
from annulus.conduction.probe import carry_over
from annulus.conduction.radiant import with_radiation
from annulus.conduction.solvers import factor, solve_preconditioned
from annulus.conduction.steady import Field
from annulus.errors import ConvergenceError
from annulus.films import water
from annulus.heater.boiling import refuse_boiling
from annulus.heater.gas_path import (
    BareFlue,
    GasSupply,
    gas_coefficient,
    gas_supply,
    pass_bare_flue,
    room_coefficient,
)
from annulus.heater.mixing import Mixing
from annulus.heater.model import Model, prepare
from annulus.heater.streams import Stream, couple, told_by_cells
from annulus.heater.suspects import blame
from annulus.heater.water_path import WATER, capacity_flow, water_coefficient

Floats = NDArray[np.float64]

DEFAULT_FINENESS = 2  # gives the heat to the water within some 0.3 % in cases/
SETTLED = 1e-10  # change between rounds, of the span of temperatures, that ends the iteration
MAX_ROUNDS = 60  # 3 times the worst in cases/
ROUND_OFF = 1e-6  # change that goes on where weak ties lose digits; a tenth of bars
STALLED_FOR = 4  # full rounds in which it may
CLOSED = 1e-9  # energy balance of every loop, of the heat from the gas
TOWARDS_GAS = 0.1  # of the way from water to gas: the first guess of the section, behind the gas film
MOST_BY_CELLS = 1e-3  # of the span, that a stream's mean may owe to the cells behind its film; a third of the usual bar
LEAST_SPAN = 1e-3  # [K], a section whose temperatures span less is judged as if they spanned this
LEAST_HEAT = 1.0  # [W], a heat from the gas below this is judged as if it were this
STRIPES = 100  # heat stripes in a picture that can still be counted
PATIENCE, SLOW = 5, 0.3  # a change that in so many rounds falls to no less than this share asks for a new factor


@dataclass(frozen=True)
class SteadyHeater:
    """A heater in steady state. Temperatures in [K], heat flows in [W].

    Attributes
    ----------
    model : Model
    supply : GasSupply
    below, above : BareFlue
        Bare lengths before and after the coil section.
    field : Field
        The section.
    gas : ndarray, shape (n_bands + 1,)
        At the edges of the bands, bottom first.
    water : ndarray, shape (n_turns + 1,)
        Inlet, then after each turn in the order of flow.
    water_saturation : float or None
        Boiling point at the case's water pressure.
    patches : ndarray, shape (n_patches,)
        Of the patches of radiation around still air; empty without.
    gas_film, water_film : ndarray
        Coefficients by band and by turn (bottom first). [W/(m2 K)]
    balance_error : float
        Worst imbalance of gas, water and section, of the heat from the gas. [-]
    seconds : float
        Wall time.
    """

    model: Model
    supply: GasSupply
    below: BareFlue
    above: BareFlue
    field: Field
    gas: Floats
    water: Floats
    water_saturation: float | None
    patches: Floats
    gas_film: Floats
    water_film: Floats
    balance_error: float
    seconds: float

    @property
    def case(self) -> Case:
        return self.model.case

    def stripe_watts(self) -> float:
        """A round number of watts (1, 2 or 5 times a power of ten) that makes 60 to 150 stripes of this heat. [W]"""
        heat = float(np.abs(self.field.surface_flow[self.model.gas_surfaces]).sum())
        return stripe_watts(heat)


def stripe_watts(heat: float) -> float:
    """Of one stripe, for so much heat in all. [W]"""
    wished = max(heat, 1e-3) / STRIPES
    power = 10.0 ** np.floor(np.log10(wished))
    return float(power * min((1, 2, 5, 10), key=lambda step: abs(np.log(step * power / wished))))


def solve_heater(
    case: Case,
    fineness: int = DEFAULT_FINENESS,
    tell: Callable[[str], None] | None = None,
    near: SteadyHeater | None = None,
) -> SteadyHeater:
    """Solve a case for its steady state.

    Parameters
    ----------
    case : Case
    fineness : int
        Cells of the coarsest grid are split into this many each way.
    tell : callable, optional
        Told in a few words what is going on.
    near : SteadyHeater, optional
        The same case on another grid, to start from; the result does not depend on it.

    Returns
    -------
    SteadyHeater

    Raises
    ------
    BoilingError
        If water leaves a turn at or above its boiling point.
    ConvergenceError
        If temperatures do not settle, leave the range of gas, water and room, or a balance does not close.
    """
    begun = time.perf_counter()
    if tell:
        tell("cutting the section into pieces")
    heater = solve_model(prepare(case, fineness), tell, near)
    return replace(heater, seconds=time.perf_counter() - begun)


def solve_model(
    model: Model, tell: Callable[[str], None] | None = None, near: SteadyHeater | None = None
) -> SteadyHeater:
    """Solve a case that is cut already; as `solve_heater`."""
    begun = time.perf_counter()
    say = tell or (lambda words: None)
    case = model.case
    supply = gas_supply(case)
    below = pass_bare_flue(case, supply, supply.temperature, case.flue.bare_below)
    say(f"solving {model.pieces.count} pieces")
    try:
        state = _iterate(model, supply, below.gas_out, say, near)
        balance_error = _close(state, model, supply)
    except ConvergenceError as fault:
        raise ConvergenceError(blame(case, fault), fault.residuals, fault.field) from fault
    above = pass_bare_flue(case, supply, float(state.gas[-1]), case.flue.bare_above)
    saturation = None
    if case.water is not None and model.section.turns:
        saturation = float(water.saturation_temperature(case.water.pressure))
        refuse_boiling(state.water, saturation, case.water, supply)
    return SteadyHeater(
        model=model,
        supply=supply,
        below=below,
        above=above,
        field=state.field,
        gas=state.gas,
        water=state.water,
        water_saturation=saturation,
        patches=state.patches,
        gas_film=state.gas_film,
        water_film=state.water_film,
        balance_error=balance_error,
        seconds=time.perf_counter() - begun,
    )


@dataclass
class _State:
    """What the iteration carries from round to round."""

    temperature: Floats
    face: Floats
    gas: Floats
    water: Floats
    patches: Floats
    gas_film: Floats
    water_film: Floats
    field: Field


def _iterate(
    model: Model, supply: GasSupply, gas_in: float, say: Callable[[str], None], near: SteadyHeater | None
) -> _State:
    """Repeat films, k(T) and the coupled linear solve until nothing moves."""
    begun = time.perf_counter()
    case, pieces = model.case, model.pieces
    n_bands, n_turns = model.band_edges.size - 1, len(model.section.turns)
    room = case.room.temperature
    water_in = case.water.inlet_temperature if case.water is not None else room
    n_patches = model.radiation.enclosure.count if model.radiation is not None else 0
    # Unknowns count from the room, so that small differences keep their digits and equal temperatures give no heat.
    if near is None:
        gas, wet = np.full(n_bands + 1, gas_in), np.full(n_turns + 1, water_in)
        above_room = np.full(pieces.count, water_in + TOWARDS_GAS * (gas_in - water_in) - room)
    else:
        gas, wet = near.gas, near.water
        above_room = carry_over(near.model.pieces, near.field.temperature, pieces) - room
    rises = np.concatenate([gas[1:] - gas_in, wet[1:] - water_in])
    face = room + pieces.truly_at_surface @ above_room
    patch_above = np.empty(0)
    if model.radiation is not None:
        patch_above = model.radiation.guess(above_room)
    unknowns = np.concatenate([above_room, patch_above, rises])
    patches, solve, mixing = None, None, Mixing()
    factored: list[int] = []
    changes: list[float] = []
    bounds = np.array([end([gas_in, water_in, room]) - room for end in (min, max)])
    bounds = bounds + MOST_BEYOND * np.ptp(bounds) * np.array([-1.0, 1.0])  # as far as a mixed guess may stray
    inlets = np.concatenate(
        [np.zeros(pieces.count + n_patches), np.repeat([gas_in, water_in], [n_bands, n_turns]) - room]
    )
    low, high = bounds[0] - inlets, bounds[1] - inlets
    full_rounds = 0
    ends = np.cumsum([pieces.count, n_patches, n_bands + n_turns])
    for rounds in range(1, MAX_ROUNDS + 1):
        network, gas_film, wet_film = _network(model, supply, room + above_room, face, gas, wet)
        streams = streams_of(model, supply, gas, wet)
        if model.radiation is not None:
            patches = patch_equations(network, model.resistance, model.radiation, room + patch_above, room)
        coupled = couple(network, [replace(stream, inlet=stream.inlet - room) for stream in streams], patches)
        full_rounds += bool(full_rounds) or _is_near(changes)
        if solve is None or (not full_rounds and _is_slow(changes, rounds - factored[-1])):
            solve, mixing = factor(coupled.to_factor), Mixing()
            factored.append(rounds)
        before = unknowns
        if full_rounds:
            unknowns = solve_preconditioned(coupled.matrix, coupled.drive, solve, before).x
            step = unknowns - before
        else:
            step = solve(coupled.drive - coupled.product(before))
            unknowns = np.clip(mixing.next(before, step), low, high)
        above_room, patch_above, rises = np.split(unknowns, ends[:2])
        span = max(float(np.ptp(above_room)), LEAST_SPAN)
        changes.append(float(np.abs(step).max()) / span)
        gas = np.concatenate([[gas_in], gas_in + rises[:n_bands]])
        wet = np.concatenate([[water_in], water_in + rises[n_bands:]])
        ambient = coupled.ambient(rises)  # above the room; the room itself where no stream wets
        driven = replace(network, surface_drive=network.surface_conductance * ambient)
        flow = driven.surface_flow(above_room)
        face = room + driven.surface_temperature(above_room, flow)
        say(f"round {rounds}: temperatures move by {changes[-1]:.0e} of their span")
        has_stalled = full_rounds > STALLED_FOR and max(changes[-STALLED_FOR:]) < ROUND_OFF
        if full_rounds and (changes[-1] < SETTLED or has_stalled):
            break
    else:
        raise ConvergenceError(
            f"steady heater: temperatures still move by {changes[-1]:.1e} of their span after {MAX_ROUNDS} rounds; "
            "is a law steep in temperature?",
            residuals=changes,
            field=room + above_room,
        )
    link_flow, radiant = network.link_flow(above_room), None
    if patches is not None:
        link_flow, flow, radiant = with_radiation(patches, link_flow, flow, patch_above)
    field = Field(
        network=replace(network, surface_drive=network.surface_conductance * (room + ambient)),
        temperature=room + above_room,
        link_flow=link_flow,
        surface_flow=flow,
        surface_temperature=face,
        radiant=radiant,
        imbalance=float(flow.sum()),
        rounding=(patches or network).rounding(np.concatenate([above_room, patch_above]))
        + _rounding(network, streams, ambient, rises),
        solver="direct factor",
        rounds=rounds,
        factorisations=len(factored),
        seconds=time.perf_counter() - begun,
    )
    return _State(field.temperature, face, gas, wet, room + patch_above, gas_film, wet_film, field)


def _is_near(changes: list[float]) -> bool:
    """Whether the rounds so far have come as near to rest as one step of the factor a round brings them."""
    crept = len(changes) > PATIENCE and SLOW * changes[-1 - PATIENCE] < changes[-1] < ROUND_OFF
    return bool(changes) and (changes[-1] < SETTLED or crept)


def _is_slow(changes: list[float], rounds: int) -> bool:
    """Whether so many rounds with one factor have brought too little."""
    return rounds > PATIENCE and changes[-1] > SLOW * changes[-1 - PATIENCE]


def _network(
    model: Model, supply: GasSupply, temperature: Floats, face: Floats, gas: Floats, wet: Floats
) -> tuple[Network, Floats, Floats]:
    """Conductances with films at the present temperatures; nothing drives them yet."""
    case, pieces, section = model.case, model.pieces, model.section
    h = np.zeros(face.size)
    area = pieces.surfaces.area

    wall = _mean_by(model.gas_band, face[model.gas_surfaces], area[model.gas_surfaces], gas.size - 1)
    gas_film = gas_coefficient(case, supply, 0.5 * (gas[1:] + gas[:-1]), wall)
    h[model.gas_surfaces] = (1 / (1 / gas_film + section.inner_resistance))[model.gas_band]

    wet_film = np.empty(0)
    if model.section.turns:
        area_wet = area[model.water_surfaces]
        bore = _mean_by(model.water_turn, face[model.water_surfaces], area_wet, len(section.turns))
        wet_film = water_coefficient(case, section.turns, bore, wet)
        h[model.water_surfaces] = wet_film[model.water_turn]

    open_to_room = np.concatenate([model.outside, model.ends])
    h[open_to_room] = room_coefficient(case, face[open_to_room], section.height, model.shine)
    network = connect(pieces, model.conductivity(temperature), model.resistance, np.zeros(face.size), h)
    return network, gas_film, wet_film


def streams_of(model: Model, supply: GasSupply, gas: Floats, wet: Floats) -> list[Stream]:
    """Gas by bands, then water by turns where there is a coil, at temperatures of their segments' edges [K]."""
    case = model.case
    streams = [Stream(model.gas_surfaces, model.gas_band, float(gas[0]), capacity_flow(supply.flow, gas, supply.gas))]
    if case.water is not None and model.section.turns:
        last = len(model.section.turns) - 1
        order = model.water_turn if case.water.direction == "up" else last - model.water_turn
        streams.append(Stream(model.water_surfaces, order, float(wet[0]), capacity_flow(case.water.flow, wet, WATER)))
    return streams


def _mean_by(group: NDArray[np.int64], value: Floats, weight: Floats, n: int) -> Floats:
    return np.bincount(group, value * weight, n) / np.bincount(group, weight, n)


def _rounding(network: Network, streams: Sequence[Stream], ambient: Floats, rises: Floats) -> float:
    """Heat that double precision cannot tell in what streams give and carry. [W]"""
    given = float(network.surface_conductance @ np.abs(ambient))
    carried = float(np.concatenate([stream.capacity for stream in streams]) @ np.abs(rises[: _segments(streams)]))
    return ROUNDING * (given + carried)


def _segments(streams: Sequence[Stream]) -> int:
    return sum(stream.capacity.size for stream in streams)


def _close(state: _State, model: Model, supply: GasSupply) -> float:
    """Worst imbalance of gas, water and section relative to the heat from the gas (to `LEAST_HEAT` below that)."""
    case, field, flow = model.case, state.field, state.field.surface_flow
    ends = [supply.temperature, case.room.temperature, *state.water[:1]]
    refuse_beyond(state.temperature, float(min(ends)), float(max(ends)), "steady heater")
    for stream, along in zip(streams_of(model, supply, state.gas, state.water), (state.gas, state.water), strict=False):
        told = told_by_cells(field.network, stream, along)
        if told > MOST_BY_CELLS * max(float(np.ptp(ends)), LEAST_SPAN):
            raise ConvergenceError(
                f"steady heater: a stream gives up its heat within a turn behind a wall that insulates, so that the "
                f"cells of the grid shift its mean by {told:.2g} K, more than {MOST_BY_CELLS:.1%} of the span",
                field=state.temperature,
            )
    from_gas = float(flow[model.gas_surfaces].sum())
    gas_kept = supply.flow * float(np.diff(supply.gas.enthalpy(state.gas[[0, -1]]))[0])
    gaps, carried = (
        [field.imbalance, from_gas + gas_kept],
        supply.flow * float(supply.gas.cp(state.gas[0])) * state.gas[0],
    )
    if case.water is not None and model.section.turns:
        gained = case.water.flow * float(np.diff(water.enthalpy(state.water[[0, -1]]))[0])
        gaps.append(float(flow[model.water_surfaces].sum()) + gained)
        carried = max(carried, case.water.flow * float(water.specific_heat(state.water[0])) * state.water[0])
    scale = max(abs(from_gas), float(np.abs(flow).sum()) * 1e-6, LEAST_HEAT)
    error = max(map(abs, gaps)) / scale
    unknown = field.rounding + ROUNDING * float(carried)  # a large flow's heat differs little
    if not error <= CLOSED + unknown / scale:
        raise ConvergenceError(
            f"steady heater: energy closes to {error:.1e} of the heat from the gas and must close to {CLOSED:g} "
            f"(and {unknown:.1e} W of round-off)",
            residuals=gaps,
            field=state.temperature,
        )
    return error
