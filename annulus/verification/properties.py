"""V29: laws that hold for every section, on a fixed set of random ones.

Conservation, extremes, reciprocity, superposition, symmetry, plane limit, bounds.
The base matrix keeps maximum principle and reciprocity to round-off. The
second-order matrix keeps conservation to round-off and the other two only as
the grid is refined; what it does on a coarse grid is measured and stated.

Goes in: nothing. Comes out: rows, each the worst of its sections.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid, uniform_grid
from annulus.conduction.pieces import Painted, Pieces, cut_grid
from annulus.conduction.solvers import factor
from annulus.conduction.steady import Field, solve_steady
from annulus.conduction.transient import OVERSHOOT, History, march
from annulus.shapes import Disc, Rectangle
from annulus.verification.random_sections import LENGTH, RandomSection, random_section
from annulus.verification.rows import Also, Case, Row, worst, zero

Floats = NDArray[np.float64]

SEEDS = range(40)  # sections of the table; the tests draw others
PLANE_SEEDS = range(8)
OVERSHOT_SEEDS = (1204, 639, 445, 1710)  # the worst of 2000 on 16 cells across, by 0.45 of the span and 0.04
SKEW_SEEDS = (100, 40, 54, 10)  # the worst four of 150 for reciprocity of the second-order matrix
COARSE_OVERSHOOT = 0.05  # 16 cells across; of 2000 seeds 99.1 % had none, and but two of the rest less than this
FINE_OVERSHOOT = 1e-3  # 64 cells across; worst of the same seeds' offenders 2e-4
COARSE_SKEW, FINE_SKEW = 1e-2, 2e-4  # of the largest conductance: up to 0.8 % and 1.2e-4 were seen on 16 and 64 cells
ROOM, FIRE = 293.0, 823.0  # [K]
WARMED = 2e6  # [J/(m3 K)], of every region that is marched
WARMED_AT = (10.0, 1000.0, 100_000.0)  # [s]
ROUND_OFF = 1e-9  # of a range: what round-off of stiff paths may add to it
SHIFT = 0.7310  # [m]
BETTER = 3.0  # by which a conductivity is raised
OTHER_END = {"z_min": "z_max", "z_max": "z_min"}


def solve(section: RandomSection, pieces: Pieces, ambients: Mapping[str, float] | None = None) -> Field:
    """Second-order field, with the section's own ambients or others. [K]"""
    films = {
        name: Film(film.coefficient, film.ambient if ambients is None else ambients[name])
        for name, film in section.films.items()
    }
    return solve_steady(pieces, section.conductivity, films, section.contacts, start=0.0)


def throughput(field: Field, section: RandomSection) -> float:
    """Half the sum of heat flows of all boundaries, whichever way they go. [W]"""
    return 0.5 * sum(abs(field.heat_into(name)) for name in section.films)


def overshoot(temperature: Floats, section: RandomSection, pieces: Pieces) -> float:
    """How far the field leaves the range of the ambients, of that range; negative when it does not."""
    ambient = [film.ambient for name, film in section.films.items() if pieces.boundary_surfaces(name).size]
    beyond = max(temperature.max() - max(ambient), min(ambient) - temperature.min())
    return float(beyond / (max(ambient) - min(ambient)))


def first_order(pieces: Pieces) -> Pieces:
    """The same pieces without shifts of their sides: what is solved on them has the base matrix, an M-matrix."""
    links, surfaces = (csr_matrix((count, pieces.count)) for count in (pieces.link_a.size, pieces.surface_piece.size))
    return replace(pieces, link_shift_a=links, link_shift_b=links, surface_shift=surfaces)


