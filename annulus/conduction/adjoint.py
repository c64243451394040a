"""The adjoint of a steady section: what a small change anywhere does to one result.

Goes in: the derivatives of the discrete equations and of the laws that feed
them. Comes out: the change of one result per change of every law's value, from
one linear solve. Exact for the discrete equations, whatever their grid.

Unknowns x obey residual(x, y) = 0, in which y holds what laws say (conductivities,
films and so on), y = laws(x, y).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, eye_array, sparray, vstack
from scipy.sparse.linalg import splu

from annulus.conduction.boundaries import STEFAN_BOLTZMANN
from annulus.conduction.exchange import PatchEquations, Radiation
from annulus.conduction.network import Network
from annulus.conduction.solvers import Operator, factor, solve_preconditioned

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SOLVED = 1e-12  # of the adjoint's first residual that may be left


@dataclass(frozen=True)
class Linearised:
    """Derivatives at a solution of n unknowns x and m law values y, and of one result.

    Attributes
    ----------
    residual_by_unknowns : sparse, shape (n, n)
        With law values held.
    residual_by_laws : sparse, shape (n, m)
    laws_by_unknowns : sparse, shape (m, n)
    laws_by_laws : sparse, shape (m, m)
    result_by_unknowns, result_by_laws : ndarray, shape (n,), (m,)
    base : sparse, shape (n, n)
        A matrix near `residual_by_unknowns`, the one to factor.
    """

    residual_by_unknowns: sparray
    residual_by_laws: sparray
    laws_by_unknowns: sparray
    laws_by_laws: sparray
    result_by_unknowns: Floats
    result_by_laws: Floats
    base: sparray


@dataclass(frozen=True)
class Adjoint:
    """Change of the result.

    Attributes
    ----------
    by_source : ndarray, shape (n,)
        Per unit added to the right-hand side of each equation.
    by_law : ndarray, shape (m,)
        Per unit added to each law's value, all else following.
    """

    by_source: Floats
    by_law: Floats


def solve_adjoint(at: Linearised) -> Adjoint:
    """Solve the transposed system, laws eliminated.

    Parameters
    ----------
    at : Linearised

    Returns
    -------
    Adjoint

    Raises
    ------
    ConvergenceError
        As `solve_preconditioned`.

    Notes
    -----
    With R the residual, Y the laws, Q the result and E = (1 - Y_y)^-T:
    (R_x^T + Y_x^T E R_y^T) s = Q_x + Y_x^T E Q_y, and by_law = E (Q_y - R_y^T s).
    """
    closed = splu((eye_array(at.laws_by_laws.shape[0]) - at.laws_by_laws).T.tocsc())
    square, from_laws = at.residual_by_unknowns.T.tocsr(), at.residual_by_laws.T.tocsr()
    to_unknowns = at.laws_by_unknowns.T.tocsr()

    def product(s: Floats) -> Floats:
        return square @ s + to_unknowns @ closed.solve(from_laws @ s)

    drive = at.result_by_unknowns + to_unknowns @ closed.solve(at.result_by_laws)
    matrix = Operator(product, square.diagonal())
    source = solve_preconditioned(matrix, drive, factor(at.base.T), np.zeros(drive.size), SOLVED).x
    return Adjoint(source, closed.solve(at.result_by_laws - from_laws @ source))


def network_by_links(network: Network, temperature: Floats) -> csr_matrix:
    """Heat leaving each piece per conductance of each link, shape (n_pieces, n_links). [K]"""
    pieces = network.pieces
    return csr_matrix(pieces.difference.T.multiply(pieces.true_difference @ temperature))


def links_by_conductivity(network: Network) -> csr_matrix:
    """Conductance of each link per conductivity of each piece, shape (n_links, n_pieces). [m]"""
    pieces, k = network.pieces, network.conductivity
    by_path = links_by_resistance(network)
    links = np.arange(by_path.size)
    sides = ((pieces.link_a, pieces.links.distance_a), (pieces.link_b, pieces.links.distance_b))
    parts = [(-by_path * distance / k[piece] ** 2, (links, piece)) for piece, distance in sides]
    shape = (by_path.size, pieces.count)
    return csr_matrix(parts[0], shape) + csr_matrix(parts[1], shape)


def links_by_resistance(network: Network) -> Floats:
    """Conductance of each link per contact resistance added to it, shape (n_links,). [W2/(m2 K2)]"""
    return -(network.link_conductance**2) / network.pieces.links.area


def surface_films(network: Network) -> Floats:
    """Film coefficient of each surface, from its conductance, shape (n_surfaces,). [W/(m2 K)]"""
    inner, area = _inner(network), network.pieces.surfaces.area
    return network.surface_conductance / (area - network.surface_conductance * inner)


def surfaces_by_film(network: Network) -> Floats:
    """Conductance of each surface per film coefficient, shape (n_surfaces,). [m2]"""
    return network.pieces.surfaces.area / (1.0 + surface_films(network) * _inner(network)) ** 2


def surfaces_by_conductivity(network: Network) -> Floats:
    """Conductance of each surface per conductivity of its piece, shape (n_surfaces,). [m]"""
    k = network.conductivity[network.pieces.surface_piece]
    return network.surface_conductance**2 * _inner(network) / (network.pieces.surfaces.area * k)


def _inner(network: Network) -> Floats:
    """Resistance between each surface and the middle of its piece. [m2 K/W]"""
    pieces = network.pieces
    return pieces.surfaces.distance_a / network.conductivity[pieces.surface_piece]


def exchange_by_patches(radiation: Radiation, temperature: Floats) -> Floats:
    """Radiant heat lost by each patch per temperature of each, shape (n_patches, n_patches). [W/K]"""
    slope = 4.0 * STEFAN_BOLTZMANN * temperature**3
    return np.diag(radiation.grey.sum(axis=1) * slope) - radiation.grey * slope


@dataclass(frozen=True)
class PatchDerivatives:
    """How the ties between pieces and patches change with the ways on both sides of their links.

    Attributes
    ----------
    by_conductivity : csr_matrix, shape (n_pieces + n_patches, n_pieces)
    by_resistance : csr_matrix, shape (n_pieces + n_patches, n_links)
        Resistance on the open side of a link.
    """

    by_conductivity: csr_matrix
    by_resistance: csr_matrix


def patch_derivatives(
    equations: PatchEquations, resistance: Floats, temperature: Floats, patch_temperature: Floats
) -> PatchDerivatives:
    """Derivatives of the residual of `PatchEquations`, without that of the network itself.

    Parameters
    ----------
    equations : PatchEquations
    resistance : ndarray, shape (n_regions, n_regions)
        As given to `patch_equations`. [m2 K/W]
    temperature, patch_temperature : ndarray
        Of pieces and patches, on one scale. [K]
    """
    pieces, enclosure, k = equations.network.pieces, equations.enclosure, equations.network.conductivity
    on_link = np.flatnonzero(enclosure.link >= 0)
    link, patch = enclosure.link[on_link], enclosure.patch[on_link]
    a, b = pieces.link_a[link], pieces.link_b[link]
    distance_a, distance_b = pieces.links.distance_a[link], pieces.links.distance_b[link]
    solid_is_b = enclosure.region[patch] == pieces.region[b]
    extra = resistance[pieces.region[a], pieces.region[b]]
    path_a = distance_a / k[a] + np.where(solid_is_b, extra, 0.0)
    path_b = distance_b / k[b] + np.where(solid_is_b, 0.0, extra)
    whole = path_a + path_b
    share = path_b / whole
    weight = pieces.links.area[link] / enclosure.area[patch]

    hold = np.where(np.isnan(equations.held), equations.hold, 0.0)
    lack = equations.to_surface @ temperature - patch_temperature
    side_a = temperature[a] + (pieces.link_shift_a @ temperature)[link]
    side_b = temperature[b] + (pieces.link_shift_b @ temperature)[link]

    elements = np.arange(link.size)
    pick_a, pick_b, pick_patch = (
        csr_matrix((np.ones(link.size), (rows, elements)), (n, link.size))
        for rows, n in ((a, pieces.count), (b, pieces.count), (patch, enclosure.count))
    )
    all_of_patch = equations.base_to_surface.T.tocsr() @ pick_patch

    def by_path(share_by: Floats, path_by: Floats) -> csr_matrix:
        """Residual per way on one side of each element, shape (n_pieces + n_patches, n_elements)."""
        own = weight * (hold * lack)[patch] * share_by
        hold_by = -(hold[patch] ** 2) * weight * path_by / enclosure.area[patch]
        pull_by = hold_by * lack[patch] + hold[patch] * weight * (side_a - side_b) * share_by
        of_pieces = (pick_a - pick_b).multiply(own) + all_of_patch.multiply(pull_by)
        return csr_matrix(vstack([of_pieces, -pick_patch.multiply(pull_by)]))

    by_a, by_b = by_path(-share / whole, share**2), by_path((1 - share) / whole, (1 - share) ** 2)
    by_k = by_a.multiply(-distance_a / k[a] ** 2) @ pick_a.T + by_b.multiply(-distance_b / k[b] ** 2) @ pick_b.T
    to_link = csr_matrix((np.ones(link.size), (elements, link)), (link.size, pieces.link_a.size))
    by_open = (by_a.multiply(solid_is_b) + by_b.multiply(~solid_is_b)) @ to_link
    return PatchDerivatives(csr_matrix(by_k), csr_matrix(by_open))
