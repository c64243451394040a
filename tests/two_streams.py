"""A wall without thickness to speak of between two streams, cut into equal segments."""

from __future__ import annotations

import numpy as np

from annulus.conduction.grid import uniform_grid
from annulus.conduction.network import Network, connect
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.solvers import factor, solve_preconditioned
from annulus.heater.streams import Coupled, Stream, couple
from annulus.shapes import Rectangle

THICKNESS = 1e-9  # [m]
WALL = 1.0  # [W/(m K)]: 1e9 W/(m2 K) across, and along it 1e-9 W/K over a metre: neither is felt


def wall(area: float, segments: int, inner: float, outer: float, outer_ambient: float = 0.0) -> Network:
    """Plane wall of one cell per segment, `area` m2 in all; films in [W/(m2 K)], fixed ambient outside in [K]."""
    grid = uniform_grid((0.0, THICKNESS), (0.0, area), (1, segments), "plane")
    pieces = cut_grid(grid, [Painted("wall", Rectangle(0.0, THICKNESS, 0.0, area))])
    h, q0 = np.zeros(pieces.surface_piece.size), np.zeros(pieces.surface_piece.size)
    h[pieces.boundary_surfaces("r_min")] = inner
    h[pieces.boundary_surfaces("r_max")] = outer
    q0[pieces.boundary_surfaces("r_max")] = outer * outer_ambient
    return connect(pieces, np.full(pieces.count, WALL), np.zeros((1, 1)), q0, h)


def stream(network: Network, side: str, inlet: float, capacity: float, upwards: bool = True) -> Stream:
    """Stream of constant heat capacity [W/K] along one side of the wall."""
    on = network.pieces.boundary_surfaces(side)
    rank = np.argsort(np.argsort(network.pieces.surfaces.z[on]))
    segment = rank if upwards else on.size - 1 - rank
    return Stream(on, segment, inlet, np.full(on.size, capacity))


def solve(network: Network, streams: list[Stream]) -> tuple[Coupled, np.ndarray, list[np.ndarray]]:
    """Coupled equations, temperatures of pieces, and of each stream at inlet and segment ends. [K]"""
    coupled = couple(network, streams)
    start = np.zeros(coupled.drive.size)
    x = solve_preconditioned(coupled.matrix, coupled.drive, factor(coupled.base_matrix), start).x
    n = network.pieces.count
    ends, first = [], n
    for one in streams:
        rises = x[first : first + one.capacity.size]
        ends.append(one.inlet + np.concatenate([[0.0], rises]))
        first += one.capacity.size
    return coupled, x[:n], ends
