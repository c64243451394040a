"""Every row of the library: physical span, source, band, surfaces and joints.

"Fact sheet" is the project's own collection of trade facts with their marks; the published
source is named where it is known.
"""

from itertools import pairwise

import numpy as np
import pytest

from annulus.materials import (
    MARKS,
    bed_conductivity,
    find,
    joints,
    names,
    packings,
    surfaces,
)
from annulus.materials.rows import read_data

ZERO = 273.15
ROWS = [(name, packing) for name in names() for packing in (packings(name) or [None])]
EVERY_ROW = pytest.mark.parametrize("name, packing", ROWS, ids=[" ".join(filter(None, row)) for row in ROWS])


# ------------------------------------------------------------------ every row

# Spans of what such materials can be: handbook knowledge, no single source; they catch a slipped digit.
SPANS = {  # conductivity W/mK, density kg/m3, heat capacity J/kgK
    "metal": ((10, 420), (2500, 9000), (350, 1000)),
    "filler": ((0.05, 5), (200, 6000), (350, 1300)),
    "insulation": ((0.03, 0.2), (20, 300), (700, 1200)),
    "coating": ((0.03, 1.5), (50, 3000), (500, 1200)),
    "gas": ((0.02, 0.1), (0.5, 2), (1000, 1250)),
}


@EVERY_ROW
def test_row_lies_in_the_physical_span_of_its_family_over_its_whole_range(name, packing):
    material = find(name, packing)
    conductivity, density, heat_capacity = SPANS[material.family]
    for law, (low, high) in ((material.conductivity, conductivity), (material.heat_capacity, heat_capacity)):
        values = law(np.linspace(law.T_min, law.T_max, 200))
        assert low <= values.min() and values.max() <= high
    assert density[0] <= material.density <= density[1]


@EVERY_ROW
def test_row_states_source_mark_and_range(name, packing):
    material = find(name, packing)
    assert material.mark in MARKS and material.mark != "user"
    assert len(material.source) > 20
    for law in (material.conductivity, material.heat_capacity):
        assert 200.0 < law.T_min < 300.0, "must cover a cold room"
        assert 450.0 < law.T_max < 1500.0, "must end somewhere"


@EVERY_ROW
def test_row_lies_inside_the_band_that_it_states(name, packing):
    material = find(name, packing)
    if material.conductivity_band is not None:
        low, high = material.conductivity_band
        assert low <= material.conductivity(30.0 + ZERO) <= high
        # beds gain 20-50 % to 230 degC by the gas in their pores; the band is that of practice
        assert low <= material.conductivity(230.0 + ZERO) <= 1.1 * high


@EVERY_ROW
def test_row_has_a_believable_surface(name, packing):
    material = find(name, packing)
    assert (material.emissivity == 0.0) == (material.family == "gas")
    assert material.emissivity == 0.0 or 0.03 <= material.emissivity <= 0.97


@EVERY_ROW
def test_row_limit_is_one_that_a_flue_can_reach(name, packing):
    limit = find(name, packing).service_limit
    assert limit is None or 420.0 < limit < 1300.0
    assert (limit is None) == (find(name, packing).family in ("gas", "coating"))


@pytest.mark.parametrize("name, packing", [row for row in ROWS if find(*row).family in ("filler", "gas")])
def test_warm_bed_conducts_better_unless_its_contacts_rule(name, packing):
    """Gas and radiation gain with temperature; tapped and pressed graphite conduct through contacts."""
    law = find(name, packing).conductivity
    rises = law(500.0) >= law(300.0)
    assert rises or (name == "graphite powder" and packing in ("tapped", "pressed"))


@pytest.mark.parametrize("name", [name for name in names() if len(packings(name)) > 1])
def test_denser_packing_is_heavier_and_conducts_better(name):
    packed = [find(name, packing) for packing in packings(name)]
    for one, next_one in pairwise(packed):
        assert one.density < next_one.density
        assert one.conductivity(350.0) < next_one.conductivity(350.0)


