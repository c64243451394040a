"""Radiation across the still air of a section: cavity, voids, and the open side of a bare coil.

Goes in: a section, its pieces and its case. Comes out: the `Radiation` between
the surfaces around the air, with openings to the room as black patches at room
temperature.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.conduction.enclosure import Enclosure, enclose
from annulus.conduction.exchange import Radiation, grey_exchange
from annulus.conduction.pieces import Pieces
from annulus.errors import GeometryError
from annulus.heater.suspects import blame
from annulus.section import Region, Section

Floats = NDArray[np.float64]

PATCHES_PER_DIAMETER = 2  # patches along a straight face, per tube diameter
PATCHES_ACROSS_CAVITY = 2  # of an end, and in height of a cavity without coil per its width
BLACK = 1.0  # an opening takes in all that falls on it


def is_open(region: Region) -> bool:
    """True for still air, through which surfaces see each other."""
    return region.material is not None and region.material.family == "gas"


def make_radiation(case: Case, section: Section, pieces: Pieces, band_edges: Floats, fineness: int) -> Radiation | None:
    """Radiation between the surfaces around the still air of a section; None if there is no air."""
    open_regions = [region.name for region in section.regions if is_open(region)]
    if not open_regions:
        return None
    width = section.cavity_radius - section.flue_radius
    if section.turns:
        diameter = 2 * section.turns[0].outer_radius
        patch = diameter / PATCHES_PER_DIAMETER / fineness
        sectors = math.ceil(math.pi * diameter / patch)
    else:
        patch, sectors = width / PATCHES_ACROSS_CAVITY / fineness, 1
    z_breaks = _divide(band_edges, patch)
    r_breaks = np.linspace(section.flue_radius, section.cavity_radius, PATCHES_ACROSS_CAVITY * fineness + 1)
    try:
        enclosure = enclose(pieces, open_regions, r_breaks, z_breaks, sectors)
    except GeometryError as fault:
        raise GeometryError(blame(case, fault)) from fault
    if enclosure is None:
        return None
    emissivity = _emissivities(case, section, enclosure)
    return Radiation(enclosure, grey_exchange(enclosure, emissivity), _openings(case, pieces, enclosure))


def _divide(edges: Floats, longest: float) -> Floats:
    """Edges with each block split evenly into parts no longer than this."""
    parts = [np.linspace(low, high, math.ceil((high - low) / longest) + 1)[:-1] for low, high in pairwise(edges)]
    return np.append(np.concatenate(parts), edges[-1])


def _emissivities(case: Case, section: Section, enclosure: Enclosure) -> Floats:
    """Emissivity of every patch."""
    values = np.full(enclosure.count, BLACK)
    for number, region in enumerate(section.regions):
        if region.material is not None:
            shine = case.flue.emissivity if region.role == "flue" else region.material.emissivity
            values[enclosure.region == number] = shine
    return values


def _openings(case: Case, pieces: Pieces, enclosure: Enclosure) -> Floats:
    """Room temperature where a patch opens to the room, nan elsewhere; insulated ends reradiate. [K]"""
    held = np.full(enclosure.count, np.nan)
    sides = ["r_max", *(["z_min", "z_max"] if case.room.ends == "open" else [])]
    for side in sides:
        held[enclosure.region == -1 - pieces.boundaries.index(side)] = case.room.temperature
    return held
