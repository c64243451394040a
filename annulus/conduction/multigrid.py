"""Multigrid on pieces: the preconditioner for large sections.

Goes in: the first-order matrix of a cut grid, and which piece lies in which
cell and region. Comes out: a `Multigrid` that applies one symmetric cycle.
Pieces of one region that touch within a block of 2 x 2 cells become one piece
of the next level; regions never mix, so a copper ring in sand or a tube behind
a contact resistance stays what it is on every level.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import inv
from scipy.sparse import csr_matrix

from annulus.conduction import multigrid_cycle as cycles
from annulus.conduction.multigrid_cycle import Halves, Packed
from annulus.conduction.multigrid_kernels import coarse_matrix, join_blocks
from annulus.conduction.multigrid_rows import Rows, lay_out_rows, order_lines
from annulus.conduction.solvers import LinearSolution, Operator, conjugate_gradients
from annulus.conduction.vectors import ON_ONE_THREAD, dot, take_from

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

COARSEST = 150  # unknowns that are solved directly
LEAST_COARSENING = 0.9  # a level must have fewer unknowns than this share of the one below


@dataclass(frozen=True)
class Level:
    """One level: its matrix, what ties its halves, and the piece of the next level that each piece joins."""

    rows: Rows
    halves: Halves
    block: Ints

    @property
    def count(self) -> int:
        """Unknowns."""
        return self.block.size


class Multigrid:
    """Hierarchy of joined pieces with a K-cycle.

    Piecewise constants between levels are too stiff by themselves; one or two
    steps of conjugate gradients on every coarser level set their size. Because
    of them the cycle is not quite linear: use it in flexible methods.

    Parameters
    ----------
    matrix : csr_matrix, shape (n, n)
        Symmetric M-matrix, diagonally dominant.
    shape : (int, int)
        Cells of the grid.
    piece_start : ndarray of int, shape (nr * nz + 1,)
    region : ndarray of int, shape (n,)

    Attributes
    ----------
    order : ndarray of int, shape (n,)
        Piece at each place of the order in which the hierarchy works.
    diagonal : ndarray, shape (n,)
        Of the matrix, in that order.

    References
    ----------
    Y. Notay, P. S. Vassilevski, Recursive Krylov-based multigrid cycles, Numer.
    Linear Algebra Appl. 15 (2008) 473 (the K-cycle). From memory.
    """

    def __init__(
        self, matrix: csr_matrix, shape: tuple[int, int], piece_start: NDArray[np.int64], region: NDArray[np.int64]
    ):
        ordered = matrix if matrix.has_sorted_indices else matrix.sorted_indices()
        start, column = (part.astype(np.int32, copy=False) for part in (ordered.indptr, ordered.indices))
        value = ordered.data
        nr, nz = shape
        first, label = piece_start.astype(np.int32), region.astype(np.int32)
        member = np.arange(label.size, dtype=np.int32)
        line = np.repeat(np.arange(nr, dtype=np.int32), np.diff(first[::nz]))
        found: list[tuple[Rows, Halves, Ints, Ints]] = []
        places: list[Ints] = []
        while label.size > COARSEST:
            count = label.size
            block, *joined = join_blocks(nr, nz, first, member, label, line, start, column, value)
            if joined[2].size > LEAST_COARSENING * count:
                break
            order, middle = order_lines(line)
            middle = middle if count > ON_ONE_THREAD else count
            laid, place, *ties = lay_out_rows(start, column, value, order, middle)
            rows = Rows(*laid)
            found.append((rows, Halves(int(np.searchsorted(rows.segment[:, 0], middle)), *ties), order, block))
            places.append(place)
            first, member, label, line = joined
            start, column, value = coarse_matrix(start, column, value, block, label.size)
            nr, nz = (nr + 1) // 2, (nz + 1) // 2
        places.append(np.arange(label.size, dtype=np.int32))
        self.order = found[0][2] if found else places[0]
        self.diagonal = matrix.diagonal()[self.order]
        levels = [
            Level(rows, halves, place[block[order]])
            for (rows, halves, order, block), place in zip(found, places[1:], strict=True)
        ]
        self.wide = [level for level in levels if level.count > ON_ONE_THREAD]
        coarsest = inv(csr_matrix((value, column, start)).toarray())
        self.packed = _pack(levels[len(self.wide) :], coarsest)

    @property
    def count(self) -> int:
        """Unknowns."""
        return self.order.size

    @property
    def depth(self) -> int:
        """Levels above the one that is solved directly."""
        return len(self.wide) + self.packed.begin.shape[0] - 1

    def __call__(self, rhs: Floats) -> Floats:
        """One cycle: an approximate solution for a right-hand side, both in the order of the pieces.

        In double precision throughout: single precision loses a part whose tie
        to the rest is 1e-7 of the ties within it.
        """
        x = np.empty_like(rhs)
        x[self.order] = self.cycle(rhs[self.order])
        return x

    def solve(self, rhs: Floats, start: Floats, reduction: float = 0.0) -> LinearSolution:
        """Solve for a right-hand side by flexible conjugate gradients; see there."""
        found = conjugate_gradients(
            Operator(self.product, self.diagonal), rhs[self.order], self.cycle, start[self.order], reduction
        )
        x = np.empty_like(found.x)
        x[self.order] = found.x
        return replace(found, x=x)

    def cycle(self, rhs: Floats) -> Floats:
        """The same in the hierarchy's own order."""
        return self._cycle(0, rhs) if self.wide else cycles.cycle(self.packed, rhs, False)

    def product(self, x: Floats) -> Floats:
        """Matrix times a vector in the hierarchy's own order."""
        if self.depth == 0:
            return np.asarray(np.linalg.solve(self.packed.coarsest, x), dtype=np.float64)
        if not self.wide:
            return cycles.product(self.packed, x)
        y = np.empty_like(x)
        cycles.wide_times(self.wide[0].rows, self.wide[0].halves, x, y)
        return y

    def _cycle(self, depth: int, rhs: Floats) -> Floats:
        """Smooth, correct from the coarser level, smooth back, on a large level."""
        level = self.wide[depth]
        x, coarse_rhs = cycles.smooth_down(level.rows, level.halves, rhs, level.block, self._count(depth + 1))
        correction = self._accelerated(depth + 1, coarse_rhs)
        cycles.smooth_up(level.rows, level.halves, rhs, x, correction, level.block)
        return x

    def _count(self, depth: int) -> int:
        if depth < len(self.wide):
            return self.wide[depth].count
        of_level = np.diff(self.packed.begin[:, -1])
        return int(of_level[0]) if of_level.size else self.packed.coarsest.shape[0]

    def _accelerated(self, depth: int, rhs: Floats) -> Floats:
        """At most two steps of conjugate gradients around the cycle of a level."""
        if depth == len(self.wide):
            return cycles.cycle(self.packed, rhs, True)
        rows, halves = self.wide[depth].rows, self.wide[depth].halves
        one = self._cycle(depth, rhs)
        to_one, rest = np.empty_like(rhs), np.empty_like(rhs)
        energy = cycles.wide_times(rows, halves, one, to_one)
        if energy <= 0.0:
            return np.zeros_like(one)
        length = dot(one, rhs) / energy
        if take_from(rhs, length, to_one, rest) <= cycles.ENOUGH**2 * dot(rhs, rhs):
            return length * one
        two, to_two = self._cycle(depth, rest), np.empty_like(rhs)
        own = cycles.wide_times(rows, halves, two, to_two)
        cycles.combine(one, length, energy, dot(two, to_one), own, dot(two, rest), two)
        return one


