"""Multigrid on pieces: the preconditioner for large sections.

Goes in: links of a cut grid with their conductances, and which piece lies in
which cell and region. Comes out: a `Multigrid` that applies one symmetric cycle.
Pieces of one region that touch within a block of 2 x 2 cells become one piece
of the next level; regions never mix, so a copper ring in sand or a tube behind
a contact resistance stays what it is on every level.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky_banded
from scipy.sparse import csr_matrix

from annulus.conduction import multigrid_cycle as cycles
from annulus.conduction.multigrid_coarse import band, coarsen, seats
from annulus.conduction.multigrid_cycle import Factor, Packed
from annulus.conduction.multigrid_level import REALS, WHOLES, Level, Ties, diagonal_of, exact_product
from annulus.conduction.multigrid_setup import join, largest_of_label, lay_out
from annulus.conduction.multigrid_steps import Course, advance, along, turn
from annulus.conduction.network import Network
from annulus.conduction.solvers import (
    MAX_KRYLOV,
    RESIDUAL,
    STALLED_AT,
    LinearSolution,
    Operator,
    not_converged,
    settle_weak_ties,
)
from annulus.conduction.vectors import inner

Floats = NDArray[np.float64]

COARSEST = 2000  # unknowns that are solved directly
ACCELERATED_ABOVE = 2000  # places; on smaller levels a second step costs time and saves no outer step
HELD = 1e-4  # of its largest diagonal, what the last pivots of a region must keep for single precision to do
ON_ONE_THREAD = 500_000  # unknowns below which waiting for threads on a busy machine costs more than they save
REFRESHED = 3e-4  # of a residual, to which single precision may follow it
CLEARLY = 0.9  # of what is asked for, to which a residual that was followed must fall
LEAST_COARSENING = 0.9  # a level must have fewer unknowns than this share of the one below


class Multigrid:
    """Hierarchy of joined pieces with a K-cycle.

    Piecewise constants between levels are too stiff by themselves; one or two
    steps of conjugate gradients on every coarser level set their size. Because
    of them the cycle is not quite linear: use it in flexible methods.

    Parameters
    ----------
    shape : (int, int)
        Cells of the grid.
    piece_start : ndarray of int, shape (nr * nz + 1,)
        First piece of each cell.
    region : ndarray of int, shape (n,)
        Region of each piece.
    links : (ndarray of int, ndarray of int, ndarray), each of shape (n_links,)
        Pieces of one cell or of cells with a common face, and the conductances between them. [W/K]
    outside : ndarray, shape (n,)
        Conductance of each piece to what is no piece. [W/K]

    Raises
    ------
    ValueError
        If a link ties pieces of cells that do not touch.

    References
    ----------
    Y. Notay, P. S. Vassilevski, Recursive Krylov-based multigrid cycles, Numer.
    Linear Algebra Appl. 15 (2008) 473 (the K-cycle). From memory.
    """

    def __init__(
        self,
        shape: tuple[int, int],
        piece_start: NDArray[np.int64],
        region: NDArray[np.int64],
        links: tuple[NDArray[np.int64], NDArray[np.int64], Floats],
        outside: Floats,
    ):
        lines, cells = shape
        self.place, label, cell, ties, strays = lay_out(lines, cells, piece_start, region, links, outside)
        if strays:
            raise ValueError(f"multigrid: {strays} links between pieces of cells that do not touch")
        width = (cells + 1) // 2
        diagonal = diagonal_of(lines, width, ties)
        count, largest = region.size, largest_of_label(label, diagonal)
        levels: list[Level] = []
        while count > COARSEST or not levels:
            parent, next_label, next_cell, *blocks = join(lines, width, label, cell, diagonal, ties)
            next_count = int(np.count_nonzero(next_label >= 0))
            if next_count > LEAST_COARSENING * count and levels:
                break
            levels.append(_level(lines, width, parent, diagonal, ties, blocks))
            ties = coarsen(lines, width, blocks[0].size - 1, parent, ties, next_label.size)
            label, cell, count = next_label, next_cell, next_count
            lines, width = blocks[0].size - 1, (width + 1) // 2
            diagonal = diagonal_of(lines, width, ties)
        factor = _factor(lines, width, label, cell, diagonal, ties)
        of_own = factor.inverse**-2.0 / largest[label[factor.place]]
        self.is_single = bool(of_own.min() > HELD)  # no part is all but loose, or single precision would lose its level
        self.shape = levels[0].lines, levels[0].width
        self.ties = Ties(*(getattr(levels[0], name) for name in Ties._fields))
        self.packed = _pack(levels, factor, label.size, np.float32 if self.is_single else np.float64)
        self.depth = len(levels)
        self._y = np.zeros(levels[0].across.size)

    def __call__(self, rhs: Floats) -> Floats:
        """One cycle: an approximate solution for a right-hand side, both in the order of the pieces."""
        given, _, x, *_ = self.packed.work
        size = cycles.put_in_places(rhs, self.place, given)
        cycles.cycle(self.packed)
        return cycles.take_out_of_places(x, self.place, size)

    def solve(
        self, rhs: Floats, start: Floats, reduction: float = 0.0, correction: csr_matrix | None = None
    ) -> LinearSolution:
        """Solve by flexible conjugate gradients; with a correction to the matrix, by flexible residual minimising.

        Products and residuals are in the levels' precision, directions and solution in double. Whenever the residual
        has fallen by `REFRESHED`, it is computed anew in double from the solution.

        Parameters
        ----------
        rhs, start : ndarray, shape (n,)
        reduction : float
            Of the right-hand side's norm, that the residual must reach; 0 goes down to
            round-off and settles weak ties.
        correction : csr_matrix, shape (n, n), optional
            What the matrix is more than that of the levels: few rows, any terms.

        Returns
        -------
        LinearSolution

        Raises
        ------
        ConvergenceError
            If the residual stays above `STALLED_AT` (or `reduction`) after `MAX_KRYLOV` steps.

        References
        ----------
        Y. Notay, Flexible conjugate gradients, SIAM J. Sci. Comput. 22 (2000) 1444; S. C. Eisenstat, H. C. Elman,
        M. H. Schultz, Variational iterative methods for nonsymmetric systems of linear equations, SIAM J. Numer. Anal.
        20 (1983) 345 (directions orthogonal to the last). From memory.
        """
        given, x = self.laid_out(rhs), self.laid_out(start)
        more = None if correction is None or not correction.nnz else _Correction(correction, self.place, x.size)
        is_symmetric = more is None
        # on the first level the cycle uses the first, third and fourth of these alone
        rest, to_ahead, new, to_new, _ = self.packed.work[:, : x.size]
        course = Course(x, rest, new, to_new, np.zeros(x.size), to_ahead)
        to_ahead[:] = 0.0
        enough, own, steps = reduction or RESIDUAL, 1.0, 0
        norm = float(np.sqrt(inner(given, given)))
        history: list[float] = []
        while True:
            product = self.product(x, more)
            size = cycles.put_in(np.subtract(given, product, out=product), rest)
            history.append(size / ((norm if reduction else norm + self._terms(x)) or 1.0))
            has_stalled = len(history) > 1 and history[-1] > 0.5 * history[-2]
            if history[-1] <= enough or steps >= MAX_KRYLOV or has_stalled:
                break
            left, least = 1.0, max(REFRESHED, CLEARLY * enough / history[-1])
            while left > least and steps < MAX_KRYLOV:
                cycles.cycle(self.packed)
                if more is not None:
                    more.add(new, to_new)
                own, gain = turn(course, is_symmetric, along(course, is_symmetric) / own)
                steps += 1
                if not own > 0.0:  # no way ahead that single precision can tell: no residual falls, which is noticed
                    break
                left = np.sqrt(advance(course, gain / own, size))
        found = x[self.place]
        if not (history[-1] <= (reduction or STALLED_AT) or size <= RESIDUAL * (norm + self._terms(x))):
            raise not_converged(history, steps, reduction or STALLED_AT, found)
        if reduction == 0.0 and history[-1] > 0.0:
            matrix = Operator(lambda x: self.product(self.laid_out(x), more)[self.place], self._diagonal()[self.place])
            found, steps = settle_weak_ties(matrix, rhs, self, found, steps, history)
        return LinearSolution(found, history[-1], steps)

    def _diagonal(self) -> Floats:
        return diagonal_of(*self.shape, self.ties)

    def _terms(self, x: Floats) -> float:
        """Length of the terms that cancel in a residual."""
        return float(np.linalg.norm(self._diagonal() * x))

    def product(self, x: Floats, more: _Correction | None = None) -> Floats:
        """Matrix times a vector in the layout of the levels."""
        exact_product(*self.shape, self.ties, x, self._y)
        if more is not None:
            more.add(x, self._y)
        return self._y

    def laid_out(self, x: Floats) -> Floats:
        """A vector on pieces in the layout of the levels, zero where there is no piece."""
        return cycles.spread(x, self.place, self._y.size)


class _Correction:
    """A matrix of few rows in the layout of the levels, in both precisions."""

    def __init__(self, correction: csr_matrix, place: NDArray[np.int32], size: int):
        row = np.flatnonzero(np.diff(correction.indptr))
        start = np.append(correction.indptr[row], correction.nnz)
        self._row = place[row]
        exact = csr_matrix((correction.data, place[correction.indices], start), (row.size, size))
        self._rows = {np.dtype(kind): exact.astype(kind) for kind in (np.float64, np.float32)}

    def add(self, x: NDArray, y: NDArray) -> None:
        """Add its product with x to y."""
        y[self._row] += self._rows[x.dtype] @ x


def multigrid_of(network: Network) -> Multigrid:
    """Hierarchy of the first-order matrix of a network."""
    p = network.pieces
    links = p.link_a, p.link_b, network.link_conductance
    outside = np.bincount(p.surface_piece, network.surface_conductance, p.count).astype(np.float64)
    return Multigrid(p.grid.shape, p.piece_start, p.region, links, outside)


def _level(lines: int, width: int, parent: NDArray, diagonal: Floats, ties: Ties, blocks: list[NDArray]) -> Level:
    """A level of what is known of it; its diagonal is overwritten."""
    across, along, outside, row_start, column, tie = ties
    inverse = np.divide(1.0, diagonal, out=diagonal, where=diagonal > 0.0)
    joint = parent[parent.size - row_start.size + 1 :].copy()
    return Level(
        lines,
        width,
        across,
        along,
        outside,
        inverse,
        tie,
        np.zeros_like(tie),
        row_start,
        column,
        blocks[0],
        joint,
        parent[column],
        *blocks[1:],
    )


def _factor(lines: int, width: int, label: NDArray, cell: NDArray, diagonal: Floats, ties: Ties) -> Factor:
    """Cholesky factor of a small level."""
    line, column, places = seats(lines, width, label, cell)
    key = column * lines + line if lines < 2 * width else line * 2 * width + column
    places = places[np.argsort(key, kind="stable")]
    found = cholesky_banded(band(lines, width, places, diagonal, ties), lower=True)
    n, wide = places.size, max(found.shape[0] - 1, cycles.JUST_STORED)
    lower, upper = np.zeros((2, n, wide))
    for d in range(1, min(found.shape[0], n)):
        lower[d:, wide - d] = upper[: n - d, d - 1] = found[d, : n - d]
    return Factor(lower, upper, 1.0 / found[0], places)


def _pack(levels: list[Level], factor: Factor, places: int, kind: type) -> Packed:
    """Levels one after the other, of numbers of a kind; see `Packed`."""
    begin = np.cumsum([0, *(level.inverse.size for level in levels), places])
    where, reals, wholes = [], [], []
    of_reals = of_wholes = 0
    for level in levels:
        sizes = [getattr(level, name).size for name in REALS]
        counts = [getattr(level, name).size for name in WHOLES]
        ends = of_reals + np.cumsum([0, *sizes]), of_wholes + np.cumsum([0, *counts])
        where.append([level.lines, level.width, *ends[0], *ends[1]])
        reals += [getattr(level, name) for name in REALS]
        wholes += [getattr(level, name) for name in WHOLES]
        of_reals, of_wholes = ends[0][-1], ends[1][-1]
    accelerated = max(1, sum(level.inverse.size > ACCELERATED_ABOVE for level in levels[1:]))
    factor = factor._replace(**{name: getattr(factor, name).astype(kind) for name in ("lower", "upper", "inverse")})
    return Packed(
        begin,
        np.array(where, dtype=np.int64),
        np.concatenate(reals, dtype=kind),
        np.concatenate(wholes, dtype=np.int32),
        factor,
        np.zeros((5, begin[-1]), kind),
        ON_ONE_THREAD,
        accelerated,
    )
