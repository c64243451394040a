"""How the films of a steady heater answer to temperatures.

Goes in: a `SteadyHeater`. Comes out: the slope of every film coefficient in the
temperatures of the faces and streams that it is computed from.

Films come in groups: one per band of gas, one per turn of water (bottom first),
one per surface open to the room.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from annulus.heater.gas_path import gas_coefficient, room_coefficient
from annulus.heater.model import Model
from annulus.heater.steady import SteadyHeater
from annulus.heater.water_path import water_coefficient

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SMALL = 1e-2  # [K], over which a film changes by some 1e-5 of itself


@dataclass(frozen=True)
class FilmSlopes:
    """Slopes of films, by group.

    Attributes
    ----------
    by_faces : csr_matrix, shape (n_groups, n_surfaces)
        Film per temperature of each face. [W/(m2 K2)]
    by_middles : csr_matrix, shape (n_groups, n_segments)
        Film per middle temperature of each segment of gas, then of water in the order of its flow. [W/(m2 K2)]
    coefficient_by_film : ndarray, shape (n_filmed,)
        Of each surface of `groups_of`: what soot lets through of a film's change.
    """

    by_faces: csr_matrix
    by_middles: csr_matrix
    coefficient_by_film: Floats


def groups_of(model: Model) -> tuple[Ints, Ints]:
    """Surfaces with a film, and the group of each."""
    n_bands, n_turns = model.band_edges.size - 1, len(model.section.turns)
    open_to_room = np.concatenate([model.outside, model.ends])
    group = np.concatenate(
        [model.gas_band, n_bands + model.water_turn, n_bands + n_turns + np.arange(open_to_room.size)]
    )
    return np.concatenate([model.gas_surfaces, model.water_surfaces, open_to_room]), group


def film_slopes(heater: SteadyHeater) -> FilmSlopes:
    """Slopes of all films at a solution.

    Parameters
    ----------
    heater : SteadyHeater
        With a coil.

    Returns
    -------
    FilmSlopes
    """
    model, case, section = heater.model, heater.case, heater.model.section
    face, area = heater.field.surface_temperature, model.pieces.surfaces.area
    n_bands, n_turns = heater.gas.size - 1, heater.water.size - 1
    open_to_room = np.concatenate([model.outside, model.ends])
    on, group = groups_of(model)
    n_groups = n_bands + n_turns + open_to_room.size
    weight = area[on] / np.bincount(group, area[on], n_groups)[group]
    mean = np.bincount(group, weight * face[on], n_groups).astype(float)

    middle = 0.5 * (heater.gas[1:] + heater.gas[:-1])
    wall, bore, _ = np.split(mean, [n_bands, n_bands + n_turns])
    gas_wall = _slope(lambda T: gas_coefficient(case, heater.supply, middle, T), wall)
    gas_middle = _slope(lambda T: gas_coefficient(case, heater.supply, T, wall), middle)
    bore_slope = _slope(lambda T: water_coefficient(case, section.turns, T, heater.water), bore)
    bulk_slope = _slope(lambda T: water_coefficient(case, section.turns, bore, T), heater.water)
    room_slope = _slope(lambda T: room_coefficient(case, T, section.height, model.shine), face[open_to_room])
    by_mean = np.concatenate([gas_wall, bore_slope, room_slope])
    assert case.water is not None  # there is a coil
    turns = np.arange(n_turns)
    order = turns if case.water.direction == "up" else turns[::-1]
    by_middles = csr_matrix(
        (
            np.concatenate([gas_middle, bulk_slope]),
            (np.arange(n_bands + n_turns), np.concatenate([np.arange(n_bands), n_bands + order])),
        ),
        (n_groups, n_bands + n_turns),
    )
    through = np.ones(on.size)
    n_gas = model.gas_surfaces.size
    through[:n_gas] = (1 / (1 + section.inner_resistance * heater.gas_film[model.gas_band])) ** 2
    return FilmSlopes(
        by_faces=csr_matrix((by_mean[group] * weight, (group, on)), (n_groups, face.size)),
        by_middles=by_middles,
        coefficient_by_film=through,
    )


def _slope(law: Callable[[Floats], Floats], at: Floats) -> Floats:
    """Slope of an elementwise law. A shift of all stream edges by one step shifts all middles by it."""
    return (law(at + SMALL) - law(at - SMALL)) / (2 * SMALL)
