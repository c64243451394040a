"""Heat stripes where surfaces radiate across air: totals against the ledger, the open side of a bare coil included."""

import numpy as np
import pytest
from heaters import BARE_COIL, NO_COIL, after, solved, solved_folder
from test_stripes import all_lines, crossing_depth

from annulus.conduction.stripes import trace_stripes
from annulus.heater import summarise

AIR = ('material = "quartz sand"\npacking = "vibrated"', 'material = "still air"')
SETTLED = after('packing = "vibrated"', 'settled_top = "12 mm"')
HEATERS = {
    "bath-house, bare": lambda: solved_folder("bath-house-bare"),
    "bath-house, wool": lambda: solved_folder("bath-house-insulated"),
    "bare, tubes touch": lambda: solved(*BARE_COIL, ('gap = "0.5 mm"', 'gap = "0 mm"')),
    "settled top": lambda: solved(SETTLED),
    "wide cavity": lambda: solved(AIR, ('clearance = "8 mm"', 'clearance = "30 mm"')),
    "no coil": lambda: solved(*NO_COIL, AIR),
}


@pytest.mark.parametrize("name", HEATERS)
def test_stripes_agree_with_the_ledger(name):
    """By source and by destination, far within the 1 % that is needed; nothing else enters or leaves."""
    heater = HEATERS[name]()
    field, outcome = heater.field, summarise(heater)
    tubes = [region.name for region in heater.model.section.regions if region.role == "tube"]
    totals = trace_stripes(field, tubes, heater.stripe_watts()).totals

    def net_into(*places: str) -> float:
        return sum(w for (_, to), w in totals.items() if to in places) - sum(
            w for (source, _), w in totals.items() if source in places
        )

    through_coil = float(field.surface_flow[heater.model.gas_surfaces].sum())
    slack = 1e-5 * through_coil
    assert -net_into("r_min") == pytest.approx(through_coil, abs=slack)
    assert net_into(*tubes) == pytest.approx(outcome["heat_to_water_W"], abs=slack)
    assert net_into("r_max") == pytest.approx(outcome["heat_through_outside_W"], abs=slack)
    assert net_into("z_min", "z_max") == pytest.approx(outcome["heat_through_ends_W"], abs=slack)


def test_heat_that_bypasses_a_bare_coil_leaves_through_its_open_side():
    heater = solved_folder("bath-house-bare")
    tubes = [region.name for region in heater.model.section.regions if region.role == "tube"]
    totals = trace_stripes(heater.field, tubes, heater.stripe_watts()).totals
    assert totals["r_min", "r_max"] > 0.5 * summarise(heater)["heat_through_outside_W"]


def test_no_two_stripes_cross_where_surfaces_radiate():
    heater = solved(*BARE_COIL)
    tubes = [region.name for region in heater.model.section.regions if region.role == "tube"]
    lines = all_lines(trace_stripes(heater.field, tubes, heater.stripe_watts()))
    grid = heater.field.pieces.grid
    cell = max(np.diff(grid.r_face).max(), np.diff(grid.z_face).max())
    slack = max(2e-6, 2 * (cell / 4) ** 2 / (8 * 7.5e-3))  # sagitta of a chord along a tube's rim, twice
    for n, line in enumerate(lines):
        assert all(crossing_depth(line, other) < slack for other in lines[n + 1 :])
