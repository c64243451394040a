"""The chimney above the flue: draught, heat lost, wall at the top."""

import fluids
import numpy as np
import pytest
from heaters import edited, solved

from annulus.heater import summarise
from annulus.heater.chimney import friction_factor, pass_chimney
from annulus.heater.gas_path import BareFlue, gas_supply

CHIMNEY = ("[fire]", '[chimney]\nheight = "4.5 m"\noutdoor_temperature = "10 degC"\n\n[fire]')


def top(*changes):
    return summarise(solved(CHIMNEY, *changes, fineness=1))


def changed(line):
    return CHIMNEY[0], CHIMNEY[1].replace('height = "4.5 m"', f'height = "4.5 m"\n{line}')


@pytest.fixture(scope="module")
def found():
    return top()


# Draught = g H (rho_air - rho_gas) per metre, air 10 degC, sea level: computed from the ideal gas law with a molar mass
# of 29.0, to one decimal.
@pytest.mark.parametrize(("gas", "per_metre"), [(420, 7.2), (320, 6.4), (250, 5.6), (200, 4.9), (150, 4.0)])
def test_lift_of_hot_gas_is_that_of_the_ideal_gas_law(gas, per_metre):
    """A wide, perfectly insulated chimney: gas keeps its temperature, friction is nothing."""
    case = edited((CHIMNEY[0], changed('inner_diameter = "3 m"\nresistance = "1000 m2K/W"\nlosses = 0.0')[1]))
    supply = gas_supply(case)
    hot = BareFlue(gas + 273.15, 0.0, np.empty(0), np.empty(0))
    left = [
        pass_chimney(case, case.chimney.model_copy(update={"height": height}), supply, np.full(5, 600.0), hot, hot)
        for height in (1.0, 2.0)
    ]
    assert left[1].draught - left[0].draught == pytest.approx(per_metre, abs=0.08)  # rounding, 0.1 % other gas, cooling


def test_friction_factor_agrees_with_an_independent_library():
    for number in (4000.0, 2e4, 1e6):
        expected = fluids.friction_factor(Re=number, eD=1 / 150)
        assert friction_factor(number, 1 / 150) == pytest.approx(expected, rel=0.05)
    assert friction_factor(1000.0, 1 / 150) == pytest.approx(fluids.friction_factor(Re=1000.0), rel=1e-6)


def test_friction_factor_has_no_jump():
    for number in (2300.0, 4000.0):
        below, above = friction_factor(number * (1 - 1e-9), 0.01), friction_factor(number * (1 + 1e-9), 0.01)
        assert below == pytest.approx(above, rel=1e-6)


def test_gas_cools_up_the_chimney_and_its_wall_is_colder(found):
    assert found["gas_out_C"] > found["chimney_top_gas_C"] > found["chimney_top_wall_C"] > 10


def test_bare_pipe_cools_the_gas_more_than_insulation(found):
    bare = top((CHIMNEY[1], changed('resistance = "0 m2K/W"')[1]))
    assert bare["chimney_top_gas_C"] < found["chimney_top_gas_C"] - 10
    assert bare["draught_Pa"] < found["draught_Pa"]


def test_heat_lost_by_the_chimney_follows_from_its_resistance(found):
    """A very thick wall loses next to nothing."""
    thick = top((CHIMNEY[1], changed('resistance = "1000 m2K/W"')[1]))
    assert thick["chimney_top_gas_C"] == pytest.approx(thick["gas_out_C"], abs=0.5)


def test_bends_take_draught(found):
    bent = top((CHIMNEY[1], changed("losses = 12.0")[1]))
    assert bent["draught_Pa"] < found["draught_Pa"]


def test_without_a_chimney_there_is_nothing_to_judge():
    outcome = summarise(solved())
    assert "draught_Pa" not in outcome and edited().chimney is None
