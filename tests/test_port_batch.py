"""Many heaters solved as arrays are the heaters solved one by one, by a plain dense twin that shares no arrays."""

from dataclasses import replace

import numpy as np
import pytest
from heaters import WOOD, edited

from annulus.errors import AnnulusError, ConvergenceError, InputError
from annulus.films import FlueGas, FlueGases, gas_film, room_film, water_film
from annulus.heater import port_heater, solve_heater
from annulus.heater.gas_path import gas_coefficient, gas_supply, pass_bare_flue, room_coefficient
from annulus.heater.port_heater import solve_many, solve_on_ports
from annulus.heater.ports import Ports
from annulus.heater.streams import outlet_weight
from annulus.heater.water_path import WATER, capacity_flow, water_coefficient

FILMED = (
    ('gas_flow = "9.8 g/s"', 'gas_flow = "9.8 g/s"\nfilm_coefficient = "30 W/(m2 K)"'),
    ('inlet_temperature = "8 degC"', 'inlet_temperature = "8 degC"\nfilm_coefficient = "2000 W/(m2 K)"'),
    ("[room]\n", '[room]\nfilm_coefficient = "10 W/(m2 K)"\n'),
)
DESIGNS = {
    "as it is": (),
    "hotter": (("420 degC", "520 degC"),),
    "less gas": (("9.8 g/s", "4 g/s"),),
    "wood": WOOD,
    "drier wood and more air": (*WOOD, ('loss_before_coil = "65 %"', 'loss_before_coil = "60 %"\nexcess_air = 3.0')),
    "warm water": (("8 degC", "45 degC"),),
    "a trickle": (("3 L/min", "0.9 L/min"),),
    "downwards": (('flow = "3 L/min"', 'flow = "3 L/min"\ndirection = "down"'),),
    "a cold room, high up": (('temperature = "18 degC"', 'temperature = "-5 degC"\naltitude = "2000 m"'),),
    "no bare flue": (('bare_below = "0.2 m"\nbare_above = "0.3 m"', ""),),
    "more bare flue": (('bare_below = "0.2 m"', 'bare_below = "0.19 m"'),),
    "fixed films": FILMED,
    "a flame and a fitted film": (("9.8 g/s", '9.8 g/s"\nflame_emissivity = 0.2\ngas_multiplier = "1.3'),),
}
ROUNDS, STILL = 300, 1e-13  # of the twin; change between its rounds, of a kelvin and more


def dense_twin(ports: Ports, case) -> dict[str, np.ndarray]:
    """One heater on its ports by repeated dense solves of section and streams together, nothing else."""
    plan, section = ports.plan, ports.model.section
    room, supply = case.room.temperature, gas_supply(case)
    gas_in = pass_bare_flue(case, supply, supply.temperature, case.flue.bare_below).gas_out
    n_bands, n_turns, r = plan.gas.size, plan.water.size, ports.uniform.size
    order = plan.water if case.water.direction == "up" else plan.water[::-1]
    gas, wet = np.full(n_bands + 1, gas_in), np.full(n_turns + 1, case.water.inlet_temperature)
    y, face = 100.0 * ports.uniform, np.full(plan.count, room + 100.0)
    for _ in range(ROUNDS):
        h = np.empty(plan.count)
        film = gas_coefficient(case, supply, 0.5 * (gas[1:] + gas[:-1]), face[plan.gas])
        h[plan.gas] = 1 / (1 / film + section.inner_resistance)
        h[plan.water] = water_coefficient(case, section.turns, face[plan.water], wet)
        h[plan.room] = room_coefficient(case, face[plan.room], section.height, plan.shine)
        conductions, films = ports.laws(y[None], np.array([[room]]))
        conduction, films = conductions[0], replace(films, depth=films.depth[0])
        conductance, drains = films.conductance(h), films.drains(h)
        mean, inlet = np.zeros((plan.count, n_bands + n_turns)), np.zeros(plan.count)
        carried = np.zeros((n_bands + n_turns, n_bands + n_turns))
        capacities = capacity_flow(supply.flow, gas, supply.gas), capacity_flow(case.water.flow, wet, WATER)
        first = 0
        for of, start, capacity in zip((plan.gas, order), (gas_in, wet[0]), capacities, strict=True):
            for n, port in enumerate(of):
                weight = outlet_weight(conductance[port] / capacity[n])
                mean[port, first + n], inlet[port] = weight, start - room
                carried[first + n, first + n] = capacity[n]
                if n:
                    mean[port, first + n - 1], carried[first + n, first + n - 1] = 1 - weight, -capacity[n]
            first += of.size
        wetted = np.concatenate([plan.gas, order])
        whole = np.block(
            [
                [conduction + films.system(h), -films.drives(h).T @ mean],
                [-drains[wetted], carried + (conductance[:, None] * mean)[wetted]],
            ]
        )
        drive = np.concatenate([films.drives(h).T @ inlet, -(conductance * inlet)[wetted]])
        solution = np.linalg.solve(whole, drive)
        y, rises = solution[:r], solution[r:]
        ambient = mean @ rises + inlet
        flow = conductance * ambient - drains @ y
        before = face
        face = room + films.face(y, flow)
        gas[1:], wet[1:] = gas_in + rises[:n_bands], wet[0] + rises[n_bands:]
        if np.abs(face - before).max() < STILL * np.abs(face).max():
            break
    return {"flow": flow, "face": face, "gas": gas, "water": wet, "film": h}


