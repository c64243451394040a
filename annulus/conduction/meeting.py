"""Where pieces meet: compiled kernels over faces and arcs.

Goes in: the overlaps and pieces of `cut.py`. Comes out: columns of contacts,
one for each run of one pair of regions along a face, and one for each arc of a
circle inside a cell; links between pieces and surfaces to outside apart. Faces
between cells that one region each fills come first, and of them only the number
is told beside area and distances: the grid has the rest.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from annulus.conduction.contacts import ARC, R_FACE, TOLD, Z_FACE, ring_middle
from annulus.conduction.cut import SHARED
from annulus.conduction.discs import MAX_ARCS, arc_surface, arcs_in_cell, half_chord

SMALLEST_APERTURE = 1e-12  # of its face; less is round-off of a touching circle
WHOLE = 1.0 - 1e-14  # of a cell: covered wholly, no arc inside
WITHIN = 1.0 - 1e-12  # of the squared radius: a touching point counts as outside
OUTSIDE = -1000001  # side 0 of the domain, as the side of a contact; the others follow downwards
LOST = -2000000  # a side whose piece was too small to keep
THINNEST = 0.05  # least distance of a middle to its interface, in mean thicknesses of the piece


@njit(cache=True)
def whole_faces(r_face, z_face, only, piece_start, r_mid, z_mid, cylindrical, spare):
    """Contacts across faces between two cells that one region each fills.

    Parameters
    ----------
    only : ndarray of int, shape (nr * nz,)
        From `make_pieces`.
    spare : int
        Room for so many contacts is left, and for one on every other face.

    Returns
    -------
    a, b, area, way_a, way_b : ndarray, shape (n + n_others + spare or more,)
        Pieces on both sides, and the ways from their middles.
    face : ndarray of int, shape (n,)
        Numbers of the faces, see `Contacts`.
    others : ndarray of int
        Numbers of all other faces that a piece may touch.
    found : ndarray, shape (2, n_others + spare, TOLD + 5)
        Empty, for `face_contacts`.
    """
    nr, nz = r_face.size - 1, z_face.size - 1
    most = (nr + 1) * nz + nr * (nz + 1)
    a, b = np.empty(most + spare, dtype=np.int64), np.empty(most + spare, dtype=np.int64)
    area, way_a, way_b = np.empty(most + spare), np.empty(most + spare), np.empty(most + spare)
    face, others = np.empty(most, dtype=np.int32), np.empty(most, dtype=np.int32)
    n = rest = 0
    for i in range(nr + 1):
        here = r_face[i]
        if cylindrical and here == 0.0:
            continue
        known_a = known_b = ring_a = ring_b = 0.0  # a row of whole cells has one middle and one way
        for j in range(nz):
            one, other = beside(R_FACE, i, j, nr, nz, only)
            number = i * nz + j
            if one >= 0 and other >= 0:
                p, q = piece_start[number - nz], piece_start[number]
                if r_mid[p] != known_a:
                    known_a, ring_a = r_mid[p], ring_distance(here, r_mid[p], cylindrical)
                if r_mid[q] != known_b:
                    known_b, ring_b = r_mid[q], ring_distance(here, r_mid[q], cylindrical)
                a[n], b[n], way_a[n], way_b[n], face[n] = p, q, ring_a, ring_b, number
                area[n] = face_area(R_FACE, here, z_face[j], z_face[j + 1], cylindrical)
                n += 1
            elif one >= SHARED or other >= SHARED:
                others[rest] = number
                rest += 1
    for i in range(nr):
        ring = face_area(Z_FACE, 0.0, r_face[i], r_face[i + 1], cylindrical)
        for j in range(nz + 1):
            one, other = beside(Z_FACE, i, j, nr, nz, only)
            number = (nr + 1) * nz + i * (nz + 1) + j
            if one >= 0 and other >= 0:
                p, q = piece_start[i * nz + j - 1], piece_start[i * nz + j]
                a[n], b[n], area[n], face[n] = p, q, ring, number
                way_a[n], way_b[n] = abs(z_face[j] - z_mid[p]), abs(z_face[j] - z_mid[q])
                n += 1
            elif one >= SHARED or other >= SHARED:
                others[rest] = number
                rest += 1
    found = np.empty((2, rest + spare, TOLD + 5))
    return a, b, area, way_a, way_b, face[:n], others[:rest], found


@njit(inline="always")
def beside(kind, i, j, nr, nz, only):
    """What `only` says of the cells on both sides of a face; less than any region beyond the domain."""
    cell = i * nz + j
    if kind == R_FACE:
        return only[cell - nz] if i > 0 else OUTSIDE, only[cell] if i < nr else OUTSIDE
    return only[cell - 1] if j > 0 else OUTSIDE, only[cell] if j < nz else OUTSIDE


@njit(cache=True)
def face_contacts(
    r_face,
    z_face,
    base,
    discs,
    disc_region,
    conducts,
    cell_start,
    disc,
    piece_start,
    region,
    only,
    r_mid,
    z_mid,
    cylindrical,
    others,
    found,
    count,
):
    """Write contacts across the other faces, one for each run of one pair of regions.

    Parameters
    ----------
    others : ndarray of int
        From `whole_faces`.
    found : ndarray, shape (2, room, TOLD + 5)
        Written, row by row, for links and then for surfaces: what `rows` of `Contacts` has, sides a and b, area,
        distances of a and b. A side is a piece, or -1 - region for a hole, or `OUTSIDE` - s beyond side s of the domain
        (r_min, r_max, z_min, z_max). The body is side a of a surface.
    count : ndarray of int, shape (2,)
        Rows of links and surfaces so far, counted on.
    """
    nr, nz = r_face.size - 1, z_face.size - 1
    most = 0
    for cell in range(nr * nz):
        most = max(most, cell_start[cell + 1] - cell_start[cell])
    cuts = np.empty(2 + 4 * most)
    cells, known = np.empty(2, dtype=np.int64), np.empty(2, dtype=np.int64)
    now, after = np.empty(2, dtype=np.int64), np.empty(2, dtype=np.int64)
    for number in others:
        if number < (nr + 1) * nz:
            kind, i, j = R_FACE, number // nz, number % nz
            cells[0], cells[1] = (number - nz if i > 0 else -1), (number if i < nr else -1)
            here, low, high = r_face[i], z_face[j], z_face[j + 1]
        else:
            place = number - (nr + 1) * nz
            kind, i, j = Z_FACE, place // (nz + 1), place % (nz + 1)
            cells[0], cells[1] = (i * nz + j - 1 if j > 0 else -1), (i * nz + j if j < nz else -1)
            here, low, high = z_face[j], r_face[i], r_face[i + 1]
        crossings = 2
        cuts[0], cuts[1] = low, high
        for side in range(2):
            cell = cells[side]
            if cell < 0:
                known[side] = OUTSIDE - 2 * kind - side
            elif only[cell] == SHARED:
                known[side] = 0
                crossings = add_crossings(kind, here, low, high, cell, discs, cell_start, disc, cuts, crossings)
            else:
                known[side] = piece_start[cell] if only[cell] >= 0 else 1 + only[cell]
        start = low
        now[:] = LOST
        for m in range(crossings):
            if m + 1 < crossings:
                middle = 0.5 * (cuts[m] + cuts[m + 1])
                r, z = (here, middle) if kind == R_FACE else (middle, here)
                for side in range(2):
                    cell = cells[side]
                    after[side] = known[side]
                    if cell >= 0 and only[cell] == SHARED:
                        which = region_at(r, z, base[cell // nz, cell % nz], cell, discs, disc_region, cell_start, disc)
                        after[side] = piece_of(cell, which, piece_start, region) if conducts[which] else -1 - which
                if after[0] == now[0] and after[1] == now[1]:
                    continue  # a run goes on while both sides stay the same
            side_a, side_b, first, last = now[0], now[1], start, cuts[m]
            start, now[0], now[1] = last, after[0], after[1]
            if last - first <= SMALLEST_APERTURE * (high - low):
                continue
            if side_a == LOST or side_b == LOST or (side_a < 0 and side_b < 0):
                continue
            area, along = face_area(kind, here, first, last, cylindrical), 0.5 * (first + last)
            r, z, normal_r, normal_z = here, along, 1.0, 0.0
            if kind == Z_FACE:
                r, z, normal_r, normal_z = ring_middle(first, last) if cylindrical else along, here, 0.0, 1.0
            way_a = way_to_face(kind, here, side_a, r_mid, z_mid, cylindrical)
            way_b = way_to_face(kind, here, side_b, r_mid, z_mid, cylindrical)
            place = kind, i, j, 0, r, z, normal_r, normal_z, first, last
            write(found, count, side_a, side_b, area, way_a, way_b, place)


@njit(inline="always")
def region_at(r, z, painted, cell, discs, disc_region, cell_start, disc):
    """Region painted last at a point of a cell that `painted` fills below its circles."""
    for m in range(cell_start[cell + 1] - 1, cell_start[cell] - 1, -1):
        d = disc[m]
        if (r - discs[d, 0]) ** 2 + (z - discs[d, 1]) ** 2 < WITHIN * discs[d, 2] ** 2:
            return disc_region[d]
    return painted


@njit(inline="always")
def piece_of(cell, which, piece_start, region):
    """Number of the piece that `which` has of a cell, or `LOST` where that was too small to keep."""
    for p in range(piece_start[cell], piece_start[cell + 1]):
        if region[p] == which:
            return p
    return LOST


@njit(cache=True)
def face_area(kind, here, first, last, cylindrical):
    """Area of a part of a face."""
    if not cylindrical:
        return last - first
    if kind == R_FACE:
        return (last - first) * (2.0 * math.pi * here)
    return math.pi * (last * last - first * first)


@njit(inline="always")
def write(found, count, side_a, side_b, area, way_a, way_b, place):
    """Append a contact to the links or, if a side is no piece, to the surfaces, which then faces outwards."""
    kind, i, j, d, r, z, normal_r, normal_z, first, last = place
    which = 0 if side_a >= 0 and side_b >= 0 else 1
    if side_a < 0:
        side_a, side_b, way_a, way_b = side_b, side_a, way_b, way_a
        normal_r, normal_z = -normal_r, -normal_z
    row = found[which, count[which]]
    count[which] += 1
    row[0], row[1], row[2], row[3], row[4], row[5] = kind, i, j, d, r, z
    row[6], row[7], row[8], row[9] = normal_r, normal_z, first, last
    row[10], row[11], row[12], row[13], row[14] = side_a, side_b, area, way_a, way_b


@njit(inline="always")
def add_crossings(kind, here, low, high, cell, discs, cell_start, disc, cuts, known):
    """Add the points where circles of a cell cross its face to `known` places in order; returns their number."""
    for m in range(cell_start[cell], cell_start[cell + 1]):
        a, c, radius = discs[disc[m], 0], discs[disc[m], 1], discs[disc[m], 2]
        across = here - (a if kind == R_FACE else c)
        along = c if kind == R_FACE else a
        if abs(across) >= radius:
            continue
        half = half_chord(radius, across)
        for end in range(2):
            point = along + half if end else along - half
            if not low < point < high:
                continue
            place = known
            while cuts[place - 1] > point:
                place -= 1
            if cuts[place - 1] == point:
                continue
            for q in range(known, place, -1):
                cuts[q] = cuts[q - 1]
            cuts[place] = point
            known += 1
    return known


@njit(inline="always")
def way_to_face(kind, here, side, r_mid, z_mid, cylindrical):
    """Distance from the middle of a piece to a face; 0 for a side that is no piece."""
    if side < 0:
        return 0.0
    return ring_distance(here, r_mid[side], cylindrical) if kind == R_FACE else abs(here - z_mid[side])


@njit(cache=True)
def ring_distance(face, middle, cylindrical):
    """Distance that makes k * area / distance exact for radial flow in a ring."""
    if cylindrical:
        return face * abs(math.log(face / middle))
    return abs(face - middle)


@njit(cache=True)
def arc_contacts(
    r_face,
    z_face,
    base,
    discs,
    disc_region,
    parent,
    conducts,
    cell_start,
    disc,
    moments,
    piece_start,
    region,
    volume,
    r_mid,
    z_mid,
    cylindrical,
    found,
    count,
):
    """Write contacts across circles inside cells; side a is inside the circle.

    Like `face_contacts`; the run is in radians, and (i, j) is the cell.
    """
    nr = r_face.size - 1
    nz = z_face.size - 1
    starts = np.empty(MAX_ARCS)
    ends = np.empty(MAX_ARCS)
    for cell in range(nr * nz):
        i, j = cell // nz, cell % nz
        for m in range(cell_start[cell], cell_start[cell + 1]):
            d = disc[m]
            a, c, radius = discs[d, 0], discs[d, 1], discs[d, 2]
            if moments[m, 0] >= WHOLE * (r_face[i + 1] - r_face[i]) * (z_face[j + 1] - z_face[j]):
                continue
            arcs = arcs_in_cell(a, c, radius, r_face[i], r_face[i + 1], z_face[j], z_face[j + 1], starts, ends)
            if arcs == 0:
                continue
            inner = disc_region[d]
            outer = base[i, j]
            for q in range(cell_start[cell], m):
                if disc[q] == parent[d]:
                    outer = disc_region[parent[d]]
            side_a = piece_of(cell, inner, piece_start, region) if conducts[inner] else -1 - inner
            side_b = piece_of(cell, outer, piece_start, region) if conducts[outer] else -1 - outer
            if side_a < 0 and side_b < 0:
                continue
            if side_a == LOST or side_b == LOST:
                continue
            for arc in range(arcs):
                area, mr, mz, normal_r, normal_z = arc_surface(a, c, radius, starts[arc], ends[arc], cylindrical)
                distance_a = distance_b = 0.0
                if side_a >= 0:
                    distance_a = (mr - r_mid[side_a]) * normal_r + (mz - z_mid[side_a]) * normal_z
                    distance_a = max(distance_a, THINNEST * thickness(volume[side_a], area, r_face, z_face, i, j))
                if side_b >= 0:
                    distance_b = (r_mid[side_b] - mr) * normal_r + (z_mid[side_b] - mz) * normal_z
                    distance_b = max(distance_b, THINNEST * thickness(volume[side_b], area, r_face, z_face, i, j))
                place = ARC, i, j, d, mr, mz, normal_r, normal_z, starts[arc], ends[arc]
                write(found, count, side_a, side_b, area, distance_a, distance_b, place)


@njit(inline="always")
def thickness(volume, area, r_face, z_face, i, j):
    """Mean thickness of a piece over an interface, no more than its cell's shorter side."""
    return min(volume / area, r_face[i + 1] - r_face[i], z_face[j + 1] - z_face[j])
