"""The seam between a network and a linear solver: matrix and vector in, vector out.

Goes in: a sparse matrix for the factor, and the matrix that is to be solved, which
may have more terms. Comes out: the solution with its residual, or ConvergenceError.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_matrix, sparray, spmatrix
from scipy.sparse.linalg import splu

from annulus.conduction.vectors import add, inner
from annulus.errors import ConvergenceError

Floats = NDArray[np.float64]
Matrix: TypeAlias = spmatrix | sparray

RESIDUAL = 2e-15  # of the norms of right-hand side and diagonal times solution; about round-off
STALLED_AT = 1e-10  # a residual that no longer falls is still a solution below this
RESOLVED = 1e-9  # of the largest unknown: an estimated error below this has settled
TOLERABLE = 1e-6  # the same where round-off lets it settle no further
MAX_SETTLING = 6  # rounds towards it; 2 times the worst seen
# SuperLU's supernodes as they are and panels of two columns: factors of sections have some 20 entries a column,
# for which its usual widths cost 1.7 times as much (46 000 unknowns: 0.11 s against 0.06 s)
NARROW: dict[str, Any] = {"relax": 1, "panel_size": 2, "options": {"SymmetricMode": True}}
MAX_KRYLOV = 80  # 4 times the worst seen in cases/


@dataclass(frozen=True)
class Operator:
    """A square matrix known by its products with vectors.

    Attributes
    ----------
    product : callable
        Vector to vector.
    main : ndarray
        Its diagonal.
    """

    product: Callable[[Floats], Floats]
    main: Floats

    def __matmul__(self, x: Floats) -> Floats:
        return self.product(x)

    def diagonal(self) -> Floats:
        """Diagonal of the matrix."""
        return self.main


def factor(matrix: Matrix) -> Callable[[Floats], Floats]:
    """Direct factor of a matrix of conductances; returns b -> x.

    Pivots are taken on the diagonal in the order of minimum degree of
    A^T + A. First-order matrices, diagonally dominant, allow that without loss
    of accuracy; what the rows of a second-order one beside cuts may cost, the
    iteration around the factor makes good.

    Raises
    ------
    ConvergenceError
        If the matrix is singular: a part without any tie to the outside.
    """
    try:
        lu = splu(csc_matrix(matrix), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, **NARROW)
    except RuntimeError as fault:
        raise ConvergenceError(
            f"section: its equations have no single solution ({fault}); does a part lose no heat to anything, "
            "because a film coefficient or a conductivity is next to nothing?"
        ) from fault
    return lu.solve


@dataclass(frozen=True)
class LinearSolution:
    """Solution `x`, its residual, and the steps it took.

    The residual is relative to |b| + |diagonal(A) x|, the size of the terms
    that cancel in it.
    """

    x: Floats
    residual: float
    steps: int


def solve_preconditioned(
    matrix: Matrix | Operator,
    rhs: Floats,
    precondition: Callable[[Floats], Floats],
    start: Floats,
    reduction: float = 0.0,
) -> LinearSolution:
    """GMRES with right preconditioning, watched by the true residual.

    Parameters
    ----------
    matrix : sparse matrix or Operator, shape (n, n)
    rhs, start : ndarray, shape (n,)
    precondition : callable
        An approximate inverse, such as the factor of nearly the same matrix.
    reduction : float
        Of the residual at the start, that will do; 0 goes down to round-off. A rough
        solution suits a round that will be repeated.

    Returns
    -------
    LinearSolution

    Raises
    ------
    ConvergenceError
        If the residual stays above `STALLED_AT` after `MAX_KRYLOV` steps.

    References
    ----------
    Y. Saad, Iterative Methods for Sparse Linear Systems, 2nd ed., SIAM 2003,
    algorithm 9.5 (GMRES with right preconditioning). From memory.
    """
    x = start.copy()
    diagonal = matrix.diagonal()
    norm = float(np.linalg.norm(rhs))

    def terms(x):
        return (norm + float(np.linalg.norm(diagonal * x))) or 1.0

    def round_off(x):
        return RESIDUAL * terms(x)

    scale = terms(x)
    residual = rhs - matrix @ x
    size = float(np.linalg.norm(residual))
    history = [size / scale]
    steps = 0
    enough = reduction * size
    while size > max(RESIDUAL * scale, enough) and steps < MAX_KRYLOV:
        target = max(RESIDUAL * scale, enough)
        x_new, used = _cycle(matrix, residual, precondition, x, target, MAX_KRYLOV - steps, round_off)
        steps += used
        residual = rhs - matrix @ x_new
        new_size = float(np.linalg.norm(residual))
        history.append(new_size / scale)
        if new_size >= size:
            break
        x = x_new
        scale = terms(x)
        stalled = new_size > 0.3 * size
        size = new_size
        if stalled and size < STALLED_AT * scale:
            break
    if not size <= max(STALLED_AT * scale, enough):
        raise ConvergenceError(
            f"linear solver: residual {size / scale:.1e} of its terms after {steps} steps must fall "
            f"below {STALLED_AT:g}; were conductivities many decades apart?",
            residuals=history,
            field=x,
        )
    if reduction == 0.0 and size > 0.0:
        x, steps = settle_weak_ties(matrix, rhs, precondition, x, steps, history)
    return LinearSolution(x, size / scale, steps)


def conjugate_gradients(
    matrix: Matrix, rhs: Floats, precondition: Callable[[Floats], Floats], start: Floats, reduction: float = 0.0
) -> LinearSolution:
    """Flexible conjugate gradients for a symmetric positive matrix: three vectors in place of GMRES's many.

    Parameters
    ----------
    matrix : sparse matrix, shape (n, n)
        Symmetric, positive definite.
    rhs : ndarray, shape (n,)
    start : ndarray, shape (n,)
        Overwritten by the solution.
    precondition : callable
        An approximate inverse; it need not be the same linear map in every step.
    reduction : float
        Of the right-hand side's norm, that the residual must reach; 0 goes down to
        round-off and settles weak ties.

    Returns
    -------
    LinearSolution

    Raises
    ------
    ConvergenceError
        If the residual stays above `STALLED_AT` (or `reduction`) after `MAX_KRYLOV` steps.

    References
    ----------
    Y. Notay, Flexible conjugate gradients, SIAM J. Sci. Comput. 22 (2000) 1444. From memory.
    """
    diagonal = matrix.diagonal()
    x, residual = start, rhs - matrix @ start
    norm = np.sqrt(inner(rhs, rhs))
    size = np.sqrt(inner(residual, residual))
    ahead, to_ahead, energy = np.zeros(0), np.zeros(0), 1.0
    history: list[float] = []
    for steps in range(MAX_KRYLOV + 1):
        scale = (norm if reduction else norm + float(np.linalg.norm(diagonal * x))) or 1.0
        history.append(float(size / scale))
        if history[-1] <= (reduction or RESIDUAL) or steps == MAX_KRYLOV:
            break
        if reduction == 0.0 and history[-1] < STALLED_AT and len(history) > 3 and history[-1] > 0.5 * history[-3]:
            break
        new = precondition(residual)
        if steps:
            add(new, -inner(new, to_ahead) / energy, ahead)
        ahead, to_ahead = new, matrix @ new
        energy = inner(ahead, to_ahead)
        length = inner(ahead, residual) / energy
        add(x, length, ahead)
        size = np.sqrt(add(residual, -length, to_ahead))
    if not history[-1] <= max(reduction, STALLED_AT):
        raise not_converged(history, steps, max(reduction, STALLED_AT), x)
    if reduction == 0.0 and history[-1] > 0.0:
        x, steps = settle_weak_ties(matrix, rhs, precondition, x, steps, history)
    return LinearSolution(x, history[-1], steps)


def not_converged(history: list[float], steps: int, limit: float, x: Floats) -> ConvergenceError:
    """What to raise where the last residual stayed above its limit."""
    return ConvergenceError(
        f"linear solver: residual {history[-1]:.1e} after {steps} steps must fall below {limit:g}; "
        "were conductivities many decades apart?",
        residuals=history,
        field=x,
    )


def settle_weak_ties(matrix, rhs, precondition, x, steps, history):
    """Go on until the preconditioned residual, an estimate of the error itself, is small everywhere.

    A part that is tied to the rest by little (behind a contact resistance of
    1e4 m2 K/W, say) hides its error in a residual of ordinary size.
    """
    for rounds in range(MAX_SETTLING + 1):
        residual = rhs - matrix @ x
        error = float(np.abs(precondition(residual)).max())
        wanted = RESOLVED if rounds < MAX_SETTLING else TOLERABLE
        if error <= wanted * float(np.abs(x).max()):
            return x, steps
        if rounds == MAX_SETTLING:
            break
        x, used = _cycle(matrix, residual, precondition, x, 1e-3 * float(np.linalg.norm(residual)), MAX_KRYLOV)
        steps += used
    raise ConvergenceError(
        f"linear solver: an error of about {error:.1e} K does not settle; "
        "is a part tied to the rest by next to nothing?",
        residuals=history,
        field=x,
    )


def _cycle(matrix, residual, precondition, x, target, longest, round_off=lambda x: 0.0):
    """One GMRES cycle from a residual; returns the new x and the number of steps.

    A start of zero says nothing of the terms that will cancel; the first direction, nearly a solution, does.
    """
    longest = min(longest, 40)
    size = np.linalg.norm(residual)
    basis = [residual / size]
    ahead = []
    h = np.zeros((longest + 1, longest))
    for m in range(longest):
        ahead.append(precondition(basis[m]))
        w = matrix @ ahead[m]
        for q in range(m + 1):
            h[q, m] = inner(basis[q], w)
            add(w, -h[q, m], basis[q])
        h[m + 1, m] = np.sqrt(inner(w, w))
        e1 = np.zeros(m + 2)
        e1[0] = size
        y = np.linalg.lstsq(h[: m + 2, : m + 1], e1, rcond=None)[0]
        left = np.linalg.norm(h[: m + 2, : m + 1] @ y - e1)
        if m == 0:
            target = max(target, round_off(x + y[0] * ahead[0]))
        if left < 0.5 * target or h[m + 1, m] < 1e-300:
            break
        basis.append(w / h[m + 1, m])
    for factor_m, direction in zip(y, ahead, strict=True):
        x = x + factor_m * direction
    return x, len(ahead)
