"""Where a tube sits on the flue, and how long a turn is.

Goes in: radii and lengths. Comes out: radii and lengths, all in metres.
"""

from __future__ import annotations

import math


def tube_centre(flue_radius: float, tube_radius: float, gap: float, contact_strip: float) -> float:
    """Distance of a tube's centre from the axis.

    Parameters
    ----------
    flue_radius : float
        Outside of the flue wall. [m]
    tube_radius : float
        Outside of the tube. [m]
    gap : float
        Between flue and tube; 0 for a tube that touches. [m]
    contact_strip : float
        Width of the flat on which a touching tube rests; used at gap 0 only. [m]

    Returns
    -------
    float
        [m] With a gap the three lengths add up. A touching tube is moved toward
        the axis until the flue wall cuts a chord of the strip's width off it.
    """
    if gap > 0:
        return flue_radius + gap + tube_radius
    return flue_radius + math.sqrt(tube_radius**2 - (contact_strip / 2) ** 2)


def turn_length(radius: float, pitch: float) -> float:
    """Length of one turn of a helix of this centre-line radius: hypot(2 pi r, pitch). [m]"""
    return math.hypot(2 * math.pi * radius, pitch)
