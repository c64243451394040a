"""Radiation across still air: ends of a cavity, and a coil section on finer and finer grids."""

from itertools import pairwise

import pytest
from heaters import CASES, edited_text

from annulus.case import loads
from annulus.heater import solve_heater, summarise
from annulus.verification.order import observed_order
from annulus.verification.radiation import HARDLY, HEAT, conducted, heat_per_metre


@pytest.mark.parametrize("coordinates", HEAT)
def test_what_the_ends_cost_falls_with_height(coordinates):
    """An end costs a length of the order of the gap; `annulus verify` shows the limit without ends."""
    expected = HEAT[coordinates]
    short, tall = (
        heat_per_metre(coordinates, height, HARDLY)[0] - conducted(coordinates, HARDLY) for height in (2.0, 8.0)
    )
    assert abs(tall - expected) < 0.3 * abs(short - expected)


def test_a_bare_coil_settles_on_finer_grids_with_radiation():
    """Four turns of the bath-house coil, open to the room; cells and patches halved together.

    No exact value is known. The change from grid to grid falls by 4 at second order; it
    wanders a little, for patches and rays do not nest as cells do (1.6 to 2.1 were seen).
    """
    text = edited_text(("turns = 30", "turns = 4"), text=(CASES / "bath-house-bare" / "case.toml").read_text("utf-8"))
    case = loads(text)
    found = [summarise(solve_heater(case, fineness)) for fineness in (1, 2, 4, 8)]
    sizes = (1.0, 0.5, 0.25)
    for key, most in (("heat_to_water_W", 1.5e-3), ("heat_through_outside_W", 6e-3), ("heat_from_gas_W", None)):
        changes = [coarse[key] / fine[key] - 1 for coarse, fine in pairwise(found)]
        order = observed_order(sizes, changes)
        print(f"\n{key}: changes to the next finer grid", *(f"{c:.1e}" for c in changes), f"order {order:.2f}")
        assert order >= 1.5, key
        assert most is None or abs(changes[-1]) < most, key
