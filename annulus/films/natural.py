"""Natural convection along a vertical wall: one law, used outside and inside the flue.

Goes in: Rayleigh and Prandtl numbers. Comes out: Nusselt numbers on the height.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from annulus.films.properties import Values

# Temperature differences enter as sqrt(dT^2 + SOFTENING^2), so that a film stays smooth
# where wall and fluid change places; 5e-5 of the difference at 10 K.
SOFTENING = 0.1  # K


def softened(difference: ArrayLike) -> Values:
    """Size of a temperature difference, smooth through zero. [K]"""
    return np.hypot(np.asarray(difference, dtype=float), SOFTENING)


def nusselt_vertical(rayleigh: ArrayLike, prandtl: ArrayLike) -> Values:
    """Mean Nusselt number of an isothermal vertical plate, on its height.

    Range: any Prandtl number, Rayleigh number up to 1e12, laminar and turbulent.
    A cylinder counts as a plate where D / L >= 35 / Gr^(1/4) (`smallest_plate_diameter`);
    a thinner one loses more.

    References
    ----------
    S. W. Churchill, H. H. S. Chu, Int. J. Heat Mass Transfer 18, 1975, 1323-1329;
    also Incropera & DeWitt, 6th ed., eq. 9.26. Quoted from memory, checked against `ht`.
    """
    screen = (1.0 + (0.492 / np.asarray(prandtl, dtype=float)) ** (9 / 16)) ** (8 / 27)
    return (0.825 + 0.387 * np.asarray(rayleigh, dtype=float) ** (1 / 6) / screen) ** 2


def smallest_plate_diameter(height: float, grashof: ArrayLike) -> Values:
    """Least diameter of a vertical cylinder that still counts as a plate. [m]

    35 L / Gr^(1/4), Grashof number on the height; within 5 % of the plate from there on.

    References
    ----------
    Incropera & DeWitt, 6th ed., eq. 9.28; quoted from memory.
    """
    return 35.0 * height / np.asarray(grashof, dtype=float) ** 0.25
