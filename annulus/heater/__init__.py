"""The heater: a section joined to its gas, water and room.

Goes in: a `Case`. Comes out: the steady state and what a builder reads from it.
"""

from annulus.heater.outcome import summarise
from annulus.heater.precision import solve_with_errors
from annulus.heater.steady import SteadyHeater, solve_heater

__all__ = ["SteadyHeater", "solve_heater", "solve_with_errors", "summarise"]
