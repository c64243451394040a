"""Things that go wrong during a burn: the pump stops, the coil runs dry, the fire gets out of hand.

Goes in: a case, and when what goes wrong. Comes out: the same burn with another
fire or another flow from then on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from annulus.burn.circulation import Circulation
from annulus.burn.fire import Fire, Schedule
from annulus.case import Case
from annulus.errors import InputError

Floats = NDArray[np.float64]

# Common practice, no source: stoves left with the door or damper open reach 550 to 700 degC below the coil.
OVER_FIRE_GAS, OVER_FIRE_TIME = 273.15 + 650.0, 1800.0  # [K], [s]
# Gas up to 1125 degC for 3 to 15 min: US Solar Energy Research Institute, report TR-00192-1, read second-hand.
CHIMNEY_FIRE_GAS, CHIMNEY_FIRE_TIME = 273.15 + 1100.0, 600.0  # [K], [s]
WATCHED = 2 * 3600.0  # [s], how long what follows is looked at
MOST_WATCHED = 24 * 3600.0  # [s]; by then section and coil have long settled, and no fire is left alone for longer
HOUR = 3600.0
AS_BEFORE = "fire as before"


@dataclass(frozen=True)
class Heat:
    """Gas that is hotter than the fire would make it, for a while. [s], [K]"""

    begins: float
    lasts: float
    gas: float

    @property
    def ends(self) -> float:
        return self.begins + self.lasts


@dataclass(frozen=True)
class Upset:
    """What goes wrong, and when. [s]

    Attributes
    ----------
    pump_stop : float or None
        The water stands still from then on: a pump that stops, or air in the loop.
    dry : float or None
        The coil loses its water then. What it held drains back; the tank keeps its heat.
    heats : tuple of Heat
        Over-fires and chimney fires. Gas flow stays; the heat is counted as wood.
    watched : float
        The burn goes on for so long after the first of these.
    """

    pump_stop: float | None = None
    dry: float | None = None
    heats: tuple[Heat, ...] = ()
    watched: float = WATCHED

    @property
    def instants(self) -> tuple[float, ...]:
        """When something goes wrong, in order. [s]"""
        times = [self.pump_stop, self.dry, *(heat.begins for heat in self.heats)]
        return tuple(sorted(time for time in times if time is not None))

    @property
    def begins(self) -> float:
        """The first instant. [s]"""
        return self.instants[0]

    def marks(self) -> list[tuple[float, str]]:
        """Events in words, in the order of time."""
        named = [(self.pump_stop, "water stops"), (self.dry, "coil runs dry")]
        named += [(heat.begins, f"gas at {heat.gas - 273.15:.0f} °C") for heat in self.heats]
        named += [(heat.ends, AS_BEFORE) for heat in self.heats]
        return sorted((time, words) for time, words in named if time is not None)


def refuse_unreached(case: Case, upset: Upset) -> None:
    """InputError for what would go wrong when the burn is over or nobody looks any more.

    Marching on would take minutes and tell of a fire that the case says is out.
    """
    assert case.burn is not None  # comes with the tank
    lasts, seen = case.burn.duration, upset.begins + upset.watched
    if upset.watched > MOST_WATCHED:
        raise InputError(
            f"upset: to watch for {upset.watched / HOUR:g} h is more than {MOST_WATCHED / HOUR:g} h: by then all has "
            "settled; watch for less"
        )
    for time, words in upset.marks():
        if words == AS_BEFORE:
            continue
        if time >= lasts:
            raise InputError(
                f"upset: {words} at {time / HOUR:g} h, when the burn is over: burn.duration of the case is "
                f"{lasts / HOUR:g} h; give an earlier time, or the case a longer burn.duration"
            )
        if time >= seen:
            raise InputError(
                f"upset: {words} at {time / HOUR:g} h, but what follows the first upset is watched until "
                f"{seen / HOUR:g} h only; watch for longer"
            )


class StoppedFlow:
    """A circulation that stands still from an instant on, and may lose its water."""

    def __init__(self, usual: Circulation, upset: Upset):
        self._usual = usual
        stops = [time for time in (upset.pump_stop, upset.dry) if time is not None]
        self._stop = min(stops, default=np.inf)
        self._dry = upset.dry if upset.dry is not None else np.inf
        self.jumps = tuple(sorted({*usual.jumps, *stops}))

    def flow(self, time: float, coil: Floats, tank: Floats, before: float) -> float:
        """The usual flow, then none. [kg/s]"""
        return self._usual.flow(time, coil, tank, before) if time < self._stop else 0.0

    def drives_itself(self, time: float) -> bool:
        """As usual until it stands still."""
        return time < self._stop and self._usual.drives_itself(time)

    def wets(self, time: float) -> bool:
        """False from the instant on at which the coil runs dry."""
        return time < self._dry


class HeatedFire:
    """A schedule with stretches of hotter gas."""

    def __init__(self, usual: Schedule, heats: Sequence[Heat], room: float):
        self._usual, self._heats, self._room = usual, heats, room
        edges = {edge for heat in heats for edge in (heat.begins, heat.ends)}
        self.jumps = tuple(sorted({*usual.jumps, *edges}))
        self.bends = usual.bends
        self.longest_step = usual.longest_step

    def at(self, time: float) -> Fire:
        """The usual fire, or one as hot as its gas says, which burns as much more."""
        fire = self._usual.at(time)
        hotter = [heat.gas for heat in self._heats if heat.begins <= time < heat.ends]
        if not hotter:
            return fire
        supply = replace(fire.supply, temperature=max(hotter), fired_power=None)
        temperatures = np.array([supply.temperature, fire.supply.temperature, self._room])
        hot, usual, cold = supply.gas.enthalpy(temperatures).tolist()
        more = (hot - cold) / (usual - cold)
        return Fire(supply, fire.wood_rate * more, fire.fired_power * more)
