"""Heat stripes: lines by hand, by symmetry, and their totals against the flows of the field."""

import math
import time
from itertools import pairwise

import numpy as np
import pytest

from annulus.conduction.boundaries import Film, Held
from annulus.conduction.contacts import R_FACE, Z_FACE
from annulus.conduction.grid import Grid, graded_faces, uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import temperature_at
from annulus.conduction.steady import Field, solve_steady
from annulus.conduction.stripe_body import bound_body
from annulus.conduction.stripe_body import flows_of as all_flows
from annulus.conduction.stripe_kernels import leave_cell, walk_cells
from annulus.conduction.stripes import Band, Stripes, trace_stripes
from annulus.errors import InputError
from annulus.shapes import Disc, Rectangle

MM = 1e-3


def coil_section(cell: float, filler: float) -> Field:
    """Eight copper tubes in filler round a flue, insulated: layers and films of a wrapped flue. `cell` in [m]."""
    height = 136 * MM

    def size(r):
        return np.where(r < 93 * MM, cell, np.minimum(cell + 0.2 * np.abs(r - 94 * MM), 3 * MM))

    r_face = graded_faces([75 * MM, 76.5 * MM, 93 * MM, 94 * MM, 124.5 * MM, 125 * MM], size)
    z_face = np.linspace(0, height, 8 * round(17 * MM / cell) + 1)
    layers = {"filler": (76.5, 93), "flue": (75, 76.5), "shroud": (93, 94), "wool": (94, 124.5), "jacket": (124.5, 125)}
    painted = {k: Painted(k, Rectangle(a * MM, b * MM, 0, height)) for k, (a, b) in layers.items()}
    tubes = []
    for i in range(8):
        z = (8.5 + 17 * i) * MM
        tubes += [Painted(f"tube{i}", Disc(83.15 * MM, z, 6.35 * MM))]
        tubes += [Painted(f"bore{i}", Disc(83.15 * MM, z, 5.55 * MM), False)]
    regions = [painted["filler"], *tubes, *(painted[k] for k in ("flue", "shroud", "wool", "jacket"))]
    k = {"filler": filler, "flue": 45.0, "shroud": 45.0, "jacket": 45.0, "wool": 0.08}
    films = {"r_min": Film(30.0, 550.0), "r_max": Film(10.0, 20.0)} | {f"bore{i}": Film(2000.0, 40.0) for i in range(8)}
    return solve_steady(cut_grid(Grid(r_face, z_face), regions), k | {f"tube{i}": 390.0 for i in range(8)}, films)


BOTH_WET = (Film(500.0, 300.0), Film(500.0, 310.0))


