"""Multigrid on pieces: the same answer as a factor, in as many steps whatever the section."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import csr_matrix

from annulus.conduction import multigrid, steady
from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid, graded_faces
from annulus.conduction.multigrid import Multigrid, multigrid_of
from annulus.conduction.multigrid_coarse import band, coarsen
from annulus.conduction.multigrid_level import At, Ties, diagonal_of, exact_product, level_at
from annulus.conduction.multigrid_setup import join, lay_out
from annulus.conduction.network import Network, connect
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.solvers import conjugate_gradients, factor, solve_preconditioned
from annulus.conduction.steady import conductivity_of_pieces, resistance_table, solve_steady
from annulus.errors import ConvergenceError
from annulus.shapes import Disc, Rectangle

TURNS = 3
WALL, CAVITY, OUTSIDE = 0.0765, 0.093, 0.1245  # [m]
RADIUS, BORE = 6.35e-3, 5.55e-3


# Spans of the range in which the iteration must hold: contrasts 1e-3 to 1e3 about the default, contact
# resistances 1e-7 to 1 m2K/W, tubes 1 micrometre to 10 mm apart and off the wall, graded cells.
SECTIONS = {
    "default": ({}, {}),
    "filler 1e-3 of the default": ({}, {"filler": 3e-4}),
    "filler 1e3 of the default": ({}, {"filler": 300.0}),
    "copper 1e-3 of the default": ({}, {"copper": 0.39}),
    "copper 1e2 and filler 1e-1 of the default": ({}, {"copper": 39000.0, "filler": 0.03}),
    "contact 1e-7": ({}, {"contact": 1e-7}),
    "contact 1e-3": ({}, {"contact": 1e-3}),
    "contact 1": ({}, {"contact": 1.0}),
    "no water": ({}, {"water": 1e-6}),
    "tubes 1 micrometre apart": ({"between": 1e-6}, {}),
    "tubes 10 mm apart": ({"between": 1e-2}, {}),
    "tubes 1 micrometre off the wall": ({"gap": 1e-6}, {}),
    "graded cells": ({"graded": True}, {}),
}


def coil(cell=0.5e-3, gap=0.3e-3, between=4.3e-3, graded=False):
    """Pieces of a short coil: flue wall, filler with copper rings, insulation."""
    pitch = 2 * RADIUS + between

    def size(x, near):
        return np.minimum(5 * cell, 3e-5 + 0.2 * np.abs(x - near)) if graded else np.full(x.shape, cell)

    height = TURNS * pitch
    grid = Grid(
        graded_faces([0.075, WALL, CAVITY, OUTSIDE], lambda r: size(r, WALL)),
        graded_faces(np.arange(TURNS + 1) * pitch, lambda z: size(z, pitch * np.round(z / pitch))),
    )
    regions = [Painted("filler", Rectangle(WALL, CAVITY, 0, height))]
    for n in range(TURNS):
        r, z = WALL + gap + RADIUS, (n + 0.5) * pitch
        regions += [Painted(f"tube {n}", Disc(r, z, RADIUS)), Painted(f"bore {n}", Disc(r, z, BORE), False)]
    regions += [
        Painted("flue", Rectangle(0.075, WALL, 0, height)),
        Painted("wool", Rectangle(CAVITY, OUTSIDE, 0, height)),
    ]
    return cut_grid(grid, regions)


def laws(filler=0.3, copper=390.0):
    return {"filler": filler, "flue": 45.0, "wool": 0.08} | {f"tube {n}": copper for n in range(TURNS)}


def films(water=2000.0):
    return {"r_min": Film(30.0, 550.0), "r_max": Film(10.0, 20.0)} | {
        f"bore {n}": Film(water, 40.0) for n in range(TURNS)
    }


def network(pieces, filler=0.3, copper=390.0, contact=0.0, water=2000.0) -> Network:
    contacts = {("filler", f"tube {n}"): contact for n in range(TURNS)} | {("filler", "flue"): contact}
    q0, h = np.zeros(pieces.surface_piece.size), np.zeros(pieces.surface_piece.size)
    for name, film in films(water).items():
        on = pieces.boundary_surfaces(name)
        q0[on], h[on] = film.linearise(np.zeros(on.size), pieces.surfaces.r[on], pieces.surfaces.z[on])
    k = conductivity_of_pieces(pieces, laws(filler, copper), np.zeros(pieces.count))
    return connect(pieces, k, resistance_table(pieces, contacts), q0, h)


def parts(net: Network, *more: tuple[int, int, float]):
    """What `Multigrid` is made of, with more links."""
    p = net.pieces
    links = zip(p.link_a, p.link_b, net.link_conductance, strict=True)
    a, b, g = (np.array(column) for column in zip(*links, *more, strict=True))
    outside = np.zeros(p.count)
    np.add.at(outside, p.surface_piece, net.surface_conductance)
    return p.grid.shape, p.piece_start, p.region, (a, b, g), outside


def steps(net: Network) -> int:
    """Steps of the flexible solver on the first-order matrix, to 1e-10 of the residual."""
    pieces = net.pieces
    cycle = multigrid_of(net)
    found = solve_preconditioned(net.base_matrix, net.drive, cycle, np.zeros(pieces.count), reduction=1e-10)
    return found.steps


def test_multigrid_solves_what_a_factor_solves():
    net = network(coil())
    pieces = net.pieces
    cycle = multigrid_of(net)
    assert cycle.depth >= 2
    start = np.zeros(pieces.count)
    by_cycle = cycle.solve(net.drive, start, correction=net.correction).x
    by_factor = solve_preconditioned(net.matrix, net.drive, factor(net.base_matrix), start).x
    # Residuals of 2e-15 on either side, times the condition of a section held by films: measured 3e-11 K of 500 K.
    assert by_cycle == pytest.approx(by_factor, abs=1e-8)


def test_first_order_matrix_and_correction_are_the_second_order_matrix():
    net = network(coil(graded=True))
    beside = abs(net.base_matrix + net.correction - net.matrix)
    assert net.correction.nnz > 1000
    assert beside.max() <= 1e-14 * net.matrix.diagonal().max()  # the order of sums differs


@pytest.mark.parametrize("name", SECTIONS)
def test_corrections_hardly_cost_steps_beside_minimising_over_all_directions(name):
    """Generalised minimal residuals keep every direction, and are the least that steps can do."""
    shape, values = SECTIONS[name]
    net = network(coil(**shape), **values)
    cycle, start = multigrid_of(net), np.zeros(net.pieces.count)
    found = cycle.solve(net.drive, start, 1e-10, net.correction)
    left = np.linalg.norm(net.drive - net.matrix @ found.x) / np.linalg.norm(net.drive)
    terms = 2e-15 * np.linalg.norm(net.matrix.diagonal() * found.x) / np.linalg.norm(net.drive)
    assert left <= 1e-10 + terms
    least = solve_preconditioned(net.matrix, net.drive, cycle, start, 1e-10).steps
    assert found.steps <= 1.25 * least + 1


def test_halves_side_by_side_solve_the_same_as_one_thread(monkeypatch):
    net = network(coil())
    pieces = net.pieces
    start = np.zeros(pieces.count)
    whole = multigrid_of(net)
    monkeypatch.setattr(multigrid, "ON_ONE_THREAD", pieces.count // 8)
    halved = multigrid_of(net)
    assert pieces.count < whole.packed.on_one_thread
    assert np.diff(halved.packed.begin)[1] > halved.packed.on_one_thread  # the second level too
    # sums over lines differ by their order alone, and they only set the size of coarse corrections
    assert halved(net.drive) == pytest.approx(whole(net.drive), rel=1e-6)
    one, two = whole.solve(net.drive, start), halved.solve(net.drive, start)
    assert two.x == pytest.approx(one.x, abs=1e-8)
    assert two.steps == one.steps


@pytest.mark.parametrize("cells", [1e-3, 0.7e-3])  # odd and even numbers of lines and cells
def test_product_on_the_grid_and_beside_it_is_the_matrix_s(cells):
    net = network(coil(cells, graded=True))
    pieces = net.pieces
    hierarchy = multigrid_of(net)
    assert hierarchy.ties.row_start.size > 50  # pieces that share their cell with others
    x = np.random.default_rng(1).random(pieces.count)
    expected = net.base_matrix @ x
    # terms of a row cancel; nothing but the order of its sum differs
    scale = 1e-14 * (net.base_matrix.diagonal() * x).max()
    assert hierarchy.product(hierarchy.laid_out(x))[hierarchy.place] == pytest.approx(expected, rel=1e-12, abs=scale)


def test_the_cycle_is_symmetric_below_one_second_step(monkeypatch):
    """Two levels, the second solved directly: a linear map, symmetric but for single precision."""
    net = network(coil(1e-3))
    pieces = net.pieces
    monkeypatch.setattr(multigrid, "COARSEST", 10**6)
    cycle = multigrid_of(net)
    assert cycle.depth == 1
    one, two = np.random.default_rng(2).standard_normal((2, pieces.count))
    assert one @ cycle(two) == pytest.approx(two @ cycle(one), rel=1e-4)
    assert one @ cycle(one) > 0


def test_a_part_of_one_temperature_loses_only_what_leaves_it():
    """Without round-off of the ties that cancel, or single precision would lose a part that is held by little.

    Filler of 300 W/(m K) behind contacts of 1 m2 K/W on 376 000 pieces did not converge before.
    """
    net = network(coil(), filler=300.0, contact=1.0)
    pieces = net.pieces
    hierarchy = multigrid_of(net)
    assert hierarchy.is_single
    to_gas_water_and_room = float((net.base_matrix @ np.ones(pieces.count)).sum())
    for depth in range(hierarchy.depth):
        packed = hierarchy.packed
        level = level_at.py_func(At(packed.where[depth], packed.reals, packed.wholes))
        left = np.zeros(level.inverse.size, np.float32)
        ties = Ties(*(getattr(level, name) for name in Ties._fields))
        exact_product(level.lines, level.width, ties, np.ones_like(left), left)
        assert left == pytest.approx(level.outside, rel=1e-6)
        assert left.sum(dtype=np.float64) == pytest.approx(to_gas_water_and_room, rel=1e-6)


def test_coarse_matrices_are_sums_over_what_joins():
    """P^T A P with P the join of pieces, written out with SciPy."""
    net = network(coil(1e-3))
    pieces = net.pieces
    matrix = net.base_matrix
    (lines, cells), *of_pieces = parts(net)
    place, label, cell, ties, strays = lay_out(lines, cells, *of_pieces)
    assert strays == 0
    width = (cells + 1) // 2
    diagonal = diagonal_of(lines, width, ties)
    assert diagonal[place] == pytest.approx(matrix.diagonal(), rel=1e-14)
    parent, next_label, _, first_line, *_ = join(lines, width, label, cell, diagonal, ties)
    coarse = coarsen(lines, width, first_line.size - 1, parent, ties, next_label.size)
    to_joint = csr_matrix((np.ones(pieces.count), (np.arange(pieces.count), parent[place])), (pieces.count, 10**6))
    expected = (to_joint.T @ matrix @ to_joint).tocsr()
    used = np.flatnonzero(next_label >= 0)
    coarse_lines, coarse_width = first_line.size - 1, (width + 1) // 2
    coarse_diagonal = diagonal_of(coarse_lines, coarse_width, coarse)
    assert expected.diagonal()[used] == pytest.approx(coarse_diagonal[used], rel=1e-9)
    full = np.zeros((next_label.size, next_label.size))
    full[np.ix_(used, used)] = expected[used][:, used].toarray()
    ahead = band(coarse_lines, coarse_width, used, coarse_diagonal, coarse)
    below = np.array([full[used[k:], used[: used.size - k]] for k in range(1)])
    assert ahead[0] == pytest.approx(below[0], rel=1e-9)
    for k in range(1, ahead.shape[0]):
        assert ahead[k, : used.size - k] == pytest.approx(full[used[k:], used[: used.size - k]], rel=1e-9, abs=1e-12)
    assert not np.triu(full[np.ix_(used, used)], ahead.shape[0]).any()
    # pieces of different regions never join
    assert all(label[place] == next_label[parent[place]])


def test_links_between_distant_cells_are_refused_and_equal_ones_summed():
    net = network(coil(1e-3))
    pieces = net.pieces
    second = int(pieces.piece_start[np.flatnonzero(np.diff(pieces.piece_start) == 2)[0]]) + 1  # of a cut cell
    for piece in (0, second):
        with pytest.raises(ValueError, match="1 links between pieces of cells that do not touch"):
            Multigrid(*parts(net, (piece, pieces.count - 1, 1e-3)))
    lines, cells = pieces.grid.shape
    first = pieces.piece_start[:-1].reshape(lines, cells)
    for one, other in ((first[0, 0], first[1, 1]), (first[0, 1], first[1, 0]), (first[0, 0], first[0, 2])):
        with pytest.raises(ValueError, match="1 links between"):  # corners that touch, and every other cell
            Multigrid(*parts(net, (one, other, 1e-3)))
    same = multigrid_of(net)
    a, b = pieces.link_a[0], pieces.link_b[0]
    twice = Multigrid(*parts(net, (b, a, net.link_conductance[0])))  # links between the same two pieces are summed
    x = np.random.default_rng(3).random(pieces.count)
    more = np.zeros(pieces.count)
    more[a], more[b] = net.link_conductance[0] * (x[a] - x[b]) * np.array([1.0, -1.0])
    got = twice.product(twice.laid_out(x))[twice.place] - same.product(same.laid_out(x))[same.place]
    assert got == pytest.approx(more, abs=1e-9 * np.abs(more).max())


@pytest.mark.parametrize(("contact", "is_single"), [(0.0, True), (1e6, False)])
def test_a_part_that_is_all_but_loose_is_smoothed_in_double_precision(contact, is_single):
    """Without film behind a contact of 1e6 m2K/W a tube keeps its level, which the filler hardly knows."""
    net = network(coil(1e-3), contact=contact, water=1e-6)
    pieces = net.pieces
    cycle = multigrid_of(net)
    assert cycle.is_single is is_single
    found = cycle.solve(net.drive, np.zeros(pieces.count))
    # a matrix of condition 1e12: the factor itself is right to some 1e-4 of 500 K
    assert found.x == pytest.approx(factor(net.base_matrix)(net.drive), abs=0.05)


def test_steps_do_not_grow_with_the_grid():
    counts = [steps(network(coil(cell))) for cell in (1e-3, 0.5e-3, 0.25e-3)]
    assert max(counts) <= min(counts) + 3
    assert max(counts) <= 20


def test_steps_hardly_depend_on_contrast_contact_gap_or_grading():
    counts = {name: steps(network(coil(**shape), **values)) for name, (shape, values) in SECTIONS.items()}
    print(counts)
    assert max(counts.values()) <= 2 * np.median(list(counts.values()))


def test_a_matrix_smaller_than_the_coarsest_level_is_solved_too():
    net = network(coil(cell=9e-3))
    pieces = net.pieces
    cycle = multigrid_of(net)
    assert cycle.depth == 1
    found = cycle.solve(net.drive, np.zeros(pieces.count))
    assert found.x == pytest.approx(factor(net.base_matrix)(net.drive), rel=1e-9)


def test_large_sections_take_multigrid_and_say_so(monkeypatch):
    pieces = coil()
    direct = solve_steady(pieces, laws(), films())
    monkeypatch.setattr(steady, "MULTIGRID_ABOVE", pieces.count - 1)
    iterated = solve_steady(pieces, laws(), films())
    assert (direct.solver, iterated.solver) == ("direct factor", "multigrid")
    assert iterated.temperature == pytest.approx(direct.temperature, abs=1e-8)


@pytest.mark.parametrize("name", SECTIONS)
def test_a_residual_followed_in_single_precision_is_the_true_one_in_as_many_steps(name):
    """SciPy's product says what is left of the right-hand side; steps wholly in double precision are no fewer."""
    shape, values = SECTIONS[name]
    net = network(coil(**shape), **values)
    pieces, matrix, rhs = net.pieces, net.base_matrix, net.drive
    cycle = multigrid_of(net)
    found = cycle.solve(rhs, np.zeros(pieces.count), 1e-10)
    left = np.linalg.norm(rhs - matrix @ found.x) / np.linalg.norm(rhs)
    # double precision itself cannot tell residuals below some epsilons of the terms that cancel in them
    terms = 2e-15 * np.linalg.norm(matrix.diagonal() * found.x) / np.linalg.norm(rhs)
    assert left <= 1e-10 + terms
    assert found.residual == pytest.approx(left, rel=1e-3, abs=terms)
    in_double = conjugate_gradients(matrix, rhs, cycle, np.zeros(pieces.count), 1e-10)
    assert found.steps <= in_double.steps + 1