def warm_up(
    section: RandomSection, pieces: Pieces, times: Sequence[float] = WARMED_AT, tolerance: float = 0.05
) -> tuple[History, float]:
    """March a section from room temperature; and how far it leaves its range, in the end and beyond what steps explain.

    Returns
    -------
    History
    float
        Farthest beyond the ambients and the room, less `OVERSHOOT` times the errors of all steps. [K]
    """
    here = {painted.name for painted in pieces.regions}
    reached = {name: film for name, film in section.films.items() if pieces.boundary_surfaces(name).size}
    ambient = {name: ROOM + (FIRE - ROOM) * film.ambient for name, film in reached.items()}
    films = {name: Film(film.coefficient, ambient[name]) for name, film in reached.items()}
    history = march(
        pieces,
        section.conductivity,
        dict.fromkeys(section.conductivity, WARMED),
        films,
        ROOM,
        times,
        contacts={pair: value for pair, value in section.contacts.items() if set(pair) <= here},
        tolerance=tolerance,
    )
    low, high = (end([ROOM, *ambient.values()]) for end in (min, max))
    beyond = max(float(history.temperature.max()) - high, low - float(history.temperature.min()))
    return history, beyond - OVERSHOOT * float(history.error.sum())


def solve_between_room_and_fire(section: RandomSection) -> Field:
    """Second-order field with the section's ambients stretched from 0 to 1 K to those of a stove."""
    ambients = {name: ROOM + (FIRE - ROOM) * film.ambient for name, film in section.films.items()}
    return solve(section, section.cut(), ambients)


def kept_by_pieces(field: Field, section: RandomSection) -> float:
    """Largest heat that any piece keeps of what enters it through links and surfaces, of the throughput."""
    pieces = field.pieces
    net = np.zeros(pieces.count)
    np.add.at(net, pieces.surface_piece, field.surface_flow)
    np.add.at(net, pieces.link_b, field.link_flow)
    np.add.at(net, pieces.link_a, -field.link_flow)
    return float(np.abs(net).max()) / throughput(field, section)


def base_field(section: RandomSection, pieces: Pieces) -> Floats:
    """Temperatures by the base matrix alone. [K]"""
    network = section.connect(pieces)
    ambient = np.zeros(pieces.surface_piece.size)
    for name, film in section.films.items():
        ambient[pieces.boundary_surfaces(name)] = film.ambient
    drive = pieces.at_surface.T @ (network.surface_conductance * ambient)
    return np.asarray(factor(network.base_matrix)(drive))


def port_conductances(section: RandomSection, pieces: Pieces) -> Floats:
    """Second order: heat into ambient i for ambient j at 1 and all others at 0. [W/K]"""
    columns = []
    for hot in section.films:
        field = solve(section, pieces, {name: float(name == hot) for name in section.films})
        columns.append([-field.heat_into(name) for name in section.films])
    return np.array(columns).T


def base_port_conductances(section: RandomSection, pieces: Pieces) -> Floats:
    """The same by the base matrix and its factor alone. [W/K]"""
    network = section.connect(pieces)
    solve_base = factor(network.base_matrix)
    ties = []
    for name in section.films:
        on = pieces.boundary_surfaces(name)
        tie = np.zeros(pieces.surface_piece.size)
        tie[on] = network.surface_conductance[on]
        ties.append(pieces.at_surface.T @ tie)
    shared = np.array([[tie_i @ solve_base(tie_j) for tie_j in ties] for tie_i in ties])
    return shared - np.diag([tie.sum() for tie in ties])


def skew(between: Floats) -> float:
    """Largest |G_ij - G_ji|, of the largest conductance."""
    return float(np.abs(between - between.T).max() / np.abs(between).max())


def unbalance(between: Floats) -> float:
    """Largest sum of a row, of the largest conductance."""
    return float(np.abs(between.sum(axis=1)).max() / np.abs(between).max())


def wrong_sign(between: Floats) -> float:
    """Most negative conductance between two ambients, of the largest; zero if none is."""
    least = (between - np.diag(np.diag(between))).min()
    return float(np.maximum(0.0, -least) / np.abs(between).max())


def superposition_difference(section: RandomSection) -> float:
    """Heat of all ambients together less the sum of their shares, of the largest."""
    pieces = section.cut()
    together = solve(section, pieces)
    ambient = np.array([film.ambient for film in section.films.values()])
    heat = np.array([-together.heat_into(name) for name in section.films])
    return float(np.abs(port_conductances(section, pieces) @ ambient - heat).max() / np.abs(heat).max())


def mirrored(section: RandomSection) -> RandomSection:
    """The section upside down: z -> LENGTH - z, the films of both ends exchanged."""
    painted = [
        Painted(p.name, replace(p.shape, z=LENGTH - p.shape.z), p.conducts) if isinstance(p.shape, Disc) else p
        for p in section.painted
    ]
    films = {OTHER_END.get(name, name): film for name, film in section.films.items()}
    return replace(section, painted=tuple(painted), films=films)


