"""What a builder reads: names, ledger identities, extremes, lists from the bottom up."""

import json
import math

import numpy as np
import pytest
from heaters import BARE_COIL, FOLDERS, NO_COIL, WOOD, after, solved, solved_folder

from annulus.conduction.probe import region_extremes
from annulus.heater import summarise

FIRE, INLET = 'gas_flow = "9.8 g/s"', 'inlet_temperature = "8 degC"'

# names that the design page fixes for a steady result
FIXED_NAMES = {
    *("heat_to_water_W", "heat_to_turn_W", "heat_to_room_W", "heat_from_gas_W"),
    *("gas_in_C", "gas_out_C", "water_in_C", "water_out_C"),
    *("wall_min_C", "wall_max_C", "filler_max_C", "outside_max_C"),
    *("balance_error", "cells", "pieces"),
}


@pytest.fixture(params=FOLDERS)
def found(request):
    return summarise(solved_folder(request.param))


def test_fixed_names_are_there(found):
    assert set(found) >= FIXED_NAMES


def test_heat_from_the_gas_goes_to_the_water_and_the_room(found):
    # every loop closes to 1e-9 of it
    gone = found["heat_to_water_W"] + found["heat_to_room_W"]
    assert gone == pytest.approx(found["heat_from_gas_W"], rel=1e-8)


def test_heat_to_the_room_leaves_through_outside_ends_and_bare_flue(found):
    parts = found["heat_through_outside_W"] + found["heat_through_ends_W"] + found["heat_from_bare_flue_W"]
    assert parts == pytest.approx(found["heat_to_room_W"], rel=1e-12)


def test_turns_add_up_to_the_heat_to_the_water(found):
    assert math.fsum(found["heat_to_turn_W"]) == pytest.approx(found["heat_to_water_W"], rel=1e-12)


def test_available_heat_is_taken_or_left_in_the_gas(found):
    # 600 MW of enthalpy in the verification cases, of which 1e-16 is lost in the difference
    slack = 1e-8 * found["heat_from_gas_W"] + 1e-14 * found["heat_available_W"]
    taken = found["heat_available_W"] - found["heat_left_in_gas_W"]
    assert taken == pytest.approx(found["heat_from_gas_W"], abs=slack)


def test_capture_is_the_share_of_the_available_heat(found):
    assert found["capture"] == pytest.approx(found["heat_to_water_W"] / found["heat_available_W"], rel=1e-12)


def test_temperatures_lie_in_their_order(found):
    assert found["gas_in_C"] >= found["gas_below_coil_C"] >= found["gas_above_coil_C"] >= found["gas_out_C"]
    assert found["wall_min_C"] <= found["wall_max_C"] < found["gas_below_coil_C"]
    if found["water_in_C"] is not None:
        assert found["water_in_C"] < found["water_out_C"] < found["water_boils_at_C"]
        assert found["bore_max_C"] <= found["tube_max_C"] + 1e-9
        assert found["water_in_C"] < found["bore_max_C"]


def test_lists_have_an_entry_per_band_and_turn(found):
    turns = len(found["heat_to_turn_W"])
    bands = turns or 40
    assert {len(found[key]) for key in ("band_top_m", "gas_C", "wall_coldest_C", "gas_film_W_m2K")} == {bands}
    assert {len(found[key]) for key in ("water_after_turn_C", "water_film_W_m2K")} == {turns}


def test_lists_end_where_the_single_numbers_say(found):
    assert found["gas_C"][-1] == pytest.approx(found["gas_above_coil_C"], rel=1e-12)
    assert min(found["wall_coldest_C"]) == pytest.approx(found["wall_min_C"], rel=1e-12)


def test_everything_is_json(found):
    assert json.loads(json.dumps(found, allow_nan=False)) == found


def test_shares_of_the_drop_from_gas_to_water_are_whole():
    found = summarise(solved())
    shares = [found[f"share_{name}"] for name in ("gas_film", "wall_to_bore", "water_film")]
    assert math.fsum(shares) == pytest.approx(1.0, rel=1e-12)
    assert all(share > 0 for share in shares)
    resistances = [found[f"resistance_{name}_K_W"] for name in ("gas_film", "wall_to_bore", "water_film")]
    assert np.array(resistances) / math.fsum(resistances) == pytest.approx(shares, rel=1e-12)


