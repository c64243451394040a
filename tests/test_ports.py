"""A section on its ports gives what all its pieces give, and says what it leaves out."""

import numpy as np
import pytest
from heaters import NO_COIL, edited

from annulus.conduction.ports import MatrixStore, extend
from annulus.errors import ConvergenceError
from annulus.heater import solve_heater, summarise
from annulus.heater.port_heater import as_heater, solve_on_ports
from annulus.heater.ports import Ports

FILMS = (
    ('gas_flow = "9.8 g/s"', 'gas_flow = "9.8 g/s"\nfilm_coefficient = "30 W/(m2 K)"'),
    ('inlet_temperature = "8 degC"', 'inlet_temperature = "8 degC"\nfilm_coefficient = "2000 W/(m2 K)"'),
    ("[room]\n", '[room]\nfilm_coefficient = "10 W/(m2 K)"\n'),
)
AIR = (('material = "quartz sand"\npacking = "vibrated"', 'material = "still air"'),)
COOLER = (("420 degC", "300 degC"),)
WEAKER = (("3 L/min", "0.8 L/min"), ("8 degC", "35 degC"))
OTHERS = {
    "a cooler fire": COOLER,
    "less and warmer water": WEAKER,
    "more gas": (("9.8 g/s", "14 g/s"),),
    "a cold room": (('temperature = "18 degC"', 'temperature = "-5 degC"'),),
    "water downwards": (('flow = "3 L/min"', 'flow = "3 L/min"\ndirection = "down"'),),
}


def to_water(flow, surfaces) -> float:
    return -float(flow[surfaces].sum())


@pytest.fixture(scope="module")
def packed():
    heater = solve_heater(edited(), 1)
    return heater, Ports(heater)


@pytest.fixture(scope="module")
def airy():
    heater = solve_heater(edited(*AIR), 1)
    return heater, Ports(heater)


def test_a_basis_stays_orthonormal_when_it_grows_and_leaves_out_what_it_spans():
    rng = np.random.default_rng(7)
    weight = rng.random(40)
    first = extend(np.empty((40, 0)), rng.random((40, 5)), weight)
    repeated = first @ rng.random((5, 3))
    grown = extend(first, np.column_stack([repeated, rng.random(40)]), weight)
    assert grown.shape == (40, 6)
    assert grown.T @ (weight[:, None] * grown) == pytest.approx(np.eye(6), abs=1e-13)


def test_a_store_blends_matrices_that_are_linear_in_the_state_exactly_and_computes_what_is_far():
    slope = np.random.default_rng(3).random((2, 4, 4))

    def compute(state):
        return np.eye(4) + np.tensordot(state, slope, axes=1)

    store = MatrixStore(compute, miss=0.3, spread=10.0)
    for state in ([0.0, 0.0], [5.0, 0.0], [0.0, 5.0]):
        store.learn(np.array(state))
    between = np.array([1.5, 2.5])
    far = np.array([80.0, 0.0])
    near_one, far_one = store.at(np.stack([between, far]))
    assert near_one == pytest.approx(compute(between), rel=0.02)
    assert far_one == pytest.approx(compute(far))
    assert store.computed == 4


# Air behind the open ends is as resistive as the film before it and its cells differ: there the four terms of
# `PortFilms` leave out 8e-10 (three 3e-8, two 3e-7); sand leaves out 1e-14.
@pytest.mark.parametrize(("changes", "within"), [((), 1e-11), (AIR, 1e-8)], ids=["packed", "airy"])
def test_with_fixed_films_the_ports_give_the_heat_of_all_pieces(changes, within):
    heater = solve_heater(edited(*FILMS, *changes), 1)
    ports = Ports(heater)
    ports.store.miss = 0.0  # every matrix computed, none blended
    state = solve_on_ports(ports, heater.case)
    water = to_water(heater.field.surface_flow, heater.model.water_surfaces)
    assert to_water(state.flow, ports.plan.water) == pytest.approx(water, rel=within)
    assert state.gas == pytest.approx(heater.gas, rel=within)


