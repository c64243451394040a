"""Which column of a log is what: from a mapping, or guessed from its heading.

Goes in: headings, and the mapping of the case file if there is one. Comes out:
one `Use` a column, with role, unit and where both come from.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from annulus.errors import InputError
from annulus.units import Kind, parse

Origin = Literal["mapped", "guessed", "not used"]

# role: (kind of quantity, unit where none is stated, what it is)
ROLES: dict[str, tuple[Kind, str, str]] = {
    "clock": ("time", "h", "time of day, or date and time"),
    "elapsed": ("time", "min", "time since the start"),
    "gas_below": ("temperature", "degC", "flue gas below the coil"),
    "gas_above": ("temperature", "degC", "flue gas above the coil"),
    "water_in": ("temperature", "degC", "water into the coil"),
    "water_out": ("temperature", "degC", "water out of the coil"),
    "tank": ("temperature", "degC", "tank, one probe"),
    "tank_top": ("temperature", "degC", "tank, top"),
    "tank_bottom": ("temperature", "degC", "tank, bottom"),
    "flow": ("water_flow", "L/min", "water through the coil"),
    "wood": ("mass", "kg", "wood laid on at that row"),
    "room": ("temperature", "degC", "air of the room"),
    "outdoors": ("temperature", "degC", "air outdoors"),
}
TIMES = ("clock", "elapsed")
GAS = ("gas_below", "gas_above")
LOOP = ("water_in", "water_out")
TANK = ("tank", "tank_top", "tank_bottom")
AIR = ("room", "outdoors")

# words of headings, by what they speak of and where
_GAS = {"flue", "gas", "smoke", "stack", "pipe", "chimney", "exhaust", "connector"}
_TANK = {"tank", "drum", "tub", "barrel", "vessel", "cylinder", "store", "bath"}
_LOOP = {"hose", "coil", "loop", "water", "tail"}
_LOW = {"below", "low", "lower", "under", "before", "bottom", "btm"}
_HIGH = {"above", "up", "upper", "top", "after", "high", "over"}
_IN = {"in", "inlet", "cold", "return", "into", "entering"}
_OUT = {"out", "outlet", "hot", "from", "leaving"}
_SINGLE: dict[str, set[str]] = {
    "outdoors": {"outdoor", "outdoors", "outside"},
    "room": {"room", "ambient", "air", "shed", "indoor", "indoors"},
    "flow": {"flow", "lpm", "gpm"},
    "wood": {"wood", "log", "logs", "fuel", "firewood", "birch"},
    "elapsed": {"elapsed", "t", "min", "sec", "minutes", "minute", "seconds", "hours", "since"},
    "clock": {"clock", "time", "timestamp", "date", "datetime"},
}
_DATE_ALONE = {"date"}
_UNIT_OF_RATE = re.compile(r"[\[(][^\])]*[\])]|\S+/\S+")  # its minutes are no time
_BRACKETED = re.compile(r"(.*\S)\s*[\[(]\s*([^\])]+?)\s*[\])]\s*\Z")
_TRAILING = re.compile(r"(.*\S)(?:\s*[,;/]\s*|[\s_]+)(\S+)\Z")


@dataclass(frozen=True)
class Use:
    """What a column serves for.

    Attributes
    ----------
    column : str
        Heading as the file writes it.
    role : str or None
        One of `ROLES`; None for a column that is not used.
    unit : str
        Unit its numbers are read in; empty if not used.
    origin : str
        Where the role comes from.
    unit_is_stated : bool
        False where the file names no unit and the usual one is taken.
    """

    column: str
    role: str | None
    unit: str
    origin: Origin
    unit_is_stated: bool


def assign(headings: Sequence[str], mapping: Mapping[str, str] | None, file: str) -> list[Use]:
    """Role and unit of every column.

    Parameters
    ----------
    headings : sequence of str
    mapping : mapping of str to str, optional
        Role to column, as the table [log] of a case file has it: the heading, or the
        heading and a unit in brackets, as in "T1 [degF]". Without it the roles are guessed
        from words; the first column that fits a role has it.
    file : str
        What messages call the log.

    Raises
    ------
    InputError
        If a mapped column is not in the file, or no column tells the time.
    """
    if mapping:
        uses = _mapped(headings, mapping, file)
    else:
        # a date that has the time of day in a column of its own tells nothing more than midnight does
        has_time = any(guess(heading) == "clock" and not _is_date(heading) for heading in headings)
        taken: set[str] = {"clock"} if has_time else set()
        uses = []
        for heading in headings:
            role = guess(heading)
            if has_time and role == "clock" and not _is_date(heading):
                has_time = False
            elif role is None or role in taken:
                uses.append(Use(heading, None, "", "not used", False))
                continue
            taken.add(role)
            uses.append(_use(heading, heading, role, "guessed"))
    if not any(use.role in TIMES for use in uses):
        raise InputError(
            f"{file}: no column tells the time among {', '.join(map(repr, headings))}; name one in the case file, "
            'as in [log] clock = "Time", or elapsed = "minutes [min]"'
        )
    return uses


def guess(heading: str) -> str | None:
    """Role that the words of a heading speak of, None if they speak of none."""
    words = _words(heading)
    if words & _TANK:
        return "tank_top" if words & _HIGH else "tank_bottom" if words & _LOW else "tank"
    if words & _SINGLE["flow"]:
        return "flow"
    if words & _GAS and words & (_LOW | _IN):
        return "gas_below"
    if words & _GAS and words & (_HIGH | _OUT):
        return "gas_above"
    if words & _LOOP and words & _IN:
        return "water_in"
    if words & _LOOP and words & _OUT:
        return "water_out"
    return next((role for role, known in _SINGLE.items() if words & known), None)


def _words(heading: str) -> set[str]:
    """Words of a heading in small letters, without those of its unit."""
    name = _UNIT_OF_RATE.sub(" ", heading)
    return set(re.findall(r"[^\W\d_]+", re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name).lower()))


def _is_date(heading: str) -> bool:
    return _words(heading) & _SINGLE["clock"] == _DATE_ALONE


def split_unit(heading: str, kind: Kind) -> tuple[str, str | None]:
    """Name and unit of a heading: "Flue low [degF]", "Flue low / degF", "flue_low_F"; None if it states no unit."""
    for pattern in (_BRACKETED, _TRAILING):
        match = pattern.match(heading)
        if match and _is_unit(match[2], kind):
            return match[1], match[2]
    return heading, heading if _is_unit(heading, kind) else None


def _is_unit(text: str, kind: Kind) -> bool:
    try:
        parse(f"1 {text}", kind)
    except InputError:
        return False
    return True


def _use(heading: str, text: str, role: str, origin: Origin) -> Use:
    kind, usual, _ = ROLES[role]
    unit = split_unit(text, kind)[1] or split_unit(heading, kind)[1]
    return Use(heading, role, unit or usual, origin, unit is not None)


def _mapped(headings: Sequence[str], mapping: Mapping[str, str], file: str) -> list[Use]:
    """Uses that a mapping states; every fault of it at once."""
    by_heading: dict[str, Use] = {}
    faults = []
    for role, text in mapping.items():
        name = split_unit(text, ROLES[role][0])[0]
        names = [heading for heading in headings if heading in (text, name)]
        names = names or [heading for heading in headings if split_unit(heading, ROLES[role][0])[0] == name]
        if not names:
            near = difflib.get_close_matches(name, headings, n=1, cutoff=0.5)
            hint = f"; did you mean {near[0]!r}?" if near else f"; it has {', '.join(map(repr, headings))}"
            faults.append(f"{file}: has no column {name!r}, which [log] {role} names{hint}")
        elif names[0] in by_heading:
            faults.append(f"{file}: column {names[0]!r} is named by [log] {by_heading[names[0]].role} and by {role}")
        else:
            by_heading[names[0]] = _use(names[0], text, role, "mapped")
    if faults:
        raise InputError("\n".join(faults))
    return [by_heading.get(heading, Use(heading, None, "", "not used", False)) for heading in headings]