def test_water_film_takes_the_drop_that_its_area_and_coefficient_allow():
    """One coefficient over all bores: drop = heat / (h A), A by Pappus."""
    found = summarise(solved((INLET, f'{INLET}\nfilm_coefficient = "1500 W/m2K"')))
    area = 4 * (2 * math.pi * 0.085) * (2 * math.pi * 0.0065)
    # the mean of the bore is area-weighted, that of the water counts turns alike, and water warms by 1 K over them
    assert found["resistance_water_film_K_W"] == pytest.approx(1 / (1500 * area), rel=5e-3)


def test_soot_counts_with_the_gas_film():
    clean, sooty = (summarise(solved(*change)) for change in ((), (after('wall = "2 mm"', 'soot_thickness = "2 mm"'),)))
    more = sooty["resistance_gas_film_K_W"] - clean["resistance_gas_film_K_W"]
    # hollow cylinder of 2 mm of 0.1 W/mK inside a bore of 150 mm, 0.12 m high; the gas film itself moves a little
    alone = math.log(75 / 73) / (2 * math.pi * 0.1 * 0.12)
    assert more == pytest.approx(alone, rel=0.25)


def test_efficiency_needs_wood():
    assert "efficiency" not in summarise(solved())
    found = summarise(solved(*WOOD))
    assert found["efficiency"] == pytest.approx(found["heat_to_water_W"] / found["fired_power_W"], rel=1e-12)
    # 65 % is given off before the coil, the rest enters as gas above room temperature
    assert found["heat_available_W"] == pytest.approx(0.35 * found["fired_power_W"], rel=0.02)


def test_a_flue_without_a_coil_has_no_water_and_no_shares():
    found = summarise(solved(*NO_COIL))
    for key in ("water_in_C", "water_out_C", "water_boils_at_C", "coil_effectiveness", "tube_max_C", "bore_max_C"):
        assert found[key] is None, key
    assert not any(key.startswith(("share_", "resistance_")) for key in found)


def test_a_bare_coil_has_no_filler_or_insulation_to_overheat():
    found = summarise(solved(*BARE_COIL))
    assert found["insulation_max_C"] is None
    assert found["filler_max_C"] is None  # still air is no material that could overheat
    # a hand between the turns reaches the flue wall itself
    assert found["wall_min_C"] < found["outside_max_C"] <= found["wall_max_C"] + 1e-6


def test_a_heater_without_temperature_difference_has_no_capture():
    found = summarise(solved(('"420 degC"', '"18 degC"'), (INLET, 'inlet_temperature = "18 degC"')))
    assert found["capture"] is None and found["coil_effectiveness"] is None
    json.dumps(found, allow_nan=False)


def test_hottest_filler_and_tube_are_extremes_of_their_regions():
    heater = solved()
    found = summarise(heater)
    assert found["filler_max_C"] == pytest.approx(region_extremes(heater.field, "filler")[1] - 273.15)
    tubes = [region_extremes(heater.field, f"tube {n}")[1] for n in range(1, 5)]
    assert found["tube_max_C"] == pytest.approx(max(tubes) - 273.15)


def test_effectiveness_of_the_coil_is_the_gas_fall_over_the_widest_difference():
    found = summarise(solved())
    fall = found["gas_below_coil_C"] - found["gas_above_coil_C"]
    assert found["coil_effectiveness"] == pytest.approx(fall / (found["gas_below_coil_C"] - 8.0), rel=1e-12)


def test_bare_lengths_lie_outside_the_coil():
    found = summarise(solved())
    assert found["gas_in_C"] == pytest.approx(420.0)
    assert found["gas_in_C"] > found["gas_below_coil_C"] and found["gas_above_coil_C"] > found["gas_out_C"]


def test_title_and_mark_of_invention_are_carried(found):
    assert isinstance(found["title"], str) and found["invented"] is True
