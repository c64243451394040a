"""Shapes, contacts and amounts of a section."""

import itertools
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from annulus.case import load, loads, starter, tube_centre
from annulus.materials import find
from annulus.section import lay_out
from annulus.section.rings import disc_volume, rectangle_volume, union
from annulus.shapes import Disc, Rectangle

CASES = Path(__file__).parents[1] / "cases"


def edited(*changes):
    text = starter()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return lay_out(loads(text))


def test_whole_disc_has_the_volume_of_pappus():
    # Pappus's second theorem: 2 pi r_c * pi R^2
    disc = Disc(0.0845, 0.015, 0.0075)
    around = Rectangle(0.05, 0.12, -0.1, 0.1)
    assert disc_volume(disc, around) == pytest.approx(2 * math.pi**2 * 0.0845 * 0.0075**2, rel=1e-12)


def test_half_disc_has_the_volume_of_pappus():
    # centroid of a half disc lies 4 R / (3 pi) from its straight side
    R, r = 0.0075, 0.0845
    outer_half = disc_volume(Disc(r, 0.0, R), Rectangle(r, 0.2, -0.1, 0.1))
    centroid = r + 4 * R / (3 * math.pi)
    assert outer_half == pytest.approx(2 * math.pi * centroid * math.pi * R**2 / 2, rel=1e-12)


discs = st.builds(Disc, st.floats(0.05, 0.1), st.floats(-0.01, 0.01), st.floats(0.001, 0.02))
cut = st.floats(-0.03, 0.03)


@given(discs, cut, cut)
def test_cutting_a_disc_in_four_keeps_its_volume(disc, dr, dz):
    r, z = disc.r + dr, dz
    quarters = [Rectangle(r0, r1, z0, z1) for r0, r1 in ((0.0, r), (r, 1.0)) for z0, z1 in ((-1.0, z), (z, 1.0))]
    whole = 2 * math.pi**2 * disc.r * disc.radius**2
    assert sum(disc_volume(disc, q) for q in quarters) == pytest.approx(whole, rel=1e-9)


def test_disc_in_a_small_rectangle_agrees_with_a_fine_sum():
    disc, inside = Disc(0.08, 0.0, 0.01), Rectangle(0.0715, 0.083, -0.004, 0.0095)
    n = 20000
    width = (inside.r_max - inside.r_min) / n
    total = 0.0
    for i in range(n):
        r = inside.r_min + (i + 0.5) * width
        half = math.sqrt(max(disc.radius**2 - (r - disc.r) ** 2, 0.0))
        total += 2 * math.pi * r * max(min(half, inside.z_max) - max(-half, inside.z_min), 0.0) * width
    # midpoint rule with a kink where the circle meets a side: error of the order of width^1.5
    assert disc_volume(disc, inside) == pytest.approx(total, rel=1e-6)


def test_union_counts_overlap_once():
    inside = Rectangle(0.0, 10.0, 0.0, 10.0)
    shapes = [Rectangle(1, 3, 1, 3), Rectangle(2, 4, 2, 5), Rectangle(1, 4, 2.5, 2.75), Rectangle(8, 12, 9, 11)]
    pieces = union(shapes, inside)
    area = sum((p.r_max - p.r_min) * (p.z_max - p.z_min) for p in pieces)
    # 4 and 6 share 1; the third lies inside these two; of the fourth only 2 x 1 is inside
    assert area == pytest.approx(4 + 6 - 1 + 2 * 1)


def test_bath_house_coil_takes_15_9_metres_wound():
    # trade scenario: 30 turns at 30 mm pitch of 15 mm tube on a 154 mm flue, 15.9 m wound, 25 m bought
    bill = lay_out(loads(starter())).bill
    assert bill.tube_length_wound == pytest.approx(15.9, abs=0.06)
    assert bill.tube_length_wound == pytest.approx(30 * math.hypot(math.pi * 0.169, 0.03), rel=1e-5)
    assert bill.tube_length_to_buy == bill.tube_length_wound + 4
    assert bill.stock_coil == "25 m"


