"""Gas supply, and bare lengths of flue against an integration of their own."""

import math

import numpy as np
import pytest
from heaters import WOOD, after, edited
from scipy.integrate import solve_ivp
from scipy.optimize import fsolve

from annulus.films import gas_from_wood, lower_heating_value
from annulus.heater.gas_path import gas_coefficient, gas_supply, pass_bare_flue, room_coefficient
from annulus.heater.sides import heated_length

ROOM, HOT = 291.15, 693.15
FIRE = 'gas_flow = "9.8 g/s"'
WALL = 'wall = "2 mm"'
FIXED_GAS = after(FIRE, 'film_coefficient = "25 W/m2K"')
FIXED_ROOM = after('temperature = "18 degC"', 'film_coefficient = "12 W/m2K"')


def bare(*changes, gas_in=HOT, length=1.0):
    case = edited(*changes)
    return pass_bare_flue(case, gas_supply(case), gas_in, length)


def integrated(case, gas_in, length):
    """Gas at the top by adaptive steps along the height, walls solved for at each place. [K]

    It shares the film laws and the gas properties with the code under test, nothing else.
    """
    supply = gas_supply(case)
    r_in, r_out = case.flue.inner_diameter / 2, case.flue.outer_radius
    metal = case.material(case.flue.material)

    def heat_per_metre(gas):
        def residual(walls):
            inner, outer = walls
            soot = case.flue.soot_thickness / case.flue.soot_conductivity
            film = float(gas_coefficient(case, supply, np.array([gas]), np.array([inner]))[0])
            from_gas = 2 * math.pi * r_in * (gas - inner) / (1 / film + soot)
            k = float(metal.conductivity(0.5 * (inner + outer)))
            across = 2 * math.pi * k * (inner - outer) / math.log(r_out / r_in)
            outside = float(room_coefficient(case, np.array([outer]), length, case.flue.emissivity)[0])
            to_room = 2 * math.pi * r_out * outside * (outer - case.room.temperature)
            return from_gas - across, across - to_room

        _, outer = fsolve(residual, (0.5 * (gas + ROOM),) * 2, xtol=1e-12)
        film = float(room_coefficient(case, np.array([outer]), length, case.flue.emissivity)[0])
        return 2 * math.pi * r_out * film * (outer - case.room.temperature)

    def fall(_, gas):
        return [-heat_per_metre(gas[0]) / (supply.flow * float(supply.gas.cp(gas[0])))]

    return float(solve_ivp(fall, (0.0, length), [gas_in], rtol=1e-9, atol=1e-7).y[0, -1])


@pytest.mark.parametrize(
    "changes",
    [
        (),
        (after(WALL, 'soot_thickness = "2 mm"'),),
        (after(FIRE, "gas_multiplier = 1.5"), (FIRE, 'gas_flow = "3 g/s"')),
        (after(FIRE, "flame_emissivity = 0.1"), (WALL, 'wall = "6 mm"')),
        (FIXED_GAS, FIXED_ROOM),
    ],
    ids=["plain", "soot", "slow gas", "flame", "fixed films"],
)
def test_bare_flue_meets_an_independent_integration(changes):
    case = edited(*changes)
    fall = HOT - bare(*changes).gas_out
    # segments of 50 mm are of second order: the gas falls some 8 K in each
    assert fall == pytest.approx(HOT - integrated(case, HOT, 1.0), rel=2e-4)


def test_heat_of_bare_flue_is_what_the_gas_loses():
    supply = gas_supply(edited())
    flue = bare()
    lost = supply.flow * float(supply.gas.enthalpy(HOT) - supply.gas.enthalpy(flue.gas_out))
    assert flue.heat == pytest.approx(lost, rel=1e-12)
    assert flue.heat > 0


def test_constant_films_give_the_exponential():
    """A gas a little warmer than the room: constant properties, N = U A / (m cp) in closed form."""
    case = edited(FIXED_GAS, FIXED_ROOM)
    supply = gas_supply(case)
    k = float(case.material("black steel").conductivity(ROOM))
    per_length = 1 / (25 * 2 * math.pi * 0.075) + math.log(77 / 75) / (2 * math.pi * k) + 1 / (12 * 2 * math.pi * 0.077)
    ntu = 1 / per_length / (supply.flow * float(supply.gas.cp(ROOM + 0.5)))
    out = bare(FIXED_GAS, FIXED_ROOM, gas_in=ROOM + 1.0).gas_out
    # cp varies by 1e-4 over the degree, and N with it
    assert out - ROOM == pytest.approx(math.exp(-ntu), rel=1e-4)


