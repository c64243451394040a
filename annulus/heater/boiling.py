"""Water that would boil is refused, with the key to turn.

Goes in: water along the coil and its boiling point. Comes out: nothing, or a
BoilingError.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from annulus.case import Water
from annulus.errors import BoilingError
from annulus.films import water
from annulus.heater.gas_path import GasSupply
from annulus.units import show
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]

NEARLY_BOILING = 10.0  # [K]; water that enters closer to boiling is blamed, not its flow


def refuse_boiling(wet: Floats, saturation: float, given: Water, supply: GasSupply) -> None:
    """Raise BoilingError where water enters or leaves a turn at its boiling point.

    Parameters
    ----------
    wet : ndarray, shape (n_turns + 1,)
        At the inlet, then after each turn in the order of flow. [K]
    saturation : float
        [K]
    given : Water
        The case's.
    supply : GasSupply
        What could heat it.
    """
    inlet = show(given.inlet_temperature, "temperature")
    boils = f"at or above its boiling point of {to_celsius(saturation):.0f} degC"
    if wet[0] >= saturation:
        raise BoilingError(
            f"water.inlet_temperature = {inlet!r}: water would enter the coil at {to_celsius(float(wet[0])):.0f} degC, "
            f"{boils}; was another unit meant, or is water.pressure above that of the air?"
        )
    hot = np.flatnonzero(wet[1:] >= saturation)
    if not hot.size:
        return
    n = int(hot[0])
    turn = n + 1 if given.direction == "up" else wet.size - 1 - n
    steams = f"water would leave turn {turn} (from the bottom) at {to_celsius(float(wet[n + 1])):.0f} degC, {boils}"
    if saturation - wet[0] < NEARLY_BOILING:
        raise BoilingError(f"water.inlet_temperature = {inlet!r}: {steams}; start with colder water, or a larger flow")
    flow = show(given.flow, "water_flow")
    raise BoilingError(f"water.flow = {flow!r}: {steams}; {_enough(wet, saturation, given.flow, supply)}")


def _enough(wet: Floats, saturation: float, given: float, supply: GasSupply) -> str:
    """What flow would do for certain: all that the gas can give, down to the water's inlet, carried below boiling."""
    hot, cold = supply.gas.enthalpy(np.array([supply.temperature, wet[0]])).tolist()
    start, boiling = water.enthalpy(np.array([wet[0], saturation])).tolist()
    heat = supply.flow * (hot - cold)
    flow = heat / (boiling - start)
    if flow <= given:
        return "more than the gas can give reaches it, so the room heats it; is room.temperature right?"
    return (
        f"the gas can give {heat:.3g} W at most, for which {60 * flow:.2g} L/min are enough; "  # of 1 kg, within 5 %
        "is the flow in the right unit, does the pump run?"
    )