def test_filler_is_cavity_minus_rings_of_tube():
    section = edited(('gap = "0 mm"', 'gap = "0.5 mm"'))
    bill = section.bill
    # Pappus: 30 rings of radius 77 + 0.5 + 7.5 mm; cavity 77 to 100.5 mm, 0.9 m high
    rings = 30 * 2 * math.pi * 0.085 * math.pi * 0.0075**2
    cavity = math.pi * (0.1005**2 - 0.077**2) * 0.9
    assert bill.filler_volume == pytest.approx(cavity - rings, rel=1e-12)
    assert bill.filler_mass == pytest.approx(bill.filler_volume * section.regions[0].material.density, rel=1e-12)
    assert bill.void_volume == 0
    assert bill.filler_mass == pytest.approx(15, rel=0.1)  # trade scenario says 15 kg of vibrated sand


def test_sheet_wool_and_water_amounts_follow_from_the_radii():
    bill = edited(('gap = "0 mm"', 'gap = "0.5 mm"')).bill
    assert bill.shroud_area == pytest.approx(2 * math.pi * 0.101 * 0.9, rel=1e-12)
    assert bill.jacket_area == pytest.approx(2 * math.pi * 0.15175 * 0.9, rel=1e-12)
    assert bill.sheet_area == bill.shroud_area + bill.jacket_area
    assert bill.insulation_volume == pytest.approx(math.pi * (0.1515**2 - 0.1015**2) * 0.9, rel=1e-12)
    assert bill.insulation_volume == pytest.approx(bill.insulation_area * 0.05, rel=1e-12)
    # EN 1057 15 x 1 holds 0.133 L/m
    assert bill.water_volume_in_coil / bill.tube_length_wound == pytest.approx(0.133e-3, rel=5e-3)


def test_voids_are_taken_off_the_filler_once():
    full = edited(('gap = "0 mm"', 'gap = "0.5 mm"'))
    void = 'voids = [{ r_min = "0 mm", r_max = "23.5 mm", z_min = "0.85 m", z_max = "0.9 m" }]'
    empty = edited(
        ('gap = "0 mm"', 'gap = "0.5 mm"'), ('settled_top = "0 mm"', 'settled_top = "90 mm"'), ("voids = []", void)
    )
    # the top 90 mm hold 3 of the 30 turns; the stated region lies inside them
    assert empty.bill.void_volume == pytest.approx(full.bill.filler_volume / 10, rel=1e-9)
    assert empty.bill.filler_volume == pytest.approx(full.bill.filler_volume * 0.9, rel=1e-9)
    assert [r.name for r in empty.regions[:3]] == ["filler", "settled top", "void 1"]


def test_a_second_filler_is_bought_by_its_own_volume_and_what_a_later_void_covers_is_not_its():
    gap = ('gap = "0 mm"', 'gap = "0.5 mm"')
    full = edited(gap)
    low = '{ r_min = "0 mm", r_max = "23.5 mm", z_min = "0 m", z_max = "0.45 m", material = "graphite powder" }'
    inside = '{ r_min = "0 mm", r_max = "23.5 mm", z_min = "0.36 m", z_max = "0.54 m" }'
    bill = edited(gap, ("voids = []", f"voids = [{low}, {inside}]")).bill
    # 30 turns in 0.9 m: graphite keeps 12 of them, air lies over 6, sand has the other 12
    ((label, volume, mass),) = bill.inserts
    assert label == "graphite powder, loose"
    assert volume == pytest.approx(full.bill.filler_volume * 12 / 30, rel=1e-9)
    assert bill.void_volume == pytest.approx(full.bill.filler_volume * 6 / 30, rel=1e-9)
    assert bill.filler_volume == pytest.approx(full.bill.filler_volume * 12 / 30, rel=1e-9)
    assert mass == pytest.approx(volume * find("graphite powder", "loose").density, rel=1e-12)


