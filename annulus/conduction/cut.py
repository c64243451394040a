"""Cutting a grid by discs: compiled kernels over cells.

Goes in: faces, the region painted last by a rectangle in each cell, and discs
with their place in the painting order. Comes out: plain arrays of overlaps and
pieces (what one region has of one cell). `pieces.py` wraps them for people.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from annulus.conduction.discs import PART, WHOLE, coverage, overlap_moments
from annulus.conduction.ordered import number_up_to

SHARED = -1  # said of a cell in which several regions meet
SMALLEST_PIECE = 1e-10  # of its cell; less is round-off of a touching circle


@njit(cache=True)
def overlaps(r_face, z_face, base, discs, disc_region):
    """Cells that a disc covers in part, as one list sorted by cell; what one covers whole is painted.

    Parameters
    ----------
    base : ndarray of int, shape (nr, nz)
        Region painted last by a rectangle in each cell; a disc that covers a cell whole, and is not painted over,
        writes its region there.

    Returns
    -------
    cell_start : ndarray, shape (nr * nz + 1,)
        Where the overlaps of each cell begin.
    disc : ndarray, shape (n,)
        Which disc; within a cell by painting order.
    moments : ndarray, shape (n, 5)
        See `overlap_moments`.
    """
    nr = r_face.size - 1
    nz = z_face.size - 1
    n_discs = discs.shape[0]
    box = np.empty((n_discs, 4), dtype=np.int64)
    bound = 0
    for d in range(n_discs):
        a, c, radius = discs[d, 0], discs[d, 1], discs[d, 2]
        box[d, 0] = max(0, number_up_to(r_face, a - radius, 0, nr + 1) - 1)
        box[d, 1] = min(nr, number_up_to(r_face, a + radius, 0, nr + 1))
        box[d, 2] = max(0, number_up_to(z_face, c - radius, 0, nz + 1) - 1)
        box[d, 3] = min(nz, number_up_to(z_face, c + radius, 0, nz + 1))
        for i in range(box[d, 0], box[d, 1]):
            for j in range(box[d, 2], box[d, 3]):
                if base[i, j] > disc_region[d]:
                    continue
                how = coverage(a, c, radius, r_face[i], r_face[i + 1], z_face[j], z_face[j + 1])
                if how == PART:
                    bound += 1
                elif how == WHOLE:
                    base[i, j] = disc_region[d]
    cell_of = np.empty(bound, dtype=np.int64)
    disc_of = np.empty(bound, dtype=np.int64)
    moment_of = np.empty((bound, 5))
    n = 0
    for d in range(n_discs):
        a, c, radius = discs[d, 0], discs[d, 1], discs[d, 2]
        for i in range(box[d, 0], box[d, 1]):
            for j in range(box[d, 2], box[d, 3]):
                r0, r1, z0, z1 = r_face[i], r_face[i + 1], z_face[j], z_face[j + 1]
                if base[i, j] >= disc_region[d] or coverage(a, c, radius, r0, r1, z0, z1) != PART:
                    continue
                area, mx, my, mxx, mxy = overlap_moments(a, c, radius, r0, r1, z0, z1)
                if area <= SMALLEST_PIECE * (r1 - r0) * (z1 - z0):
                    continue
                cell_of[n] = i * nz + j
                disc_of[n] = d
                moment_of[n, 0], moment_of[n, 1], moment_of[n, 2] = area, mx, my
                moment_of[n, 3], moment_of[n, 4] = mxx, mxy
                n += 1
    cell_start = np.zeros(nr * nz + 1, dtype=np.int64)
    for m in range(n):
        cell_start[cell_of[m] + 1] += 1
    for m in range(nr * nz):
        cell_start[m + 1] += cell_start[m]
    place = cell_start.copy()
    disc = np.empty(n, dtype=np.int64)
    moments = np.empty((n, 5))
    for m in range(n):  # discs come in painting order, so each cell's list does too
        p = place[cell_of[m]]
        place[cell_of[m]] += 1
        disc[p] = disc_of[m]
        for k in range(5):
            moments[p, k] = moment_of[m, k]
    return cell_start, disc, moments


@njit(cache=True)
def make_pieces(r_face, z_face, base, disc_region, parent, conducts, cell_start, disc, moments, cylindrical):
    """Pieces of every cell, and whether a cell is cut.

    A region's share is its disc's overlap less that of the discs painted
    directly upon it.

    Returns
    -------
    piece_start : ndarray, shape (nr * nz + 1,)
    region : ndarray, shape (n_pieces,)
    volume, r, z : ndarray, shape (n_pieces,)
        Volume (or area per metre of depth) and its centroid.
    only : ndarray, shape (nr * nz,)
        The region that fills a cell whole, `SHARED` where there are several, or `SHARED` - 1 - region for one that does
        not conduct.
    """
    nr = r_face.size - 1
    nz = z_face.size - 1
    bound = nr * nz + disc.size
    region = np.empty(bound, dtype=np.int64)
    volume = np.empty(bound)
    r_mid = np.empty(bound)
    z_mid = np.empty(bound)
    piece_start = np.empty(nr * nz + 1, dtype=np.int64)
    piece_start[0] = 0
    only = np.empty(nr * nz, dtype=np.int64)
    most = 0
    for cell in range(nr * nz):
        most = max(most, cell_start[cell + 1] - cell_start[cell])
    shares = np.empty((most + 1, 5))
    n = 0
    for i in range(nr):
        dr = r_face[i + 1] - r_face[i]
        x0 = 0.5 * (r_face[i + 1] + r_face[i])
        around = 2.0 * math.pi * x0 if cylindrical else 1.0
        beyond = dr * dr / (12.0 * x0) if cylindrical else 0.0
        for j in range(nz):
            cell = i * nz + j
            dz = z_face[j + 1] - z_face[j]
            y0 = 0.5 * (z_face[j + 1] + z_face[j])
            s, e = cell_start[cell], cell_start[cell + 1]
            if s == e:  # whole
                which = base[i, j]
                only[cell] = which if conducts[which] else SHARED - 1 - which
                if conducts[which]:
                    region[n] = which
                    volume[n] = dr * dz * around
                    r_mid[n] = x0 + beyond
                    z_mid[n] = y0
                    n += 1
                piece_start[cell + 1] = n
                continue
            shares[: e - s + 1] = 0.0
            shares[0, 0], shares[0, 3] = dr * dz, dr * dr * dr * dz / 12.0
            for m in range(s, e):
                under = 0
                for q in range(s, m):
                    if disc[q] == parent[disc[m]]:
                        under = q - s + 1
                for k in range(5):
                    shares[m - s + 1, k] += moments[m, k]
                    shares[under, k] -= moments[m, k]
            present = 0
            only[cell] = SHARED
            for m in range(e - s + 1):
                area, mx, my, mxx, mxy = shares[m, 0], shares[m, 1], shares[m, 2], shares[m, 3], shares[m, 4]
                if area <= SMALLEST_PIECE * dr * dz:
                    continue
                which = base[i, j] if m == 0 else disc_region[disc[s + m - 1]]
                present += 1
                only[cell] = SHARED
                if present == 1:
                    only[cell] = which if conducts[which] else SHARED - 1 - which
                if not conducts[which]:
                    continue
                region[n] = which
                if cylindrical:
                    ring = x0 * area + mx
                    volume[n] = 2.0 * math.pi * ring
                    r_mid[n] = (x0 * x0 * area + 2.0 * x0 * mx + mxx) / ring
                    z_mid[n] = y0 + (x0 * my + mxy) / ring
                else:
                    volume[n] = area
                    r_mid[n] = x0 + mx / area
                    z_mid[n] = y0 + my / area
                n += 1
            piece_start[cell + 1] = n
    return piece_start, region[:n], volume[:n], r_mid[:n], z_mid[:n], only
