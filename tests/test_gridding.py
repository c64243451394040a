"""The grid of a section: faces where they must be, equal turns alike, nested refinement."""

import itertools
import math

import numpy as np
import pytest
from heaters import CASES, FOLDERS, NO_COIL, after, edited

from annulus.case import load
from annulus.heater.gridding import (
    ACROSS,
    BLOCKS_WITHOUT_COIL,
    CELLS_IN_LAYER,
    CELLS_IN_SHEET,
    block_edges,
    make_grid,
)
from annulus.heater.model import prepare
from annulus.heater.steady import DEFAULT_FINENESS
from annulus.section import lay_out
from annulus.shapes import Rectangle

# no coil, gaps that differ, or voids at some turns only
UNEVEN = ("verify-composite-cylinder", "greenhouse", "packing-void")

PACKED = 'packing = "vibrated"'
GAP = 'gap = "0.5 mm"'


def distance_to_face(face, position):
    return np.abs(face - position).min()


def section_of(*changes):
    return lay_out(edited(*changes))


def blocks(section, grid):
    """Cell heights of each turn's block."""
    edges = block_edges(section)
    cuts = [int(np.argmin(np.abs(grid.z_face - edge))) for edge in edges]
    heights = np.diff(grid.z_face)
    return [heights[a:b] for a, b in itertools.pairwise(cuts)]


VOIDS = (
    after(
        PACKED,
        'settled_top = "7 mm"\nstrip_under_tubes = "0.3 mm"\n'
        'voids = [{ r_min = "3 mm", r_max = "9 mm", z_min = "21 mm", z_max = "33.3 mm" }]',
    ),
)


@pytest.mark.parametrize(
    "section",
    [*(lay_out(load(CASES / name)) for name in FOLDERS), section_of(*VOIDS), section_of(*NO_COIL)],
    ids=[*FOLDERS, "voids", "no coil"],
)
def test_every_side_of_every_layer_and_void_is_a_face(section):
    grid = make_grid(section)
    for region in section.regions:
        if isinstance(region.shape, Rectangle):
            for face, sides in (
                (grid.r_face, (region.shape.r_min, region.shape.r_max)),
                (grid.z_face, (region.shape.z_min, region.shape.z_max)),
            ):
                # what the cutter lets pass: 1e-9 of the extent
                assert all(distance_to_face(face, side) <= 1e-9 * np.ptp(face) for side in sides), region.name


def test_grid_spans_exactly_the_section():
    section = section_of()
    grid = make_grid(section)
    assert (grid.r_face[0], grid.r_face[-1]) == (section.r_min, section.r_max)
    assert (grid.z_face[0], grid.z_face[-1]) == (section.z_min, section.z_max)


@pytest.mark.parametrize("name", [name for name in FOLDERS if name not in UNEVEN])
def test_equal_turns_have_equal_cells(name):
    section = lay_out(load(CASES / name))
    first, *others = blocks(section, make_grid(section))
    for other in others:
        # round-off of positions up to a metre, against cells of a tenth of a millimetre
        np.testing.assert_allclose(other, first, rtol=1e-9)


def test_cells_of_a_turn_are_the_same_above_and_below_its_middle():
    section = section_of()
    for heights in blocks(section, make_grid(section)):
        np.testing.assert_allclose(heights, heights[::-1], rtol=1e-9)


@pytest.mark.parametrize("fineness", [2, 3])
def test_every_face_is_a_face_of_the_finer_grid(fineness):
    section = section_of(*VOIDS)
    coarse, fine = make_grid(section), make_grid(section, fineness)
    assert fine.shape == (fineness * coarse.shape[0], fineness * coarse.shape[1])
    np.testing.assert_allclose(fine.r_face[::fineness], coarse.r_face, rtol=1e-12)
    np.testing.assert_allclose(fine.z_face[::fineness], coarse.z_face, rtol=1e-12, atol=1e-15)


def test_blocks_meet_half_way_between_turns():
    edges = block_edges(section_of())
    np.testing.assert_allclose(edges, [0.0, 0.03, 0.06, 0.09, 0.12], rtol=1e-12)


def test_without_a_coil_the_height_is_cut_into_equal_slices():
    section = section_of(*NO_COIL)
    np.testing.assert_allclose(block_edges(section), np.linspace(0, 0.12, BLOCKS_WITHOUT_COIL + 1), rtol=1e-12)
    grid = make_grid(section)
    np.testing.assert_allclose(np.diff(grid.z_face), 0.12 / BLOCKS_WITHOUT_COIL, rtol=1e-9)


