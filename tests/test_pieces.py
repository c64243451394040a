"""Pieces of a cut grid: exact areas and volumes, closed surfaces, refusals."""

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from annulus.conduction.grid import Grid, uniform_grid
from annulus.conduction.pieces import Painted, Pieces, cut_grid
from annulus.errors import GeometryError
from annulus.shapes import Disc, Rectangle

# Pieces below 1e-10 of a cell are dropped, so sums are exact to 1e-10 of a cell per cut cell.
EXACT = 1e-9
LOW, HIGH = 1.0, 3.0


def box(name="box"):
    return Painted(name, Rectangle(LOW, HIGH, -1.0, 1.0))


def cut(regions, cells=(12, 12), coordinates="plane") -> Pieces:
    return cut_grid(uniform_grid((LOW, HIGH), (-1.0, 1.0), cells, coordinates), regions)


def content(pieces: Pieces, name: str) -> float:
    return float(pieces.volume[pieces.region == pieces.region_index(name)].sum())


def interface(pieces: Pieces, one: str, other: str) -> float:
    a, b = pieces.region_index(one), pieces.region_index(other)
    ra, rb = pieces.region[pieces.link_a], pieces.region[pieces.link_b]
    return float(pieces.links.area[((ra == a) & (rb == b)) | ((ra == b) & (rb == a))].sum())


def disc_content(disc: Disc, cylindrical: bool) -> float:
    """Area, or volume of the ring by Pappus."""
    area = math.pi * disc.radius**2
    return area * 2 * math.pi * disc.r if cylindrical else area


def rim(disc: Disc, cylindrical: bool) -> float:
    length = 2 * math.pi * disc.radius
    return length * 2 * math.pi * disc.r if cylindrical else length


# -- a hand-sized grid, arithmetic written out


def test_one_disc_on_four_cells_is_four_quarters():
    """Cells of side 1 around (2, 0), radius 0.5.

    Each cell holds a quarter disc of area pi/16 whose centroid lies 4 R / (3 pi) =
    0.2122 from both cuts, and a rest of 1 - pi/16 with centroid
    (1/2 - pi/16 * 0.2122) / (1 - pi/16) = 0.5703 from them. Faces are open over 0.5
    of their length to either region, and a quarter circle of pi/4 parts them.
    """
    pieces = cut([box(), Painted("disc", Disc(2.0, 0.0, 0.5))], cells=(2, 2))
    quarter, reach = math.pi / 16, 4 * 0.5 / (3 * math.pi)
    rest = (0.5 - quarter * reach) / (1 - quarter)
    assert pieces.count == 8
    inside = pieces.region == 1
    assert pieces.volume[inside] == pytest.approx(quarter)
    assert pieces.volume[~inside] == pytest.approx(1 - quarter)
    assert np.abs(pieces.r[inside] - 2) == pytest.approx(reach)
    assert np.abs(pieces.z[inside]) == pytest.approx(reach)
    assert np.abs(pieces.r[~inside] - 2) == pytest.approx(rest)

    arcs = pieces.links.kind == 2
    assert arcs.sum() == 4
    assert pieces.links.area[arcs] == pytest.approx(math.pi / 4)
    assert (~arcs).sum() == 8
    assert pieces.links.area[~arcs] == pytest.approx(0.5)
    same = pieces.region[pieces.link_a] == pieces.region[pieces.link_b]
    assert np.array_equal(same, ~arcs)
    assert pieces.links.distance_a[~arcs & (pieces.region[pieces.link_a] == 1)] == pytest.approx(reach)
    # the middle of a quarter arc lies 2 R / pi from both cuts, so along the diagonal the disc's centroid is
    # sqrt 2 (2 R / pi - reach) short of it and the rest's sqrt 2 (rest - 2 R / pi) beyond
    middle = 2 * 0.5 / math.pi
    assert pieces.links.distance_a[arcs] == pytest.approx(math.sqrt(2) * (middle - reach))
    assert pieces.links.distance_b[arcs] == pytest.approx(math.sqrt(2) * (rest - middle))


