"""Random sections on which laws must hold: layers, discs, tubes with bores, conductivities, contacts, films.

Goes in: a seed. Comes out: a `RandomSection` that can be cut on finer and
finer grids whose faces contain those of the coarsest.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid, graded_faces
from annulus.conduction.network import Network, connect
from annulus.conduction.pieces import Painted, Pieces, cut_grid
from annulus.conduction.steady import conductivity_of_pieces, resistance_table
from annulus.shapes import Disc, Rectangle

LENGTH = 0.05  # [m], side of a section


@dataclass(frozen=True)
class EvenFilm(Film):
    """A film that is the same everywhere."""

    coefficient: float
    ambient: float


@dataclass(frozen=True)
class RandomSection:
    """What `solve_steady` needs but a grid. SI units."""

    edges: tuple[float, ...]
    painted: tuple[Painted, ...]
    coordinates: str
    conductivity: dict[str, float]
    contacts: dict[tuple[str, str], float]
    films: dict[str, EvenFilm]
    cells: int

    def cut(self, fineness: int = 1) -> Pieces:
        size = (self.edges[-1] - self.edges[0]) / self.cells
        r_face = graded_faces(self.edges, lambda r: np.full(r.shape, size), fineness)
        z_face = np.linspace(0.0, LENGTH, self.cells * fineness + 1)
        return cut_grid(Grid(r_face, z_face, self.coordinates), self.painted)

    def connect(self, pieces: Pieces) -> Network:
        """Network with every film's ambient at 0."""
        k = conductivity_of_pieces(pieces, self.conductivity, np.zeros(pieces.count))
        h = np.zeros(pieces.surface_piece.size)
        for name, film in self.films.items():
            h[pieces.boundary_surfaces(name)] = film.coefficient
        return connect(pieces, k, resistance_table(pieces, self.contacts), np.zeros(h.size), h)


def random_section(seed: int, cells: int = 16, decades: float = 6.0, coordinates: str | None = None) -> RandomSection:
    """One to four layers, up to four round things (half of them with a bore, metal or hole) that may nest.

    Conductivities spread over `decades` about 1 W/(m K), contacts from 1e-7 to
    1 m2 K/W on about half of the pairs, films from 1 to 1e4 W/(m2 K)
    to ambients between 0 and 1 on two sides at least and on every hole.
    """
    rng = np.random.default_rng(seed)
    coordinates = coordinates or str(rng.choice(["plane", "cylindrical"]))
    r_min = 0.0 if rng.random() < 0.2 else float(rng.uniform(0.005, 0.1))
    shares = rng.uniform(0.05, 1.0, rng.integers(1, 5))
    edges = r_min + LENGTH * np.concatenate([[0.0], np.cumsum(shares) / shares.sum()])
    edges[-1] = r_min + LENGTH

    painted = [Painted(f"layer {n}", Rectangle(a, b, 0.0, LENGTH)) for n, (a, b) in enumerate(pairwise(edges))]
    discs: list[Disc] = []
    for n in range(rng.integers(0, 5)):
        radius = LENGTH * rng.uniform(0.02, 0.25)
        disc = Disc(r_min + LENGTH * rng.uniform(0.0, 1.0), LENGTH * rng.uniform(0.0, 1.0), radius)
        if disc.r < 0 or not all(_apart_or_inside(disc, other) for other in discs):
            continue
        discs.append(disc)
        painted.append(Painted(f"disc {n}", disc))
        if rng.random() < 0.5:
            bore = Disc(disc.r, disc.z, radius * rng.uniform(0.5, 0.98))
            discs.append(bore)
            painted.append(Painted(f"bore {n}", bore, conducts=bool(rng.random() < 0.5)))
    if rng.random() < 0.3:  # a wall painted last clips what reaches into it
        painted.append(Painted("wall", Rectangle(edges[0], edges[1], 0.0, LENGTH)))

    conductors = [p.name for p in painted if p.conducts]
    conductivity = {name: float(10 ** rng.uniform(-decades / 2, decades / 2)) for name in conductors}
    pairs = [(a, b) for n, a in enumerate(conductors) for b in conductors[:n]]
    contacts = {pair: float(10 ** rng.uniform(-7, 0)) for pair in pairs if rng.random() < 0.5}
    sides = ["r_max", "z_min"] + [side for side in ("r_min", "z_max") if rng.random() < 0.6]
    holes = [p.name for p in painted if not p.conducts]
    films = {name: EvenFilm(float(10 ** rng.uniform(0, 4)), float(rng.uniform(0, 1))) for name in sides + holes}
    return RandomSection(tuple(map(float, edges)), tuple(painted), coordinates, conductivity, contacts, films, cells)


def _apart_or_inside(disc: Disc, other: Disc) -> bool:
    distance = float(np.hypot(disc.r - other.r, disc.z - other.z))
    return distance >= disc.radius + other.radius or distance + disc.radius <= other.radius
