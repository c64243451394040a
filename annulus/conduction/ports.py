"""A section seen from its ports: few unknowns in place of all its pieces.

Goes in: pieces, a basis of temperature fields, and groups of surfaces that
share one film and one ambient (a band of the flue wall, the inside of a turn,
a band of the outside): the *ports*. Comes out: small dense matrices that answer any film and any
ambient at the ports, and a store of conduction matrices for k(T) and radiation.

The field is sought among combinations of the basis, and heat balances are
summed with the same weights (Galerkin). The uniform field belongs to every basis, so that
energy closes to round-off as it does with all pieces.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.pieces import Pieces

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEGLIGIBLE = 1e-11  # of a field: what is left beyond the basis below this is round-off
NEAR = 1e-3  # ridge that makes close states count most in a blend of matrices
TERMS = 4  # of the series of a film in the depths behind a port
AT_MOST = 60  # matrices in a store; the oldest goes when one more comes


def extend(basis: Floats, fields: Floats, weight: Floats) -> Floats:
    """An orthonormal basis made longer, so that it spans some more fields.

    Parameters
    ----------
    basis : ndarray, shape (n, r)
        V with V^T diag(weight) V = 1; r may be 0.
    fields : ndarray, shape (n, m)
        As columns.
    weight : ndarray, shape (n,)
        Not negative; where it is zero an entry follows the others.

    Returns
    -------
    ndarray, shape (n, r + k)
        The basis and k <= m further columns; what the basis spans but for round-off is left out.
    """
    new = fields
    least = NEGLIGIBLE * np.sqrt(np.einsum("n,nm,nm->m", weight, fields, fields))
    for _ in range(2):  # once leaves round-off of what was taken away, large beside the little that may be left
        new = new - basis @ (basis.T @ (weight[:, None] * new))
        columns: list[Floats] = []
        for one, floor in zip(new.T, least, strict=True):
            for other in columns:
                one = one - (other @ (weight * one)) * other
            left = np.sqrt(one @ (weight * one))
            if left > floor:
                columns.append(one / left)
        new = np.reshape(columns, (-1, fields.shape[0])).T
        least = np.zeros(len(columns))
    return np.concatenate([basis, new], axis=1)


@dataclass(frozen=True)
class PortFilms:
    """What films at the ports do to a reduced section; of one set of films, or of many at once in leading axes (...).

    With a film h at port p each surface of depth d/k takes h/(1 + h d/k) of its area. The depths of one port differ
    little: a series in what differs from their mean gives a heater with fixed films the heat of all pieces within
    1e-8, also where air behind open ends is as resistive as the film before it and its cells differ.

    Attributes
    ----------
    area, depth : ndarray, shape (n_ports,)
        [m2]; mean of d/k [m2 K/W].
    moment : ndarray, shape (TERMS, n_ports)
        Mean of each power, from zero on, of depth less its mean.
    matrix : ndarray, shape (TERMS, n_ports, r, r)
        Sum over surfaces of area times each such power, of test times face temperature. [m2]
    drive, flow : ndarray, shape (TERMS, n_ports, r)
        The same of the test functions, and of face temperatures. [m2]
    """

    area: Floats
    depth: Floats
    moment: Floats
    matrix: Floats
    drive: Floats
    flow: Floats

    def weights(self, h: Floats) -> Floats:
        """Factors of the terms for films h [W/(m2 K)], shape (..., TERMS, n_ports)."""
        effective = h / (1.0 + h * self.depth)
        found = np.empty((*effective.shape[:-1], TERMS, effective.shape[-1]))
        found[..., 0, :] = effective
        for term in range(1, TERMS):
            np.multiply(-found[..., term - 1, :], effective, out=found[..., term, :])
        return found

    def system(self, h: Floats) -> Floats:
        """Films' share of the reduced matrix, shape (..., r, r). [W/K]"""
        weights = self.weights(h)
        n, r = TERMS * self.area.size, self.drive.shape[-1]
        found: Floats = weights.reshape(*h.shape[:-1], n) @ self.matrix.reshape(n, r * r)
        return found.reshape(*h.shape[:-1], r, r)

    def drives(self, h: Floats, first: int | None = None) -> Floats:
        """Heat that one kelvin of ambient at each port brings to each reduced balance, shape (..., n_ports, r). [W/K]

        With `first` only of so many ports from the first on.
        """
        return _mixed(self.weights(h)[..., :first], self.drive[:, :first])

    def drains(self, h: Floats, first: int | None = None) -> Floats:
        """Heat that leaves through each port per unit of each coordinate, ambient at zero, shape (..., n_ports, r).

        As `drives`. [W/K]
        """
        return _mixed(self.weights(h)[..., :first], self.flow[:, :first])

    def leaving(self, h: Floats, y: Floats) -> Floats:
        """Heat that leaves through each port with coordinates y, ambient at zero, shape (..., n_ports). [W]"""
        n = self.area.size
        by_term = y @ self.flow.reshape(TERMS * n, -1).T
        return (self.weights(h) * by_term.reshape(*y.shape[:-1], TERMS, n)).sum(axis=-2)

    def conductance(self, h: Floats) -> Floats:
        """Heat into the body at each port per kelvin of its ambient, shape (..., n_ports). [W/K]"""
        found: Floats = (self.weights(h) * self.moment).sum(axis=-2) * self.area
        return found

    def face(self, y: Floats, flow: Floats) -> Floats:
        """Mean temperature of the body's own face at each port, given the flow into it, shape (..., n_ports). [K]"""
        return (y @ self.flow[0].T + flow * self.depth) / self.area


