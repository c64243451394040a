"""Reading computed fields for comparison with published points.

Goes in: a field and a place on a side. Comes out: the temperature of the body's own face there.
"""

from __future__ import annotations

import numpy as np

from annulus.conduction.steady import Field


def side_temperature(field: Field, side: str, along: float) -> float:
    """Temperature of the body's own face at a place along one side of the domain.

    Linear between the middles of the side's surfaces: the face temperature
    itself knows the boundary law, which the gradient of the piece behind it
    does not.

    Parameters
    ----------
    field : Field
    side : {"r_min", "r_max", "z_min", "z_max"}
    along : float
        z on an r side, r on a z side. [m]
    """
    on = field.pieces.boundary_surfaces(side)
    surfaces = field.pieces.surfaces
    place = (surfaces.z if side.startswith("r") else surfaces.r)[on]
    rank = np.argsort(place)
    place, value = place[rank], field.surface_temperature[on][rank]
    if along < place[0] or along > place[-1]:  # a corner: go on straight from the last two
        a, b = (0, 1) if along < place[0] else (-2, -1)
        return float(value[a] + (value[b] - value[a]) * (along - place[a]) / (place[b] - place[a]))
    return float(np.interp(along, place, value))
