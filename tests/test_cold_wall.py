"""How long the wall is wet in a burn."""

import numpy as np
import pytest
from heaters import SMALL

from annulus.burn import run_burn, summarise_burn
from annulus.burn.cold_wall import time_below
from annulus.case import loads

TANK = """
[tank]
volume = "10 L"
start_temperature = "8 degC"
target_temperature = "70 degC"
"""


def test_time_below_is_that_of_the_straight_lines():
    """By hand: 10 s wholly below, half of 20 s, none of 5 s."""
    times, values = np.array([0.0, 10.0, 30.0, 35.0]), np.array([-2.0, -1.0, 1.0, 3.0])
    assert time_below(times, values) == pytest.approx(10 + 10)
    assert time_below(times, -values) == pytest.approx(10 + 5)
    assert time_below(times, np.zeros(4)) == 0.0


def test_a_wall_that_warms_is_wet_at_first_and_each_limit_longer():
    march = run_burn(loads(SMALL + TANK), fineness=1).march
    found = summarise_burn(march)
    assert 0 < found["wall_below_dew_s"] < found["wall_near_dew_s"] < found["wall_below_tar_s"]
    assert found["wall_below_tar_s"] == pytest.approx(found["duration_s"])  # packed in sand it never gets there
    bands = found["wall_near_dew_by_band_s"]
    assert len(bands) == len(found["band_top_m"]) == 4
    assert max(bands) <= found["wall_near_dew_s"]  # the coldest place is colder than any band's mean
    assert found["band_top_m"][-1] == pytest.approx(0.12)
