"""Heat stripes where surfaces radiate across air: totals against the ledger, what is conducted and what is radiated."""

from collections import Counter
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from heaters import BARE_COIL, NO_COIL, after, solved, solved_folder
from test_stripes import all_lines, crossing_depth

from annulus.conduction.contacts import ARC
from annulus.conduction.legs import join_legs
from annulus.conduction.sight_lines import WORTH_DRAWING, sight_flow
from annulus.conduction.stripe_body import is_surface
from annulus.conduction.stripes import Stripes, trace_stripes
from annulus.errors import InputError
from annulus.heater import SteadyHeater, summarise

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


def tubes_of(heater: SteadyHeater) -> list[str]:
    return [region.name for region in heater.model.section.regions if region.role == "tube"]


@cache
def traced(name: str) -> tuple[SteadyHeater, Stripes]:
    heater = HEATERS[name]()
    return heater, trace_stripes(heater.field, tubes_of(heater), heater.stripe_watts())


@pytest.mark.parametrize("name", HEATERS)
def test_stripes_agree_with_the_ledger(name):
    """By source and by destination, far within the 1 % that is needed; nothing else enters or leaves."""
    heater, stripes = traced(name)
    field, outcome, tubes, totals = heater.field, summarise(heater), tubes_of(heater), stripes.totals

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
    heater, stripes = traced("bath-house, bare")
    totals = stripes.totals
    assert totals["r_min", "r_max"] > 0.5 * summarise(heater)["heat_through_outside_W"]


def test_no_two_stripes_cross_where_surfaces_radiate():
    heater = solved(*BARE_COIL)
    lines = all_lines(trace_stripes(heater.field, tubes_of(heater), heater.stripe_watts()))
    grid = heater.field.pieces.grid
    cell = max(np.diff(grid.r_face).max(), np.diff(grid.z_face).max())
    slack = max(2e-6, 2 * (cell / 4) ** 2 / (8 * 7.5e-3))  # sagitta of a chord along a tube's rim, twice
    for n, line in enumerate(lines):
        assert all(crossing_depth(line, other) < slack for other in lines[n + 1 :])


@pytest.mark.parametrize("name", HEATERS)
def test_watts_of_sight_lines_and_what_is_too_small_are_all_radiation(name):
    """Line by line: none carries more than a full stripe, none less than what is worth drawing."""
    heater, stripes = traced(name)
    radiant, sight, full = heater.field.radiant, stripes.sight, stripes.watts
    flow = sight_flow(radiant)
    assert np.abs(flow.sum(axis=0) - radiant.gain).max() < 1e-9 * np.abs(radiant.gain).sum()
    assert sight.radiant_watts == pytest.approx(np.maximum(flow, 0).sum(), rel=1e-12)
    assert sum(line.watts for line in sight.lines) + sight.small_watts == pytest.approx(sight.radiant_watts, rel=1e-9)
    assert all(WORTH_DRAWING * full <= line.watts <= full * (1 + 1e-5) for line in sight.lines)
    of_a_kind = dict.fromkeys(tubes_of(heater), "tubes")
    rests = Counter(
        (of_a_kind.get(line.source, line.source), of_a_kind.get(line.destination, line.destination))
        for line in sight.lines
        if line.watts < full * (1 - 1e-5)
    )
    assert max(rests.values(), default=0) <= 1


@pytest.mark.parametrize("name", HEATERS)
def test_what_reaches_a_surface_is_what_it_conducts_and_radiates_onward(name):
    """Bands that end and begin there, and radiation that is lost and kept there: nothing gathers at a surface."""
    heater, stripes = traced(name)
    surfaces = {name for band in stripes.bands for name in (band.source, band.destination) if is_surface(name)}
    assert surfaces
    for surface in surfaces:
        by_bands = sum(b.watts for b in stripes.bands if b.destination == surface)
        by_bands -= sum(b.watts for b in stripes.bands if b.source == surface)
        radiated = sum(w for (source, _), w in stripes.sight.carried.items() if source == surface)
        radiated -= sum(w for (_, end), w in stripes.sight.carried.items() if end == surface)
        assert by_bands == pytest.approx(radiated, abs=1e-5 * heater.stripe_watts() * 100)


