"""Second order at cut cells: gradients of pieces and tangential shifts.

Goes in: centroids of pieces and middles of contacts. Comes out: sparse
matrices of pure geometry. A contact between two pieces compares their
temperatures along its normal; where the line between the centroids misses the
contact's middle, each end is moved sideways by its own gradient, as far as
the difference between the two keeps its sense.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from annulus.conduction.contacts import Contacts

FLAT = 1e-3  # ratio of eigenvalues below which neighbours lie on one line and only its direction counts
SLIVER = 0.1  # of a piece's volume: neighbours smaller than this count less in its gradient
SIDEWAYS = 1e-9  # of the distance between the sides; less is round-off
# What a side's own temperature must still count in the difference across its contact once both sides are moved. Of 1000
# random sections on 12 cells 754 of 80 000 contacts would leave less, and 6 sections have a mode that grows in time;
# with 0.1 one has, with 0.3 and 0.5 none. In cases/, on default grids, 49 of some 110 000 contacts would leave less.
OWN_SHARE = 0.5

Move = tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]


@njit(cache=True)
def _least_squares(nr, nz, piece_start, region, volume, r_mid, z_mid, wanted):
    """Rows of gradient weights over the same region in the 3 x 3 block around each wanted piece."""
    n = region.size
    most = 0
    for p in range(n):
        most += 9 * wanted[p]
    start = np.empty(n + 1, dtype=np.int32)
    start[0] = 0
    column = np.empty(most, dtype=np.int32)
    weight_r = np.empty(most)
    weight_z = np.empty(most)
    filled = 0
    dr = np.empty(9)
    dz = np.empty(9)
    weight = np.empty(9)
    for cell in range(nr * nz):
        i, j = cell // nz, cell % nz
        for p in range(piece_start[cell], piece_start[cell + 1]):
            if not wanted[p]:
                start[p + 1] = filled
                continue
            a = b = c = 0.0
            found = own = 0
            fair = SLIVER * volume[p]
            for ii in range(max(0, i - 1), min(nr, i + 2)):
                for jj in range(max(0, j - 1), min(nz, j + 2)):
                    other = ii * nz + jj
                    for q in range(piece_start[other], piece_start[other + 1]):
                        if region[q] != region[p]:
                            continue
                        x, y, w = 0.0, 0.0, 0.0
                        if q == p:
                            own = found
                        else:
                            x, y = r_mid[q] - r_mid[p], z_mid[q] - z_mid[p]
                            w = min(1.0, volume[q] / fair) / (x * x + y * y)
                        a += w * x * x
                        b += w * x * y
                        c += w * y * y
                        dr[found], dz[found], weight[found] = x, y, w
                        column[filled + found] = q
                        weight_r[filled + found] = 0.0
                        weight_z[filled + found] = 0.0
                        found += 1
            half, spread = 0.5 * (a + c), math.sqrt(0.25 * (a - c) ** 2 + b * b)
            large, small = half + spread, half - spread
            if large > 0.0:
                ur, uz = half_angle(0.5 * (a - c), b, spread)
                inv_large = 1.0 / large
                inv_small = 1.0 / small if small > FLAT * large else 0.0
                sum_r = sum_z = 0.0
                for m in range(found):
                    w = weight[m]
                    along = (dr[m] * ur + dz[m] * uz) * w * inv_large
                    across = (-dr[m] * uz + dz[m] * ur) * w * inv_small
                    weight_r[filled + m] = along * ur - across * uz
                    weight_z[filled + m] = along * uz + across * ur
                    sum_r += weight_r[filled + m]
                    sum_z += weight_z[filled + m]
                weight_r[filled + own] -= sum_r
                weight_z[filled + own] -= sum_z
            filled += found
            start[p + 1] = filled
    return start, column[:filled], weight_r[:filled], weight_z[:filled]


@njit(cache=True)
def half_angle(x, y, length):
    """Unit vector, up to its sign, at half the angle of a vector (x, y) of so great a length."""
    if length == 0.0:
        return 1.0, 0.0
    if x >= 0.0:
        along = math.sqrt(0.5 * (1.0 + x / length))
        return along, 0.5 * y / (length * along)
    across = math.sqrt(0.5 * (1.0 - x / length))
    return 0.5 * y / (length * across), across


def gradient_weights(
    shape: tuple[int, int],
    piece_start: NDArray[np.int64],
    region: NDArray[np.int64],
    volume: NDArray[np.float64],
    r_mid: NDArray[np.float64],
    z_mid: NDArray[np.float64],
    wanted: NDArray[np.bool_],
) -> tuple[csr_matrix, csr_matrix]:
    """Matrices that turn temperatures of pieces into their gradients; rows not wanted are empty.

    Least squares over the pieces of the same region in the neighbouring
    cells, weighted by inverse square distance; slivers count less, so that
    they do not sway a whole cell. Neighbours on one line determine the
    gradient along it only; across, it is taken as zero.

    Returns
    -------
    csr_matrix, csr_matrix, shape (n_pieces, n_pieces)
        d/dr and d/dz. [1/m]
    """
    start, column, weight_r, weight_z = _least_squares(*shape, piece_start, region, volume, r_mid, z_mid, wanted)
    size = (region.size, region.size)
    return csr_matrix((weight_r, column, start), size), csr_matrix((weight_z, column, start), size)


@njit(cache=True)
def _sideways(rows, first, distance_a, distance_b, piece, r_mid, z_mid):
    """`sideways` over rows of contacts, numbered from `first` on."""
    moved = np.empty(rows.shape[0], dtype=np.int64)
    shift_r = np.empty(moved.size)
    shift_z = np.empty(moved.size)
    found = 0
    for row in range(rows.shape[0]):
        n = first + row
        normal_r, normal_z = rows[row, 6], rows[row, 7]
        x, y = rows[row, 4] - r_mid[piece[n]], rows[row, 5] - z_mid[piece[n]]
        along = x * normal_r + y * normal_z
        x, y = x - along * normal_r, y - along * normal_z
        round_off = SIDEWAYS * (distance_a[n] + distance_b[n])
        if x * x + y * y > round_off * round_off:
            moved[found], shift_r[found], shift_z[found] = n, x, y
            found += 1
    return moved[:found], shift_r[:found], shift_z[:found]


def sideways(
    contacts: Contacts, piece: NDArray[np.int64], r_mid: NDArray[np.float64], z_mid: NDArray[np.float64]
) -> Move:
    """Contacts whose side lies beside their normal, and how far it must move; on whole faces none does.

    Parameters
    ----------
    contacts : Contacts
        The n contacts.
    piece : ndarray of int, shape (n,)
        Which piece is the side to move.
    r_mid, z_mid : ndarray, shape (n_pieces,)
        Centroids. [m]

    Returns
    -------
    moved : ndarray of int, shape (m,)
        Numbers of the contacts.
    shift_r, shift_z : ndarray, shape (m,)
        [m]
    """
    c = contacts
    return _sideways(c.rows, c.face.size, c.distance_a, c.distance_b, piece, r_mid, z_mid)


@njit(cache=True)
def _shift_rows(moved, shift_r, shift_z, piece, other, start, column, weight_r, weight_z, whole, gain, gain_across):
    """Rows of a shift from rows of gradient weights; counts what both sides gain at contacts from `whole` on."""
    total = 0
    for m in range(moved.size):
        p = piece[moved[m]]
        total += start[p + 1] - start[p]
    first = np.zeros(piece.size + 1, dtype=np.int32)
    to = np.empty(total, dtype=np.int32)
    value = np.empty(total)
    filled = row = 0
    for m in range(moved.size):
        while row < moved[m]:  # rows between are empty
            row += 1
            first[row] = filled
        p, beside = piece[row], other[row]
        by_r, by_z = shift_r[m], shift_z[m]
        own = across = 0.0
        for q in range(start[p], start[p + 1]):
            to[filled] = column[q]
            value[filled] = by_r * weight_r[q] + by_z * weight_z[q]
            own += value[filled] if column[q] == p else 0.0  # a choice costs less here than a jump
            across += value[filled] if column[q] == beside else 0.0
            filled += 1
        gain[row - whole] += own
        gain_across[row - whole] -= across
        first[row + 1] = filled
        row += 1
    while row < piece.size:
        row += 1
        first[row] = filled
    return first, to, value


def shift_matrices(
    weights: tuple[csr_matrix, csr_matrix], contacts: Contacts, *pieces: NDArray[np.int64], moves: Sequence[Move]
) -> list[csr_matrix]:
    """Temperature gained by moving the sides of each contact sideways onto its normal.

    The difference across a contact becomes (1 + x) T_a - (1 + y) T_b + (others).
    Where a thin shell crosses a face at a slant, its pieces lie nearly on one
    line, and their gradients across it are guesses multiplied up: x or y can
    fall below -1, heat flows from cold to warm between these two, and a field
    in time grows without bound. So x and y are held to `OWN_SHARE` - 1 at
    least: where one is less, what the contact gains is made smaller as a whole.
    This hangs on geometry only; where cells are smaller than the thickness of
    shells it acts nowhere.

    Parameters
    ----------
    weights : pair of csr_matrix
        From `gradient_weights`, with rows for the pieces that move.
    contacts : Contacts
        The n contacts.
    *pieces : ndarray of int, shape (n,)
        Which piece is side a; of links also which is side b.
    moves : sequence of tuples
        From `sideways`, one for each side.

    Returns
    -------
    list of csr_matrix, shape (n, n_pieces)
        One for each side. Rows of contacts already on their normal are empty.

    Notes
    -----
    That no contact works against its own two pieces is necessary for a positive
    symmetric part, and not sufficient: of the 1000 sections 5 keep a negative
    one (21 without the rule). Gershgorin's bound over paths of contacts would
    prove it and hold back 680 of 9120 contacts of cases/greenhouse, which is
    positive anyhow (0.65 of the first-order matrix at least).
    """
    by_r, by_z = weights
    whole = contacts.face.size  # of these none moves
    gain = np.zeros((len(pieces), pieces[0].size - whole))  # x and y
    of_gradients = by_r.indptr, by_r.indices, by_r.data, by_z.data
    beside = pieces[::-1] if len(pieces) > 1 else [np.full_like(pieces[0], -1)]  # beyond a surface there is no piece
    rows = [
        _shift_rows(*move, pieces[side], beside[side], *of_gradients, whole, gain[side], gain[-1 - side])
        for side, move in enumerate(moves)
    ]
    least = gain.min(axis=0)
    if least.min(initial=0.0) < OWN_SHARE - 1.0:
        share = np.ones(pieces[0].size)
        share[whole:] = (OWN_SHARE - 1.0) / np.minimum(least, OWN_SHARE - 1.0)
        rows = [(first, to, value * np.repeat(share, np.diff(first))) for first, to, value in rows]
    return [csr_matrix((value, to, first), (pieces[0].size, by_r.shape[0])) for first, to, value in rows]
