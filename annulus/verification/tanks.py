"""V26: a tank warmed by a coil or by a constant heat, against closed forms, and where its water boils.

Goes in: nothing. Comes out: rows. The march of the burn runs as for any case,
with one lump in the section's place and a constant heat capacity in the water's.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from annulus.burn.body import Inverse
from annulus.burn.circulation import Pump
from annulus.burn.equations import Heating
from annulus.burn.fire import SteadyFire
from annulus.burn.march import march_burn
from annulus.burn.record import March
from annulus.burn.tank import Vessel
from annulus.burn.verdicts import TANK_BOILS, TARGET, make_events
from annulus.case import Case as HeaterCase
from annulus.case import loads
from annulus.films import water
from annulus.section import lay_out
from annulus.verification.order import observed_order
from annulus.verification.rows import Case, Row, quoted, relative, zero

Floats = NDArray[np.float64]

HOUR = 3600.0
STRONG = 1e5  # [W/K], of the lump's side that is hardly felt
FAST_WATER = 20.0  # [kg/s]: water in the coil as warm as the tank within 0.02 K
FAST_GAS = "200 kg/s"  # gas that cools by 0.004 K
MARCHED = 1e-4  # of the span, asked for
STEPS = (5400.0, 2700.0, 1350.0, 675.0)  # [s], for the order
ORDER, ORDER_ERROR = 2.0, 0.2

# A closed form: m c dT/dt = UA_coil (T_gas - T) - UA_loss (T - T_room). Numbers recomputed from it.
MASS, HEAT_CAPACITY, COIL, LOSS, GAS, ROOM, START = 80.0, 4180.0, 1.8, 2.0, 550.0, 20.0, 15.0
SIX_HOURS, TIME_CONSTANT, LIMIT = 70.73015, 24.44444, 271.05263  # [degC], [h], [degC]
WARMED = 15.048e6  # [J] from 15 to 60 degC, 4.18 h at 1 kW
# The same with a constant heat in place of the coil; common practice's bookkeeping, computed, no source.
HEATED_MASS, HEATED_CAPACITY, POWER, HEATED_LOSS, HEATED_ROOM, HEATED_START = 150.0, 4184.0, 1150.0, 2.5, 10.0, 8.0
HEATED = {1.0: 14.58, 3.0: 27.45, 5.0: 39.97, 6.0: 46.09}  # [degC] by hour
TARGET_C, TARGET_HOURS = 48.0, 6.315

CASE = """
title = "Tank"
[flue]
material = "black steel"
inner_diameter = "150 mm"
wall = "2 mm"
[coil]
tube = "EN 1057 15 x 1"
turns = 1
pitch = "30 mm"
[fire]
gas_temperature = "{gas} degC"
gas_flow = "{gas_flow}"
film_coefficient = "10 W/m2K"
[water]
flow = "3 L/min"
inlet_temperature = "{start} degC"
film_coefficient = "1000 W/m2K"
[room]
temperature = "{room} degC"
[tank]
volume = "100 L"
start_temperature = "{start} degC"
target_temperature = "{target} degC"
loss = "{loss} W/K"
[burn]
start_temperature = "{start} degC"
"""


@dataclass(frozen=True)
class PlainVessel(Vessel):
    """A tank of given mass and constant heat capacity."""

    mass: float = 0.0
    heat_capacity: float = 0.0

    @property
    def water_mass(self) -> float:
        return self.mass

    def water_capacity(self, temperature: Floats) -> Floats:
        """The same at any temperature. [J/K]"""
        return np.full(self.layers, self.mass * self.heat_capacity / self.layers)


@dataclass(frozen=True)
class LumpStorage:
    """One unknown that stores nothing."""

    @property
    def stores(self) -> NDArray[np.bool_]:
        return np.zeros(1, dtype=bool)

    def __matmul__(self, change: Floats) -> Floats:
        return np.zeros_like(change)

    def diagonal(self) -> Floats:
        """Nothing. [J/K]"""
        return np.zeros(1)

    def by_part(self, change: Floats) -> Floats:
        """Nothing. [J]"""
        return np.zeros(1)


@dataclass(frozen=True)
class Lump:
    """A body and its equations in one: a single unknown between gas and water, and a heat source in it.

    Attributes
    ----------
    gas_side, water_side : float
        [W/K]
    power : float
        [W]
    room : float
        [K]
    """

    gas_side: float
    water_side: float
    power: float
    room: float
    size: int = 1
    n_bands: int = 1
    n_turns: int = 1
    parts: tuple[str, ...] = ("lump",)

    def uniform(self, temperature: float) -> Floats:
        """At a temperature [K], above the room."""
        return np.full(1, temperature - self.room)

    def storage(self, x: Floats) -> LumpStorage:
        """Nothing."""
        return LumpStorage()

    def of_pieces(self, x: Floats) -> Floats:
        """The lump. [K]"""
        return x

    def judged(self, x: Floats) -> Floats:
        """The lump. [K]"""
        return x

    def seen(self, x: Floats) -> Floats:
        """The lump. [K]"""
        return x

    def equations(self, x: Floats, gas_film: Floats, water_film: Floats) -> Lump:
        """The same whatever the films."""
        return self

    @property
    def conductance(self) -> Floats:
        return np.array([self.gas_side, self.water_side])

    @property
    def matrix(self) -> Floats:
        return np.array([[self.gas_side + self.water_side]])

    @property
    def drive(self) -> Floats:
        return np.array([self.power])

    @property
    def given(self) -> Floats:
        return self.conductance[None, :]

    @property
    def felt(self) -> Floats:
        return self.conductance[:, None]

    def walls(self, x: Floats, ambient: Floats) -> Floats:
        """The lump on both sides. [K]"""
        return np.repeat(x, 2)

    def room_heat(self, x: Floats) -> tuple[float, float]:
        """What the source brings, as if the room gave it. [W]"""
        return -self.power, 0.0

    def inverse(self, rate: float, storage: LumpStorage, mean: Floats, own: Floats) -> Inverse:
        """Exact."""
        felt = np.zeros((own.shape[0], 1))
        felt[:2] = self.felt
        whole = np.block([[self.matrix, -self.given @ mean], [-felt, own]])
        return lambda right: np.linalg.solve(whole, right)

    def readings(self, x: Floats, ambient: Floats) -> Mapping[str, float]:
        """None."""
        return {}


def heating(case: HeaterCase, lump: Lump, mass: float, heat_capacity: float) -> Heating:
    """A burn with a lump for its section and plain water in its tank; coil and pipes hold next to nothing."""
    assert case.tank is not None  # as in CASE
    system = Heating(case, lay_out(case), lump, SteadyFire(case), Pump(FAST_WATER))
    system.vessel = PlainVessel(case.tank, case.room.temperature, mass, heat_capacity)
    system.coil_volume = np.full(1, 1e-9)
    return system


def by_coil() -> Heating:
    """Tank warmed from gas at 550 degC."""
    text = CASE.format(gas=GAS, gas_flow=FAST_GAS, start=START, room=ROOM, target=60, loss=LOSS)
    return heating(loads(text), Lump(1 / (1 / COIL - 1 / STRONG), STRONG, 0.0, ROOM + 273.15), MASS, HEAT_CAPACITY)


def by_power() -> Heating:
    """Tank warmed by a constant heat; the gas is as cold as the room and tied by next to nothing."""
    text = CASE.format(
        gas=HEATED_ROOM, gas_flow="1 kg/s", start=HEATED_START, room=HEATED_ROOM, target=TARGET_C, loss=HEATED_LOSS
    )
    return heating(loads(text), Lump(1e-6, STRONG, POWER, HEATED_ROOM + 273.15), HEATED_MASS, HEATED_CAPACITY)


def water_of(march: March) -> float:
    """Water of the tank at the end. [degC]"""
    system = march.system
    return float(system.room + system.split(march.steps[-1].end.z)[1][-1]) - 273.15


def coil_form(time: float) -> float:
    """Closed form of the tank warmed by the coil; time in [s]. [degC]"""
    limit = (COIL * GAS + LOSS * ROOM) / (COIL + LOSS)
    return limit + (START - limit) * math.exp(-time * (COIL + LOSS) / (MASS * HEAT_CAPACITY))


def power_form(time: float) -> float:
    """Closed form of the tank warmed by a constant heat; time in [s]. [degC]"""
    limit = HEATED_ROOM + POWER / HEATED_LOSS
    return limit + (HEATED_START - limit) * math.exp(-time * HEATED_LOSS / (HEATED_MASS * HEATED_CAPACITY))


def tank_rows() -> list[Row]:
    """Temperatures, times, the order in time, and boiling."""
    span = LIMIT - START
    even = [water_of(march_burn(by_coil(), 6 * HOUR, {}, fixed_step=step)) for step in STEPS]
    chosen = march_burn(by_coil(), 6 * HOUR, {})
    order = observed_order(STEPS[:-1], [earlier - later for earlier, later in pairwise(even)])
    rows = [
        relative("heat from 15 to 60 degC", "J", WARMED, MASS * HEAT_CAPACITY * 45.0, 1e-9),
        Row("coil and loss, T(6 h)", "degC", SIX_HOURS, water_of(chosen), MARCHED, span),
        Row("order in time", "", ORDER, order, ORDER_ERROR),
        zero("heat lost in any step", max(abs(step.imbalance) for step in chosen.steps), 1e-9),
        quoted(
            [
                (SIX_HOURS, coil_form(6 * HOUR), 6e-6),
                (TIME_CONSTANT, MASS * HEAT_CAPACITY / (COIL + LOSS) / HOUR, 6e-6),
                (LIMIT, coil_form(1e9), 6e-6),
            ]
        ),
    ]
    for hours, expected in HEATED.items():
        reached = water_of(march_burn(by_power(), hours * HOUR, {}))
        rows.append(Row(f"constant heat, T({hours:g} h)", "degC", expected, reached, 0.006))  # its digits
    system = by_power()
    march = march_burn(system, 24 * HOUR, {TARGET: make_events(system, to_target=True)[TARGET]})
    rows.append(Row("constant heat, time to 48 degC", "h", TARGET_HOURS, march.steps[-1].end.time / HOUR, 6e-4))
    rows.append(quoted((T, power_form(hours * HOUR), 0.006) for hours, T in HEATED.items()))
    return [*rows, *boiling_rows()]


def boiling_rows() -> list[Row]:
    """The tank warmed until it boils: when, how warm, and that the run ends there."""
    system = by_coil()
    assert system.case.water is not None  # as in CASE
    march = march_burn(system, 100 * HOUR, {TANK_BOILS: make_events(system, to_target=False)[TANK_BOILS]})
    boils = float(water.saturation_temperature(system.case.water.pressure)) - 273.15
    when = TIME_CONSTANT * math.log((LIMIT - START) / (LIMIT - boils))
    return [
        Row("boils, water at the end", "degC", boils, water_of(march), MARCHED, LIMIT - START),
        relative("boils, time to it", "h", when, march.steps[-1].end.time / HOUR, MARCHED),
        Row("boils, runs that end with that verdict", "", 1.0, float(march.event == TANK_BOILS), 0.0),
    ]


CASES = (
    Case(
        "V26",
        "Water tank",
        "a burn warms its tank as fast as it should, and stops where the water boils",
        "closed form, one exponential",
        tank_rows,
    ),
)
