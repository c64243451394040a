"""Heat that crosses open space by radiation, as flows of links and surfaces.

Goes in: solved equations of pieces and patches. Comes out: the heat flows of
conduction with radiation in, which are conserved in every piece.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from annulus.conduction.assembly import base_rows
from annulus.conduction.enclosure import Enclosure
from annulus.conduction.exchange import PatchEquations
from annulus.conduction.pieces import Pieces
from annulus.conduction.solvers import factor

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEVEL = 1e-13  # of the diagonal: fixes the level of a potential that has none


@dataclass(frozen=True)
class RadiantFlow:
    """Heat that crosses open space by radiation.

    Attributes
    ----------
    link : ndarray, shape (n_links,)
        Part of each link's flow a -> b that is radiant on its open side. [W]
    surface : ndarray, shape (n_surfaces,)
        Part of each surface's flow into the body that is radiant. [W]
    clear : ndarray of bool, shape (n_regions,)
        Which regions are open space.
    enclosure : Enclosure
        The patches around it.
    gain : ndarray, shape (n_patches,)
        Radiant heat that each patch gains. [W]
    """

    link: Floats
    surface: Floats
    clear: NDArray[np.bool_]
    enclosure: Enclosure
    gain: Floats


def with_radiation(
    equations: PatchEquations, link_flow: Floats, surface_flow: Floats, patch_temperature: Floats
) -> tuple[Floats, Floats, RadiantFlow]:
    """Heat flows of links and surfaces with the radiant part in.

    Across open space the radiant heat between its surfaces is carried along the
    smoothest field that has the right heat at every surface (a potential),
    so that the sum of conduction and radiation is conserved in every piece.
    It is true at the surfaces; between them it is a picture.

    Parameters
    ----------
    equations : PatchEquations
    link_flow, surface_flow : ndarray
        By conduction and films alone. [W]
    patch_temperature : ndarray, shape (n_patches,)
        [K]

    Returns
    -------
    ndarray, ndarray
        The same with radiation. [W]
    RadiantFlow
        The radiant part by itself.
    """
    pieces, enclosure = equations.network.pieces, equations.enclosure
    of_patches = equations.heat_into(patch_temperature)
    gain = of_patches[enclosure.patch]
    links, surfaces = np.flatnonzero(enclosure.link >= 0), np.flatnonzero(enclosure.surface >= 0)
    gain[links] *= pieces.links.area[enclosure.link[links]] / enclosure.area[enclosure.patch[links]]
    gain[surfaces] *= pieces.surfaces.area[enclosure.surface[surfaces]] / enclosure.area[enclosure.patch[surfaces]]
    total_link, total_surface = link_flow.copy(), surface_flow.copy()
    total_surface[enclosure.surface[surfaces]] -= gain[surfaces]

    link = enclosure.link[links]
    solid_is_b = enclosure.region[enclosure.patch[links]] == pieces.region[pieces.link_b[link]]
    total_link[link] += np.where(solid_is_b, 1.0, -1.0) * equations.solid_share[links] * gain[links]

    open_piece = np.concatenate(
        [
            np.where(solid_is_b, pieces.link_a[link], pieces.link_b[link]),
            pieces.surface_piece[enclosure.surface[surfaces]],
        ]
    )
    leaving = np.zeros(pieces.count)
    np.add.at(leaving, open_piece, np.concatenate([gain[links], gain[surfaces]]))
    clear = np.zeros(len(pieces.regions), dtype=bool)
    clear[np.unique(pieces.region[open_piece])] = True
    within = np.flatnonzero(clear[pieces.region[pieces.link_a]] & clear[pieces.region[pieces.link_b]])
    radiant = np.zeros(link_flow.size)
    radiant[within] = _potential_flow(pieces, within, -leaving)
    total_link[within] += radiant[within]
    radiant[link] = np.where(solid_is_b, 1.0, -1.0) * gain[links]
    flow = RadiantFlow(radiant, total_surface - surface_flow, clear, enclosure, of_patches)
    return total_link, total_surface, flow


def _potential_flow(pieces: Pieces, link: Ints, source: Floats) -> Floats:
    """Flow a -> b of links, in order, that carries sources and sinks between pieces with the least effort. [W]"""
    if not link.size:  # a void of one piece: what its surfaces exchange goes nowhere else
        return np.zeros(0)
    held = np.zeros(pieces.count, dtype=np.bool_)
    held[pieces.link_a[link]] = held[pieces.link_b[link]] = True
    where, place = np.flatnonzero(held), np.cumsum(held) - 1
    a, b = place[pieces.link_a[link]], place[pieces.link_b[link]]
    lk, n = pieces.links, where.size
    give = lk.area[link] / (lk.distance_a[link] + lk.distance_b[link])
    level = np.full(n, LEVEL * 2.0 * give.sum() / n)
    whole = int(np.searchsorted(link, lk.face.size))
    start, column, value = base_rows(n, whole, a, b, give, np.arange(n), level)
    potential = factor(csr_matrix((value, column, start), (n, n)))(source[where])
    return give * (potential[a] - potential[b])
