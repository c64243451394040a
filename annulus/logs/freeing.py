"""What a builder asks to be fitted: a name of the trade's list, one with a range of its own, or any number of a case.

Goes in: "coil.gap", or "coil.gap = 0.2 mm to 2 mm". Comes out: a key with its range in SI; a case
with another value there.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass

from annulus.case import Case, build, dump
from annulus.errors import InputError
from annulus.logs.priors import Prior
from annulus.studies.keys import Key, changed, read_key
from annulus.units import Kind, parse, show

EXAMPLE = '--free "coil.gap = 0.2 mm to 2 mm"'
SOURCE = "stated with --free"
OF_THE_LOG = "the log's own fire stands in its place"
# tables and keys of a case whose value changes no reading of a burn that was logged, and why
REFUSED = {
    "fire.gas_temperature": OF_THE_LOG,
    "fire.wood_rate": OF_THE_LOG,
    "fire.loss_before_coil": OF_THE_LOG,
    "fire.excess_air": f"{OF_THE_LOG}; free fire.gas_flow instead",
    "fire.moisture": f"{OF_THE_LOG}; free fire.gas_flow instead",
    "tank.start_temperature": "the tank starts as the log does",
    "tank.target_temperature": "a log is fitted to its end, whatever the target",
    "water.inlet_temperature": "the coil is fed from the tank",
    "burn": OF_THE_LOG,
    "log": "it says how a log is read",
}
_RANGE = re.compile(r"(?P<name>[^=]+?)\s*=\s*(?P<low>.+?)\s+to\s+(?P<high>.+?)\s*\Z")


@dataclass(frozen=True)
class Asked:
    """What is asked to be free: its name, and the range if one is stated, as text."""

    name: str
    low: str | None = None
    high: str | None = None

    def range_in(self, kind: Kind) -> tuple[float, float]:
        """The stated range in SI.

        Raises
        ------
        InputError
            If an end is no such quantity, or the range is empty.
        """
        assert self.low is not None and self.high is not None  # asked for where a range is stated
        ends = []
        for text in (self.low, self.high):
            try:
                ends.append(parse(text, kind))
            except InputError as fault:
                raise InputError(f"--free {self.name}: {fault}") from fault
        if not ends[0] < ends[1]:
            raise InputError(f"--free {self.name}: {self.low} to {self.high} is empty; the lower end comes first")
        return ends[0], ends[1]

    def prior(self, kind: Kind) -> Prior:
        """Alike anywhere in the stated range, nowhere else."""
        low, high = self.range_in(kind)
        return Prior(self.name, low, high, "even", f"{self.low} to {self.high}", SOURCE, True, kind)


def read_asked(text: str) -> Asked:
    """Split "KEY" or "KEY = LOW to HIGH".

    Raises
    ------
    InputError
        If there is an equals sign and no range behind it.
    """
    match = _RANGE.match(text.strip())
    if match:
        return Asked(match["name"], match["low"], match["high"])
    if "=" in text:
        raise InputError(f"--free {text}: is no range; write it like {EXAMPLE}")
    return Asked(text.strip())


def refuse(name: str) -> None:
    """Raise for a key of the case that no log can determine."""
    reason = REFUSED.get(name) or REFUSED.get(name.partition(".")[0])
    if reason:
        raise InputError(f"--free {name}: no log can determine it: {reason}")


def prior_of_key(asked: Asked, cases: Sequence[Case]) -> Prior:
    """Prior of a number of the case files that the trade's list does not have.

    Raises
    ------
    InputError
        If it is no such number, no range is stated, or a case does not stand an end of it.
    """
    key = read_key(asked.name, "--free")
    if key.kind is None:
        what = "takes whole numbers" if key.is_whole else "takes words"
        raise InputError(f"--free {asked.name}: {what}; only a quantity can be fitted (annulus sweep tries others)")
    if asked.low is None:
        raise InputError(
            f'--free {asked.name}: the trade gives no range for it; state one: --free "{asked.name} = LOW to HIGH"'
        )
    prior = asked.prior(key.kind)
    if not any(counts(key, case) for case in cases):
        raise InputError(f"--free {asked.name}: no case that was logged has a [{key.path[0]}]")
    for end in (prior.low, prior.high):
        for case in cases:
            with_key(case, asked.name, end)
    return prior


def counts(key: Key, case: Case) -> bool:
    """True if the case has the table that the key stands in."""
    return key.path[0] in ("contacts", "materials") or getattr(case, key.path[0]) is not None


def with_key(case: Case, name: str, value: float) -> Case:
    """The case with another value of one of its numbers; as it is where it lacks that table.

    Parameters
    ----------
    case : Case
    name : str
        Dotted, as in a case file.
    value : float
        In SI.
    """
    key = read_key(name, "--free")
    assert key.kind is not None  # read with its prior
    if not counts(key, case):
        return case
    return build(changed(tomllib.loads(dump(case)), [(key.path, show(value, key.kind))]), f"--free {name}")