def _pack(levels: list[Level], coarsest: Floats) -> Packed:
    """Levels one after the other; see `Packed`."""
    begin = np.zeros((len(levels) + 1, 7), dtype=np.int64)
    for n, level in enumerate(levels):
        r = level.rows
        parts = r.segment, r.shift, r.value, r.row_start, r.row_middle, r.row_column, r.inverse
        begin[n + 1] = begin[n] + [part.shape[0] for part in parts]

    def joined(name: str, kind: type, width: int = 0) -> NDArray:
        none: NDArray = np.empty((0, width) if width else 0, kind)
        return np.concatenate([none, *(getattr(level.rows, name) for level in levels)])

    rows = Rows(
        segment=joined("segment", np.int64, 6),
        shift=joined("shift", np.int64),
        value=joined("value", np.float64),
        row_start=joined("row_start", np.int32),
        row_middle=joined("row_middle", np.int32),
        row_column=joined("row_column", np.int32),
        row_value=joined("row_value", np.float64),
        inverse=joined("inverse", np.float64),
        diagonal=joined("diagonal", np.float64),
    )
    block = np.concatenate([np.empty(0, np.int32), *(level.block for level in levels)])
    return Packed(rows, block, begin, coarsest, np.empty((5, block.size + coarsest.shape[0])))
