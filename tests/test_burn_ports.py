"""A burn on ports is the burn of all pieces, within what it says it leaves out."""

from pathlib import Path

import numpy as np
import pytest
from heaters import BARE_COIL
from test_burn import burning

from annulus.burn import burn_with_errors, run_burn, summarise_burn
from annulus.burn.fast import ENOUGH, FastBurner
from annulus.burn.upset import Upset
from annulus.case import load
from annulus.errors import InputError

CASES = Path(__file__).parent.parent / "cases"
OTHER = (("420 degC", "330 degC"), ("3 L/min", "1.5 L/min"), ("10 L", "8 L"))
AIR = (('material = "quartz sand"\npacking = "vibrated"', 'material = "still air"'),)


def tank_means(march) -> tuple[np.ndarray, np.ndarray]:
    system = march.system
    means = [system.parts_of(system.split(step.end.z)[1])[2].mean() for step in march.steps]
    return np.array([step.end.time for step in march.steps]), np.array(means)


@pytest.fixture(scope="module", params=["packed", "airy"])
def kind(request):
    return AIR if request.param == "airy" else ()


@pytest.fixture(scope="module")
def burner(kind):
    return FastBurner(burning(*kind), 1)


@pytest.fixture(scope="module")
def full(kind):
    return summarise_burn(run_burn(burning(*kind), 1).march)


def test_it_has_few_unknowns_and_leaves_out_little(burner):
    assert burner.body.size < 100 < burner.body.model.pieces.count / 10
    assert burner.first.share < ENOUGH


def test_times_and_heats_are_those_of_all_pieces(burner, full):
    found = summarise_burn(burner.first.march)
    for key in ("time_to_target_s", "mean_heat_to_water_W", "wood_kg", "up_chimney_J"):
        assert found[key] == pytest.approx(full[key], rel=1e-3), key
    span = full["wall_max_C"] - 8.0
    for key in ("wall_max_C", "tube_max_C", "insulation_max_C"):
        assert found[key] == pytest.approx(full[key], abs=5e-3 * span), key


def test_behind_a_bare_coil_the_outside_is_what_a_hand_reaches():
    case = burning(*BARE_COIL)
    full = summarise_burn(run_burn(case, 1).march)
    ports = summarise_burn(FastBurner(case, 1).first.march)
    assert full["outside_max_C"] == pytest.approx(full["wall_max_C"], abs=5.0)
    assert ports["outside_max_C"] == pytest.approx(full["outside_max_C"], abs=1.0)


def test_energy_closes_on_ports_too(burner):
    assert summarise_burn(burner.first.march)["ledger_error"] < 1e-6
    assert max(abs(step.imbalance) for step in burner.first.march.steps) < 1e-9


def test_the_estimate_of_what_is_left_out_covers_the_water_of_another_burn(burner, kind):
    case = burning(*kind, *OTHER)
    judged = burner.judge(case)
    times, warm = tank_means(run_burn(case, 1).march)
    port_times, port_warm = tank_means(judged.march)
    at = judged.left_out.times[judged.left_out.times <= min(times[-1], port_times[-1])]
    off = np.interp(at, times, warm) - np.interp(at, port_times, port_warm)
    told = judged.left_out.tank[: at.size]
    interpolated = 0.02  # [K]: both histories are read between their steps
    assert np.abs(off - told).max() < interpolated + np.abs(told).max()


def test_of_what_is_left_out_the_main_shapes_make_the_basis_good_for_water_that_stops_late_in_a_burn():
    case = load(CASES / "bath-house-sand" / "case.toml")
    stop = Upset(pump_stop=180 * 60.0)
    before, after = (FastBurner(case, 1, upset=stop, most_refined=times).first.share for times in (0, 1))
    assert before > ENOUGH > after


def test_another_section_is_refused(burner, kind):
    with pytest.raises(InputError, match=r"shroud: differ"):
        burner.burn(burning(*kind, ('clearance = "8 mm"', 'clearance = "9 mm"')))


def test_the_error_bar_holds_the_time_on_a_finer_grid():
    case = burning()
    _, outcome = burn_with_errors(case)
    finer = summarise_burn(run_burn(case, 4).march)
    assert abs(outcome["time_to_target_s"] - finer["time_to_target_s"]) < outcome["time_to_target_error_s"]
    assert outcome["left_out_share_of_span"] < 2e-3


def test_the_places_that_the_range_is_held_against_hold_the_hottest_and_coldest(burner):
    body = burner.body
    for step in burner.first.march.steps[:: max(1, len(burner.first.march.steps) // 5)]:
        x = burner.first.march.system.split(step.end.z)[0]
        seen, every = body.seen(x), body.of_pieces(x)
        missed = max(0.02 * float(np.ptp(every)), 1.0)  # [K]; in the first second air beside the wall is not among them
        assert seen.max() >= every.max() - missed
        assert seen.min() <= every.min() + missed
