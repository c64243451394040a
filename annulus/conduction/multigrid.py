"""Multigrid on pieces: the preconditioner for large sections.

Goes in: the first-order matrix of a cut grid, and which piece lies in which
cell and region. Comes out: a `Multigrid` that applies one symmetric cycle.
Pieces of one region that touch within a block of 2 x 2 cells become one piece
of the next level; regions never mix, so a copper ring in sand or a tube behind
a contact resistance stays what it is on every level.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import inv
from scipy.sparse import csr_matrix

from annulus.conduction import multigrid_kernels as kernels

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

COARSEST = 600  # unknowns that are solved directly
LEAST_COARSENING = 0.9  # a level must have fewer unknowns than this share of the one below
ENOUGH = 0.25  # a first step that leaves less than this of a residual needs no second
ON_ONE_THREAD = 200_000  # unknowns below which waiting for threads on a busy machine costs more than they save


@dataclass(frozen=True)
class Level:
    """One level: its matrix in rows, and the way up to the next coarser one.

    Attributes
    ----------
    start, column, value : ndarray
        Rows of the matrix; columns increase along a row.
    middle : ndarray of int, shape (n,)
        Place of the diagonal in each row.
    inverse : ndarray, shape (n,)
        One over the diagonal.
    band : int
        Farthest column from the diagonal.
    block : ndarray of int, shape (n,)
        Piece of the coarser level that each piece joins.
    """

    start: Ints
    column: Ints
    value: Floats
    middle: Ints
    inverse: Floats
    band: int
    block: Ints

    @property
    def count(self) -> int:
        return self.start.size - 1


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

    References
    ----------
    Y. Notay, P. S. Vassilevski, Recursive Krylov-based multigrid cycles, Numer.
    Linear Algebra Appl. 15 (2008) 473 (the K-cycle). From memory.
    """

    def __init__(
        self, matrix: csr_matrix, shape: tuple[int, int], piece_start: NDArray[np.int64], region: NDArray[np.int64]
    ):
        ordered = matrix.sorted_indices()
        start, column, value = ordered.indptr.astype(np.int32), ordered.indices.astype(np.int32), ordered.data
        nr, nz = shape
        first, label = piece_start.astype(np.int32), region.astype(np.int32)
        levels: list[Level] = []
        while start.size - 1 > COARSEST:
            middle = kernels.find_middle(start, column)
            block, first, coarse_label, joint = kernels.join_blocks(nr, nz, first, label, start, column, value)
            if joint > LEAST_COARSENING * (start.size - 1):
                break
            band = kernels.bandwidth(start, column)
            levels.append(Level(start, column, value, middle, 1.0 / value[middle], band, block))
            start, column, value = kernels.coarse_matrix(start, column, value, block, joint)
            nr, nz, label = (nr + 1) // 2, (nz + 1) // 2, coarse_label
        self.levels = tuple(levels)
        self.coarsest = inv(csr_matrix((value, column, start)).toarray())

    def __call__(self, rhs: Floats) -> Floats:
        """One cycle: an approximate solution for a right-hand side.

        In double precision throughout: single precision loses a part whose tie
        to the rest is 1e-7 of the ties within it.
        """
        return self._cycle(0, rhs) if self.levels else self.coarsest @ rhs

    def _cycle(self, depth: int, rhs: Floats) -> Floats:
        """Smooth, correct from the coarser level, smooth back."""
        level = self.levels[depth]
        rows = level.start, level.column, level.value, level.middle, level.inverse, level.band
        is_small = level.count < ON_ONE_THREAD
        down, up = (
            (kernels.smooth_down_small, kernels.smooth_up_small)
            if is_small
            else (kernels.smooth_down, kernels.smooth_up)
        )
        x, coarse_rhs = down(*rows, rhs, level.block, self._count(depth + 1))
        up(*rows, rhs, x, self._accelerated(depth + 1, coarse_rhs), level.block)
        return x

    def _count(self, depth: int) -> int:
        return self.levels[depth].count if depth < len(self.levels) else self.coarsest.shape[0]

    def _accelerated(self, depth: int, rhs: Floats) -> Floats:
        """At most two steps of conjugate gradients around the cycle of a level."""
        if depth == len(self.levels):
            return self.coarsest @ rhs
        level = self.levels[depth]
        rows = level.start, level.column, level.value
        one = self._cycle(depth, rhs)
        to_one, rest, energy, length, left = kernels.first_step(*rows, one, rhs)
        if left <= ENOUGH**2 or energy <= 0.0:
            return length * one
        two = self._cycle(depth, rest)
        return kernels.second_step(*rows, one, to_one, energy, length, two, rest)