def test_layers_have_at_least_their_number_of_cells():
    section = section_of()
    face = make_grid(section).r_face
    cells = {
        region.role: int(((face > region.shape.r_min + 1e-9) & (face < region.shape.r_max - 1e-9)).sum()) + 1
        for region in section.regions
        if region.role in ("flue", "shroud", "insulation")
    }
    wanted = {"flue": CELLS_IN_SHEET, "shroud": CELLS_IN_SHEET, "insulation": CELLS_IN_LAYER}
    for role, least in wanted.items():
        # a finer neighbour's wish holds at the common face and may add a cell
        assert least <= cells[role] <= least + 1, role


def test_cells_are_finest_where_heat_crosses():
    section = section_of()
    face = make_grid(section).r_face
    size = np.diff(face)
    in_cavity = (face[:-1] >= section.flue_radius - 1e-9) & (face[1:] <= section.cavity_radius + 1e-9)
    assert size[in_cavity][0] == size[in_cavity].min()  # at the flue wall
    assert size[in_cavity][0] <= 0.5e-3 * (1 + 1e-9)  # a gap holds one cell at least
    assert size[in_cavity].max() <= ACROSS * 15e-3 * 1.01


@pytest.mark.parametrize("strip", ["0.2 mm", "0.5 mm"])
def test_a_contact_strip_has_cells_of_its_own(strip):
    section = section_of((GAP, f'gap = "0 mm"\ncontact_strip = "{strip}"'))
    grid = make_grid(section, DEFAULT_FINENESS)
    width = float(strip.split()[0]) * 1e-3
    for turn in section.turns:
        beside = np.searchsorted(grid.z_face, [turn.z - width / 2, turn.z + width / 2])
        assert beside[1] - beside[0] >= 2  # faces inside the strip, so at least one whole cell


@pytest.mark.parametrize("gap", ["0.05 mm", "0.001 mm"])
def test_a_gap_thinner_than_a_cell_still_parts_tube_and_flue(gap):
    """However thin, the gap holds filler: no piece of tube touches a piece of flue."""
    model = prepare(edited((GAP, f'gap = "{gap}"')), DEFAULT_FINENESS)
    assert contact_area(model, "tube", "flue") == 0.0
    assert contact_area(model, "filler", "flue") == pytest.approx(2 * math.pi * 0.077 * 0.12, rel=1e-9)


def test_a_touching_tube_meets_the_flue_on_its_strip():
    model = prepare(edited((GAP, 'gap = "0 mm"\ncontact_strip = "0.4 mm"')), DEFAULT_FINENESS)
    strip = 4 * 2 * math.pi * 0.077 * 0.4e-3
    assert contact_area(model, "tube", "flue") == pytest.approx(strip, rel=1e-9)
    whole = 2 * math.pi * 0.077 * 0.12
    assert contact_area(model, "filler", "flue") == pytest.approx(whole - strip, rel=1e-9)


def contact_area(model, one, other):
    roles = np.array([region.role for region in model.section.regions])[model.pieces.region]
    a, b = roles[model.pieces.link_a], roles[model.pieces.link_b]
    return float(model.pieces.links.area[((a == one) & (b == other)) | ((a == other) & (b == one))].sum())


@pytest.mark.parametrize(
    "void",
    [
        'r_min = "0 mm", r_max = "23.4999999 mm", z_min = "20 mm", z_max = "60 mm"',  # 0.1 nm short of the shroud
        'r_min = "0 mm", r_max = "23.49999 mm", z_min = "20 mm", z_max = "60 mm"',
        'r_min = "0 mm", r_max = "23.5 mm", z_min = "20 mm", z_max = "119.99999 mm"',
        'r_min = "0 mm", r_max = "10 mm", z_min = "29.999999 mm", z_max = "60.000001 mm"',
    ],
)
def test_a_void_may_end_a_hair_beside_another_boundary(void):
    model = prepare(edited(after(PACKED, f"voids = [{{ {void} }}]")), DEFAULT_FINENESS)
    volume = model.pieces.volume.sum()
    layers = math.pi * (model.section.r_max**2 - 0.075**2) * 0.12
    bores = 4 * 2 * math.pi**2 * 0.085 * 0.0065**2  # Pappus
    assert volume == pytest.approx(layers - bores, rel=1e-10)