def test_touching_tube_is_cut_by_the_wall_along_the_contact_strip():
    section = lay_out(loads(starter()))
    turn = section.turns[0]
    depth = section.flue_radius - (turn.r - turn.outer_radius)
    assert 0 < depth < 1e-6
    half_chord = math.sqrt(turn.outer_radius**2 - (turn.r - section.flue_radius) ** 2)
    assert 2 * half_chord == pytest.approx(0.0002, rel=1e-6)
    assert turn.inner_radius < turn.r - section.flue_radius  # the bore stays whole


def test_gap_puts_the_tube_at_the_sum_of_the_lengths():
    assert tube_centre(0.077, 0.0075, 0.0005, 0.0002) == pytest.approx(0.085, rel=1e-15)


def test_each_turn_takes_its_own_gap():
    gaps = ", ".join(['"0 mm"', '"0.5 mm"', '"2 mm"'])
    section = edited(("turns = 30 ", "turns = 3 "), ('gap = "0 mm"', f"gap = [{gaps}]"))
    assert [turn.r - turn.outer_radius - section.flue_radius for turn in section.turns[1:]] == pytest.approx(
        [0.0005, 0.002], rel=1e-9
    )
    assert section.cavity_radius == pytest.approx(0.077 + 0.002 + 0.015 + 0.008, rel=1e-12)  # crowns of the widest


def test_later_regions_cover_earlier_ones():
    section = edited(('settled_top = "0 mm"', 'settled_top = "30 mm"'))
    roles = [region.role for region in section.regions]
    assert roles == ["filler", "void", *["tube", "bore"] * 30, "flue", "shroud", "insulation", "jacket"]
    for region in section.regions:
        assert (region.material is None) == (region.role == "bore")


@pytest.mark.parametrize("name", sorted(path.parent.name for path in CASES.glob("*/case.toml")))
def test_layers_adjoin_exactly_and_fill_the_section(name):
    section = lay_out(load(CASES / name))
    layers = sorted(
        (r.shape for r in section.regions if r.role not in ("void", "tube", "bore")), key=lambda shape: shape.r_min
    )
    assert layers[0].r_min == section.r_min and layers[-1].r_max == section.r_max
    for inner, outer in itertools.pairwise(layers):
        assert inner.r_max == outer.r_min
    for layer in layers:
        assert (layer.z_min, layer.z_max) == (section.z_min, section.z_max)
    bill = section.bill
    tubes = sum(disc_volume(Disc(t.r, t.z, t.outer_radius), layers[1]) for t in section.turns)
    assert bill.filler_volume + bill.void_volume + tubes == pytest.approx(rectangle_volume(layers[1]), rel=1e-12)


def test_verification_section_has_the_radii_of_its_statement():
    section = lay_out(load(CASES / "verify-coil-section-k0.3"))
    sides = sorted({round(r.shape.r_max, 9) for r in section.regions if isinstance(r.shape, Rectangle)})
    assert sides == [0.0765, 0.093, 0.094, 0.1245, 0.125]
    assert (section.r_min, section.height) == (0.075, pytest.approx(0.136))
    assert [turn.z for turn in section.turns] == pytest.approx([0.0085 + 0.017 * i for i in range(8)])
    assert all(turn.r == pytest.approx(0.08315) for turn in section.turns)
    assert section.contacts == {}


def test_without_a_shroud_the_cavity_ends_at_the_crowns():
    section = lay_out(load(CASES / "bath-house-insulated"))
    assert section.cavity_radius == section.turns[0].r + section.turns[0].outer_radius
    assert section.regions[0].material.name == "still air"
    bare = lay_out(load(CASES / "bath-house-bare"))
    assert bare.r_max == bare.cavity_radius
    assert bare.outer_role == "filler"


def test_without_a_coil_the_clearance_counts_from_the_flue():
    section = lay_out(load(CASES / "verify-composite-cylinder"))
    assert section.turns == ()
    assert section.cavity_radius == pytest.approx(0.093)
    assert section.contacts == {frozenset(("flue", "filler")): 1e-4}
    assert section.bill.tube_length_wound == 0 and section.bill.stock_coil is None


