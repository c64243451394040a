"""A loop without a pump in a burn: its flow is settled with the rest, and the bar of the steps holds what is left."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from heaters import edited_text

from annulus.burn import march as marching
from annulus.burn import summarise_burn
from annulus.burn.fast import FastBurner
from annulus.burn.march import TOLERANCE, _land
from annulus.burn.outcome import STANDS
from annulus.burn.precision import SHARPER, with_errors
from annulus.burn.verdicts import turn_saturation
from annulus.case import loads
from annulus.films import water
from annulus.films.properties import GRAVITY

BORE, TAILS, PIPE_BORE, PIPE, BENDS = 0.013, 4.0, 0.008, 20.0, 8.0  # tube 15 x 1 with two tails of 2 m; a narrow hose
HEIGHT, RISE, TANK_HEIGHT = 4 * 0.030, 0.2, 0.6  # [m]
LOOP = """
[tank]
volume = "4 L"
start_temperature = "8 degC"
target_temperature = "95 degC"
[loop]
circulation = "natural"
pipe_length = "20 m"
pipe_bore = "8 mm"
tank_above_coil = "0.2 m"
"""
HOT = (("420 degC", "800 degC"), ('"0.2 m"', '"0 m"'), ('"0.3 m"', '"0 m"'))  # boils in the coil; no bare flue to pass


@pytest.fixture(scope="module")
def burner():
    return FastBurner(loads(edited_text(*HOT) + LOOP), 1, most_refined=0)


@pytest.fixture(scope="module")
def usual(burner):
    return burner.first.march


def waters(march, step) -> tuple[np.ndarray, np.ndarray]:
    """Water of turns and tank at a step's end. [K]"""
    system = march.system
    _, coil, tank = system.parts_of(system.split(step.end.z)[1])
    return system.room + coil, system.room + tank


def buoyancy(coil: np.ndarray, tank: float) -> float:
    """Column of the tank's water beside the coil and the pipe above it, from foot of coil to top of tank. [Pa]"""
    top = 0.5 * HEIGHT + RISE + TANK_HEIGHT
    hot = float(water.density(coil).mean()) * HEIGHT + float(water.density(coil[-1])) * (top - HEIGHT)
    return GRAVITY * (float(water.density(tank)) * top - hot)


def laminar_friction(flow: float, coil: np.ndarray, tank: float, lengths: np.ndarray, winding: float) -> float:
    """Hagen and Poiseuille in straight tube, times Schmidt's factor in turns; bends by their speed. [Pa]"""

    def straight(temperature, bore):
        return 128 * water.viscosity(temperature) * flow / (np.pi * water.density(temperature) * bore**4)

    ratio, reynolds = BORE / winding, 4 * flow / (np.pi * BORE * water.viscosity(coil))
    curved = 1 + 0.14 * ratio**0.97 * reynolds ** (1 - 0.644 * ratio**0.312)
    ends = np.array([tank, coil[-1]])
    speed = flow / (0.25 * np.pi * PIPE_BORE**2) / water.density(ends)
    pieces = straight(coil, BORE) * curved @ lengths, straight(ends, BORE).mean() * TAILS
    return float(
        sum(pieces) + straight(ends, PIPE_BORE).mean() * PIPE + BENDS * (water.density(ends) * speed**2).mean() / 2
    )


def test_at_the_end_of_every_step_friction_takes_what_buoyancy_gives(usual):
    """By formulas written here; a straight pipe of the program is a coil a million times as wide: 2e-7 of its friction
    per unit of Reynolds' number, 1.5e-4 here."""
    turns = usual.system.turns
    lengths, winding = np.array([turn.length for turn in turns]), 2 * turns[0].r
    moving = [step for step in usual.steps if step.end.moment.signed_flow > STANDS]
    assert len(moving) > 10
    for step in moving:
        coil, tank = waters(usual, step)
        friction = laminar_friction(step.end.moment.signed_flow, coil, float(tank[0]), lengths, winding)
        # the pipe, and what settling may leave: 1e-3 K of some 5 K of rise, of flows that count by what the case states
        assert friction == pytest.approx(buoyancy(coil, float(tank[0])), rel=1e-3)


def test_the_time_does_not_hang_on_how_closely_laws_are_settled(burner, usual, monkeypatch):
    """With steps twice as long as usual, so that the usual ones are those half as long of its bar."""
    case, tolerance = usual.system.case, TOLERANCE / SHARPER
    found = summarise_burn(burner.burn(case, tolerance))
    bar = with_errors(found, found, summarise_burn(usual), {})["time_to_boiling_error_s"]
    monkeypatch.setattr(marching, "SETTLED", 0.05 * marching.SETTLED)
    closely = summarise_burn(burner.burn(case, tolerance))
    assert closely["time_to_boiling_s"] == pytest.approx(found["time_to_boiling_s"], abs=bar)


def test_the_burn_ends_where_its_water_boils(usual):
    coil, _ = waters(usual, usual.steps[-1])
    assert float((coil - turn_saturation(usual.system)).max()) == pytest.approx(0.0, abs=marching.SETTLED * TOLERANCE)


def test_a_step_lands_on_its_event_though_readings_waver():
    """Settled laws leave readings that waver; a reading that bends holds one end of a secant's bracket in place."""

    class Wavering:
        def take(self, now, goal, length, trend):
            waver = 1e-6 * np.sin(1e9 * length)  # [K]
            return SimpleNamespace(length=length, end=5e-3 * (length - 411.0) + 1e-6 * (length - 411.0) ** 2 + waver)

    now, whole = SimpleNamespace(time=0.0), Wavering().take(None, 0.0, 600.0, None)
    begun = Wavering().take(None, 0.0, 0.0, None).end
    landed = _land(Wavering(), lambda state: begun if state is now else state, now, 600.0, whole, None)
    assert landed.end >= 0
    assert landed.length == pytest.approx(411.0, abs=1e-3)  # 5 mK/s waver by 1e-6 K: 2e-4 s