@pytest.mark.parametrize("name", ["bath-house, bare", "wide cavity"])
def test_stripes_in_air_carry_to_the_tubes_what_air_conducts(name):
    """Flow from air to rims without its radiant part; with what radiation brings it is the heat of the water."""
    heater, stripes = traced(name)
    field, pieces, tubes = heater.field, heater.field.pieces, tubes_of(heater)
    open_space = field.radiant.clear
    a, b = pieces.region[pieces.link_a], pieces.region[pieces.link_b]
    is_tube = np.array([painted.name in tubes for painted in pieces.regions])
    on_rim = (pieces.links.kind == ARC) & ((open_space[a] & is_tube[b]) | (open_space[b] & is_tube[a]))
    conducted = (field.link_flow - field.radiant.link) * np.where(is_tube[b], 1.0, -1.0)
    gained = sum(w for (_, end), w in stripes.sight.carried.items() if end in tubes)
    gained -= sum(w for (source, _), w in stripes.sight.carried.items() if source in tubes)
    total = sum(b.watts for b in stripes.bands if b.destination in tubes)
    total -= sum(b.watts for b in stripes.bands if b.source in tubes)
    assert total == pytest.approx(conducted[on_rim].sum(), rel=1e-5)
    assert total + gained == pytest.approx(summarise(heater)["heat_to_water_W"], rel=1e-5)


@pytest.mark.parametrize("name", HEATERS)
def test_sight_lines_run_through_air_alone(name):
    """Points along each line lie in no tube, but for the sagitta of a short arc where a line begins on one."""
    heater, stripes = traced(name)
    discs = [region.shape for region in heater.model.section.regions if region.role == "tube"]
    along = np.linspace(0.0, 1.0, 41)[:, None]
    for line in stripes.sight.lines:
        points = line.start + along * (line.end - line.start)
        for disc in discs:
            assert np.hypot(points[:, 0] - disc.r, points[:, 1] - disc.z).min() > 0.97 * disc.radius


def test_sight_flow_of_three_patches_is_the_hand_calculation():
    """Exchange of 1 m2 each way; 3 W leave the first and reach the third: radiosities differ by 1, a third goes round.

    With J = (2, 1, 0): first to third 2 W, first to second 1 W, second to third 1 W; the first loses 3 W.
    """
    enclosure = SimpleNamespace(exchange=np.ones((3, 3)), area=np.full(3, 3.0), count=3)
    flow = sight_flow(SimpleNamespace(enclosure=enclosure, gain=np.array([-3.0, 0.0, 3.0])))
    assert flow == pytest.approx(np.array([[0, 1, 2], [-1, 0, 1], [-2, -1, 0]]), abs=1e-12)


def test_legs_that_meet_at_a_surface_mix_there():
    """30 W from the wall and 10 W from a tube meet; 3 : 1 of them go on by each way."""
    legs = {
        ("r_min", "surface of flue"): 30.0,
        ("tube", "surface of flue"): 10.0,
        ("surface of flue", "r_max"): 8.0,
        ("surface of flue", "surface of shroud"): 32.0,
        ("surface of shroud", "z_max"): 32.0,
        ("r_min", "r_max"): 1.0,
    }
    expected = {
        ("r_min", "r_max"): 7.0,
        ("tube", "r_max"): 2.0,
        ("r_min", "z_max"): 24.0,
        ("tube", "z_max"): 8.0,
    }
    assert join_legs(legs) == pytest.approx(expected)


def test_a_disc_that_radiates_and_is_no_sink_is_refused():
    heater = solved(*BARE_COIL)
    with pytest.raises(InputError, match="must be a sink"):
        trace_stripes(heater.field, [], heater.stripe_watts())
