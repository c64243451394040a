"""Radiation between the patches of an enclosure, joined to the network of pieces.

Goes in: an `Enclosure`, emissivities, and temperatures to linearise about.
Comes out: symmetric conductances between patches, and the equations that tie
each patch to the surfaces it is made of.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dpotri
from scipy.sparse import block_array, csr_matrix, diags_array, sparray

from annulus.conduction.boundaries import STEFAN_BOLTZMANN
from annulus.conduction.enclosure import Enclosure, PatchTies
from annulus.conduction.network import ROUNDING, Network
from annulus.conduction.solvers import Operator
from annulus.errors import GeometryError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STRONG = 0.3  # of a patch's whole exchange: weaker pairs are left out of the matrix that is factored
NEGLIGIBLE = 1e-7  # of the smaller patch: exchange areas below this are dropped, on both sides alike


def grey_exchange(enclosure: Enclosure, emissivity: Floats) -> Floats:
    """Exchange areas of grey diffuse surfaces with all reflections.

    Parameters
    ----------
    enclosure : Enclosure
    emissivity : ndarray, shape (n_patches,)
        0 < emissivity <= 1.

    Returns
    -------
    ndarray, shape (n_patches, n_patches)
        Symmetric; net heat from p to q is entry (p, q) times sigma (T_p^4 - T_q^4). [m2]

    References
    ----------
    H. C. Hottel and A. F. Sarofim, Radiative Transfer, McGraw-Hill, 1967, ch. 3
    (total exchange areas). From memory.
    """
    area, seen = enclosure.area, enclosure.exchange
    mirror, black = np.flatnonzero(emissivity < 1.0), np.flatnonzero(emissivity >= 1.0)
    root = np.sqrt((1.0 - emissivity[mirror]) / area[mirror])
    onward = root[:, None] * seen[mirror]  # what reaches a reflecting patch and leaves it again
    total = np.array(seen)
    if mirror.size:
        once = (
            onward[:, mirror] * -root
        )  # and I on the diagonal: positive definite, for rows of `seen` sum to the areas
        once[np.diag_indices(mirror.size)] += 1.0
        often = _inverse(once)  # I + once reflected + twice + ...; no digits cancel
        to_black = csr_matrix(onward[:, black])
        reached = often @ to_black
        often /= root[:, None]
        often /= root
        total[mirror[:, None], mirror] = often  # off the diagonal
        total[black[:, None], black] += to_black.T @ reached
        reached /= root[:, None]
        total[mirror[:, None], black] = reached
        total[black[:, None], mirror] = reached.T
    total *= emissivity[:, None]
    total *= emissivity
    least = NEGLIGIBLE * area
    total[(total < least) & (total < least[:, None])] = 0.0
    np.fill_diagonal(total, 0.0)
    return total


def _inverse(matrix: Floats) -> Floats:
    """Of a symmetric positive definite matrix, which it overwrites; a third of the cost of as many solves."""
    half, fault = dpotrf(matrix.T, lower=1, clean=1, overwrite_a=1)
    if not fault:
        half, fault = dpotri(half, lower=1, overwrite_c=1)
    if fault:
        raise GeometryError("open space: reflections do not die out; do exchange areas of a patch exceed its own?")
    half += np.tril(half, -1).T
    return half


@dataclass(frozen=True)
class Radiation:
    """Patches of an enclosure as extra unknowns beside the pieces.

    Attributes
    ----------
    enclosure : Enclosure
    grey : ndarray, shape (n_patches, n_patches)
        From `grey_exchange`. [m2]
    held : ndarray, shape (n_patches,)
        Temperature of a patch that is an opening to the room; nan for a solid or an adiabatic end. [K]
    """

    enclosure: Enclosure
    grey: Floats
    held: Floats

    def guess(self, temperature: Floats) -> Floats:
        """Patch temperatures near those of the pieces behind them, on their scale, shape (n_patches,). [K]"""
        ties, count = self.enclosure.ties, self.enclosure.count
        solid = np.where(ties.solid_is_b, ties.link_b, ties.link_a)
        total = np.bincount(ties.patch, ties.weight, count)
        mean = np.bincount(ties.patch, ties.weight * temperature[solid], count) / np.where(total > 0, total, 1.0)
        return np.where(total > 0, mean, temperature.mean())

    @cached_property
    def pairs(self) -> csr_matrix:
        """`grey` without its zeros."""
        return csr_matrix(self.grey)

    def conductances(self, temperature: Floats) -> csr_matrix:
        """Exchange per degree between patches, the exact secant of T^4, shape (n_patches, n_patches). [W/K]"""
        pairs = self.pairs
        secants = _secants(pairs.indptr, pairs.indices, pairs.data, temperature)
        return csr_matrix((secants, pairs.indices, pairs.indptr), pairs.shape)


@njit(cache=True)
def _secants(start, column, grey, temperature):
    """sigma grey (T_p^4 - T_q^4) / (T_p - T_q) of every pair."""
    result = np.empty(grey.size)
    square = temperature * temperature
    for p in range(temperature.size):
        own, own_square = temperature[p], square[p]
        for m in range(start[p], start[p + 1]):
            q = column[m]
            result[m] = STEFAN_BOLTZMANN * grey[m] * (own_square + square[q]) * (own + temperature[q])
    return result


@njit(cache=True)
def _add_exchange(
    leaving,
    temperature,
    patches,
    patch,
    link_a,
    link_b,
    weight,
    share_a,
    hold,
    start_a,
    column_a,
    shift_a,
    start_b,
    column_b,
    shift_b,
):
    """Add the heat that pieces lose to patches; returns the pull on each patch by its surfaces."""
    pull = np.zeros(patches.size)
    for n in range(patch.size):
        side_a, side_b = temperature[link_a[n]], temperature[link_b[n]]
        for m in range(start_a[n], start_a[n + 1]):
            side_a += shift_a[m] * temperature[column_a[m]]
        for m in range(start_b[n], start_b[n + 1]):
            side_b += shift_b[m] * temperature[column_b[m]]
        pull[patch[n]] += weight[n] * (share_a[n] * side_a + (1.0 - share_a[n]) * side_b)
    for p in range(patches.size):
        pull[p] = hold[p] * (pull[p] - patches[p])
    for n in range(patch.size):
        heat = weight[n] * pull[patch[n]]
        leaving[link_a[n]] += share_a[n] * heat
        leaving[link_b[n]] += (1.0 - share_a[n]) * heat
    return pull


@dataclass(frozen=True)
class PatchEquations:
    """One linearised round: pieces and patches.

    Attributes
    ----------
    ties : PatchTies
        How patches hang on the pieces on both sides of their links.
    share_a : ndarray, shape (n_ties,)
        Weight of side a in the temperature of a link's surface, as the ways on both sides have it.
    hold : ndarray, shape (n_patches,)
        Conductance between a patch and its surfaces; zero for an opening. [W/K]
    between : csr_matrix, shape (n_patches, n_patches)
        Symmetric conductances. [W/K]
    held : ndarray, shape (n_patches,)
        Temperature of an opening above the datum, else nan. [K]
    solid_share : ndarray, shape (n_elements,)
        Share of an element's radiant heat that its solid piece takes up at once; the rest
        passes through the piece of open space beside it.
    """

    network: Network
    enclosure: Enclosure
    ties: PatchTies
    share_a: Floats
    hold: Floats
    between: csr_matrix
    held: Floats
    solid_share: Floats

    @property
    def _free(self) -> NDArray[np.bool_]:
        return np.isnan(self.held)

    @cached_property
    def _given(self) -> Floats:
        """Exchange of each patch with all others. [W/K]"""
        return np.asarray(self.between.sum(axis=1)).ravel()

    @cached_property
    def base_to_surface(self) -> csr_matrix:
        """First-order form of `to_surface`; its transpose shares a patch's heat among pieces."""
        t, shape = self.ties, (self.enclosure.count, self.network.pieces.count)
        a = csr_matrix((t.weight * self.share_a, (t.patch, t.link_a)), shape)
        return (a + csr_matrix((t.weight * (1 - self.share_a), (t.patch, t.link_b)), shape)).tocsr()

    @cached_property
    def to_surface(self) -> csr_matrix:
        """Mean surface temperature of a patch without radiation, from pieces (second order)."""
        t, shape = self.ties, (self.enclosure.count, self.share_a.size)
        each = np.arange(self.share_a.size)
        a = csr_matrix((t.weight * self.share_a, (t.patch, each)), shape)
        b = csr_matrix((t.weight * (1 - self.share_a), (t.patch, each)), shape)
        return (self.base_to_surface + a @ t.shift_a + b @ t.shift_b).tocsr()

    @cached_property
    def matrix(self) -> Operator:
        """Second-order matrix of pieces, then patches."""
        return Operator(self.leaving, self.main)

    @property
    def main(self) -> Floats:
        """Diagonal of the network's first-order matrix, then of the patches'. [W/K]"""
        return np.concatenate([self.network.main, np.where(self._free, self.hold + self._given, 1.0)])

    def leaving(self, x: Floats) -> Floats:
        """Second-order matrix times temperatures of pieces, then patches, or columns of them. [W]"""
        t, free = self.ties, self._free
        of_pieces, of_patches = np.split(np.ascontiguousarray(x), [self.network.pieces.count])
        leaving = self.network.leaving(of_pieces)
        shifts = [part for m in (t.shift_a, t.shift_b) for part in (m.indptr, m.indices, m.data)]
        ties = t.patch, t.link_a, t.link_b, t.weight, self.share_a, np.where(free, self.hold, 0.0)
        lost = (self._given * of_patches.T).T - self.between @ of_patches
        columns = (field.reshape(len(field), -1).T for field in (lost, leaving, of_pieces, of_patches))
        for of_one, leaving_one, pieces, patches in zip(*columns, strict=True):
            of_one -= _add_exchange(leaving_one, pieces, patches, *ties, *shifts)
        return np.concatenate([leaving, np.where(free, lost.T, of_patches.T).T])

    @property
    def to_factor(self) -> sparray:
        """Second-order matrix of pieces, then first-order one of patches, weak exchange left out."""
        strong = self.between.tocoo()
        kept = (strong.data > STRONG * self._given[strong.row]) & self._free[strong.row]
        exchange = csr_matrix((strong.data[kept], (strong.row[kept], strong.col[kept])), strong.shape)
        hold = diags_array(np.where(self._free, self.hold, 0.0))
        own = diags_array(np.where(self._free, self.hold + self._given, 1.0))
        share = self.base_to_surface.T @ hold
        square = self.network.to_factor + share @ self.base_to_surface
        return block_array([[square, -share], [-(hold @ self.base_to_surface), own - exchange]], format="csr")

    @cached_property
    def drive(self) -> Floats:
        """Right-hand side of pieces, then patches."""
        return np.concatenate([self.network.drive, np.where(self._free, 0.0, self.held)])

    def rounding(self, rise: Floats) -> float:
        """Heat that double precision cannot tell in a balance, as `Network.rounding`; rises of pieces, then patches."""
        of_pieces, of_patches = np.split(np.abs(rise), [self.network.pieces.count])
        held = self.hold @ (abs(self.to_surface) @ of_pieces + of_patches)
        exchanged = 2.0 * self._given @ of_patches
        return self.network.rounding(of_pieces) + ROUNDING * float(held + exchanged)

    def heat_into(self, patch_temperature: Floats) -> Floats:
        """Radiant heat that each patch gains, shape (n_patches,). [W]"""
        return self.between @ patch_temperature - self._given * patch_temperature