def test_uncut_ring_cells_have_their_volumes_and_logarithmic_distances():
    """Two rings, radii 1 to 2 and 2 to 3, height 2: volumes 6 pi and 10 pi, centroids 14/9 and 38/15.

    The centroid of a ring is (2/3)(b^3 - a^3)/(b^2 - a^2).
    """
    pieces = cut([box()], cells=(2, 1), coordinates="cylindrical")
    assert pieces.volume == pytest.approx([6 * math.pi, 10 * math.pi])
    assert pieces.r == pytest.approx([14 / 9, 38 / 15])
    assert pieces.z == pytest.approx([0.0, 0.0])
    assert pieces.links.area == pytest.approx([8 * math.pi])  # 2 pi 2 times height 2
    assert pieces.links.distance_a == pytest.approx([2 * math.log(2 / (14 / 9))])
    assert pieces.links.distance_b == pytest.approx([2 * math.log((38 / 15) / 2)])


def test_face_on_the_axis_carries_no_surface():
    grid = uniform_grid((0.0, 1.0), (0.0, 1.0), (3, 2))
    pieces = cut_grid(grid, [Painted("core", Rectangle(0.0, 1.0, 0.0, 1.0))])
    assert pieces.boundary_surfaces("r_min").size == 0
    assert pieces.surfaces.area[pieces.boundary_surfaces("z_max")].sum() == pytest.approx(math.pi)


# -- sums over random discs

STEP = 2.0 / 12  # of the grid below


@given(
    r=st.floats(1.5, 2.5),
    z=st.floats(-0.5, 0.5),
    radius=st.floats(0.003, 0.5),
    cylindrical=st.booleans(),
)
@example(r=2.0, z=0.0, radius=3 * STEP, cylindrical=False)  # four sides touch faces
@example(r=2.0, z=0.0, radius=5 * STEP / 2, cylindrical=True)
@example(r=2.0, z=0.0, radius=math.hypot(2, 1) * STEP, cylindrical=False)  # through eight vertices
@example(r=2.0, z=0.0, radius=math.hypot(1, 1) * STEP, cylindrical=True)
@example(r=2.0 + STEP / 2, z=STEP / 2, radius=STEP / 2, cylindrical=True)  # inscribed in one cell
@example(r=2.0 + STEP / 2, z=STEP / 2, radius=STEP / math.sqrt(2), cylindrical=False)  # around one cell
@example(r=2.0 + STEP / 2, z=STEP / 2, radius=0.9 * STEP / 2, cylindrical=True)  # inside one cell
@example(r=2.0 + 3e-14, z=0.0, radius=3 * STEP, cylindrical=False)  # touches but for round-off
@example(r=2.0, z=0.0, radius=3 * STEP * (1 + 1e-12), cylindrical=False)
@example(r=2.0, z=0.0, radius=3 * STEP * (1 - 1e-9), cylindrical=True)
def test_pieces_of_a_disc_and_its_box_add_up_exactly(r, z, radius, cylindrical):
    disc = Disc(r, z, radius)
    pieces = cut([box(), Painted("disc", disc)], coordinates="cylindrical" if cylindrical else "plane")
    whole = math.pi * (HIGH**2 - LOW**2) * 2.0 if cylindrical else 4.0
    inside = disc_content(disc, cylindrical)
    assert content(pieces, "disc") == pytest.approx(inside, abs=EXACT)
    assert content(pieces, "box") == pytest.approx(whole - inside, abs=EXACT)
    # rims in corners cut off smaller than a kept piece go with them: sqrt(1e-10) of a cell at most
    assert interface(pieces, "box", "disc") == pytest.approx(rim(disc, cylindrical), abs=1e-4 * STEP)
    check_centroids(pieces, disc, cylindrical)
    check_closed(pieces)


def check_centroids(pieces: Pieces, disc: Disc, cylindrical: bool) -> None:
    """The disc's own centroid is that of its pieces together (a ring's lies R^2 / 4 r beyond its centre)."""
    mine = pieces.region == 1
    r = np.average(pieces.r[mine], weights=pieces.volume[mine])
    z = np.average(pieces.z[mine], weights=pieces.volume[mine])
    beyond = disc.radius**2 / (4 * disc.r) if cylindrical else 0.0
    assert (r, z) == pytest.approx((disc.r + beyond, disc.z), abs=1e-7)


def check_closed(pieces: Pieces) -> None:
    """Apertures and chords of every piece close: the integral of the normal over its surface is zero (plane part).

    In cylindrical coordinates the faces across z are rings and close by
    themselves: rings in minus rings out of a piece equal the arcs' z part.
    """
    net = np.zeros((pieces.count, 2))
    for contacts, sides in (
        (pieces.links, ((pieces.link_a, 1.0), (pieces.link_b, -1.0))),
        (pieces.surfaces, ((pieces.surface_piece, 1.0),)),
    ):
        vector = outward(contacts, pieces)
        for piece, sign in sides:
            np.add.at(net, piece, sign * vector)
    across = net[:, 1] if pieces.grid.is_cylindrical else net
    # pieces below 1e-10 of a cell are dropped and leave chords of up to 1e-5 of its side (times 2 pi r) open
    assert np.abs(across).max() < 1e-5 * STEP * (2 * math.pi * HIGH if pieces.grid.is_cylindrical else 1.0)


