"""How a burn ends: the tank at its target, water that boils, or time that is up.

Goes in: a `Heating`. Comes out: readings that rise to zero as each happens.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from annulus.burn.equations import Heating
from annulus.burn.record import Events, Now
from annulus.films import water
from annulus.films.properties import GRAVITY

Floats = NDArray[np.float64]

TARGET, COIL_BOILS, TANK_BOILS = "target", "coil boils", "tank boils"
LEAST_PRESSURE = 1000.0  # [Pa]; a column that would hang lower has parted long before


def turn_saturation(system: Heating) -> Floats:
    """Boiling point in every turn, bottom first, under the water that stands above it. [K]

    The case's water pressure is that on the water of the tank, which is taken to
    be open; the column down to the turn adds to it, a tank below the coil takes
    away.
    """
    case = system.case
    assert case.tank is not None and case.loop is not None and case.water is not None  # a tank brings [loop] along
    surface = 0.5 * case.height + case.loop.tank_above_coil + case.tank.height
    depth = surface - np.array([turn.z for turn in system.turns])
    weight = float(water.density(case.tank.start_temperature)) * GRAVITY
    return np.asarray(water.saturation_temperature(np.maximum(case.water.pressure + weight * depth, LEAST_PRESSURE)))


def make_events(system: Heating, to_target: bool) -> Events:
    """Readings of the verdicts.

    Parameters
    ----------
    system : Heating
    to_target : bool
        Whether the target ends the burn.
    """
    case = system.case
    assert case.tank is not None and case.water is not None  # as above
    in_turns, in_tank = turn_saturation(system), float(water.saturation_temperature(case.water.pressure))
    target = case.tank.target_temperature

    def waters(now: Now) -> tuple[Floats, Floats]:
        _, coil, tank = system.parts_of(system.split(now.z)[1])
        return system.room + coil, system.room + tank

    def coil_boils(now: Now) -> float:
        if not system.circulation.wets(now.moment.time):
            return -1.0
        return float((waters(now)[0] - in_turns).max())

    def tank_boils(now: Now) -> float:
        return float(waters(now)[1].max() - in_tank)

    def reached(now: Now) -> float:
        return system.vessel.mean(waters(now)[1]) - target

    events = {COIL_BOILS: coil_boils, TANK_BOILS: tank_boils}
    return events | {TARGET: reached} if to_target else events