@pytest.fixture(scope="module")
def ports():
    """Ports whose matrices are learnt: the same for whoever asks in whatever order."""
    made = Ports(solve_heater(edited(), 1))
    for changes in (DESIGNS["hotter"], DESIGNS["a trickle"], DESIGNS["a cold room, high up"]):
        case = edited(*changes)
        state = solve_on_ports(made, case)
        made.store.learn(made.state(state.coordinates, np.array([case.room.temperature])))
    made.store.miss = made.store.spread = np.inf
    return made


@pytest.fixture(scope="module")
def batch(ports):
    return dict(zip(DESIGNS, solve_many(ports, [edited(*changes) for changes in DESIGNS.values()]), strict=True))


@pytest.mark.parametrize("name", DESIGNS)
def test_a_design_of_a_batch_is_that_of_the_dense_twin_to_1e_10(name, ports, batch):
    twin, state = dense_twin(ports, edited(*DESIGNS[name])), batch[name]
    scale = np.abs(twin["flow"][ports.plan.gas]).sum()
    assert np.abs(state.flow - twin["flow"]).max() < 1e-10 * scale
    assert state.gas == pytest.approx(twin["gas"], rel=1e-10)
    assert state.water == pytest.approx(twin["water"], rel=1e-10)
    assert state.face == pytest.approx(twin["face"], rel=1e-9)
    assert state.film == pytest.approx(twin["film"], rel=1e-8)  # outside it hangs on some ten kelvin above the room


def test_a_design_does_not_depend_on_those_beside_it(ports, batch):
    for name in ("wood", "downwards"):
        alone = solve_on_ports(ports, edited(*DESIGNS[name]))
        assert batch[name].flow == pytest.approx(alone.flow, rel=1e-10, abs=1e-10 * np.abs(alone.flow).sum())


def test_a_design_that_fails_fails_alone(ports, batch, monkeypatch):
    good = [edited(*DESIGNS[name]) for name in ("as it is", "hotter", "less gas")]
    other_section = edited(('pitch = "30 mm"', 'pitch = "31 mm"'))
    too_hot = edited(*WOOD, ('loss_before_coil = "65 %"', 'loss_before_coil = "0 %"\nexcess_air = 1.0'))
    stubborn = edited(("9.8 g/s", "9.8001 g/s"))
    settle = port_heater.PortLaws.imbalance

    def open_for_one(laws, answer):
        return np.where(laws.gas_side.flow[:, 0] == stubborn.fire.gas_flow, 1.0, settle(laws, answer))

    monkeypatch.setattr(port_heater.PortLaws, "imbalance", open_for_one)
    first, section, second, hot, open_, third = solve_many(
        ports, [good[0], other_section, good[1], too_hot, stubborn, good[2]]
    )
    assert isinstance(section, InputError) and "coil" in str(section)
    assert isinstance(hot, InputError) and "lies outside" in str(hot)
    assert isinstance(open_, ConvergenceError) and "energy closes to 1.0e+00" in str(open_)
    for state, name in zip((first, second, third), ("as it is", "hotter", "less gas"), strict=True):
        assert not isinstance(state, AnnulusError)
        assert state.flow == pytest.approx(batch[name].flow, abs=1e-9 * np.abs(state.flow).sum())


def test_a_batch_larger_than_one_part_keeps_its_order(ports, monkeypatch):
    monkeypatch.setattr(port_heater, "AT_ONCE", 2)
    cases = [edited(("420 degC", f"{degrees} degC")) for degrees in (300, 500, 350, 450, 400)]
    heats = [-state.flow[ports.plan.water].sum() for state in solve_many(ports, cases)]
    assert np.argsort(heats).tolist() == [0, 2, 4, 3, 1]


def test_films_of_many_fires_are_the_films_of_each():
    gases = [FlueGas(0.2, 2.0), FlueGas(0.1, 3.0, 9e4)]
    hot, wall = np.array([[500.0, 600.0, 700.0], [450.0, 800.0, 900.0]]), np.array([[310.0], [420.0]])
    flow, length, flame = np.array([[0.008], [0.012]]), np.array([[0.9], [1.4]]), np.array([[0.0], [0.3]])
    many = gas_film(flow, 0.15, length, hot, wall, FlueGases.gather(gases), flame_emissivity=flame)
    for n, gas in enumerate(gases):
        one = gas_film(flow[n, 0], 0.15, length[n, 0], hot[n], wall[n, 0], gas, flame_emissivity=float(flame[n, 0]))
        assert many.total[n] == pytest.approx(one.total, rel=1e-13)
        assert FlueGases.gather(gases).take(np.array([n])).density(hot[n])[0] == pytest.approx(gas.density(hot[n]))
    wet = water_film(flow * 4, 0.013, 0.17, hot / 2, wall)
    dry = room_film(wall + hot / 10, wall - 20.0, 0.6, 0.9, 9e4 + flow)
    for n in range(2):
        assert wet.coefficient[n] == pytest.approx(
            water_film(flow[n, 0] * 4, 0.013, 0.17, hot[n] / 2, wall[n, 0]).coefficient, rel=1e-13
        )
        one_dry = room_film(wall[n, 0] + hot[n] / 10, wall[n, 0] - 20.0, 0.6, 0.9, 9e4 + flow[n, 0])
        assert dry.total[n] == pytest.approx(one_dry.total, rel=1e-13)


def test_a_flow_that_cannot_be_is_named_among_many():
    with pytest.raises(InputError, match=r"gas flow -0\.002 kg/s must be positive"):
        gas_film(np.array([[0.01], [-0.002]]), 0.15, 0.9, 600.0, 350.0, FlueGas(0.2, 2.0))
    with pytest.raises(InputError, match="water flow 0 kg/s"):
        water_film(np.array([[0.05], [0.0]]), 0.013, 0.17, 300.0, 310.0)
