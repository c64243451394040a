"""Error bars from a pair of grids."""

import pytest
from heaters import NO_COIL, edited, solved

from annulus.errors import ConvergenceError
from annulus.heater import solve_with_errors, summarise
from annulus.heater.precision import EXACT, error_key, with_errors


@pytest.fixture(scope="module")
def pair():
    return solve_with_errors(edited())


def test_the_name_of_an_error_keeps_the_unit_last():
    assert error_key("heat_to_water_W") == "heat_to_water_error_W"
    assert error_key("wall_min_C") == "wall_min_error_C"


def test_every_heat_flow_and_temperature_has_an_error(pair):
    _, outcome = pair
    for key in summarise(pair[0]):
        is_computed = key.endswith(("_W", "_C")) and not key.endswith("_K_W") and key not in EXACT
        assert (error_key(key) in outcome) == (is_computed and outcome[key] is not None), key


def test_lists_have_an_error_per_entry(pair):
    _, outcome = pair
    assert len(outcome["heat_to_turn_error_W"]) == len(outcome["heat_to_turn_W"]) == 4
    assert all(error > 0 for error in outcome["heat_to_turn_error_W"])


def test_values_are_those_of_the_finer_grid(pair):
    heater, outcome = pair
    assert outcome["heat_to_water_W"] == summarise(heater)["heat_to_water_W"]
    # A start from the coarser grid leaves the solver's own residual, 1e-10 of the span at most, and nothing else.
    assert outcome["heat_to_water_W"] == pytest.approx(summarise(solved())["heat_to_water_W"], rel=1e-9)


@pytest.mark.parametrize(
    "layout", [(), (('gap = "0.5 mm"', 'gap = "0 mm"'),), NO_COIL], ids=["gap", "touching", "no coil"]
)
def test_bars_hold_the_result_of_a_grid_twice_as_fine(layout):
    _, outcome = solve_with_errors(edited(*layout))
    finer = summarise(solved(*layout, fineness=4))
    for key in ("heat_to_water_W", "heat_to_room_W", "heat_from_gas_W", "gas_above_coil_C", "wall_min_C", "wall_max_C"):
        assert abs(outcome[key] - finer[key]) <= outcome[error_key(key)], key


def test_the_error_of_the_sum_to_the_room_is_that_of_its_parts(pair):
    _, outcome = pair
    parts = sum(outcome[f"heat_{part}_error_W"] for part in ("through_outside", "through_ends", "from_bare_flue"))
    assert outcome["heat_to_room_error_W"] == pytest.approx(parts, rel=1e-12)


def test_equal_grids_leave_a_bar_that_is_not_zero(pair):
    """Two grids may agree by chance; a result is never printed as exact."""
    fine = summarise(pair[0])
    bars = with_errors(fine, fine, touches=False)
    assert bars["heat_to_water_error_W"] == pytest.approx(1e-5 * fine["heat_from_gas_W"])
    assert bars["wall_min_error_C"] == pytest.approx(1e-5 * (420.0 - 18.0))


def test_refining_goes_on_until_the_share_is_reached():
    heater, outcome = solve_with_errors(edited(), within=1e-3)
    assert outcome["heat_to_water_error_W"] <= 1e-3 * outcome["heat_to_water_W"]
    assert outcome["cells"] >= 4 * summarise(solved())["cells"]
    assert heater.model.pieces.count == outcome["pieces"]


def test_a_share_out_of_reach_is_an_error_that_says_how_far_it_got():
    with pytest.raises(ConvergenceError, match=r"finest grid .* must be within 1e-07 %"):
        solve_with_errors(edited(("turns = 4", "turns = 1")), within=1e-9)


def test_without_a_coil_the_heat_to_the_room_is_refined():
    _, outcome = solve_with_errors(edited(*NO_COIL), within=1e-3)
    assert outcome["heat_to_room_error_W"] <= 1e-3 * outcome["heat_to_room_W"]
