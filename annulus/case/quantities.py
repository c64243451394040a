"""Field types of a case: a float in SI that is written as text with a unit.

Goes in: the raw value of a TOML key. Comes out: a float (or None for a key
whose word says "left out"), or an `InputError` that states the rule.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, get_args

from pydantic import GetCoreSchemaHandler
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, core_schema

from annulus.errors import InputError
from annulus.units import EXAMPLES, Kind, parse, show

LOWEST_GROUND, HIGHEST_GROUND = -500.0, 6000.0  # [m], above sea level, where there is a heater
LONGEST = 100.0  # [m], of any part along the flue, and of pipes
WIDEST = 5.0  # [m], of any part across the flue: wider than any chimney
THINNEST = 1e-6  # [m], of sheets, walls, tubes; gaps and films may be thinner
# Least value that is not zero, and largest, of each kind: far beyond any heater on both sides, and within what the
# arithmetic bears. [SI]
SPANS: dict[Kind, tuple[float, float]] = {
    "length": (1e-9, 1e4),
    "area": (1e-18, 1e8),
    "temperature": (1.0, 3000.0),
    "temperature_difference": (1e-9, 3000.0),
    "mass": (1e-9, 1e9),
    "mass_flow": (1e-9, 1e4),
    "volume": (1e-12, 1e9),
    "volume_flow": (1e-12, 1e4),
    "water_flow": (1e-9, 1e4),
    "time": (1e-6, 1e10),
    "power": (1e-9, 1e12),
    "pressure": (1.0, 1e8),
    "conductivity": (1e-6, 1e6),
    "film_coefficient": (1e-9, 1e9),
    "contact_resistance": (1e-12, 1e6),
    "density": (1e-3, 1e5),
    "heat_capacity": (1e-2, 1e6),
    "heat_loss": (1e-9, 1e6),
    "fraction": (1e-12, 1e3),
    "number": (1e-12, 1e6),
}


@dataclass(frozen=True)
class Quantity:
    """Reads and writes one quantity.

    Parameters
    ----------
    kind : str
        Kind of `annulus.units`.
    unit : str or None
        Unit to write in; None for the first of the kind.
    above, least, most : float or None
        Open lower, closed lower and closed upper bound. [SI]
    word : str or None
        Text that stands for "no value"; the field is then None.
    cause : str
        Likely cause of a value out of bounds, for the message.
    tiniest : float or None
        Least value that is not zero, where it lies above that of the kind. [SI]
    """

    kind: Kind
    unit: str | None = None
    above: float | None = None
    least: float | None = None
    most: float | None = None
    word: str | None = None
    cause: str = ""
    tiniest: float | None = None

    def read(self, value: Any) -> float | None:
        """Text with a unit to SI; InputError if unreadable or out of bounds."""
        if self.word is not None and value == self.word:
            return None
        number = parse(value, self.kind)
        rules = []
        if self.above is not None and not number > self.above:
            rules = [f"must be more than {self.write(self.above)}"]
        if self.least is not None and not number >= self.least:
            rules = [f"must not be less than {self.write(self.least)}"]
        if self.most is not None and not number <= self.most:
            rules = [f"must not be more than {self.write(self.most)}"]
        least, most = SPANS[self.kind]
        least = max(least, self.tiniest or 0.0)
        if not rules and number != 0 and not least <= abs(number) <= most:
            side = f"more than {self.write(most)}" if abs(number) > most else f"less than {self.write(least)}"
            rules = [f"is {side}, which no heater has; was another unit meant?"]
        if rules:
            raise InputError("; ".join(rules + [self.cause] * bool(self.cause)))
        return number

    def write(self, value: float) -> str:
        """SI to text that `read` reads back exactly."""
        return show(value, self.kind, self.unit)

    @property
    def example(self) -> str:
        """A value as a builder would write it."""
        return EXAMPLES[self.kind]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(self.read, handler(source))


@dataclass(frozen=True)
class Word:
    """Marks a text field in which one word ("none") stands for "no value"."""

    word: str

    def read(self, value: Any) -> Any:
        """None for the word, anything else unchanged."""
        return None if value == self.word else value

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_before_validator_function(self.read, handler(source))


def marks(field: FieldInfo) -> Iterator[Quantity | Word]:
    """Quantities and words of a field, its own first, then those of its items."""
    yield from (mark for mark in field.metadata if isinstance(mark, (Quantity, Word)))
    pending = [field.annotation]
    while pending:
        for argument in get_args(pending.pop()):
            if isinstance(argument, (Quantity, Word)):
                yield argument
            pending.append(argument)


Length = Annotated[float, Quantity("length", above=0.0, most=WIDEST, tiniest=THINNEST)]
Thickness = Annotated[float, Quantity("length", least=0.0, most=WIDEST)]
Height = Annotated[float, Quantity("length", least=0.0, most=LONGEST)]
LongLength = Annotated[float, Quantity("length", "m", least=0.0, most=LONGEST)]
Temperature = Annotated[float, Quantity("temperature", above=0.0)]
Conductivity = Annotated[float, Quantity("conductivity", above=0.0)]
Emissivity = Annotated[float, Quantity("number", above=0.0, most=1.0, cause="was a per cent figure meant?")]
FixedFilm = Annotated[float | None, Quantity("film_coefficient", above=0.0, word="computed")]
ContactResistance = Annotated[float | None, Quantity("contact_resistance", least=0.0, word="computed")]
Name = Annotated[str | None, Word("none")]
