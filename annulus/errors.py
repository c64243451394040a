"""Error classes. A message names place, value, rule and likely cause.

Goes in: nothing. Comes out: one family of exceptions, so that a command can
turn every foreseeable failure into one clear line and an exit status.
"""

from __future__ import annotations

from typing import Any

MOST_QUOTED = 60  # characters of a value repeated in a message


def quoted(value: object) -> str:
    """A value as a message repeats it: no longer than a line can bear."""
    text = repr(value)
    return text if len(text) <= MOST_QUOTED else f"{text[:MOST_QUOTED]}..."


class AnnulusError(Exception):
    """Whatever annulus refuses or cannot finish."""


class InputError(AnnulusError, ValueError):
    """A case file, an option or an argument is not acceptable."""


class GeometryError(AnnulusError, ValueError):
    """The parts do not fit together."""


class MaterialError(AnnulusError, ValueError):
    """A material is unknown, banned, or has an impossible property."""


class BoilingError(AnnulusError):
    """Water would boil: a verdict on the design, not a number to compute with."""


class ConvergenceError(AnnulusError, RuntimeError):
    """An iteration did not settle; carries what it had.

    Parameters
    ----------
    message : str
        What did not converge, how far it got, and the likely cause.
    residuals : sequence of float, optional
        Residual of each iteration, in the unit the message states.
    field : object, optional
        The last field computed.
    """

    def __init__(self, message: str, residuals: Any = (), field: Any = None):
        super().__init__(message)
        self.residuals = list(residuals)
        self.field = field
