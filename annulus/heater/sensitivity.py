"""What a small change anywhere in a steady heater does to the heat to the water.

Goes in: a `SteadyHeater` with a coil. Comes out: a `HeatSensitivity`: watts per
change of conductivity of every piece, of contact resistance of every link, of
every film and every heat capacity flow, all else following: films, k(T),
radiation, both streams. One adjoint solve.

The law values are, in this order: the slot's Nusselt number, conductivities of pieces,
films (bands, turns, surfaces open to the room), weights and heat capacity flows of
the streams' segments.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import block_array, csr_array, csr_matrix, diags_array, eye_array, hstack, sparray, vstack

from annulus.conduction.adjoint import (
    Linearised,
    exchange_by_patches,
    links_by_conductivity,
    links_by_resistance,
    network_by_links,
    patch_derivatives,
    solve_adjoint,
    surface_films,
    surfaces_by_conductivity,
    surfaces_by_film,
)
from annulus.conduction.exchange import patch_equations
from annulus.conduction.network import Network
from annulus.errors import InputError
from annulus.heater.film_slopes import FilmSlopes, film_slopes, groups_of
from annulus.heater.steady import SteadyHeater, streams_of
from annulus.heater.streams import Coupled, Stream, couple, outlet_weight
from annulus.heater.water_path import WATER, capacity_flow

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SMALL = 1e-3  # [K], for slopes of smooth laws of temperature
SMALL_SHARE = 1e-6  # the same, of a number
SMALL_STEP = 0.1  # [K], the same for heat capacities, which hardly bend


@dataclass(frozen=True)
class HeatSensitivity:
    """Change of the heat to the water per change of what it depends on.

    Attributes
    ----------
    heat : float
        [W]
    by_conductivity : ndarray, shape (n_pieces,)
        Per conductivity added to each piece. [m K]
    by_resistance : ndarray, shape (n_links,)
        Per contact resistance added to each link. [W2/(m2 K)], watts per m2 K/W
    by_gas_film, by_water_film, by_room_film : ndarray, shape (n_bands,), (n_turns,), (n_open,)
        Per film coefficient, in the order of `SteadyHeater.gas_film`, `water_film` and of the model's
        `outside`, then `ends`. [m2 K]
    """

    heat: float
    by_conductivity: Floats
    by_resistance: Floats
    by_gas_film: Floats
    by_water_film: Floats
    by_room_film: Floats


def heat_sensitivity(heater: SteadyHeater) -> HeatSensitivity:
    """Sensitivities of the heat to the water, exact for the discrete equations.

    Parameters
    ----------
    heater : SteadyHeater

    Returns
    -------
    HeatSensitivity

    Raises
    ------
    InputError
        If there is no coil.
    ConvergenceError
        If the adjoint system does not settle.
    """
    if not heater.model.section.turns:
        raise InputError("sensitivity: is told in heat to the water, and the case has no [coil]")
    at = _State(heater)
    adjoint = solve_adjoint(_linearise(at))
    counts = np.cumsum([1, at.n_pieces, at.n_bands, at.n_turns, at.n_open])
    _, k, gas, wet, room, _ = np.split(adjoint.by_law, counts)
    return HeatSensitivity(
        heat=float(at.water_capacity @ at.step[at.n_bands :]),
        by_conductivity=k,
        by_resistance=-(at.residual_by_resistance.T @ adjoint.by_source),
        by_gas_film=gas,
        by_water_film=wet,
        by_room_film=room,
    )


class _State:
    """The solved equations of a heater, and what the derivatives share."""

    def __init__(self, heater: SteadyHeater) -> None:
        model, field = heater.model, heater.field
        room = model.case.room.temperature
        self.heater, self.model, self.network = heater, model, field.network
        self.n_pieces, self.n_open = model.pieces.count, model.outside.size + model.ends.size
        self.n_bands, self.n_turns = heater.gas.size - 1, heater.water.size - 1
        self.n_segments, self.n_patches = self.n_bands + self.n_turns, heater.patches.size
        streams = streams_of(model, heater.supply, heater.gas, heater.water)
        self.rise = field.temperature - room
        self.patches = None
        drained = _without_streams(heater)
        if model.radiation is not None:
            self.patches = patch_equations(drained, model.resistance, model.radiation, heater.patches, room)
        self.coupled: Coupled = couple(drained, streams, self.patches)
        self.streams = streams
        self.edges = [heater.gas, heater.water]
        self.step = np.concatenate([np.diff(heater.gas), np.diff(heater.water)])
        self.capacity = np.concatenate([stream.capacity for stream in streams])
        self.water_capacity = self.capacity[self.n_bands :]

        rises = np.concatenate([heater.gas[1:] - heater.gas[0], heater.water[1:] - heater.water[0]])
        inlet = np.where(self.coupled.inlet != 0, self.coupled.inlet - room, 0.0)
        self.ambient = self.coupled.mean @ rises + inlet
        self.body = model.pieces.truly_at_surface @ self.rise

        self.by_link = network_by_links(self.network, self.rise)
        self.patch_slopes = None
        if self.patches is not None:
            above = heater.patches - room
            self.patch_slopes = patch_derivatives(self.patches, model.resistance, self.rise, above)

    def widen(self, of_pieces: sparray | csr_matrix) -> csr_matrix:
        """Rows of pieces, with empty ones of patches and segments behind them."""
        wide = csr_matrix(of_pieces)
        wide.resize(self.n_pieces + self.n_patches + self.n_segments, wide.shape[1])
        return wide

    @property
    def residual_by_resistance(self) -> csr_matrix:
        """Of pieces, patches and segments, per contact resistance added to each link."""
        own = self.widen(self.by_link.multiply(links_by_resistance(self.network)))
        return own if self.patch_slopes is None else csr_matrix(own + self.widen(self.patch_slopes.by_resistance))


def _without_streams(heater: SteadyHeater) -> Network:
    """The network whose drive leaves out the streams, counted from the room: nothing drives it."""
    network = heater.field.network
    return replace(network, surface_drive=np.zeros(network.surface_drive.size))


def _linearise(at: _State) -> Linearised:
    slopes = film_slopes(at.heater)
    to_films = _surfaces_by_films(at, slopes)
    shift_of_segment = _ambient_by_weights(at)
    by_surface, by_ambient = _residual_by_surfaces(at), _residual_by_ambient(at)

    by_k = at.widen(at.by_link @ links_by_conductivity(at.network))
    if at.patch_slopes is not None:
        by_k = csr_matrix(by_k + at.widen(at.patch_slopes.by_conductivity))
    surface_k = _by_own_piece(at, surfaces_by_conductivity(at.network))
    by_k = csr_matrix(by_k + by_surface @ surface_k)
    n = at.n_pieces + at.n_patches
    by_capacity = vstack([csr_matrix((n, at.n_segments)), diags_array(at.step)])
    residual_by_laws = hstack(
        [csr_matrix((by_k.shape[0], 1)), by_k, by_surface @ to_films, by_ambient @ shift_of_segment, by_capacity]
    ).tocsr()

    laws_by_unknowns, laws_by_laws = _laws(at, slopes, to_films, surface_k, shift_of_segment)
    heat_by_unknowns = np.zeros(n + at.n_segments)
    heat_by_unknowns[n + at.n_bands :] += at.water_capacity
    heat_by_unknowns[n + at.n_bands : -1] -= at.water_capacity[1:]
    heat_by_laws = np.zeros(laws_by_laws.shape[0])
    heat_by_laws[-at.n_turns :] = at.step[at.n_bands :]
    return Linearised(
        residual_by_unknowns=_residual_by_unknowns(at),
        residual_by_laws=residual_by_laws,
        laws_by_unknowns=laws_by_unknowns,
        laws_by_laws=laws_by_laws,
        result_by_unknowns=heat_by_unknowns,
        result_by_laws=heat_by_laws,
        base=at.coupled.to_factor,
    )


def _residual_by_unknowns(at: _State) -> sparray:
    """All law values held; radiation by its own slope."""
    network, coupled, pieces = at.network, at.coupled, at.model.pieces
    given = csr_matrix(coupled.mean.multiply(network.surface_conductance[:, None]))
    square, from_rises = network.matrix, -(pieces.at_surface.T @ given)
    to_streams, within = coupled.gather @ network.surface_matrix, coupled.carried + coupled.gather @ given
    if at.patches is None or at.model.radiation is None:
        return block_array([[square, from_rises], [to_streams, within]], format="csr")
    patches = at.patches
    free = np.isnan(patches.held)
    hold = diags_array(np.where(free, patches.hold, 0.0))
    share = patches.base_to_surface.T
    between = exchange_by_patches(at.model.radiation, at.heater.patches)
    own = csr_array(np.where(free[:, None], between, np.eye(free.size))) + hold
    rows = [
        [square + share @ hold @ patches.to_surface, -(share @ hold), from_rises],
        [-(hold @ patches.to_surface), own, None],
        [to_streams, None, within],
    ]
    return block_array(rows, format="csr")


def _residual_by_surfaces(at: _State) -> csr_matrix:
    """Per conductance of each surface. [K]"""
    n = at.n_pieces + at.n_patches
    lack = at.body - at.ambient
    of_pieces = at.model.pieces.at_surface.T.multiply(lack).tocsr()
    of_pieces.resize(n, lack.size)
    return csr_matrix(vstack([of_pieces, -at.coupled.gather.multiply(lack)]))


def _residual_by_ambient(at: _State) -> csr_matrix:
    """Per temperature of the stream at each surface. [W/K]"""
    n, give = at.n_pieces + at.n_patches, at.network.surface_conductance
    of_pieces = -at.model.pieces.at_surface.T.multiply(give).tocsr()
    of_pieces.resize(n, give.size)
    return csr_matrix(vstack([of_pieces, at.coupled.gather.multiply(give)]))


def _by_own_piece(at: _State, value: Floats) -> csr_matrix:
    """A value per surface and conductivity of the piece under it, shape (n_surfaces, n_pieces)."""
    return csr_matrix(at.model.pieces.at_surface.multiply(value[:, None]))


def _ambient_by_weights(at: _State) -> csr_matrix:
    """Stream temperature at each surface per outlet weight of each segment. [K]"""
    return csr_matrix(at.coupled.gather.T.multiply(at.step))


def _surfaces_by_films(at: _State, slopes: FilmSlopes) -> csr_matrix:
    """Conductance of each surface per film of each group. [m2]"""
    on, group = groups_of(at.model)
    chain = surfaces_by_film(at.network)[on] * slopes.coefficient_by_film
    return csr_matrix((chain, (on, group)), (at.body.size, at.n_bands + at.n_turns + at.n_open))


def _laws(
    at: _State, slopes: FilmSlopes, to_films: csr_matrix, surface_k: csr_matrix, to_weights: csr_matrix
) -> tuple[sparray, sparray]:
    """Derivatives of the law values by unknowns and by each other."""
    n_films = at.n_bands + at.n_turns + at.n_open
    nusselt_by_pieces, k_by_nusselt, k_by_pieces = _conductivity_slopes(at)
    segment_by_rises = _middle_by_rises(at.streams)

    # a face lies between its piece and what wets it: face = body + (ambient - body) b, b = (h d/k) / (1 + h d/k)
    pieces, k = at.model.pieces, at.network.conductivity[at.model.pieces.surface_piece]
    inner, h = pieces.surfaces.distance_a / k, surface_films(at.network)
    towards = h * inner / (1 + h * inner)
    lift = (at.ambient - at.body) / (1 + h * inner) ** 2
    face_by_pieces = pieces.truly_at_surface.multiply((1 - towards)[:, None])
    face_by_rises = at.coupled.mean.multiply(towards[:, None])
    on, group = groups_of(at.model)
    face_by_films = csr_matrix((lift[on] * inner[on] * slopes.coefficient_by_film, (on, group)), to_films.shape)
    face_by_k = _by_own_piece(at, -lift * h * inner / k)
    face_by_weights = to_weights.multiply(towards[:, None])

    wall = slopes.by_faces
    film_by_rises = wall @ face_by_rises + slopes.by_middles @ segment_by_rises

    ntu = (at.coupled.gather @ at.network.surface_conductance) / at.capacity
    bend = SMALL_SHARE * np.maximum(ntu, 1.0)
    slope = (outlet_weight(ntu + bend) - outlet_weight(ntu - bend)) / (2 * bend)
    weight_by_surfaces = at.coupled.gather.multiply((slope / at.capacity)[:, None])

    none = csr_matrix
    n, m, g, s = at.n_pieces, at.n_patches, n_films, at.n_segments
    by_unknowns = block_array(
        [
            [nusselt_by_pieces, none((1, m)), none((1, s))],
            [k_by_pieces, None, None],
            [wall @ face_by_pieces, None, film_by_rises],
            [none((s, n)), None, None],
            [None, None, _capacity_by_rises(at)],
        ],
        format="csr",
    )
    by_laws = block_array(
        [
            [none((1, 1)), none((1, n)), none((1, g)), none((1, s)), none((1, s))],
            [k_by_nusselt, None, None, None, None],
            [None, wall @ face_by_k, wall @ face_by_films, wall @ face_by_weights, None],
            [
                None,
                weight_by_surfaces @ surface_k,
                weight_by_surfaces @ to_films,
                None,
                diags_array(-slope * ntu / at.capacity),
            ],
            [none((s, 1)), None, None, None, None],
        ],
        format="csr",
    )
    return by_unknowns, by_laws


def _conductivity_slopes(at: _State) -> tuple[csr_matrix, csr_matrix, sparray]:
    """Of the slot's Nusselt number by pieces, of conductivities by that number, and by their own temperature."""
    model, temperature = at.model, at.heater.field.temperature
    slope = np.empty(at.n_pieces)
    for material, mine in model.materials:
        law, T = material.conductivity, temperature[mine]
        slope[mine] = (law(T + SMALL) - law(T - SMALL)) / (2 * SMALL)
    by_pieces, by_nusselt = csr_matrix((1, at.n_pieces)), csr_matrix((at.n_pieces, 1))
    if model.slot is not None:
        slot = model.slot
        stirring, number = slot.stirring(temperature), slot.nusselt(temperature)
        slope[slot.air] *= stirring
        still = at.network.conductivity[slot.air] / stirring
        change = still * stirring**2 * slot.share / number**2
        by_nusselt = csr_matrix((change, (slot.air, np.zeros_like(slot.air))), (at.n_pieces, 1))
        row = np.zeros(at.n_pieces)
        for weight in (slot.inner, slot.outer):
            nudge = SMALL * (weight > 0)
            row += weight * (slot.nusselt(temperature + nudge) - slot.nusselt(temperature - nudge)) / (2 * SMALL)
        by_pieces = csr_matrix(row[None, :])
    return by_pieces, by_nusselt, diags_array(slope)


