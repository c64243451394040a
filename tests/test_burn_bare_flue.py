"""Bare flue and chimney over a burn."""

import pytest
from heaters import edited_text

from annulus.burn.bare_flue import summarise_bare_flue
from annulus.burn.fast import FastBurner
from annulus.case import loads
from annulus.heater import solve_heater, summarise

CHIMNEY = '\n[chimney]\nheight = "4.5 m"\n'
LAKE = '\n[tank]\nvolume = "100000 L"\nstart_temperature = "8 degC"\ntarget_temperature = "30 degC"\n'
HOURS = '[burn]\nuntil = "duration"\nduration = "4 h"\n'
DIES_DOWN = HOURS + 'fire = "table"\ntable = [["0 h", "420 degC", "9.8 g/s"], ["{}", "420 degC", "9.8 g/s"], {}]\n'
NAMES = ("bare_flue_max_C", "chimney_top_gas_C", "chimney_top_wall_C", "draught_Pa")


@pytest.fixture(scope="module")
def burnt():
    """What is found of any burn of the small section."""
    burner = FastBurner(loads(edited_text() + LAKE), 1, most_refined=0)
    return lambda text: summarise_bare_flue(burner.burn(loads(text)))


def test_with_water_that_stays_cold_a_burn_has_the_steady_fires_bare_flue_chimney_and_draught(burnt):
    text = edited_text() + CHIMNEY
    steady, burn = summarise(solve_heater(loads(text), 1)), burnt(text + LAKE + HOURS)
    for name in NAMES:
        # the wall is a little colder in the first hours: some 0.5 K of the gas
        assert burn[name] == pytest.approx(steady[name], abs=1.0, rel=2e-3), name


def test_a_fire_that_smoulders_draws_least_and_one_that_is_out_does_not_count(burnt):
    text = edited_text() + CHIMNEY + LAKE
    brisk = burnt(text + DIES_DOWN.format("2 h", '["4 h", "420 degC", "9.8 g/s"]'))
    low = burnt(text + DIES_DOWN.format("2 h", '["3 h", "200 degC", "9.8 g/s"], ["4 h", "200 degC", "9.8 g/s"]'))
    out = burnt(text + DIES_DOWN.format("3.9 h", '["3.91 h", "20 degC", "9.8 g/s"], ["4 h", "20 degC", "9.8 g/s"]'))
    assert low["draught_Pa"] < brisk["draught_Pa"] - 5
    assert low["chimney_top_gas_C"] < brisk["chimney_top_gas_C"] - 20
    assert (
        20 < out["draught_Pa"] < brisk["draught_Pa"]
    )  # of its last gas of 150 degC; of gas of 20 degC it would be none


def test_without_bare_flue_and_chimney_nothing_is_told(burnt):
    text = edited_text(('bare_below = "0.2 m"\nbare_above = "0.3 m"\n', "")) + LAKE + HOURS.replace("4 h", "1 h")
    assert burnt(text) == {"bare_flue_max_C": None}
