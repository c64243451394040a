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
from scipy.linalg import cho_factor, cho_solve
from scipy.sparse import csr_matrix

from annulus.conduction import multigrid_kernels as kernels
from annulus.conduction.solvers import dot

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

COARSEST = 600  # unknowns that are solved directly
LEAST_COARSENING = 0.9  # a level must have fewer unknowns than this share of the one below
ENOUGH = 0.25  # a first step that leaves less than this of a residual needs no second
ON_ONE_THREAD = 30_000  # unknowns below which starting threads costs more than they save


@dataclass(frozen=True)
class Level:
    """One level: its matrix in rows, and the way up to the next coarser one.

    Attributes
    ----------
    start, column, value : ndarray
        Rows of the matrix; columns increase along a row.
    middle : ndarray of int, shape (n,)
        Place of the diagonal in each row.
    block : ndarray of int, shape (n,)
        Piece of the coarser level that each piece joins.
    """

    start: Ints
    column: Ints
    value: Floats
    middle: Ints
    block: Ints

    @property
    def count(self) -> int:
        return self.start.size - 1

    def multiply(self, x: Floats) -> Floats:
        """Matrix times vector."""
        product = kernels.multiply_small if self.count < ON_ONE_THREAD else kernels.multiply
        return product(self.start, self.column, self.value, x)


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
            levels.append(Level(start, column, value, middle, block))
            start, column, value = kernels.coarse_matrix(start, column, value, block, joint)
            nr, nz, label = (nr + 1) // 2, (nz + 1) // 2, coarse_label
        self.levels = tuple(levels)
        self.coarsest = cho_factor(csr_matrix((value, column, start)).toarray(), lower=True)

    def __call__(self, rhs: Floats) -> Floats:
        """One cycle: an approximate solution for a right-hand side."""
        return self._cycle(0, rhs) if self.levels else cho_solve(self.coarsest, rhs)

    def _cycle(self, depth: int, rhs: Floats) -> Floats:
        """Smooth, correct from the coarser level, smooth back."""
        level = self.levels[depth]
        rows = level.start, level.column, level.value, level.middle
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
        return self.levels[depth].count if depth < len(self.levels) else self.coarsest[0].shape[0]

    def _accelerated(self, depth: int, rhs: Floats) -> Floats:
        """At most two steps of conjugate gradients around the cycle of a level."""
        if depth == len(self.levels):
            return cho_solve(self.coarsest, rhs)
        level = self.levels[depth]
        one = self._cycle(depth, rhs)
        to_one = level.multiply(one)
        rho, alpha = dot(one, to_one), dot(one, rhs)
        rest = rhs - (alpha / rho) * to_one
        if dot(rest, rest) <= ENOUGH**2 * dot(rhs, rhs):
            return (alpha / rho) * one
        two = self._cycle(depth, rest)
        to_two = level.multiply(two)
        gamma, beta, delta = dot(two, to_one), dot(two, to_two), dot(two, rest)
        own = beta - gamma * gamma / rho
        return (alpha / rho - gamma * delta / (rho * own)) * one + (delta / own) * two