@pytest.mark.parametrize("name", OTHERS)
@pytest.mark.parametrize("kind", ["packed", "airy"])
def test_other_fires_waters_and_rooms_agree_with_all_pieces(name, kind, request):
    heater, ports = request.getfixturevalue(kind)
    case = edited(*(AIR if kind == "airy" else ()), *OTHERS[name])
    full = solve_heater(case, 1, near=heater)
    state = solve_on_ports(ports, case)
    water = to_water(full.field.surface_flow, full.model.water_surfaces)
    assert to_water(state.flow, ports.plan.water) == pytest.approx(water, rel=2e-3)
    assert state.balance_error < 1e-8


def test_the_defect_foretells_how_far_the_field_is_off(packed):
    heater, ports = packed
    case = edited(*WEAKER)
    room = case.room.temperature
    full = solve_heater(case, 1, near=heater)
    state = solve_on_ports(ports, case)
    off = full.field.temperature - room - ports.field(state.coordinates)[: full.field.temperature.size]
    told = ports.defect(state.coordinates, room, state.film, state.ambient - room)
    assert 0.3 < np.abs(told).max() / np.abs(off).max() < 3.0


def test_a_basis_enriched_by_its_defect_comes_closer(packed):
    heater, _ = packed
    ports = Ports(heater)
    case = edited(*WEAKER)
    room = case.room.temperature
    sizes = []
    for _ in range(3):
        state = solve_on_ports(ports, case)
        told = ports.defect(state.coordinates, room, state.film, state.ambient - room)
        sizes.append(np.abs(told).max())
        ports.enrich(told)
    assert sizes[1] < 0.3 * sizes[0] and sizes[2] < sizes[1]


def test_insulation_behind_open_ends_conducts_as_it_does_at_its_own_temperature():
    """Ports of a flue in wool at 420 degC, asked at 600: a wool as conductive as before would leave out 0.2 % there."""
    ports = Ports(solve_heater(edited(*NO_COIL), 1))
    case = edited(*NO_COIL, ("420 degC", "600 degC"))
    for _ in range(4):
        state = solve_on_ports(ports, case)
        ports.enrich(ports.defect(state.coordinates, case.room.temperature, state.film, state.ambient - 291.15))
    told, known = summarise(as_heater(ports, solve_on_ports(ports, case))), summarise(solve_heater(case, 1))
    for key in ("heat_through_ends_W", "heat_through_outside_W"):
        assert told[key] == pytest.approx(known[key], abs=1e-4 * known["heat_from_gas_W"]), key


def test_openings_of_a_heater_made_of_a_state_are_at_its_own_room(airy):
    _, ports = airy
    made = as_heater(ports, solve_on_ports(ports, edited(*AIR, *OTHERS["a cold room"])))
    held = made.model.radiation.held
    assert held[~np.isnan(held)] == pytest.approx(268.15) and not np.isnan(held).all()


@pytest.mark.parametrize("kind", ["packed", "airy"])
def test_a_state_on_ports_reads_like_a_heater(kind, request):
    heater, ports = request.getfixturevalue(kind)
    told, known = summarise(as_heater(ports, solve_on_ports(ports, heater.case))), summarise(heater)
    span = known["gas_in_C"] - known["water_in_C"]
    for key, value in known.items():
        if isinstance(value, float) and key.endswith("_W"):
            assert told[key] == pytest.approx(value, abs=1e-3 * known["heat_from_gas_W"]), key
        if isinstance(value, float) and key.endswith("_C"):
            assert told[key] == pytest.approx(value, abs=2e-3 * span), key


def test_a_field_on_ports_that_leaves_the_range_of_gas_water_and_room_is_refused(packed, monkeypatch):
    heater, ports = packed
    extremes = ports.extremes
    assert extremes(ports.start.coordinates[None])[0] + ports.start.room == pytest.approx(
        [heater.field.temperature.min(), heater.field.temperature.max()], rel=1e-6
    )
    monkeypatch.setattr(ports, "extremes", lambda y: 20.0 * extremes(y))
    with pytest.raises(ConvergenceError, match=r"steady heater on ports: a temperature leaves the range"):
        solve_on_ports(ports, heater.case)