def _mixed(weights: Floats, terms: Floats) -> Floats:
    """Sum over the terms, shape (..., n_ports, r)."""
    found: Floats = np.einsum("...tp,tpr->...pr", weights, terms)
    return found


def port_films(
    pieces: Pieces, conductivity: Floats, basis: Floats, surfaces: Ints, port: Ints, count: int
) -> PortFilms:
    """Films' matrices for ports.

    Parameters
    ----------
    pieces : Pieces
    conductivity : ndarray, shape (n_pieces,)
        Of the pieces under the ports. Its change with temperature counts by the mean depth of each port, which
        whoever knows the temperature may replace. [W/(m K)]
    basis : ndarray, shape (n, r)
        Pieces first; unknowns beyond the pieces see no port.
    surfaces, port : ndarray of int, shape (n_at_ports,)
        Surfaces at ports, and the port of each.
    count : int
        Number of ports.
    """
    of_pieces = basis[: pieces.count]
    face = pieces.truly_at_surface[surfaces] @ of_pieces
    test = of_pieces[pieces.surface_piece[surfaces]]
    area = pieces.surfaces.area[surfaces]
    depth = pieces.surfaces.distance_a[surfaces] / conductivity[pieces.surface_piece[surfaces]]
    total = np.bincount(port, area, count).astype(np.float64)
    mean = np.asarray(np.bincount(port, area * depth, count) / total, dtype=np.float64)
    powers = area * (depth - mean[port]) ** np.arange(TERMS)[:, None]
    moment = np.stack([np.bincount(port, by, count) for by in powers]) / total
    r = basis.shape[1]
    matrix = np.zeros((TERMS, count, r, r))
    drive, flow = np.zeros((TERMS, count, r)), np.zeros((TERMS, count, r))
    for term, by in enumerate(powers):
        for p in range(count):
            mine = port == p
            weighted = by[mine, None] * face[mine]
            matrix[term, p] = test[mine].T @ weighted
            drive[term, p] = by[mine] @ test[mine]
            flow[term, p] = weighted.sum(axis=0)
    return PortFilms(total, mean, moment, matrix, drive, flow)


@dataclass
class MatrixStore:
    """Conduction matrices at known states, blended for states between them.

    k(T) and radiation bend a section's matrix smoothly: a combination of near
    states whose weights sum to one has nearly the combination of their matrices.
    A state that the known ones do not reach is computed and kept.

    Attributes
    ----------
    compute : callable
        Reduced state to reduced matrix, or to several laws in one array: dear.
    miss, spread : float
        Root mean square distance from a state to its blend, and from a state to what it is blended
        from, beyond which it is computed. [K]
    """

    compute: Callable[[Floats], Floats]
    miss: float
    spread: float
    computed: int = 0
    states: list[Floats] = field(default_factory=list)
    matrices: list[Floats] = field(default_factory=list)

    def at(self, states: Floats) -> Floats:
        """Matrices at states, shape (n_states, r), as an array of shape (n_states, ...). [W/K]

        Of the states that the known ones do not reach the first is computed, until all are reached.
        """
        found: list[Floats | None] = [None] * len(states)
        missing = np.arange(len(states))
        while missing.size:
            if self.states:
                away = np.stack(self.states) - states[missing, None]
                w = _blend(away)
                miss = np.sqrt((np.einsum("bn,bnr->br", w, away) ** 2).sum(axis=1))
                spread = np.sqrt((w**2 * (away**2).sum(axis=2)).sum(axis=1))
                is_near = (miss <= self.miss) & (spread <= self.spread)
                blended = np.tensordot(w[is_near], np.stack(self.matrices), axes=1)
                for n, matrix in zip(missing[is_near], blended, strict=True):
                    found[n] = matrix
                missing = missing[~is_near]
            if missing.size:
                found[missing[0]] = self.learn(states[missing[0]])
                missing = missing[1:]
        return np.stack([matrix for matrix in found if matrix is not None])

    def learn(self, state: Floats) -> Floats:
        """Compute the matrix at a state and keep it."""
        self.states.append(state.copy())
        self.matrices.append(self.compute(state))
        self.computed += 1
        del self.states[:-AT_MOST], self.matrices[:-AT_MOST]
        return self.matrices[-1]


def _blend(away: Floats) -> Floats:
    """Weights that sum to one and bring differences `away`, shape (..., n, r), close to zero, near before far ones."""
    gram = away @ np.swapaxes(away, -1, -2)
    distance = np.diagonal(gram, axis1=-2, axis2=-1)
    ridge = NEAR * distance + 1e-12 * distance.max(axis=-1, keepdims=True) + np.finfo(float).tiny
    gram = gram + ridge[..., None] * np.eye(distance.shape[-1])
    raw = np.linalg.solve(gram, np.ones((*distance.shape, 1)))[..., 0]
    return raw / raw.sum(axis=-1, keepdims=True)
