"""Where pieces meet: compiled kernels over faces and arcs.

Goes in: the overlaps and pieces of `cut.py`. Comes out: columns of contacts,
one for each run of one pair of regions along a face, and one for each arc of a
circle inside a cell; links between pieces and surfaces to outside apart.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from annulus.conduction.contacts import ARC, R_FACE, Z_FACE
from annulus.conduction.discs import MAX_ARCS, arc_surface, arcs_in_cell, half_chord

SMALLEST_APERTURE = 1e-12  # of its face; less is round-off of a touching circle
WHOLE = 1.0 - 1e-14  # of a cell: covered wholly, no arc inside
WITHIN = 1.0 - 1e-12  # of the squared radius: a touching point counts as outside
THINNEST = 0.05  # least distance of a middle to its interface, in mean thicknesses of the piece


@njit(cache=True)
def region_at(r, z, painted, cell, discs, disc_region, cell_start, disc):
    """Region painted last at a point of a cell whose rectangles left `painted`."""
    for m in range(cell_start[cell + 1] - 1, cell_start[cell] - 1, -1):
        d = disc[m]
        if (r - discs[d, 0]) ** 2 + (z - discs[d, 1]) ** 2 < WITHIN * discs[d, 2] ** 2:
            return disc_region[d]
    return painted


@njit(cache=True)
def piece_of(cell, which, piece_start, region):
    """Number of the piece that `which` has of a cell, or -1."""
    for p in range(piece_start[cell], piece_start[cell + 1]):
        if region[p] == which:
            return p
    return -1


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
    links,
    surfaces,
    count,
):
    """Write contacts across grid faces, one for each run of one pair of regions.

    Parameters
    ----------
    links, surfaces : (ndarray of int, shape (6, most); ndarray, shape (9, most))
        Written, contact by contact. Whole numbers: kind, face index i, face index j, side a, side b, disc (0). A side
        is a piece, or -1 - region for a hole, or -1000001 - s beyond side s of the domain (r_min, r_max, z_min,
        z_max). Real numbers: area, distances of a and b, middle (r, z), normal (r, z), start and end along the face.
    count : ndarray of int, shape (2,)
        Links and surfaces so far, counted on.
    """
    nr = r_face.size - 1
    nz = z_face.size - 1
    most = 0
    for cell in range(nr * nz):
        most = max(most, cell_start[cell + 1] - cell_start[cell])
    cuts = np.empty(2 + 4 * most)
    for kind in (R_FACE, Z_FACE):
        for i in range(nr + (kind == R_FACE)):
            known_a = known_b = ring_a = ring_b = 0.0  # a row of plain cells has one middle and one way
            for j in range(nz + (kind == Z_FACE)):
                if kind == R_FACE:
                    has_a, has_b = i > 0, i < nr
                    cell_a, cell_b = (i - 1) * nz + j, i * nz + j
                    here = r_face[i]
                    low, high = z_face[j], z_face[j + 1]
                    outside = -1000001 if i == 0 else -1000002
                    if cylindrical and here == 0.0:
                        continue
                else:
                    has_a, has_b = j > 0, j < nz
                    cell_a, cell_b = i * nz + j - 1, i * nz + j
                    here = z_face[j]
                    low, high = r_face[i], r_face[i + 1]
                    outside = -1000003 if j == 0 else -1000004
                is_plain = has_a and has_b and only[cell_a] >= 0 and only[cell_b] >= 0
                if is_plain and conducts[only[cell_a]] and conducts[only[cell_b]]:
                    a, b = piece_start[cell_a], piece_start[cell_b]
                    if kind == Z_FACE:
                        way_a, way_b = abs(here - z_mid[a]), abs(here - z_mid[b])
                    else:
                        if r_mid[a] != known_a:
                            known_a, ring_a = r_mid[a], ring_distance(here, r_mid[a], cylindrical)
                        if r_mid[b] != known_b:
                            known_b, ring_b = r_mid[b], ring_distance(here, r_mid[b], cylindrical)
                        way_a, way_b = ring_a, ring_b
                    write_face(links, surfaces, count, kind, i, j, here, low, high, a, b, way_a, way_b, cylindrical)
                    continue
                crossings = 2
                cuts[0], cuts[1] = low, high
                if has_a and only[cell_a] < 0:
                    crossings = add_crossings(kind, here, low, high, cell_a, discs, cell_start, disc, cuts, crossings)
                if has_b and only[cell_b] < 0:
                    crossings = add_crossings(kind, here, low, high, cell_b, discs, cell_start, disc, cuts, crossings)
                start = low
                now_a, now_b = -1, -1
                for m in range(crossings):
                    next_a, next_b = -2, -2
                    if m + 1 < crossings:
                        middle = 0.5 * (cuts[m] + cuts[m + 1])
                        next_a, next_b = -1, -1
                        if has_a:
                            next_a = side_region(
                                kind, here, middle, cell_a, nz, base, only, discs, disc_region, cell_start, disc
                            )
                        if has_b:
                            next_b = side_region(
                                kind, here, middle, cell_b, nz, base, only, discs, disc_region, cell_start, disc
                            )
                        if next_a == now_a and next_b == now_b:
                            continue  # a run goes on while both regions stay the same
                    run_a, run_b, first, last = now_a, now_b, start, cuts[m]
                    start, now_a, now_b = last, next_a, next_b
                    if last - first <= SMALLEST_APERTURE * (high - low):
                        continue
                    side_a, side_b = outside, outside
                    if has_a:
                        side_a = piece_of(cell_a, run_a, piece_start, region) if conducts[run_a] else -1 - run_a
                    if has_b:
                        side_b = piece_of(cell_b, run_b, piece_start, region) if conducts[run_b] else -1 - run_b
                    if side_a < 0 and side_b < 0:
                        continue
                    if (side_a == -1 and conducts[run_a]) or (side_b == -1 and conducts[run_b]):
                        continue  # the aperture of a piece too small to keep
                    way_a = way_to_face(kind, here, side_a, r_mid, z_mid, cylindrical)
                    way_b = way_to_face(kind, here, side_b, r_mid, z_mid, cylindrical)
                    write_face(
                        links, surfaces, count, kind, i, j, here, first, last, side_a, side_b, way_a, way_b, cylindrical
                    )


@njit(cache=True)
def write_face(links, surfaces, count, kind, i, j, here, first, last, side_a, side_b, way_a, way_b, cylindrical):
    """Append a contact across a part of a face, with its area, middle and normal."""
    whole = kind, i, j, side_a, side_b, 0
    if kind == R_FACE:
        area = last - first
        if cylindrical:
            area *= 2.0 * math.pi * here
        write(links, surfaces, count, whole, (area, way_a, way_b, here, 0.5 * (first + last), 1.0, 0.0, first, last))
        return
    area, middle = last - first, 0.5 * (first + last)
    if cylindrical:
        area = math.pi * (last * last - first * first)
        middle = 2.0 / 3.0 * (last * last + last * first + first * first) / (last + first)
    write(links, surfaces, count, whole, (area, way_a, way_b, middle, here, 0.0, 1.0, first, last))


@njit(cache=True)
def write(links, surfaces, count, whole, real):
    """Append one contact to the links or, if a side is no piece, to the surfaces."""
    if whole[3] < 0 or whole[4] < 0:
        put(surfaces[0], surfaces[1], count[1], whole, real)
        count[1] += 1
    else:
        put(links[0], links[1], count[0], whole, real)
        count[0] += 1


@njit(cache=True, inline="always")
def put(to_whole, to_real, n, whole, real):
    """Write one contact into its columns."""
    for c in range(6):
        to_whole[c, n] = whole[c]
    for c in range(9):
        to_real[c, n] = real[c]


@njit(cache=True)
def add_crossings(kind, here, low, high, cell, discs, cell_start, disc, cuts, known):
    """Add the points where circles of a cell cross its face to `known` places in order; returns their number."""
    for m in range(cell_start[cell], cell_start[cell + 1]):
        a, c, radius = discs[disc[m]]
        across = here - (a if kind == R_FACE else c)
        along = c if kind == R_FACE else a
        if abs(across) >= radius:
            continue
        half = half_chord(radius, across)
        for point in (along - half, along + half):
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


@njit(cache=True)
def side_region(kind, here, along, cell, nz, base, only, discs, disc_region, cell_start, disc):
    """Region that a cell shows at a point of its face."""
    if only[cell] >= 0:
        return only[cell]
    painted = base[cell // nz, cell % nz]
    if kind == R_FACE:
        return region_at(here, along, painted, cell, discs, disc_region, cell_start, disc)
    return region_at(along, here, painted, cell, discs, disc_region, cell_start, disc)


@njit(cache=True)
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
    links,
    surfaces,
    count,
):
    """Write contacts across circles inside cells; side a is inside the circle.

    Like `face_contacts`; the last whole number is the disc, the run is in
    radians, and (i, j) is the cell.
    """
    nr = r_face.size - 1
    nz = z_face.size - 1
    starts = np.empty(MAX_ARCS)
    ends = np.empty(MAX_ARCS)
    for cell in range(nr * nz):
        i, j = cell // nz, cell % nz
        for m in range(cell_start[cell], cell_start[cell + 1]):
            d = disc[m]
            a, c, radius = discs[d]
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
            if (conducts[inner] and side_a < 0) or (conducts[outer] and side_b < 0):
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
                measures = area, distance_a, distance_b, mr, mz, normal_r, normal_z, starts[arc], ends[arc]
                write(links, surfaces, count, (ARC, i, j, side_a, side_b, d), measures)


@njit(cache=True)
def thickness(volume, area, r_face, z_face, i, j):
    """Mean thickness of a piece over an interface, no more than its cell's shorter side."""
    return min(volume / area, r_face[i + 1] - r_face[i], z_face[j + 1] - z_face[j])