def test_no_length_leaves_the_gas_as_it_is():
    flue = bare(length=0.0)
    assert (flue.gas_out, flue.heat, flue.wall.size) == (HOT, 0.0, 0)


def test_gas_of_the_rooms_temperature_loses_nothing():
    flue = bare(gas_in=ROOM)
    assert flue.gas_out == ROOM
    assert flue.heat == 0.0


def test_gas_colder_than_the_room_is_warmed():
    flue = bare(gas_in=ROOM - 10.0)
    assert ROOM - 10.0 < flue.gas_out < ROOM
    assert flue.heat < 0


def test_wall_lies_between_room_and_gas_and_cools_upwards():
    flue = bare()
    assert (flue.wall > ROOM).all() and (flue.wall < HOT).all()
    assert (np.diff(flue.wall) < 0).all()


def test_a_length_in_two_parts_loses_what_the_whole_loses():
    """With films that do not know the length."""
    whole = bare(FIXED_GAS, FIXED_ROOM, length=1.0)
    lower = bare(FIXED_GAS, FIXED_ROOM, length=0.4)
    upper = bare(FIXED_GAS, FIXED_ROOM, gas_in=lower.gas_out, length=0.6)
    # the same segments of 50 mm, settled to 1e-10 of the temperature
    assert lower.heat + upper.heat == pytest.approx(whole.heat, rel=1e-8)


@pytest.mark.parametrize(
    ("change", "factor"),
    [
        (after(FIRE, "gas_multiplier = 2.0"), 1),
        (after(WALL, "emissivity = 0.1"), -1),
        (after(WALL, 'soot_thickness = "3 mm"'), -1),
        (after('temperature = "18 degC"', 'altitude = "2000 m"'), -1),
    ],
    ids=["more gas film", "shiny pipe", "soot", "thin air"],
)
def test_loss_moves_the_way_its_cause_says(change, factor):
    assert factor * (bare(change).heat - bare().heat) > 0


def test_stated_gas_is_supplied_as_stated():
    supply = gas_supply(edited())
    assert (supply.flow, supply.temperature) == (pytest.approx(9.8e-3), pytest.approx(HOT))
    assert supply.fired_power is None


def test_wood_supplies_its_own_gas():
    supply = gas_supply(edited(*WOOD))
    assert supply.fired_power == pytest.approx(3 / 3600 * lower_heating_value(0.18), rel=1e-12)
    burnt = gas_from_wood(3 / 3600, 0.18, 2.2, 0.65, air_temperature=ROOM)
    assert (supply.flow, supply.temperature) == (burnt.mass_flow, burnt.temperature)


def test_dry_basis_is_turned_into_wet():
    dry = gas_supply(edited(*WOOD, after('loss_before_coil = "65 %"', 'moisture = "25 %"\nmoisture_basis = "dry"')))
    wet = gas_supply(edited(*WOOD, after('loss_before_coil = "65 %"', 'moisture = "20 %"')))
    assert dry.fired_power == pytest.approx(wet.fired_power, rel=1e-12)  # 25 % of dry wood is 20 % of wet


def test_entrance_counts_bare_lengths_and_coil():
    assert heated_length(edited()) == pytest.approx(0.2 + 4 * 0.03 + 0.3)


def test_multiplier_scales_the_film_and_a_fixed_film_ignores_it():
    gas, wall = np.array([600.0]), np.array([350.0])
    plain, doubled = edited(), edited(after(FIRE, "gas_multiplier = 2.0"))
    one, two = (gas_coefficient(case, gas_supply(case), gas, wall)[0] for case in (plain, doubled))
    assert two == pytest.approx(2 * one, rel=1e-12)
    fixed = edited(FIXED_GAS, (FIRE, f"{FIRE}\ngas_multiplier = 2.0"))
    assert gas_coefficient(fixed, gas_supply(fixed), gas, wall)[0] == 25.0


def test_fixed_room_film_is_taken_as_it_is():
    assert (room_coefficient(edited(FIXED_ROOM), np.array([300.0, 400.0]), 1.0, 0.9) == 12.0).all()