def _middle_by_rises(streams: list[Stream]) -> sparray:
    """Middle temperature of each segment (half inlet, half outlet) per rise, shape (n_segments, n_segments)."""
    blocks = [
        [None] * place + [0.5 * (eye_array(n) + eye_array(n, k=-1))] + [None] * (len(streams) - place - 1)
        for place, n in enumerate(stream.capacity.size for stream in streams)
    ]
    return block_array(blocks, format="csr")


def _capacity_by_rises(at: _State) -> sparray:
    """Heat capacity flow of each segment per rise of its ends. [W/K2]"""
    case, supply = at.model.case, at.heater.supply
    assert case.water is not None  # there is a coil
    blocks = []
    for edges, flow, fluid in ((at.edges[0], supply.flow, supply.gas), (at.edges[1], case.water.flow, WATER)):
        ends = np.stack([edges[:-1], edges[1:]])
        slopes = []
        for which in (0, 1):
            nudge = np.zeros_like(ends)
            nudge[which] = SMALL_STEP
            up, down = (capacity_flow(flow, (ends + sign * nudge).T.ravel(), fluid)[::2] for sign in (1.0, -1.0))
            slopes.append((up - down) / (2 * SMALL_STEP))
        blocks.append(diags_array([slopes[1], slopes[0][1:]], offsets=[0, -1]))
    return block_array([[blocks[0], None], [None, blocks[1]]], format="csr")