def two_tubes(cells: int = 40, water=BOTH_WET, room: float = 280.0, ends=None) -> Field:
    """Two copper tubes 0.05 mm apart in a plane box of sand, heated from one side. [K]"""
    radius = 6 * MM
    regions = [Painted("sand", Rectangle(0, 20 * MM, 0, 30 * MM))]
    for n, z in enumerate((15 * MM - radius - 0.025 * MM, 15 * MM + radius + 0.025 * MM)):
        regions += [Painted(f"tube{n}", Disc(8 * MM, z, radius))]
        regions += [Painted(f"bore{n}", Disc(8 * MM, z, radius - 0.8 * MM), False)]
    grid = uniform_grid((0, 20 * MM), (0, 30 * MM), (cells, 3 * cells // 2), "plane")
    films = {"r_min": Film(50.0, 800.0), "r_max": Film(10.0, room)}
    films |= {f"bore{n}": film for n, film in enumerate(water) if film is not None}
    if ends is not None:
        films |= {"z_min": ends, "z_max": ends}
    return solve_steady(cut_grid(grid, regions), {"sand": 1.0, "tube0": 400.0, "tube1": 400.0}, films)


def touching_coil(cell: float, strip: float) -> Field:
    """Three tubes that touch the flue wall over a strip [m], in air, uninsulated outside the shroud."""
    radius, wall = 6.35 * MM, 76.5 * MM
    r = wall + math.sqrt(radius**2 - strip**2 / 4)
    height = 3 * 17 * MM
    z_face = np.linspace(0, height, 3 * round(17 * MM / cell) + 1)
    r_face = graded_faces([75 * MM, wall, 93 * MM, 94 * MM], lambda x: np.where(x < wall, 0.5 * MM, cell))
    regions = [Painted("air", Rectangle(wall, 93 * MM, 0, height))]
    for i in range(3):
        regions += [Painted(f"tube{i}", Disc(r, (i + 0.5) * 17 * MM, radius))]
        regions += [Painted(f"bore{i}", Disc(r, (i + 0.5) * 17 * MM, radius - 0.8 * MM), False)]
    regions += [Painted("flue", Rectangle(75 * MM, wall, 0, height))]
    regions += [Painted("shroud", Rectangle(93 * MM, 94 * MM, 0, height))]
    films = {"r_min": Film(30.0, 800.0), "r_max": Film(10.0, 290.0)} | {
        f"bore{i}": Film(2000.0, 310.0) for i in range(3)
    }
    k = {"air": 0.03, "flue": 45.0, "shroud": 45.0} | {f"tube{i}": 390.0 for i in range(3)}
    contacts = {(f"tube{i}", "flue"): 1e-4 for i in range(3)}
    return solve_steady(cut_grid(Grid(r_face, z_face), regions), k, films, contacts)


TWO, THREE, EIGHT = ([f"tube{n}" for n in range(count)] for count in (2, 3, 8))
FIELDS = {
    "eight tubes, sand": (lambda: coil_section(0.5 * MM, 0.3), EIGHT, 9.0),
    "eight tubes, graphite, coarse": (lambda: coil_section(1.0 * MM, 2.0), EIGHT, 9.0),
    "two tubes": (two_tubes, TWO, 60.0),
    "two tubes, four cells wide": (lambda: two_tubes(4), TWO, 60.0),
    "two tubes, seven cells wide": (lambda: two_tubes(7), TWO, 60.0),
    "two tubes, cold ends": (lambda: two_tubes(ends=Film(20.0, 280.0)), TWO, 60.0),
    "two tubes, hot room": (lambda: two_tubes(room=900.0), TWO, 60.0),
    "one tube dry": (lambda: two_tubes(water=(None, Film(500.0, 300.0))), TWO, 20.0),
    "both tubes dry": (lambda: two_tubes(water=(None, None)), TWO, 2.0),
    "touching over 0.2 mm": (lambda: touching_coil(0.5 * MM, 0.2 * MM), THREE, 10.0),
    "touching over 4 mm": (lambda: touching_coil(1.0 * MM, 4 * MM), THREE, 10.0),
}


@pytest.fixture(scope="module", params=FIELDS)
def traced(request) -> tuple[Field, list[str], Stripes]:
    make, sinks, watts = FIELDS[request.param]
    field = make()
    return field, sinks, trace_stripes(field, sinks, watts)


def flows_of(field: Field, sinks: list[str]) -> dict[str, tuple[float, float]]:
    """Heat into and out of the body outside the sinks by place, summed over links and surfaces alone. [W]"""
    p = field.pieces
    found: dict[str, list[float]] = {}
    inside = {p.region_index(s): s for s in sinks}
    for flow, a, b in zip(field.link_flow, p.region[p.link_a], p.region[p.link_b], strict=True):
        if (a in inside) != (b in inside):
            into = flow if a in inside else -flow
            found.setdefault(inside.get(a) or inside[b], []).append(into)
    for flow, region, where in zip(field.surface_flow, p.region[p.surface_piece], p.surface_boundary, strict=True):
        if region not in inside:
            found.setdefault(p.boundaries[where], []).append(flow)
    return {k: (sum(x for x in v if x > 0), -sum(x for x in v if x < 0)) for k, v in found.items()}


def all_lines(stripes: Stripes) -> list[np.ndarray]:
    return list({id(line): line for band in stripes.bands for line in (band.line_a, band.line_b)}.values())


def crossing_depth(one: np.ndarray, other: np.ndarray) -> float:
    """How far segments of two polylines reach through each other. [m]"""

    def side(line, points):  # signed distance of points from each segment's straight line
        d = np.diff(line, axis=0)
        away = points[None] - line[:-1, None]
        return (d[:, :1] * away[..., 1] - d[:, 1:] * away[..., 0]) / np.maximum(np.hypot(*d.T), 1e-300)[:, None]

    here, there = side(one, other), side(other, one).T
    crosses = (here[:, :-1] * here[:, 1:] < 0) & (there[:-1] * there[1:] < 0)
    depth = np.min(np.abs([here[:, :-1], here[:, 1:], there[:-1], there[1:]]), axis=0)
    return float((depth * crosses).max())


def test_heat_leaves_a_saddle_cell_as_brackets_close():
    """By hand: walking round, 1 W enters below, 3 leave right, 4 enter on top, 2 leave left."""
    begin = np.arange(4.0)
    order, share, level, unclosed = walk_cells(np.array([0, 4]), begin, begin + 1, np.array([-1.0, 3.0, -4.0, 2.0]))
    # values along the walk: 0, -1, 2, -2, 0; the walk begins behind its greatest, at the top
    assert order.tolist() == [2, 3, 0, 1]
    assert share.tolist() == [-4, 2, -1, 3] and level.tolist() == [0, -4, -2, -3]
    assert unclosed == 0.0
    whole = np.array([[Z_FACE, 1, -1, 0, 4], [R_FACE, 1, -1, 0, 4], [Z_FACE, 0, -1, 0, 4], [R_FACE, 0, -1, 0, 4]])
    # from the top: its first 2 W, at its right end, go right; its last 2 W, at its left end, go left
    assert leave_cell(0, 0.125, whole, share, level) == (3, pytest.approx(2.5 / 3))
    assert leave_cell(0, 0.875, whole, share, level) == (1, pytest.approx(0.25))
    # from below: all of it goes right, nearest to its own corner
    assert leave_cell(2, 0.5, whole, share, level) == (3, pytest.approx(0.5 / 3))


def test_what_one_part_of_a_cell_has_too_much_leaves_from_the_other():
    """Two parts, walked one by one: 3 W enter and 2 leave here, 1 enters and 2 leave there."""
    begin, end = np.array([0.0, 0.5, 2.0, 2.5]), np.array([0.5, 0.0, 2.5, 2.0])
    _, share, level, unclosed = walk_cells(np.array([0, 4]), begin, end, np.array([-3.0, 2.0, -1.0, 2.0]))
    assert unclosed == 0.0
    whole = np.array([[R_FACE, 0, -1, 0, 4]] * 4)
    assert leave_cell(0, 0.5, whole, share, level) == (1, pytest.approx(0.75))
    assert leave_cell(0, 0.1, whole, share, level) == (3, pytest.approx(0.85))
    assert leave_cell(2, 0.5, whole, share, level) == (3, pytest.approx(0.25))


def test_stripes_of_a_plane_slab_are_straight_and_equally_wide():
    grid = uniform_grid((0, 1), (0, 2), (7, 9), "plane")
    field = solve_steady(
        cut_grid(grid, [Painted("slab", Rectangle(0, 1, 0, 2))]),
        {"slab": 3.0},
        {"r_min": Held(400.0), "r_max": Held(300.0)},
    )
    stripes = trace_stripes(field, [], 75.0)  # 3 * 100 * 2 = 600 W in eight bands
    assert [band.watts for band in stripes.bands] == pytest.approx([75.0] * 8)
    assert stripes.totals == {("r_min", "r_max"): pytest.approx(600.0)}
    for n, band in enumerate(stripes.bands):
        assert np.allclose(band.line_a[:, 1], n / 4, atol=1e-8) and np.allclose(
            band.line_b[:, 1], (n + 1) / 4, atol=1e-8
        )
        assert band.line_a[0, 0] == 0.0 and band.line_a[-1, 0] == 1.0


def test_stripes_of_a_layered_cylinder_are_radial():
    grid = Grid(graded_faces([0.1, 0.11, 0.15], lambda r: 0.004 + 0 * r), np.linspace(0, 0.3, 14))
    regions = [Painted("wool", Rectangle(0.1, 0.15, 0, 0.3)), Painted("steel", Rectangle(0.1, 0.11, 0, 0.3))]
    films = {"r_min": Film(30.0, 600.0), "r_max": Film(10.0, 300.0)}
    stripes = trace_stripes(solve_steady(cut_grid(grid, regions), {"wool": 0.08, "steel": 45.0}, films), [], 10.0)
    heights = [band.line_a[0, 1] for band in stripes.bands]
    assert np.diff(heights) == pytest.approx(np.full(len(heights) - 1, heights[1] - heights[0]), abs=1e-9)
    assert all(np.ptp(line[:, 1]) < 1e-8 for line in all_lines(stripes))


def test_stripes_along_the_axis_share_out_the_area_of_a_ring():
    """Axial flow in a ring: lines of equal heat lie at equal steps of r^2."""
    grid = uniform_grid((0.0, 0.2), (0, 0.1), (6, 5))
    field = solve_steady(
        cut_grid(grid, [Painted("rod", Rectangle(0, 0.2, 0, 0.1))]),
        {"rod": 50.0},
        {"z_min": Held(400.0), "z_max": Held(300.0)},
    )
    total = 50.0 * math.pi * 0.2**2 * 100 / 0.1
    stripes = trace_stripes(field, [], total / 4)
    radii = sorted(line[0, 0] for line in all_lines(stripes))
    assert np.square(radii) == pytest.approx(0.04 * np.arange(5) / 4, abs=1e-9)
    assert all(np.ptp(line[:, 0] ** 2) < 1e-9 for line in all_lines(stripes))


def test_totals_agree_with_the_flows_of_the_field(traced):
    """By source and by destination: to what parting lines and dropped sheaves leave open, far under the 1 % needed."""
    field, sinks, stripes = traced
    flows = flows_of(field, sinks)
    every = sum(into for into, _ in flows.values())
    for place, (into, out) in flows.items():
        given = sum(watts for (source, _), watts in stripes.totals.items() if source == place)
        taken = sum(watts for (_, destination), watts in stripes.totals.items() if destination == place)
        assert given == pytest.approx(into, abs=1e-6 * every)
        assert taken == pytest.approx(out, abs=1e-6 * every)
    assert 0 <= stripes.lost_watts < 1e-6 * every
    assert sum(stripes.totals.values()) + stripes.lost_watts == pytest.approx(every, rel=1e-9)


def test_no_two_lines_cross(traced):
    """Beyond 2 um: lines that slide along a rim do so on a polygon of four sides in each cell."""
    field, _, stripes = traced
    grid = field.pieces.grid
    cell = max(np.diff(grid.r_face).max(), np.diff(grid.z_face).max())
    lines = all_lines(stripes)[:80]
    slack = max(2e-6, 2 * (cell / 4) ** 2 / (8 * 6 * MM))  # the sagitta of one side of that polygon, twice
    for n, line in enumerate(lines):
        others = lines[n + 1 :]
        assert all(crossing_depth(line, other) < slack for other in others)


def test_the_crossing_check_sees_a_crossing():
    x = np.linspace(0, 1, 5)
    assert crossing_depth(np.stack([x, x], 1), np.stack([x, 0.9 - x], 1)) > 0.05
    assert crossing_depth(np.stack([x, x], 1), np.stack([x, x + 0.1], 1)) == 0.0


def test_lines_run_downhill_in_temperature(traced):
    """Up to 1 % of the span: piecewise linear temperatures jump a little from cell to cell."""
    field, sinks, stripes = traced
    discs = [field.pieces.regions[field.pieces.region_index(s)].shape for s in sinks]
    for line in all_lines(stripes)[:60]:
        step = np.hypot(*np.diff(line, axis=0).T)
        middle = 0.5 * (line[1:] + line[:-1])
        apart = np.min([np.hypot(middle[:, 0] - d.r, middle[:, 1] - d.z) / d.radius for d in discs], axis=0)
        middle = middle[(step > 1e-7) & (apart > 1 + 1e-6)]
        if len(middle):
            rise = np.diff(temperature_at(field, *middle.T))
            assert np.all(rise < 0.01 * np.ptp(field.temperature))


def test_bands_are_full_but_for_the_last_before_a_parting_line(traced):
    _, _, stripes = traced
    full = max(band.watts for band in stripes.bands)
    for band, following in pairwise(stripes.bands):
        if band.line_b is following.line_a:
            assert band.watts == pytest.approx(full)
        assert 0 < band.watts <= full * (1 + 1e-5)


def area_of(band: Band, discs: dict[str, Disc]) -> float:
    """Area between the lines of a band, closed along the rims that it begins or ends on. [m2]"""

    def rim(name, start, end):
        if name not in discs:
            return np.empty((0, 2))
        disc = discs[name]
        first, last = (math.atan2(p[1] - disc.z, p[0] - disc.r) for p in (start, end))
        angle = first - np.linspace(0, (first - last) % (2 * math.pi), 400)  # clockwise: the band is on the left hand
        return np.stack([disc.r + disc.radius * np.cos(angle), disc.z + disc.radius * np.sin(angle)], axis=1)

    there = rim(band.destination, band.line_a[-1], band.line_b[-1])
    back = rim(band.source, band.line_b[0], band.line_a[0])
    x, y = np.concatenate([band.line_a, there, band.line_b[::-1], back]).T
    return abs(0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))


@pytest.mark.parametrize("name", ["eight tubes, sand", "eight tubes, graphite, coarse", "two tubes", "both tubes dry"])
def test_bands_fill_the_section_without_gaps(name):
    """Areas of bands and sinks add up to the section: 0.2 % for corners that chords cut within cells."""
    make, sinks, watts = FIELDS[name]
    field = make()
    regions = field.pieces.regions
    discs = {s: regions[field.pieces.region_index(s)].shape for s in sinks}
    covered = sum(area_of(band, discs) for band in trace_stripes(field, sinks, watts).bands)
    grid = field.pieces.grid
    section = np.ptp(grid.r_face) * np.ptp(grid.z_face)
    assert covered + sum(math.pi * d.radius**2 for d in discs.values()) == pytest.approx(section, rel=2e-3)


def test_equal_tubes_get_equal_stripes_and_heat_bypasses_them_between():
    field = coil_section(0.5 * MM, 0.3)
    totals = trace_stripes(field, EIGHT, 9.0).totals
    taken = [sum(w for (_, to), w in totals.items() if to == tube) for tube in EIGHT]
    assert np.ptp(taken) < 1e-5 * taken[0]
    into_tubes = -sum(field.heat_into(f"bore{i}") for i in range(8))
    passed_on = sum(w for (source, _), w in totals.items() if source in EIGHT)
    assert sum(taken) - passed_on == pytest.approx(into_tubes, rel=1e-6)
    past = totals["r_min", "r_max"]
    assert 0 < past < -field.heat_into("r_max")
    assert past + passed_on == pytest.approx(-field.heat_into("r_max"), rel=1e-5)


def test_a_dry_tube_hands_on_all_it_takes():
    """Though what it diverts and what it gives cancel in the count of lines that pass on either side."""
    stripes = trace_stripes(two_tubes(water=(None, None)), TWO, 2.0)
    for tube in TWO:
        taken = sum(w for (_, to), w in stripes.totals.items() if to == tube)
        given = sum(w for (source, _), w in stripes.totals.items() if source == tube)
        assert taken > 10.0 and given == pytest.approx(taken, rel=1e-6)


def test_totals_do_not_depend_on_the_width_of_stripes():
    field = two_tubes(ends=Film(20.0, 280.0))
    fine, coarse = trace_stripes(field, TWO, 3.0), trace_stripes(field, TWO, 500.0)
    assert fine.totals.keys() == coarse.totals.keys()
    for key, watts in fine.totals.items():
        assert coarse.totals[key] == pytest.approx(watts, abs=1e-5)


def test_nothing_is_traced_inside_a_sink(traced):
    """Save where a layer painted later covers its disc, as the flue wall does."""
    field, sinks, stripes = traced
    wall = next((x.shape.r_max for x in field.pieces.regions if x.name == "flue"), 0.0)
    for sink in sinks:
        disc = field.pieces.regions[field.pieces.region_index(sink)].shape
        for line in all_lines(stripes):
            beyond_wall = line[line[:, 0] > wall]
            apart = np.hypot(beyond_wall[:, 0] - disc.r, beyond_wall[:, 1] - disc.z)
            assert np.all(apart > disc.radius * (1 - 1e-6))


def test_cells_of_the_body_close_to_the_residual(traced):
    field, sinks, _ = traced
    body = bound_body(field, sinks, all_flows(field))
    assert body.unclosed < 1e-7 * np.abs(field.surface_flow).sum()


def test_a_hundred_stripes_of_forty_thousand_pieces_take_under_a_second():
    field = coil_section(0.25 * MM, 0.3)
    assert field.pieces.count > 40_000
    trace_stripes(field, EIGHT, 100.0)
    begun = time.perf_counter()
    stripes = trace_stripes(field, EIGHT, 9.0)
    assert time.perf_counter() - begun < 1.0
    assert len(stripes.bands) > 100


@pytest.mark.parametrize(
    ("sinks", "watts", "message"),
    [
        (["tube9"], 10.0, "no region"),
        (["sand"], 10.0, "must be a disc"),
        (["tube0", "tube0"], 10.0, "named once"),
        (["tube0", "bore0"], 10.0, "lies inside"),
        (TWO, 0.0, "positive"),
        (TWO, math.nan, "positive"),
        (TWO, 1e-6, "no more than"),
    ],
)
def test_unfit_requests_are_refused(sinks, watts, message):
    with pytest.raises(InputError, match=message):
        trace_stripes(two_tubes(10), sinks, watts)


def test_a_body_that_releases_heat_is_refused():
    pieces = cut_grid(uniform_grid((0, 1), (0, 1), (4, 4), "plane"), [Painted("slab", Rectangle(0, 1, 0, 1))])
    films = {"r_min": Held(400.0), "r_max": Held(300.0)}
    field = solve_steady(pieces, {"slab": 1.0}, films, source=lambda r, z: 50.0 + 0 * r)
    with pytest.raises(InputError, match="heat released"):
        trace_stripes(field, [], 5.0)
