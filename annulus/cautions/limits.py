"""The limits and their sources, read from `limits.toml`.

Goes in: nothing. Comes out: a tuple of `Limit` in the order of the file.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Literal

Level = Literal["danger", "warning", "note"]
LEVELS: tuple[Level, ...] = ("danger", "warning", "note")  # worst first

DECIDES = {
    "sweep": "The fire code, the stove's listing and a licensed sweep decide",
    "plumber": "The plumbing code and a licensed plumber decide",
    "builder": "The building and fire codes and a licensed installer decide",
    "maker": "Its maker's data sheet, the local code and a licensed installer decide",
}
# last word of a result's name: unit as written, and how many of the result's own make one
UNITS = {"C": ("degC", 1.0), "Pa": ("Pa", 1.0), "kPa": ("kPa", 1.0), "percent": ("%", 1.0), "s": ("min", 60.0)}


@dataclass(frozen=True)
class Limit:
    """One limit that a result must keep; see the head of `limits.toml`.

    Attributes
    ----------
    limit : float
        In the unit of the result's name; counted from the result `of` where there is one.
    limit_above : float or None
        Upper end, for the side "between".
    limit_words : str
        Told in place of the limit, where its number says nothing.
    """

    group: str
    level: Level
    what: str
    result: str
    side: Literal["below", "above", "between"]
    limit: float
    harm: str
    do: str
    source: str
    mark: str
    decides: str
    of: str | None = None
    of_words: str = ""
    limit_words: str = ""
    profile: str | None = None
    limit_above: float | None = None

    @property
    def unit(self) -> str:
        """Unit as written."""
        return UNITS[self.result.rsplit("_", 1)[-1]][0]

    @property
    def size(self) -> float:
        """One written unit in the unit of the result."""
        return UNITS[self.result.rsplit("_", 1)[-1]][1]


@lru_cache(maxsize=1)
def limits() -> tuple[Limit, ...]:
    """All limits, in the order of the file."""
    text = resources.files("annulus.cautions").joinpath("limits.toml").read_text(encoding="utf-8")
    return tuple(Limit(**row) for row in tomllib.loads(text)["limit"])