def _listed_grains():
    for row in read_data()["material"]:
        for state in row.get("packing", {"": row}).values():
            if "bed" in row:
                yield pytest.param({**row["bed"], **state}, id=f"{row['name']} {state['density']}")


@pytest.mark.parametrize("bed", list(_listed_grains()))
def test_bulk_density_and_porosity_agree_on_the_density_of_the_grain(bed):
    """Bulk over solid share: 1.7 (porous, brick, graphite with pores inside) to 9 g/cm3 (copper)."""
    assert 1700.0 < bed["density"] / (1.0 - bed["porosity"]) < 9000.0


@pytest.mark.parametrize(
    "name, grain", [("quartz sand", 2650.0), ("steel shot", 7850.0), ("copper shot", 8940.0), ("magnesia", 3580.0)]
)
def test_grain_density_is_that_of_the_solid(name, grain):
    """Handbook densities of the solids, from memory; bulk figures of practice agree within 5 %."""
    (row,) = (row for row in read_data()["material"] if row["name"] == name)
    for state in row.get("packing", {"": {**row["bed"], **row}}).values():
        assert state["density"] / (1.0 - state["porosity"]) == pytest.approx(grain, rel=0.05)


@pytest.mark.parametrize(
    "name, packing", [("quartz sand", "vibrated"), ("crushed brick", None), ("graphite powder", "loose")]
)
def test_tabulated_bed_law_is_as_fine_as_the_model(name, packing):
    """Between its points a bed law is linear: 2e-4 off, 1e-3 where the table of the pore air bends."""
    (row,) = (row for row in read_data()["material"] if row["name"] == name)
    state = row["packing"][packing] if packing else row["bed"]
    bed, law = row["bed"], find(name, packing).conductivity
    T = (np.array(law.points[1:]) + np.array(law.points[:-1])) / 2.0
    exact = bed_conductivity(
        T,
        bed["solid"] * (300.0 / T) ** bed["solid_exponent"],
        find("still air").conductivity(T),
        state["porosity"],
        bed["grain_diameter"],
        bed["grain_emissivity"],
        bed["shape_factor"],
        state["flattening"],
    )
    assert law(T) == pytest.approx(exact, rel=1e-3)
    assert np.median(np.abs(law(T) / exact - 1.0)) < 2e-4


# ------------------------------------------------------------------ surfaces and joints


@pytest.mark.parametrize("surface", surfaces(), ids=lambda s: f"{s.of} {s.state}")
def test_surface_emissivity_lies_inside_its_span(surface):
    assert 0.0 < surface.low <= surface.emissivity <= surface.high < 1.0
    assert surface.mark in MARKS and surface.source


@pytest.mark.parametrize(
    "material, of, states",
    [
        ("black steel", "steel", {"oxidised"}),
        ("stainless 304", "stainless", {"heat-tinted"}),
        ("copper", "copper", {"tarnished"}),
        ("aluminium sheet", "aluminium", {"bright"}),
        ("galvanised steel", "galvanised", {"new"}),
        ("painted steel", "coating", {"heat-resistant paint"}),
    ],
)
def test_default_emissivity_is_that_of_the_usual_state(material, of, states):
    (state,) = (s for s in surfaces() if s.of == of and s.state in states)
    assert state.low <= find(material).emissivity <= state.high


@pytest.mark.parametrize("joint", joints(), ids=lambda joint: joint.name)
def test_joint_fails_below_what_a_dry_coil_reaches(joint):
    """A stagnant coil goes to 250-400 degC (fact sheet 4): no joint or hose listed stands that."""
    assert 350.0 < joint.limit < 250.0 + ZERO
    assert joint.solidus is None or joint.limit < joint.solidus
    assert joint.pressure is None or 5e5 < joint.pressure < 2e6
