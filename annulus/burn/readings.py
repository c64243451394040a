"""Temperatures of one moment of a burn.

Goes in: a `Now`. Comes out: a dictionary by name.
"""

from __future__ import annotations

from annulus.burn.record import Now


def readings(now: Now) -> dict[str, float]:
    """Temperatures of one moment by name. [K]"""
    moment = now.moment
    system = moment.system
    x, y = system.split(now.z)
    _, coil, tank = system.parts_of(y)
    ambient = moment.ambient(y)
    n = system.body.n_bands
    up = moment.streams.flow.upwards
    from_gas = float(moment.taken(x, y)[:n].sum())
    return {
        "gas_below": moment.gas_in,
        "gas_above": moment.gas_above(from_gas),
        "water_out": system.room + float(coil[-1] if up else coil[0]),
        "coil_water_max": system.room + float(coil.max()),
        "bore_max": system.room + float(now.inputs[n:-1].max()),
        "tank_bottom": system.room + float(tank[0]),
        "tank_mean": system.room + float(tank.mean()),
        "tank_top": system.room + float(tank[-1]),
        **moment.body.readings(x, ambient),
    }