def test_strip_lies_under_each_tube_and_stays_in_the_section():
    section = edited(('strip_under_tubes = "0 mm"', 'strip_under_tubes = "15 mm"'))
    strips = [region.shape for region in section.regions if region.role == "void"]
    assert len(strips) == 30
    assert strips[0].z_min == section.z_min  # 7.5 mm of room under the lowest tube
    assert strips[1].z_min == pytest.approx(section.turns[1].z - 0.0075 - 0.015)
    # up to where the tube's underside is as steep as dry sand lies, 35 degrees
    assert strips[1].z_max == pytest.approx(section.turns[1].z - 0.0075 * math.cos(math.radians(35)))
    assert strips[1].r_max - section.turns[1].r == pytest.approx(0.0075 * math.sin(math.radians(35)))


def test_film_lies_along_the_flue_up_to_the_settled_top():
    stated = ('film_at_flue = "0 mm"', 'film_at_flue = "0.1 mm"')
    section = edited(stated, ('settled_top = "0 mm"', 'settled_top = "35 mm"'))
    top, film = (region for region in section.regions if region.role == "void")
    assert film.name == "film at the flue" and isinstance(film.shape, Rectangle)
    corners = (film.shape.r_min, film.shape.r_max, film.shape.z_min, film.shape.z_max)
    assert corners == pytest.approx((0.077, 0.0771, 0.0, 0.865), rel=1e-12)
    assert isinstance(top.shape, Rectangle)
    assert film.material is not None and film.material.name == "still air"
    assert top.shape.z_min == film.shape.z_max
    # painted before the tubes, which touch the flue and part it
    names = [region.name for region in section.regions]
    assert names.index("film at the flue") < names.index("tube 1")
    # a ring of 2 pi 77.05 mm x 0.1 mm beside the top, both less what the tubes fill
    assert edited(stated).bill.void_volume == pytest.approx(2 * math.pi * 0.07705 * 1e-4 * 0.9, rel=0.1)


def test_computed_contact_is_the_layer_of_grains_at_that_wall():
    section = edited(
        ('tube-filler = "0 m2K/W"', 'tube-filler = "computed"'), ('flue-filler = "0 m2K/W"', 'flue-filler = "computed"')
    )
    tube, flue = (1 / section.contacts[frozenset((wall, "filler"))] for wall in ("tube", "flue"))
    # trade sheet: 656 W/m2K for grains of 0.5 mm in air at 400 K; here at 373 K, whose air conducts 5 % less
    assert 610 < tube < 656 and 610 < flue < 656
    # the two walls differ by their shine, sigma 4 T^3 / (1/E + 1/0.85 - 1), copper and black steel of the library
    black = 4 * 5.670374e-8 * 373.15**3
    dull, bright = (black / (1 / find(name).emissivity + 1 / 0.85 - 1) for name in ("black steel", "copper"))
    assert tube - flue == pytest.approx(bright - dull, abs=1e-3)


def test_soot_and_coating_become_film_resistances():
    section = edited(
        ('soot_thickness = "0 mm"', 'soot_thickness = "1 mm"'),
        ('coating = "none"', 'coating = "silicone paint"'),
        ('coating_thickness = "0 mm"', 'coating_thickness = "50 um"'),
        ('flue-filler = "0 m2K/W"', 'flue-filler = "1e-4 m2K/W"'),
    )
    # hollow cylinder of soot, per area of the bore: r ln(r / (r - t)) / k
    assert section.inner_resistance == pytest.approx(0.075 * math.log(75 / 74) / 0.1, rel=1e-12)
    # trade: paint of 30 to 80 um has k 0.2 to 0.4 W/mK, so R = 1.25e-4 to 2.5e-4 m2K/W at 50 um
    assert 1.2e-4 < section.coating_resistance < 2.6e-4
    assert section.contacts[frozenset(("flue", "tube"))] == section.coating_resistance
    assert section.contacts[frozenset(("flue", "filler"))] == pytest.approx(1e-4 + section.coating_resistance)
