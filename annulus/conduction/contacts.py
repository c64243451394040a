"""Places where two sides meet, as columns.

Goes in: what `meeting.py` found: numbers of whole faces, and a row for every
other contact. Comes out: the columns that pieces, gradients and conductances
share; where a whole face lies is told by the grid when somebody asks.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from annulus.conduction.grid import Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

R_FACE, Z_FACE, ARC = 0, 1, 2  # kinds of contact
TOLD = 10  # numbers in a row of `Contacts.rows`


@dataclass(frozen=True)
class Contacts:
    """Places where two sides meet: columns of equal length.

    Attributes
    ----------
    grid : Grid
    area : ndarray, shape (n,)
        [m2, or m2 per metre of depth]
    distance_a, distance_b : ndarray, shape (n,)
        From each side's middle to the contact along its normal. [m]
    face : ndarray of int, shape (n_whole,)
        The first contacts are whole faces between two cells that one region each fills. Number i * nz + j is the face
        of constant r, (nr + 1) * nz + i * (nz + 1) + j that of constant z.
    rows : ndarray, shape (n - n_whole, TOLD)
        `kind`, `i`, `j`, `disc`, `r`, `z`, `normal_r`, `normal_z`, `start`, `end` of all others.
    """

    grid: Grid
    area: Floats
    distance_a: Floats
    distance_b: Floats
    face: NDArray[np.int32]
    rows: Floats

    def told(self, which: Ints) -> Floats:
        """Of some contacts, by their numbers, what `rows` has, shape (TOLD, n)."""
        columns = np.empty((TOLD, which.size))
        whole = which < self.face.size
        columns[:, ~whole] = self.rows[which[~whole] - self.face.size].T
        number = np.full(which.size, -1, dtype=np.int64)
        number[whole] = self.face[which[whole]]

        nr, nz = self.grid.shape
        r_face, z_face = self.grid.r_face, self.grid.z_face
        on = np.flatnonzero(whole & (number < (nr + 1) * nz))
        i, j = np.divmod(number[on], nz)
        low, high = z_face[j], z_face[j + 1]
        columns[:, on] = _stack(on.size, R_FACE, i, j, 0, r_face[i], 0.5 * (low + high), 1, 0, low, high)
        on = np.flatnonzero(number >= (nr + 1) * nz)
        i, j = np.divmod(number[on] - (nr + 1) * nz, nz + 1)
        low, high = r_face[i], r_face[i + 1]
        middle = ring_middle(low, high) if self.grid.is_cylindrical else 0.5 * (low + high)
        columns[:, on] = _stack(on.size, Z_FACE, i, j, 0, middle, z_face[j], 0, 1, low, high)
        return columns

    @cached_property
    def _columns(self) -> Floats:
        return self.told(np.arange(self.area.size))

    @cached_property
    def kind(self) -> Ints:
        """`R_FACE`, `Z_FACE` or `ARC`."""
        return self._columns[0].astype(np.int64)

    @cached_property
    def i(self) -> Ints:
        """Index of the face, or of an arc's cell, along r."""
        return self._columns[1].astype(np.int64)

    @cached_property
    def j(self) -> Ints:
        """Index of the face, or of an arc's cell, along z."""
        return self._columns[2].astype(np.int64)

    @cached_property
    def disc(self) -> Ints:
        """Number of an arc's disc; 0 for faces."""
        return self._columns[3].astype(np.int64)

    @property
    def r(self) -> Floats:
        """Middle. [m]"""
        return self._columns[4]

    @property
    def z(self) -> Floats:
        """Middle. [m]"""
        return self._columns[5]

    @property
    def normal_r(self) -> Floats:
        """Unit normal from a to b, along r."""
        return self._columns[6]

    @property
    def normal_z(self) -> Floats:
        """Unit normal from a to b, along z."""
        return self._columns[7]

    @property
    def start(self) -> Floats:
        """Where the run along the face [m] or the circle [rad] begins."""
        return self._columns[8]

    @property
    def end(self) -> Floats:
        """Where the run ends."""
        return self._columns[9]


@register_jitable
def ring_middle(low, high):
    """Radius of the centroid of a ring's face between two radii. [m]"""
    return 2.0 / 3.0 * (high * high + high * low + low * low) / (high + low)


def _stack(size: int, *columns: Floats | Ints | float) -> Floats:
    return np.stack([np.broadcast_to(np.asarray(column, dtype=float), size) for column in columns])
