"""The fair comparison of fires."""

from dataclasses import replace

import numpy as np
import pytest
from burn_logs import write_log

from annulus.errors import InputError
from annulus.logs.crunch import crunch
from annulus.logs.facts import facts_of_volume
from annulus.logs.fair import PowerLaw, compare_fairly
from annulus.logs.ranges import usual_fires
from annulus.logs.reading import read_log
from annulus.present.log_fair import fair_text, verdict

# Common practice, no source: four fires on one coil, 106 kg of water by 30 K; minutes and kg of wood.
TRADE = {"bare": (152, 10.0), "wool": (137, 10.0), "sand": (83, 8.6), "graphite": (64, 5.9)}
# Heat rates [kW] and efficiencies at 15 MJ/kg that go with them, common practice, no source.
TRADE_RATES = {"bare": (1.45, 0.09), "wool": (1.6, 0.09), "sand": (2.7, 0.10), "graphite": (3.5, 0.15)}


def fire(folder, name, minutes, wood, gas=None, rise=30.0, rng=None):
    """A log of a tank that warms evenly, wood in six loads."""
    rows = []
    for m in range(minutes + 1):
        noise = rng.normal(0, 0.1) if rng is not None else 0.0
        load = f"{wood / 6:.3f}" if m % (minutes // 6) == 0 and m // (minutes // 6) < 6 else ""
        hot = f",{gas}" if gas is not None else ""
        rows.append(f"{m},{10 + rise * m / minutes + noise:.3f},{load}{hot}")
    head = "t [min],tank [degC],wood [kg]" + (",flue below [degC]" if gas is not None else "")
    facts = replace(facts_of_volume(0.106 / 0.9997), tank_loss=0.0, surroundings=283.15, moisture_wet=0.1672)
    facts = replace(facts, errors=replace(facts.errors, stratified=1.0))
    return crunch(read_log(write_log(folder, head, *rows, name=f"{name}.csv")), facts)


@pytest.fixture
def trade(tmp_path):
    return [(name, fire(tmp_path, name, *values)) for name, values in TRADE.items()]


def law():
    return PowerLaw(usual_fires().flow_exponent)


def test_heat_rates_and_efficiencies_are_those_the_trade_counts(trade):
    for name, crunched in trade:
        kilowatts, efficiency = TRADE_RATES[name]
        # moisture 16.7 % wet gives 15.0 MJ/kg; the trade's figures are rounded to two digits
        assert crunched.result["mean_heat_to_tank_W"] / 1e3 == pytest.approx(kilowatts, rel=0.05)
        assert crunched.result["efficiency"] == pytest.approx(efficiency, rel=0.07)


def test_most_of_the_gain_of_sand_is_a_faster_fire_and_of_graphite_the_heater(trade):
    wool, sand, graphite = compare_fairly(trade, law(), usual_fires())
    # by hand: ln(152 / 83) = 0.605 = ln(6.22 / 3.95) + ln(10 / 8.6) = 0.454 + 0.151
    assert sand.share_of_fire == pytest.approx(0.454 / 0.605, abs=0.01)
    assert sand.cause == "fire"
    assert "no gain per kilogram" in verdict(sand) and "faster" in verdict(sand)
    # ln(152 / 64) = 0.865 = 0.337 + 0.528
    assert graphite.share_of_fire == pytest.approx(0.337 / 0.865, abs=0.01)
    assert graphite.cause == "heater"
    assert graphite.per_wood is not None and graphite.per_wood.stands_out
    assert sand.per_wood is not None and not sand.per_wood.stands_out
    assert wool.per_wood is not None and not wool.per_wood.stands_out


def test_hotter_gas_is_taken_out_at_equal_conditions(tmp_path):
    # water means 25 degC in both; gas excess 375 and 475 K carry all of the gain
    cool = fire(tmp_path, "cool", 120, 9.0, gas=400)
    hot = fire(tmp_path, "hot", 120, 9.0, gas=500, rise=30.0 * 475 / 375)
    (one,) = compare_fairly([("a", cool), ("b", hot)], law(), usual_fires())
    assert one.rate.ratio == pytest.approx(475 / 375, rel=1e-2)
    assert one.equal_conditions is not None
    assert one.equal_conditions.ratio == pytest.approx(1.0, abs=0.02)
    assert not one.equal_conditions.stands_out


def test_repeated_fires_that_agree_narrow_the_interval_and_unlike_ones_widen_it(tmp_path):
    def width(minutes):
        logs = [("a", fire(tmp_path, f"a{n}", m, 9.0)) for n, m in enumerate((120, 120, 120))]
        logs += [("b", fire(tmp_path, f"b{n}", m, w)) for n, (m, w) in enumerate(minutes)]
        (one,) = compare_fairly(logs, law(), usual_fires())
        assert one.per_wood is not None
        return np.log(one.per_wood.high / one.per_wood.low)

    alike, unlike = width([(100, 7.0)] * 3), width([(100, 5.0), (100, 7.0), (100, 9.8)])
    assert unlike > 1.5 * alike


def test_intervals_hold_the_true_gain_at_their_rate(tmp_path):
    """Random pairs of fires with the trade's scatter: 90 % intervals of the heat from a kilogram."""
    rng = np.random.default_rng(2)
    one = fire(tmp_path, "one", 120, 9.0)
    held = 0
    for _ in range(200):
        drawn = []
        for true in (1.0, 1.3):
            own = rng.normal(0, one.result["heat_to_tank_error_J"] / 1.6449 / one.result["heat_to_tank_J"])
            factor = true * np.exp(rng.normal(0, usual_fires().scatter) + own)
            result = {**one.result, "heat_to_tank_J": one.result["heat_to_tank_J"] * factor}
            result["mean_heat_to_tank_W"] *= factor
            result["heat_to_tank_error_J"] *= factor
            drawn.append(replace(one, result=result))
        (gain,) = compare_fairly([("a", drawn[0]), ("b", drawn[1])], law(), usual_fires())
        assert gain.per_wood is not None
        held += gain.per_wood.low < 1.3 < gain.per_wood.high
    assert 0.85 <= held / 200 <= 0.99  # Student's with the trade's few fires is wide on purpose


def test_one_heater_alone_is_refused(tmp_path):
    log = fire(tmp_path, "one", 120, 9.0)
    with pytest.raises(InputError, match="two heaters"):
        compare_fairly([("a", log), ("a", log)], law(), usual_fires())


def test_text_says_what_stands_out(trade):
    text = fair_text(compare_fairly(trade, law(), usual_fires()), by_model=False)
    assert "sand" in text and "graphite" in text and "scatter of fires" in text


def test_gas_at_the_end_of_its_probe_tells_nothing_of_equal_fires(tmp_path):
    logs = [(name, fire(tmp_path, name, 100, 9.0, gas=400.0)) for name in ("first", "second")]
    assert compare_fairly(logs, law(), usual_fires())[0].equal_conditions is not None
    ended = replace(logs[1][1].log, at_limit={"gas_below": np.ones(101, dtype=bool)})
    (found,) = compare_fairly([logs[0], ("second", crunch(ended, logs[1][1].facts))], law(), usual_fires())
    assert found.equal_conditions is None
    assert "A dash: a log lacks gas" in fair_text([found], by_model=False)


def test_fire_that_warmed_no_tank_is_not_compared(tmp_path):
    logs = [("first", fire(tmp_path, "first", 100, 9.0)), ("second", fire(tmp_path, "second", 100, 9.0, rise=-3.0))]
    with pytest.raises(InputError, match=r"the tank of second gained no heat \(-0\."):
        compare_fairly(logs, law(), usual_fires())


def test_gas_colder_than_the_water_drives_no_law(tmp_path):
    logs = [(name, fire(tmp_path, name, 100, 9.0, gas=18.0)) for name in ("first", "second")]
    assert compare_fairly(logs, law(), usual_fires())[0].equal_conditions is None
