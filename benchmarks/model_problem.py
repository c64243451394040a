"""The model problem that linear solvers are measured on: a coil section as a staircase, five-point equations.

Goes in: how many cells, and how many turns. Comes out: matrix, right-hand side, and what reads the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid
from annulus.conduction.network import Network, connect
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import conductivity_of_pieces, linearise, resistance_table
from annulus.shapes import Disc, Rectangle

R_IN, R_OUT = 0.075, 0.125  # [m]
LAYERS = ((0.0765, 45.0), (0.093, 0.3), (0.094, 45.0), (0.1245, 0.08), (R_OUT, 45.0))  # outer radius, conductivity
PITCH, CENTRE = 0.017, 0.08315  # [m]
RADIUS, BORE, COPPER = 6.35e-3, 5.55e-3, 390.0
FLUE_FILM, WATER_FILM, ROOM_FILM = (30.0, 550.0), (2000.0, 40.0), (10.0, 20.0)  # [W/(m2 K)], [degC]


@dataclass(frozen=True)
class Problem:
    """Five-point equations over the cells without water.

    Attributes
    ----------
    matrix : csr_matrix, shape (n, n)
        Symmetric, an M-matrix. [W/K]
    rhs : ndarray, shape (n,)
        [W]
    shape : (int, int)
        Cells of the grid.
    links : (ndarray of int, ndarray of int, ndarray)
        Unknowns of cells with a common face, and the conductance between them. [W/K]
    outside : ndarray, shape (n,)
        Conductance of each unknown to gas, water and room. [W/K]
    first : ndarray of int, shape (cells + 1,)
        First unknown of each cell.
    region : ndarray of int, shape (n,)
        Region of each unknown.
    wet : (ndarray of int, ndarray)
        Unknowns beside water and their conductance to it. [W/K]
    on_flue : (ndarray of int, ndarray, float)
        Unknowns on the inside, their area [m2], and the conductance of film and half cell [W/(m2 K)].
    """

    matrix: csr_matrix
    rhs: np.ndarray
    shape: tuple[int, int]
    links: tuple[np.ndarray, np.ndarray, np.ndarray]
    outside: np.ndarray
    first: np.ndarray
    region: np.ndarray
    wet: tuple[np.ndarray, np.ndarray]
    on_flue: tuple[np.ndarray, np.ndarray, float]

    def resistance(self, temperature: np.ndarray) -> float:
        """From the mean face of the flue to the water, over the heat that the water takes. [K/W]"""
        unknown, area, u = self.on_flue
        h, gas = FLUE_FILM
        face = gas - u / h * (gas - temperature[unknown])
        number, conductance = self.wet
        heat = float(conductance @ (temperature[number] - WATER_FILM[1]))
        return (float(np.average(face, weights=area)) - WATER_FILM[1]) / heat


def problem_of(cells: int) -> Problem:
    """Sixteen turns on 300 mm, six times as many cells along the flue as across."""
    nr = round((cells / 6) ** 0.5)
    return model_problem(nr, 6 * nr, 16, 0.300)


def model_problem(nr: int, nz: int, turns: int, height: float) -> Problem:
    """Equal cells over a section; the material of each cell by its middle. `height` in [m]."""
    r, z = np.linspace(R_IN, R_OUT, nr + 1), np.linspace(0.0, height, nz + 1)
    middle, level = 0.5 * (r[1:] + r[:-1]), 0.5 * (z[1:] + z[:-1])
    layer = np.searchsorted([edge for edge, _ in LAYERS], middle)
    region = np.repeat(layer[:, None], nz, axis=1)
    k = np.array([value for _, value in LAYERS])[region]
    turn = np.clip((level / PITCH).astype(int), 0, turns - 1)
    apart = np.hypot(middle[:, None] - CENTRE, (level - (turn + 0.5) * PITCH)[None, :])
    ring, water = apart < RADIUS, apart < BORE
    k[ring] = COPPER
    region = np.where(ring, len(LAYERS) + turn[None, :], region)
    number = np.full(region.shape, -1)
    number[~water] = np.arange(np.count_nonzero(~water))
    count = int(number.max()) + 1
    outside = np.zeros(count)
    rhs = np.zeros(count)
    joined: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    wet: list[tuple[np.ndarray, np.ndarray]] = []

    def film(where, conductance, temperature):
        outside[:] += np.bincount(where, conductance, count)
        rhs[:] += np.bincount(where, conductance * temperature, count)

    def join(one, other, path_one, path_other, area):
        wet_one, wet_other = water[one], water[other]
        k_one, k_other = k[one], k[other]
        dry = ~wet_one & ~wet_other
        g = (area / (path_one / k_one + path_other / k_other))[dry]
        joined.append((number[one][dry], number[other][dry], g))
        for beside, cell, path, conductivity in (
            (wet_other & ~wet_one, one, path_one, k_one),
            (wet_one & ~wet_other, other, path_other, k_other),
        ):
            conductance = (area / (path / conductivity + 1 / WATER_FILM[0]))[beside]
            wet.append((number[cell][beside], conductance))
            film(*wet[-1], WATER_FILM[1])

    dz = z[1] - z[0]
    face = r[1:-1, None]
    inner, outer = face * np.log(face / middle[:-1, None]), face * np.log(middle[1:, None] / face)
    wide = (nr - 1, nz)
    join(np.s_[:-1, :], np.s_[1:, :], *(np.broadcast_to(a, wide) for a in (inner, outer, 2 * np.pi * face * dz)))
    ring_area = np.broadcast_to(np.pi * (r[1:, None] ** 2 - r[:-1, None] ** 2), (nr, nz - 1))
    half = np.full((nr, nz - 1), dz / 2)
    join(np.s_[:, :-1], np.s_[:, 1:], half, half, ring_area)
    on_side = []
    for row, radius, (h, ambient) in ((0, r[0], FLUE_FILM), (nr - 1, r[-1], ROOM_FILM)):
        path = radius * abs(np.log(middle[row] / radius))
        area = np.full(nz, 2 * np.pi * radius * dz)
        u = 1.0 / (path / k[row, 0] + 1 / h)
        film(number[row], area * u, ambient)
        on_side.append((number[row], area, u))
    a, b, g = (np.concatenate(part) for part in zip(*joined, strict=True))
    own = outside + np.bincount(a, g, count) + np.bincount(b, g, count)
    diagonal = np.arange(count)
    rows, columns = np.concatenate([a, b, diagonal]), np.concatenate([b, a, diagonal])
    matrix = csr_matrix((np.concatenate([-g, -g, own]), (rows, columns)), (count, count))
    matrix.sort_indices()
    first = np.concatenate([[0], np.cumsum(~water.ravel())])
    beside, conductance = (np.concatenate(part) for part in zip(*wet, strict=True))
    return Problem(matrix, rhs, (nr, nz), (a, b, g), outside, first, region[~water], (beside, conductance), on_side[0])


def network_of(cells: int) -> Network:
    """The section of `problem_of` by annulus from faces on: circles cut, not stepped."""
    nr = round((cells / 6) ** 0.5)
    turns, height = 16, 0.300
    grid = Grid(np.linspace(R_IN, R_OUT, nr + 1), np.linspace(0.0, height, 6 * nr + 1))
    names = ("flue", "filler", "shroud", "wool", "jacket")
    edges = (R_IN, *(edge for edge, _ in LAYERS))
    regions = [
        Painted(name, Rectangle(a, b, 0.0, height)) for name, a, b in zip(names, edges[:-1], edges[1:], strict=True)
    ]
    laws = {name: k for name, (_, k) in zip(names, LAYERS, strict=True)}
    films = {"r_min": Film(*FLUE_FILM), "r_max": Film(*ROOM_FILM)}
    for turn in range(turns):
        z = (turn + 0.5) * PITCH
        regions += [
            Painted(f"tube {turn}", Disc(CENTRE, z, RADIUS)),
            Painted(f"bore {turn}", Disc(CENTRE, z, BORE), False),
        ]
        laws[f"tube {turn}"], films[f"bore {turn}"] = COPPER, Film(*WATER_FILM)
    pieces = cut_grid(grid, regions)
    k = conductivity_of_pieces(pieces, laws, np.zeros(pieces.count))
    brought, h = linearise(pieces, films, np.zeros(pieces.surface_piece.size))
    return connect(pieces, k, resistance_table(pieces, {}), brought, h)
