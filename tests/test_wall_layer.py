"""The layer of a packed bed at a wall: worked values, limits, refusals."""

import numpy as np
import pytest

from annulus.errors import MaterialError
from annulus.materials import find, wall_coefficient
from annulus.materials.bed import STEFAN_BOLTZMANN

# Trade sheet, powder against a wall, calculated: air at 400 K, roughness 5 um, no radiation.
AIR_400K = 0.0335  # [W/(m K)]
WORKED = {0.05e-3: 2560, 0.1e-3: 1810, 0.5e-3: 656, 1e-3: 397}


@pytest.mark.parametrize(("grain", "expected"), WORKED.items())
def test_worked_values_of_the_trade_sheet_are_met(grain, expected):
    # 0.5 %: the sheet's air conductivity and accommodation are not stated to more digits
    assert wall_coefficient(400.0, AIR_400K, grain) == pytest.approx(expected, rel=5e-3)


def test_large_grains_leave_a_film_of_gas_as_thick_as_a_share_of_the_grain():
    # x -> 0 with l, s << d: h d / k -> 3.2 (ln(1/x) - 1) + 0.4/sqrt(2), the formula's own leading terms
    grain, roughness = 0.1, 5e-6
    free_path = 0.07e-6 * 400 / 296 * 2 * 1.15 / 0.85
    x = 2 * (free_path + roughness) / grain
    expected = 3.2 * (np.log(1 / x) - 1) + 0.4 / np.sqrt(2)
    assert wall_coefficient(400.0, AIR_400K, grain, roughness=roughness) * grain / AIR_400K == pytest.approx(
        expected, rel=1e-3
    )


def test_fine_grains_leave_the_film_of_gas_that_roughness_and_free_path_make():
    # x -> infinity: (1 + x) ln(1 + 1/x) - 1 -> 1/(2 x), so the 0.8 of the wall that is covered has h -> k / (l + s)
    grain, roughness = 1e-9, 5e-6
    free_path = 0.07e-6 * 400 / 296 * 2 * 1.15 / 0.85
    x = 2 * (free_path + roughness) / grain
    expected = 0.8 * AIR_400K / (free_path + roughness) + 0.4 * AIR_400K / grain / x
    assert wall_coefficient(400.0, AIR_400K, grain) == pytest.approx(expected, rel=1e-3)


def test_black_walls_add_the_radiation_of_black_plates():
    plain, shining = (wall_coefficient(400.0, AIR_400K, 1e-3, e, e) for e in (None, 1.0))
    assert shining - plain == pytest.approx(4 * STEFAN_BOLTZMANN * 400.0**3, rel=1e-12)


def test_every_bed_of_the_library_knows_its_grains():
    assert find("quartz sand", "vibrated").grain_diameter == 0.5e-3
    assert find("expanded graphite").grain_diameter is None
    assert find("mineral wool").grain_diameter is None


def test_impossible_arguments_are_named_all_at_once():
    with pytest.raises(MaterialError) as caught:
        wall_coefficient(-1.0, AIR_400K, 0.0, 2.0, 0.9, roughness=-1e-6)
    for word in ("temperature", "grain_diameter", "emissivity", "roughness"):
        assert word in str(caught.value)