def test_down_to_round_off_the_solution_is_a_factor_s():
    net = network(coil(1e-3), filler=300.0, contact=1.0)
    pieces = net.pieces
    cycle = multigrid_of(net)
    assert cycle.is_single
    found = cycle.solve(net.drive, np.full(pieces.count, 300.0))
    assert found.residual < 2e-15
    assert found.x == pytest.approx(factor(net.base_matrix)(net.drive), rel=1e-11)


def test_a_solution_that_double_precision_cannot_better_is_taken_and_one_short_of_it_refused(monkeypatch):
    net = network(coil(1e-3), copper=390e3)
    pieces = net.pieces
    cycle = multigrid_of(net)
    found = cycle.solve(net.drive, np.zeros(pieces.count), 1e-15)  # below round-off of copper's terms
    assert found.x == pytest.approx(factor(net.base_matrix)(net.drive), rel=1e-6)
    monkeypatch.setattr(multigrid, "MAX_KRYLOV", 5)
    with pytest.raises(ConvergenceError, match="after 5 steps must fall below 1e-10"):
        cycle.solve(net.drive, np.zeros(pieces.count), 1e-10)


def test_a_direction_of_no_length_is_refused(monkeypatch):
    net = network(coil(1e-3))
    monkeypatch.setattr(multigrid, "turn", lambda *_: (0.0, 0.0))
    with pytest.raises(ConvergenceError, match=r"residual 1\.0e\+00 after 1 steps must fall below 1e-10"):
        multigrid_of(net).solve(net.drive, np.zeros(net.pieces.count), 1e-10)