def patch_equations(
    network: Network, resistance: Floats, radiation: Radiation, patch_temperature: Floats, datum: float = 0.0
) -> PatchEquations:
    """Linearise the exchange about patch temperatures.

    The temperature of a surface between open space and a solid follows from
    its link: it lies between the two pieces as their paths do, and radiant
    heat enters there.

    Parameters
    ----------
    network : Network
    resistance : ndarray, shape (n_regions, n_regions)
        Contact resistances, on the open side of the surface. [m2 K/W]
    radiation : Radiation
    patch_temperature : ndarray, shape (n_patches,)
        [K]
    datum : float
        What the unknowns count from. [K]
    """
    pieces, enclosure, ties = network.pieces, radiation.enclosure, radiation.enclosure.ties
    link, a, b = ties.link, ties.link_a, ties.link_b
    extra = resistance[pieces.region[a], pieces.region[b]]
    lk, k = pieces.links, network.conductivity
    path_a = lk.distance_a[link] / k[a] + np.where(ties.solid_is_b, extra, 0.0)
    path_b = lk.distance_b[link] / k[b] + np.where(ties.solid_is_b, 0.0, extra)
    share_a = path_b / (path_a + path_b)
    path = path_a * share_a
    drop = np.bincount(ties.patch, ties.weight * path, enclosure.count) / enclosure.area
    solid_share = np.zeros(enclosure.link.size)
    solid_share[enclosure.link >= 0] = np.where(ties.solid_is_b, 1 - share_a, share_a)
    return PatchEquations(
        network=network,
        enclosure=enclosure,
        ties=ties,
        share_a=share_a,
        hold=np.divide(1.0, drop, out=np.zeros_like(drop), where=drop > 0),
        between=radiation.conductances(patch_temperature),
        held=radiation.held - datum,
        solid_share=solid_share,
    )