def moved(painted: tuple[Painted, ...], dr: float = 0.0, dz: float = 0.0) -> tuple[Painted, ...]:
    """The same shapes elsewhere. [m]"""

    def move(shape: Disc | Rectangle) -> Disc | Rectangle:
        if isinstance(shape, Disc):
            return replace(shape, r=shape.r + dr, z=shape.z + dz)
        return Rectangle(shape.r_min + dr, shape.r_max + dr, shape.z_min + dz, shape.z_max + dz)

    return tuple(replace(p, shape=move(p.shape)) for p in painted)


def mirror_difference(section: RandomSection) -> float:
    """Largest change of a boundary's heat when the section is turned upside down, of the throughput."""
    upright, turned = solve(section, section.cut()), solve(mirrored(section), mirrored(section).cut())
    away = [turned.heat_into(OTHER_END.get(name, name)) - upright.heat_into(name) for name in section.films]
    return worst(map(abs, away)) / throughput(upright, section)


def shift_difference(section: RandomSection, shift: float) -> float:
    """The same when it is moved up. [m]"""
    pieces = section.cut()
    grid = Grid(pieces.grid.r_face, pieces.grid.z_face + shift, section.coordinates)
    here = solve(section, pieces)
    there = solve(section, cut_grid(grid, moved(section.painted, dz=shift)))
    return worst(abs(there.heat_into(name) - here.heat_into(name)) for name in section.films) / throughput(
        here, section
    )


def plane_difference(section: RandomSection) -> float:
    """The same when a plane section is bent to a ring a thousand times as wide as itself."""
    far = 1000 * LENGTH
    edges = tuple(edge + far for edge in section.edges)
    ring = replace(section, edges=edges, painted=moved(section.painted, dr=far), coordinates="cylindrical")
    plane_field, ring_field = solve(section, section.cut()), solve(ring, ring.cut())
    around = 2 * math.pi * 0.5 * (edges[0] + edges[-1])
    away = [ring_field.heat_into(name) - around * plane_field.heat_into(name) for name in section.films]
    return worst(map(abs, away)) / throughput(ring_field, section)


def fall_of_conductance(section: RandomSection, which: int, times: float) -> float:
    """Share by which the conductance between the first two ambients falls when one body conducts better.

    All other boundaries are adiabatic; base matrix. Negative or zero by Rayleigh's monotonicity.
    """
    two_ends = replace(section, films=dict(list(section.films.items())[:2]))
    chosen = list(section.conductivity)[which % len(section.conductivity)]
    better = section.conductivity | {chosen: times * section.conductivity[chosen]}
    pieces = two_ends.cut()
    before = base_port_conductances(two_ends, pieces)[0, 1]
    after = base_port_conductances(replace(two_ends, conductivity=better), pieces)[0, 1]
    return float(1 - after / before)


def heats_of_better_fillers() -> Floats:
    """Second order: heat to a tube in filler between two films, for fillers of 0.1 to 10 W/(m K). [W]"""
    grid = uniform_grid((0.075, 0.093), (0.0, 0.017), (36, 34))
    painted = [
        Painted("filler", Rectangle(0.075, 0.093, 0.0, 0.017)),
        Painted("tube", Disc(0.08315, 0.0085, 0.00635)),
        Painted("bore", Disc(0.08315, 0.0085, 0.00555), conducts=False),
    ]
    pieces = cut_grid(grid, painted)
    films = {"r_min": Film(30.0, 550.0), "bore": Film(2000.0, 40.0)}
    found = [
        solve_steady(pieces, {"filler": k, "tube": 390.0}, films).heat_into("r_min") for k in np.geomspace(0.1, 10, 15)
    ]
    return np.array(found)