def outward(contacts, pieces: Pieces) -> np.ndarray:
    """Integral of the normal over each contact; for an arc from its ends, where the mean normal is a unit one."""
    vector = contacts.area[:, None] * np.stack([contacts.normal_r, contacts.normal_z], axis=1)
    arcs = np.flatnonzero(contacts.kind == 2)
    discs = np.array([(p.shape.r, p.shape.radius) for p in pieces.regions if isinstance(p.shape, Disc)])
    for n in arcs:
        a, radius = discs[contacts.disc[n]]
        start, end = contacts.start[n], contacts.end[n]
        chord = radius * np.array([math.sin(end) - math.sin(start), math.cos(start) - math.cos(end)])
        if pieces.grid.is_cylindrical:  # of 2 pi r n_z ds, with r = a + R cos t
            chord[1] = 2 * math.pi * (a * chord[1] + 0.5 * radius**2 * (math.sin(end) ** 2 - math.sin(start) ** 2))
        pointing = contacts.normal_r[n] * chord[0] + contacts.normal_z[n] * chord[1]
        vector[n] = chord if pointing >= 0 else -chord
    return vector


@given(
    r=st.floats(1.6, 2.4),
    z=st.floats(-0.4, 0.4),
    radius=st.floats(0.1, 0.5),
    wall=st.floats(1e-4, 0.09),
    hollow=st.booleans(),
    cylindrical=st.booleans(),
)
def test_thin_concentric_rings_add_up_exactly(r, z, radius, wall, hollow, cylindrical):
    """A tube with its bore, metal or hole, thinner than a cell by up to a thousand times."""
    outer, inner = Disc(r, z, radius), Disc(r, z, radius - wall)
    regions = [box(), Painted("tube", outer), Painted("bore", inner, conducts=not hollow)]
    pieces = cut(regions, coordinates="cylindrical" if cylindrical else "plane")
    inside, hole = disc_content(outer, cylindrical), disc_content(inner, cylindrical)
    assert content(pieces, "tube") == pytest.approx(inside - hole, abs=EXACT)
    if hollow:
        assert content(pieces, "bore") == 0
        area = pieces.surfaces.area[pieces.boundary_surfaces("bore")].sum()
        assert area == pytest.approx(rim(inner, cylindrical), rel=1e-4)
    else:
        assert content(pieces, "bore") == pytest.approx(hole, abs=EXACT)
        assert interface(pieces, "tube", "bore") == pytest.approx(rim(inner, cylindrical), rel=1e-4)
    assert interface(pieces, "tube", "box") == pytest.approx(rim(outer, cylindrical), rel=1e-4)
    assert np.all(pieces.links.distance_a > 0)
    assert np.all(pieces.links.distance_b > 0)


@pytest.mark.parametrize("cells", [(5, 5), (16, 17), (60, 61)])
@pytest.mark.parametrize("gap", [0.05e-3, 1e-6, 0.0])
def test_tubes_almost_touching_keep_their_areas_and_the_filler_between(cells, gap):
    """Two 12.7 mm tubes with 0.8 mm walls 0.05 mm apart and closer, in cells from 5 to 0.4 mm."""
    radius, wall, r = 6.35e-3, 0.8e-3, 83.15e-3
    pitch = 2 * radius + gap
    grid = uniform_grid((76.5e-3, 93e-3), (-14e-3, 14e-3), cells)
    painted = [Painted("filler", Rectangle(76.5e-3, 93e-3, -14e-3, 14e-3))]
    for n, z in enumerate((-0.5 * pitch, 0.5 * pitch)):
        painted += [Painted(f"tube {n}", Disc(r, z, radius)), Painted(f"bore {n}", Disc(r, z, radius - wall), False)]
    pieces = cut_grid(grid, painted)
    ring = math.pi * (radius**2 - (radius - wall) ** 2) * 2 * math.pi * r
    whole = math.pi * (93e-3**2 - 76.5e-3**2) * 28e-3
    for n in range(2):
        assert content(pieces, f"tube {n}") == pytest.approx(ring, rel=1e-8)
        bore = pieces.surfaces.area[pieces.boundary_surfaces(f"bore {n}")].sum()
        assert bore == pytest.approx(2 * math.pi * (radius - wall) * 2 * math.pi * r, rel=1e-4)
    disc = math.pi * radius**2 * 2 * math.pi * r
    assert content(pieces, "filler") == pytest.approx(whole - 2 * disc, rel=1e-8)
    assert interface(pieces, "tube 0", "tube 1") == 0


