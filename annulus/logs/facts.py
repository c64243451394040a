"""What a log does not say, from the case and from options.

Goes in: a `Case` with a tank, or single values. Comes out: `Facts`.
"""

from __future__ import annotations

from dataclasses import replace

from annulus.case import Case, Log
from annulus.errors import InputError
from annulus.logs.columns import ROLES
from annulus.logs.crunch import Facts
from annulus.logs.ranges import Errors, usual_errors

USUAL_LOSS = 2.5  # [W/K], 200 L drum with lid and 50 mm wool; common practice, no source
USUAL_MOISTURE, USUAL_EXCESS_AIR = 0.18, 2.2  # as the defaults of a case's [fire]
NORMAL_PRESSURE = 101325.0  # [Pa]


def facts_of(case: Case) -> Facts:
    """Facts of a case.

    Raises
    ------
    InputError
        If the case has no tank.
    """
    tank = case.tank
    if tank is None:
        raise InputError(
            f"case '{case.title}': has no [tank], whose volume and loss a log needs; add it (annulus starter shows it)"
        )
    assert case.water is not None  # a tank comes with a coil and its water
    return Facts(
        tank.volume,
        tank.drum_mass * tank.drum_heat_capacity,
        tank.loss,
        tank.surroundings if tank.surroundings is not None else case.room.temperature,
        tank.target_temperature,
        case.fire.moisture_wet,
        case.fire.excess_air,
        case.water.pressure,
        errors_of(case.log),
    )


def facts_of_volume(volume: float) -> Facts:
    """Facts where only the tank's volume is known [m3]: usual loss and wood."""
    return Facts(volume, 0.0, USUAL_LOSS, None, None, USUAL_MOISTURE, USUAL_EXCESS_AIR, NORMAL_PRESSURE, usual_errors())


def mapping_of(case: Case | None) -> dict[str, str] | None:
    """Columns that the case names, None where it leaves them to be guessed."""
    if case is None or case.log is None:
        return None
    named = {role: getattr(case.log, role) for role in ROLES}
    return {role: name for role, name in named.items() if name is not None} or None


def errors_of(log: Log | None) -> Errors:
    """Usual errors, those that the case states put in their place."""
    errors = usual_errors()
    if log is None:
        return errors
    stated = {
        "water_probe": log.water_probe_error,
        "gas_probe": log.gas_probe_error,
        "volume": log.volume_error,
        "flow": log.flow_error,
        "wood": log.wood_error,
    }
    return replace(errors, **{name: value for name, value in stated.items() if value is not None})
