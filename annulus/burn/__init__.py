"""The burn: a heater with its fire, water loop and tank over time.

Goes in: a `Case` with a tank. Comes out: a march, what a builder reads from it,
and its history.
"""

from annulus.burn.instants import Instant, instants
from annulus.burn.outcome import history, summarise_burn
from annulus.burn.precision import burn_with_errors
from annulus.burn.run import BurnRun, run_burn
from annulus.burn.upset import Heat, Upset

__all__ = [
    "BurnRun",
    "Heat",
    "Instant",
    "Upset",
    "burn_with_errors",
    "history",
    "instants",
    "run_burn",
    "summarise_burn",
]