@given(strip=st.floats(0.01, 0.4), radius=st.floats(0.42, 0.9))
def test_disc_clipped_by_a_later_rectangle_loses_its_segment(strip, radius):
    """A tube flattened on the wall: the chord is the contact strip, the segment belongs to the wall."""
    half = 0.5 * strip
    centre = 1.5 + math.sqrt(radius**2 - half**2)
    grid = Grid(np.array([1.0, 1.25, 1.5, *np.linspace(1.7, 3.5, 12)]), np.linspace(-1.0, 1.0, 14), "plane")
    painted = [
        Painted("filler", Rectangle(1.0, 3.5, -1.0, 1.0)),
        Painted("tube", Disc(centre, 0.0, radius)),
        Painted("wall", Rectangle(1.0, 1.5, -1.0, 1.0)),
    ]
    pieces = cut_grid(grid, painted)
    opening = 2 * math.asin(half / radius)
    segment = 0.5 * radius**2 * (opening - math.sin(opening))
    assert content(pieces, "wall") == pytest.approx(1.0, abs=1e-13)
    assert content(pieces, "tube") == pytest.approx(math.pi * radius**2 - segment, abs=EXACT)
    assert interface(pieces, "tube", "wall") == pytest.approx(strip, abs=1e-9)
    assert interface(pieces, "tube", "filler") == pytest.approx(radius * (2 * math.pi - opening), abs=1e-5)
    assert interface(pieces, "filler", "wall") == pytest.approx(2.0 - strip, abs=1e-9)


def test_disc_painted_over_a_later_rectangle_inside_an_earlier_disc_keeps_both():
    """Disc, then a rectangle over its right half, then a small disc over both."""
    painted = [
        box(),
        Painted("large", Disc(2.0, 0.0, 0.7)),
        Painted("plate", Rectangle(2.0, 3.0, -1.0, 1.0)),
        Painted("small", Disc(2.0, 0.0, 0.3)),
    ]
    pieces = cut(painted, cells=(12, 11))
    half = 0.5 * math.pi
    assert content(pieces, "small") == pytest.approx(math.pi * 0.09, abs=EXACT)
    assert content(pieces, "large") == pytest.approx(half * (0.49 - 0.09), abs=EXACT)
    assert content(pieces, "plate") == pytest.approx(2.0 - half * 0.09, abs=EXACT)
    assert interface(pieces, "small", "large") == pytest.approx(half * 0.6, abs=1e-5)
    assert interface(pieces, "small", "plate") == pytest.approx(half * 0.6, abs=1e-5)
    assert interface(pieces, "large", "plate") == pytest.approx(2 * (0.7 - 0.3), abs=1e-9)


def test_disc_that_reaches_beyond_the_grid_is_cut_by_its_edge():
    """Half a disc on the edge: half the area, and its diameter on the side."""
    pieces = cut([box(), Painted("disc", Disc(LOW, 0.0, 0.55))])
    assert content(pieces, "disc") == pytest.approx(0.5 * math.pi * 0.55**2, abs=EXACT)
    on = pieces.boundary_surfaces("r_min")
    side = pieces.surfaces.area[on][pieces.region[pieces.surface_piece[on]] == 1].sum()
    assert side == pytest.approx(1.1, abs=1e-12)


# -- refusals


@pytest.mark.parametrize(
    ("regions", "reason"),
    [
        ([box(), Painted("a", Disc(1.8, 0, 0.3)), Painted("b", Disc(2.2, 0, 0.3))], "'a' and 'b'.*cross"),
        ([box(), Painted("plate", Rectangle(1.0, 2.013, -1.0, 1.0))], "'plate'.*2.013.*grid face"),
        ([Painted("half", Rectangle(1.0, 2.0, -1.0, 1.0))], "nothing is painted"),
        ([box(), box()], "names must differ"),
    ],
)
def test_sections_that_cannot_be_cut_are_refused(regions, reason):
    with pytest.raises(GeometryError, match=reason):
        cut(regions)
