"""What a study varies, from the words of an option or the rows of a table.

Goes in: "coil.pitch = 16 mm .. 40 mm x 9", or a CSV file. Comes out: a
`Variation`: the settings that are tried, each a set of changes to a case file.

    KEY = 1, 3, 6, 10 mm                 these; a bare number takes the unit that follows
    KEY = 16 mm .. 40 mm x 9             nine in even steps, both ends among them
    KEY = 1e-5 .. 1e-2 m2K/W x 7 by ratio    seven, each the same multiple of the one before
    KEY and KEY = ...                    two keys that get the same value
    filler.material = quartz sand (vibrated), still air    a material with its packing
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from annulus.errors import InputError
from annulus.studies.keys import Key, read_key
from annulus.units import UNITS, parse, show

MOST_STEPS = 1000  # values of one range
DIGITS = 12  # of a value of an even range, which is exact but for thirds and the like
DIGITS_BY_RATIO = 6  # of a value of a range by ratio, so that it can be read; it is computed as written
NAME_COLUMN = "name"  # column of a table that names its rows
FILLER = ("filler", "material")
WORDS = "write it like 'coil.pitch = 16 mm .. 40 mm x 9' or 'shroud.clearance = 1, 3, 6 mm'"

_RANGE = re.compile(r"(?P<first>.+?)\s*\.\.\s*(?P<last>.+?)(?:\s+[x×]\s*(?P<count>\S+))?(?:\s+(?P<ratio>by ratio))?")
_BARE = re.compile(r"[+-]?\s*(?:\d+\s+)?(?:\d+\s*/\s*\d+|(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)")
_PACKED = re.compile(r"(?P<name>.+?)\s*\((?P<packing>[^()]+)\)")

Change = tuple[tuple[str, ...], Any]


@dataclass(frozen=True)
class Setting:
    """One value of a variation.

    Attributes
    ----------
    name : str
        As a reader sees it, "16 mm".
    cells : tuple of (float or str)
        One for every column of the variation.
    changes : tuple of (key path, value)
        What it changes in a case file.
    """

    name: str
    cells: tuple[float | str, ...]
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class Variation:
    """What is varied, and the settings that are tried.

    Attributes
    ----------
    name : str
        The key; of a table the name of its file.
    columns : tuple of str
        Heads of its columns in a table of designs, "coil.pitch [mm]".
    settings : tuple of Setting
    by_ratio : bool
        True where steps are even on a logarithmic scale.
    """

    name: str
    columns: tuple[str, ...]
    settings: tuple[Setting, ...]
    by_ratio: bool = False

    @property
    def numbers(self) -> list[float] | None:
        """Its values, if they are numbers of one column."""
        if len(self.columns) > 1 or not all(isinstance(setting.cells[0], float) for setting in self.settings):
            return None
        return [float(setting.cells[0]) for setting in self.settings]


@dataclass(frozen=True)
class Span:
    """A range with ends and, where stated, a number of steps."""

    keys: tuple[Key, ...]
    name: str
    place: str
    unit: str
    first: Fraction
    last: Fraction
    count: int | None
    by_ratio: bool


def read_variation(words: str, option: str = "--vary") -> Variation:
    """Read one variation.

    Parameters
    ----------
    words : str
        As the head of this module shows.
    option : str
        What messages call the place where the words stand.

    Returns
    -------
    Variation

    Raises
    ------
    InputError
        Unknown key, unreadable value, a range without steps; the message names
        option, key and what to write.
    """
    keys, name, values, place = _split(words, option)
    span = _span(keys, name, values, place)
    if span is None:
        return _listed(keys, name, _items(values, place), place)
    if span.count is None:
        raise InputError(f"{place}: has no number of steps; end it with how many values to try, such as 'x 9'")
    return Variation(name, (_head(name, span.unit),), tuple(setting_at(span, n) for n in _steps(span)), span.by_ratio)


def read_span(words: str, option: str = "--vary") -> Span | Variation:
    """Read what may vary freely: a range without steps as a `Span`, a list as a `Variation`."""
    keys, name, values, place = _split(words, option)
    span = _span(keys, name, values, place)
    if span is None:
        return _listed(keys, name, _items(values, place), place)
    if span.count is not None:
        raise InputError(f"{place}: states {span.count} steps, but the best is sought in between; leave 'x ...' away")
    return span


def setting_at(span: Span, number: float | Fraction) -> Setting:
    """Setting of a range at a value in its unit."""
    text = f"{float(number):.{DIGITS_BY_RATIO if span.by_ratio else DIGITS}g}"
    changes = tuple((key.path, _value(key, f"{text} {span.unit}".strip(), span.place)) for key in span.keys)
    return Setting(f"{text} {span.unit}".strip(), (float(text),), changes)


def read_table(path: Path, option: str = "--table") -> Variation:
    """Read a table of settings that belong together.

    Parameters
    ----------
    path : path
        CSV with keys in its first line; a key may carry the unit of its column,
        as in "coil.pitch [mm]". A column "name" names the rows. An empty cell
        leaves the case as it is there.
    option : str
        What messages call the option.

    Returns
    -------
    Variation

    Raises
    ------
    InputError
        If the file cannot be read, with the line and column of what is wrong.
    """
    place = f"{option} {path}"
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            lines = [line for line in csv.reader(file, strict=True) if any(cell.strip() for cell in line)]
    except OSError as error:
        raise InputError(f"{place}: cannot be read ({error.strerror}); check the name of the table") from error
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"{place}: is not a table in CSV ({error})") from error
    if len(lines) < 2:
        raise InputError(f"{place}: needs a line of keys and at least one line of values")
    heads = [re.fullmatch(r"\s*(.*?)\s*(?:\[(.*)\])?\s*", head) for head in lines[0]]
    named = [(match[1], match[2] or "") for match in heads if match is not None]
    if not any(name != NAME_COLUMN for name, _ in named):
        raise InputError(f"{place}: has no column that names a key, such as 'coil.pitch [mm]'")
    keys = [None if name == NAME_COLUMN else read_key(name, place) for name, _ in named]
    settings = []
    for number, line in enumerate(lines[1:], start=2):
        where = f"{place}, line {number}"
        if len(line) != len(keys):
            raise InputError(f"{where}: holds {len(line)} cells under {len(keys)} heads; is a comma too many?")
        settings.append(_row(keys, [unit for _, unit in named], [cell.strip() for cell in line], where))
    columns = tuple(
        NAME_COLUMN if key is None else _head(key.name, unit) for key, (_, unit) in zip(keys, named, strict=True)
    )
    return Variation(path.stem, columns, tuple(settings))


def _row(keys: Sequence[Key | None], units: Sequence[str], cells: Sequence[str], where: str) -> Setting:
    changes: list[Change] = []
    texts = []
    shown: list[float | str] = []
    for key, unit, cell in zip(keys, units, cells, strict=True):
        is_bare = bool(unit) and _BARE.fullmatch(cell) is not None
        text = f"{cell} {unit}" if is_bare else cell
        texts.append(text)
        shown.append(float(Fraction(cell)) if is_bare and "/" not in cell else text)
        if key is not None and cell:
            changes += _changes((key,), text, f"{where}, column {key.name}")
    named = [text for key, text in zip(keys, texts, strict=True) if key is None]
    return Setting(named[0] if named else ", ".join(filter(None, texts)), tuple(shown), tuple(changes))


def _split(words: str, option: str) -> tuple[tuple[Key, ...], str, str, str]:
    """Keys, their joined name, the text of the values, and what to call the place."""
    left, equals, values = (part.strip() for part in words.partition("="))
    if not equals or not left or not values:
        raise InputError(f"{option} {words!r}: needs a key, an equals sign and values; {WORDS}")
    keys = tuple(read_key(key, option) for key in re.split(r"\s+and\s+", left))
    if len({(key.kind, key.is_whole) for key in keys}) > 1:
        raise InputError(f"{option} {left}: joins keys that take values of different kinds; vary them one by one")
    name = " and ".join(key.name for key in keys)
    return keys, name, values, f"{option} {name}"


def _items(values: str, place: str) -> list[str]:
    items = [item.strip() for item in values.split(",")]
    if not all(items):
        raise InputError(f"{place}: has an empty value between its commas in {values!r}")
    for n in reversed(range(len(items) - 1)):
        items[n] = _with_unit(items[n], items[n + 1])
    return items


def _with_unit(item: str, following: str) -> str:
    """A bare number with the unit of the value after it."""
    match = _BARE.match(following)
    return f"{item} {following[match.end() :].strip()}".strip() if match and _BARE.fullmatch(item) else item


def _listed(keys: tuple[Key, ...], name: str, items: Sequence[str], place: str) -> Variation:
    key = keys[0]
    repeated = next((item for n, item in enumerate(items) if item in items[:n]), None)
    if repeated is not None:
        raise InputError(f"{place}: lists {repeated!r} twice")
    changes = [_changes(keys, item, place) for item in items]
    if not (key.is_whole or key.kind) or any(item in key.words for item in items):
        return Variation(name, (name,), tuple(Setting(i, (i,), c) for i, c in zip(items, changes, strict=True)))
    unit = _unit_of(items[-1])
    settings = tuple(
        Setting(item, (float(_number(key, item, unit)),), change) for item, change in zip(items, changes, strict=True)
    )
    return Variation(name, (_head(name, unit),), settings)


def _span(keys: tuple[Key, ...], name: str, values: str, place: str) -> Span | None:
    match = _RANGE.fullmatch(values)
    if match is None:
        return None
    key = keys[0]
    if not (key.is_whole or key.kind):
        raise InputError(f"{place}: takes words, which have no range; list them with commas between")
    last, by_ratio = match["last"], match["ratio"] is not None
    first = _with_unit(match["first"], last)
    for text in (first, last):
        _value(key, text, place)
    unit = _unit_of(last)
    low, high = _number(key, first, unit), _number(key, last, unit)
    if low == high:
        raise InputError(f"{place}: begins and ends at {last}")
    if by_ratio and (key.kind == "temperature" or not (low > 0 and high > 0)):
        raise InputError(f"{place}: steps by ratio need two ends above zero, and no temperatures")
    return Span(keys, name, place, unit, low, high, _count(match["count"], place), by_ratio)


def _count(text: str | None, place: str) -> int | None:
    if text is None:
        return None
    if not text.isdecimal() or not 2 <= int(text) <= MOST_STEPS:
        raise InputError(f"{place}: takes a whole number of steps from 2 to {MOST_STEPS} after its x, not {text!r}")
    return int(text)


def _steps(span: Span) -> list[Fraction]:
    """Values of a range in its unit."""
    assert span.count is not None  # the caller's range has steps
    shares = [Fraction(n, span.count - 1) for n in range(span.count)]
    if span.by_ratio:
        quotient = float(span.last / span.first)
        return [Fraction(float(span.first) * quotient ** float(share)) for share in shares]
    return [span.first + share * (span.last - span.first) for share in shares]


def _changes(keys: tuple[Key, ...], text: str, place: str) -> tuple[Change, ...]:
    packed = _PACKED.fullmatch(text)
    if keys[0].path == FILLER and packed is not None:
        return (FILLER, packed["name"]), (("filler", "packing"), packed["packing"])
    return tuple((key.path, _value(key, text, place)) for key in keys)


def _value(key: Key, text: str, place: str) -> Any:
    """Value as a case file has it; refused here where its kind is wrong, for the place is still known."""
    if text in key.words:
        return text
    if key.is_whole:
        if not re.fullmatch(r"\d+", text):
            raise InputError(f"{place}: takes whole numbers, and {text} is none")
        return int(text)
    if key.kind is not None:
        try:
            parse(text, key.kind)
        except InputError as error:
            raise InputError(f"{place}: {error}") from error
    return text


def _number(key: Key, text: str, unit: str) -> Fraction:
    """Value of a text in a unit, exactly as it would be written."""
    if key.kind is None:
        return Fraction(text)
    spelt = next((name for name in UNITS[key.kind] if _same(name, unit, key)), None)
    return Fraction(show(parse(text, key.kind), key.kind, spelt).split(" ")[0])


def _same(name: str, unit: str, key: Key) -> bool:
    assert key.kind is not None  # words have no unit
    return parse(f"1 {name}".strip(), key.kind) == parse(f"1 {unit}".strip(), key.kind)


def _unit_of(text: str) -> str:
    match = _BARE.match(text)
    return text[match.end() :].strip() if match else ""


def _head(name: str, unit: str) -> str:
    return f"{name} [{unit}]" if unit else name