def conservation_rows() -> list[Row]:
    six, fire, within = [], [], []
    for seed in SEEDS:
        section = random_section(seed)
        field = solve(section, section.cut())
        six.append(abs(field.imbalance) / throughput(field, section))
        within.append(kept_by_pieces(field, section))
        section = random_section(seed, decades=4.0)
        field = solve_between_room_and_fire(section)
        fire.append(abs(field.imbalance) / throughput(field, section))
    return [
        zero("(a) heat lost, k over six decades", worst(six), 1e-9),
        zero("(a) heat lost, between room and fire", worst(fire), 1e-9),
        zero("(a) heat kept by any one piece", worst(within), 1e-9),
    ]


def extremes_rows() -> list[Row]:
    base, coarse = [0.0], [0.0]
    for seed in SEEDS:
        section = random_section(seed)
        pieces = section.cut()
        base.append(overshoot(base_field(section, pieces), section, pieces))
        coarse.append(overshoot(solve(section, pieces).temperature, section, pieces))
    rows = [
        zero("(b) beyond the ambients, base matrix", worst(base), 1e-9),
        zero("(b) beyond the ambients, 2nd order, 16 cells", worst(coarse), COARSE_OVERSHOOT),
    ]
    finer = {2: [0.0], 4: [0.0]}
    for seed in OVERSHOT_SEEDS:
        section = random_section(seed)
        for fineness in finer:
            pieces = section.cut(fineness)
            finer[fineness].append(overshoot(solve(section, pieces).temperature, section, pieces))
    also = (Also("32 cells across", worst(finer[2]), FINE_OVERSHOOT),)
    words = "(b) the same, worst four of 2000, 64 cells"
    return [*rows, replace(zero(words, worst(finer[4]), FINE_OVERSHOOT), also=also)]


def reciprocity_rows() -> list[Row]:
    sections = [random_section(seed) for seed in SEEDS]
    base = [base_port_conductances(section, section.cut()) for section in sections]
    skewed = [random_section(seed) for seed in SKEW_SEEDS]
    coarse, fine = ([port_conductances(section, section.cut(n)) for section in skewed] for n in (1, 4))
    also = (Also("16 cells across", worst(map(skew, coarse)), COARSE_SKEW),)
    return [
        zero("(c) |G - G'|, base matrix", worst(map(skew, base)), 1e-8),
        zero("(c) sum of a row of G, base matrix", worst(map(unbalance, base)), 1e-8),
        zero("(c) negative G, base matrix", worst(map(wrong_sign, base)), 1e-12),
        replace(zero("(c) |G - G'|, 2nd order, worst four, 64 cells", worst(map(skew, fine)), FINE_SKEW), also=also),
        zero("(c) sum of a row of G, second order", worst(map(unbalance, coarse + fine)), 1e-8),
        zero("(c) negative G, second order", worst(map(wrong_sign, coarse + fine)), 0.0),
    ]


def property_rows() -> list[Row]:
    mild = [random_section(seed, decades=4.0) for seed in SEEDS]
    plane = [random_section(seed, decades=4.0, coordinates="plane") for seed in PLANE_SEEDS]
    added = [superposition_difference(random_section(seed)) for seed in SEEDS]
    turned = [mirror_difference(section) for section in mild]
    shifted = [shift_difference(section, SHIFT) for section in mild]
    bent = [plane_difference(section) for section in plane]
    falls = [fall_of_conductance(random_section(seed), seed, BETTER) for seed in SEEDS]
    steps = np.diff(heats_of_better_fillers())
    return [
        *conservation_rows(),
        *extremes_rows(),
        *reciprocity_rows(),
        zero("(d) ambients together against one by one", worst(added), 1e-8),
        zero("(e) upside down", worst(turned), 1e-8),
        zero("(e) moved up", worst(shifted), 1e-8),
        zero("(f) plane against a ring 1000 times as wide", worst(bent), 0.002),
        zero("(g) fall of a conductance for a better body", worst([0.0, *falls]), 1e-9),
        Row("(g) better fillers that gain nothing", "of 14", 0.0, float((steps <= 0).sum()), 0.0),
    ]


CASES = (
    Case(
        "V29",
        "What holds for every section",
        f"the worst of {len(SEEDS)} random sections. The second-order matrix, which is the one solved, keeps (b) and "
        "(c) only as the grid is refined: on 16 cells one section of 2000 overshoots by 0.45 of the span",
        "conservation, maximum principle, reciprocity, Rayleigh's monotonicity",
        property_rows,
    ),
)
