"""Multigrid on pieces: the preconditioner for large sections.

Goes in: the first-order matrix of a cut grid, and which piece lies in which
cell and region. Comes out: a `Multigrid` that applies one symmetric cycle.
Pieces of one region that touch within a block of 2 x 2 cells become one piece
of the next level; regions never mix, so a copper ring in sand or a tube behind
a contact resistance stays what it is on every level.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky_banded
from scipy.sparse import csr_matrix

from annulus.conduction import multigrid_cycle as cycles
from annulus.conduction.multigrid_coarse import band, coarsen, seats
from annulus.conduction.multigrid_cycle import Factor, Packed
from annulus.conduction.multigrid_level import Level, Ties, diagonal_of
from annulus.conduction.multigrid_setup import join, largest_of_label, lay_out
from annulus.conduction.solvers import LinearSolution, Operator, conjugate_gradients
from annulus.conduction.vectors import ON_ONE_THREAD

Floats = NDArray[np.float64]

COARSEST = 2000  # unknowns that are solved directly
ACCELERATED_ABOVE = 2000  # places; on smaller levels a second step costs time and saves no outer step
HELD = 1e-4  # of its largest diagonal, what the last pivots of a region must keep for single precision to do
LEAST_COARSENING = 0.9  # a level must have fewer unknowns than this share of the one below


class Multigrid:
    """Hierarchy of joined pieces with a K-cycle.

    Piecewise constants between levels are too stiff by themselves; one or two
    steps of conjugate gradients on every coarser level set their size. Because
    of them the cycle is not quite linear: use it in flexible methods.

    Parameters
    ----------
    matrix : csr_matrix, shape (n, n)
        Symmetric M-matrix, diagonally dominant, that ties pieces of one cell or of cells with a common face.
    shape : (int, int)
        Cells of the grid.
    piece_start : ndarray of int, shape (nr * nz + 1,)
    region : ndarray of int, shape (n,)

    Raises
    ------
    ValueError
        If the matrix ties pieces of cells that do not touch.

    References
    ----------
    Y. Notay, P. S. Vassilevski, Recursive Krylov-based multigrid cycles, Numer.
    Linear Algebra Appl. 15 (2008) 473 (the K-cycle). From memory.
    """

    def __init__(
        self, matrix: csr_matrix, shape: tuple[int, int], piece_start: NDArray[np.int64], region: NDArray[np.int64]
    ):
        lines, cells = shape
        self.place, label, cell, ties, strays = lay_out(
            lines, cells, piece_start, region, matrix.indptr, matrix.indices, matrix.data
        )
        if strays:
            raise ValueError(f"multigrid: {strays} ties between pieces of cells that do not touch")
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
        self.exact = levels[0]._replace(inverse=np.empty(0))
        self.packed = _pack(levels, factor, label.size, np.float32 if self.is_single else np.float64)
        self.depth = len(levels)
        self.is_wide = self.exact.across.size > ON_ONE_THREAD
        self._y = np.zeros(self.exact.across.size)

    def __call__(self, rhs: Floats) -> Floats:
        """One cycle: an approximate solution for a right-hand side, both in the order of the pieces."""
        given, _, x, *_ = self.packed.work
        size = cycles.put_in_places(rhs, self.place, given)
        cycles.cycle(self.packed)
        return cycles.take_out_of_places(x, self.place, size)

    def solve(self, rhs: Floats, start: Floats, reduction: float = 0.0) -> LinearSolution:
        """Solve for a right-hand side by flexible conjugate gradients; see there."""
        ties = Ties(*(getattr(self.exact, name) for name in Ties._fields))
        found = conjugate_gradients(
            Operator(self.product, diagonal_of(self.exact.lines, self.exact.width, ties)),
            self.laid_out(rhs),
            self.cycle,
            self.laid_out(start),
            reduction,
        )
        return replace(found, x=found.x[self.place])

    def cycle(self, rhs: Floats) -> Floats:
        """The same in the layout of the levels."""
        given, _, x, *_ = self.packed.work
        size = cycles.put_in(rhs, given)
        cycles.cycle(self.packed)
        return cycles.take_out(x[: rhs.size], size)

    def product(self, x: Floats) -> Floats:
        """Matrix times a vector in the layout of the levels."""
        cycles.product(self.exact, self.is_wide, x, self._y)
        return self._y

    def laid_out(self, x: Floats) -> Floats:
        """A vector on pieces in the layout of the levels, zero where there is no piece."""
        return cycles.spread(x, self.place, self.exact.across.size)


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
        row_start,
        column,
        tie,
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
    begin = np.zeros((len(levels) + 1, 5), dtype=np.int64)
    for n, level in enumerate(levels):
        parts = level.inverse.size, level.joint.size, level.tie.size, level.mixed_start.size - 1, level.mixed.size
        begin[n + 1] = begin[n] + parts

    def joined(name: str, kind: type) -> NDArray:
        return np.concatenate([getattr(level, name) for level in levels], dtype=kind)

    names = ("across", "along", "outside", "inverse", "tie")
    whole = ("row_start", "column", "first_line", "joint", "joint_of_column", "mixed_start", "mixed")
    together = Level(
        lines=0,
        width=0,
        mixed_joint=joined("mixed_joint", np.int32),
        **{name: joined(name, kind) for name in names},
        **{name: joined(name, np.int32) for name in whole},
    )
    shape = np.array([(level.lines, level.width) for level in levels], dtype=np.int64).reshape(len(levels), 2)
    accelerated = max(1, sum(level.inverse.size > ACCELERATED_ABOVE for level in levels[1:]))
    work = np.zeros((5, begin[-1, 0] + places), kind)
    factor = factor._replace(**{name: getattr(factor, name).astype(kind) for name in ("lower", "upper", "inverse")})
    return Packed(shape, begin, together, factor, places, work, ON_ONE_THREAD, accelerated)
