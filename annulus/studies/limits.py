"""Limits that a design must keep, in the words of an option.

Goes in: "wall_min_C > 60". Comes out: for a design's results whether it keeps
the limit, breaks it, or comes too close to tell.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from annulus.errors import InputError
from annulus.heater.precision import error_key

KEPT, BROKEN, TOO_CLOSE = "yes", "no", "too close"
_LIMIT = re.compile(r"\s*(\w+)\s*(<=|>=|<|>)\s*(\S+)\s*")


@dataclass(frozen=True)
class Limit:
    """One limit: a result, "<" or ">", a value in the unit of the result's name.

    A limit is kept where the whole error bar keeps it, broken where the whole
    bar breaks it, and too close to tell in between. A part that is not there
    (a filler's temperature without a filler) keeps every limit.
    """

    name: str
    sign: str
    value: float
    option: str = field(default="--keep", compare=False)  # where it was stated

    @property
    def words(self) -> str:
        """As it would be written."""
        return f"{self.name} {self.sign} {self.value:g}"

    def room(self, results: Mapping[str, Any]) -> float:
        """How far inside the limit a result lies; negative outside, infinite without the part. [the result's unit]"""
        found = results.get(self.name)
        if found is None:
            return math.inf
        return (found - self.value) * (1 if self.sign[0] == ">" else -1)

    def verdict(self, results: Mapping[str, Any]) -> str:
        """`KEPT`, `BROKEN` or `TOO_CLOSE`."""
        room, error = self.room(results), results.get(error_key(self.name)) or 0.0
        if room > error or (room == error and (len(self.sign) == 2 or error > 0)):
            return KEPT
        return TOO_CLOSE if room > -error else BROKEN


def read_limit(words: str, option: str = "--keep") -> Limit:
    """Read one limit; InputError if it is none."""
    match = _LIMIT.fullmatch(words)
    example = "write it like 'wall_min_C > 60', the number in the unit at the end of the name"
    if match is None:
        raise InputError(f"{option} {words!r}: is no limit; {example}")
    try:
        value = float(match[3])
    except ValueError as error:
        raise InputError(f"{option} {words!r}: {match[3]!r} is not a number; {example}") from error
    if not math.isfinite(value):
        raise InputError(f"{option} {words!r}: {match[3]!r} is not a finite number")
    return Limit(match[1], match[2], value, option)


def judge(limits: Sequence[Limit], results: Mapping[str, Any]) -> str:
    """Verdict of all limits together: the worst one."""
    verdicts = {limit.verdict(results) for limit in limits}
    return next((verdict for verdict in (BROKEN, TOO_CLOSE) if verdict in verdicts), KEPT)


def check_names(wished: Mapping[str, str], limits: Sequence[Limit], numbers: Sequence[str]) -> None:
    """Refuse names that no number among the results has.

    Parameters
    ----------
    wished : mapping
        Names of results by the options in which they stand, such as "--show".
    limits : sequence of Limit
    numbers : sequence of str
        Names of the results that are numbers.

    Raises
    ------
    InputError
        All bad names together, with the nearest one of each, and the names that there are.
    """
    stated = [(f"{option} {name}", name) for option, name in wished.items()]
    stated += [(f"{limit.option} '{limit.words}'", limit.name) for limit in limits]
    faults = [
        f"{place}: no number among the results is called '{name}'{_nearest(name, numbers)}"
        for place, name in stated
        if name not in numbers
    ]
    if faults:
        errors = [name for name in numbers if "_error_" in name]
        listed = ", ".join(name for name in numbers if name not in errors)
        with_errors = f"; and errors, such as {errors[0]}" if errors else ""
        raise InputError("\n".join(faults) + f" There are {listed}{with_errors}")


def _nearest(name: str, numbers: Sequence[str]) -> str:
    """The name most like it, whatever its capitals; of one too short to tell, the first that begins with it."""
    plain = {number.lower(): number for number in reversed(numbers)}
    like = difflib.get_close_matches(name.lower(), plain, n=1, cutoff=0.5)
    near = [plain[one] for one in like] or [one for one in numbers if one.lower().startswith(name.lower())]
    return f"; did you mean '{near[0]}'?" if near else "."


def numeric(results: Mapping[str, Any]) -> list[str]:
    """Names of results that are numbers, or would be if their part were there."""
    return [name for name, value in results.items() if not isinstance(value, (str, bool))]
