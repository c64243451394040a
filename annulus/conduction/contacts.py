"""Places where two sides meet, as columns.

Goes in: nothing but what `meeting.py` found. Comes out: the columns that
pieces, gradients and conductances share.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

R_FACE, Z_FACE, ARC = 0, 1, 2  # kinds of contact


@dataclass(frozen=True)
class Contacts:
    """Places where two sides meet: columns of equal length.

    `area` [m2, or m2 per metre of depth], `distance_a`, `distance_b`: from each
    side's middle to the contact along its normal [m]; `r`, `z`: middle [m];
    `normal_r`, `normal_z`: unit normal from a to b; `kind`: R_FACE, Z_FACE or
    ARC; `i`, `j`: face or cell index; `disc`: disc number of an arc; `start`,
    `end`: run along the face [m] or the circle [rad].
    """

    kind: Ints
    i: Ints
    j: Ints
    disc: Ints
    area: Floats
    distance_a: Floats
    distance_b: Floats
    r: Floats
    z: Floats
    normal_r: Floats
    normal_z: Floats
    start: Floats
    end: Floats
