"""Text with a unit to SI, and back: the only place that knows mm, degF or gallons.

Goes in: what a builder writes ("1 1/2 in", "46 degF", "3 L/min") and the kind of
quantity that is due. Comes out: one float in SI, kelvin for temperatures.
Every factor is an exact fraction and is applied before the one rounding to a
float, so that "15.3 mm" is the float 0.0153 and `show` can be read back exactly.
"""

from __future__ import annotations

import difflib
import math
import re
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from annulus.errors import InputError, quoted
from annulus.units.tables import (
    EXAMPLES,
    KINDS,
    SPELLINGS,
    TEMPERATURE_SPELLINGS,
    UNITS,
    WATER_DENSITY,
    ZERO,
    Kind,
)

__all__ = ["EXAMPLES", "KINDS", "UNITS", "WATER_DENSITY", "Kind", "parse", "show"]

_DECIMAL = r"(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_RATIO = r"(?:(\d+)[\s-]+)?(\d+)\s*/\s*(\d+)"
_NUMBER = re.compile(rf"\s*([+-]?)\s*(?:{_RATIO}|({_DECIMAL}))\s*(.*?)\s*\Z", re.DOTALL)
MAX_EXPONENT = 400  # beyond what a float can hold; keeps exact arithmetic from blowing up

MAX_LISTED = 8  # units named in a message
GAUGES = ("ga", "gage", "gauge", "g", "swg")  # of sheet
LARGEST = 1e300  # what `show` writes: one digit rounded up must still be a float
_SAME_SIGNS = str.maketrans(
    {"²": "2", "³": "3", "µ": "u", "μ": "u", "·": " ", "⋅": " ", "*": " ", "^": "", "°": "deg", "−": "-"}
)
# kinds whose units are products, so that "m K" and "mK" are the same; elsewhere "m m" is not "mm"
_PRODUCTS = ("conductivity", "film_coefficient", "contact_resistance", "heat_capacity")


def parse(text: str | float, kind: Kind) -> float:
    """Read a quantity.

    Parameters
    ----------
    text : str or float
        A number (decimal, fraction "5/8" or mixed "1 1/2") and its unit. A bare
        number is accepted for the kinds "fraction" and "number" only. Gallons are
        US gallons; "imp gal" is the imperial one.
    kind : str
        One of `KINDS`. "water_flow" takes a mass flow, or a volume flow of water
        counted at 998.2 kg/m3, and gives [kg/s].

    Returns
    -------
    float
        The value in SI, correctly rounded; temperatures in [K].

    Raises
    ------
    InputError
        Missing or unknown unit, a unit of another kind, no number, or a number
        out of range. The message names the text, the units that fit, and what
        was probably meant.

    References
    ----------
    Factors follow from the definitions above; NIST Special Publication 811
    (2008), appendix B, gives the same factors rounded to seven digits.

    Examples
    --------
    >>> parse("5/8 in", "length")
    0.015875
    >>> parse("46 degF", "temperature")
    280.9277777777778
    """
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise InputError(f'{quoted(text)} is not a quantity; write text such as "{EXAMPLES[kind]}"')
    sign, magnitude, unit_text = _split(text, kind)
    unit = _recognise(unit_text, text, kind)

    value = _scale(sign * magnitude, unit, kind)
    if kind == "temperature" and value < 0:
        raise InputError(f"{quoted(text)} lies below absolute zero (0 K = -273.15 degC = -459.67 degF)")
    if abs(value) > LARGEST:
        raise InputError(f"{quoted(text)} is too large for a {_say(kind)}")
    return float(value)


def show(value: float, kind: Kind, unit: str | None = None) -> str:
    """Write a quantity so that `parse` reads back the same float.

    Parameters
    ----------
    value : float
        In SI; [K] for temperatures.
    kind : str
        One of `KINDS`.
    unit : str, optional
        One of `UNITS[kind]`; the first of them by default.

    Returns
    -------
    str
        The fewest digits that still give the same float, and the unit.

    Raises
    ------
    InputError
        If the value is not finite or above 1e300, the unit does not belong to the kind, or the
        unit's zero swamps the value (1e-30 K in degC).
    """
    if not abs(value) <= LARGEST:
        raise InputError(f"{value!r} cannot be written as a {_say(kind)}: it is not finite or too large")
    name = next(iter(UNITS[kind])) if unit is None else unit
    if name not in UNITS[kind]:
        raise InputError(f"unit {name!r} is not one for a {_say(kind)}; there are {_list(kind)}")

    offset = ZERO[name] if kind == "temperature" else Fraction(0)
    exact = (Fraction(repr(float(value))) - offset) / UNITS[kind][name]
    tail = f" {name}" if name else ""
    for digits in range(1, 40):
        number = _plain(exact, digits)
        if float(_scale(Fraction(number), name, kind)) == value:
            return number + tail
    raise InputError(f"{value!r} cannot be written exactly in {name!r}")


def _split(text: str | float, kind: Kind) -> tuple[int, Fraction, str]:
    """Sign, exact magnitude and unit text of a quantity."""
    if not isinstance(text, str):
        if isinstance(text, float) and not math.isfinite(text):
            raise InputError(f"{quoted(text)} is not a finite number; a {_say(kind)} is due")
        return (-1 if text < 0 else 1), abs(Fraction(repr(text))), ""

    match = _NUMBER.match(text.replace("−", "-"))
    if match is None:
        raise InputError(f'{quoted(text)} does not start with a number; write it like "{EXAMPLES[kind]}"')
    sign, whole, top, bottom, decimal, unit = match.groups()
    if unit.startswith(","):
        raise InputError(f'{quoted(text)} has a comma in its number; write a decimal point, as in "15.5"')
    if unit.startswith("/") and unit[1:2].isdigit():
        raise InputError(f'{quoted(text)} has an unreadable fraction; write it like "1 1/2 in"')
    if decimal is not None:
        exponent = re.search(r"[eE]([+-]?\d+)$", decimal)
        if exponent and abs(int(exponent[1])) > MAX_EXPONENT:
            raise InputError(f"{quoted(text)} has an exponent beyond {MAX_EXPONENT}")
        magnitude = Fraction(decimal)
    else:
        if int(bottom) == 0:
            raise InputError(f"{quoted(text)} divides by zero")
        magnitude = int(whole or 0) + Fraction(int(top), int(bottom))
    return (-1 if sign == "-" else 1), magnitude, unit


def _scale(number: Fraction, unit: str, kind: Kind) -> Fraction:
    """Number in a unit to SI, exactly."""
    offset = ZERO[unit] if kind == "temperature" else Fraction(0)
    return number * UNITS[kind][unit] + offset


def _squeeze(unit: str, kind: Kind) -> str:
    """Unit text without the differences that do not matter."""
    text = re.sub(r"\s*([/()])\s*", r"\1", unit.translate(_SAME_SIGNS).strip())
    text = re.sub(r"(?:US\s*)?gal(?:lons?)?\b", "gal", text)
    text = re.sub(r"imp\s+gal", "impgal", text)
    text = re.sub(r"deg\s+(?=[CF])", "deg", text)
    return re.sub(r"\s+", "", text) if kind in _PRODUCTS else text


@lru_cache(maxsize=4096)  # a sweep reads the same few units thousands of times
def _lookup(unit_text: str, kind: Kind) -> str | None:
    """Unit of this kind that the text means, if any."""
    squeezed = _squeeze(unit_text, kind)
    by_squeezed = {_squeeze(unit, kind): unit for unit in UNITS[kind]}
    spellings = dict(SPELLINGS)
    if kind == "temperature":
        spellings.update(TEMPERATURE_SPELLINGS)
    variants = [squeezed, spellings.get(squeezed, squeezed)]
    if "/" in squeezed:
        top, bottom = squeezed.split("/", 1)
        variants.append(f"{spellings.get(top, top)}/{spellings.get(bottom, bottom)}")
    # in compound imperial units a bare F, or degF without its brackets, is still unambiguous
    variants.append(re.sub(r"(?<![a-zA-Z])F(?![a-zA-Z])|(?<=[a-z0-9(])F(?=\)|/|$)", "degF", squeezed))
    return next((by_squeezed[v] for v in variants if v in by_squeezed), None)


def _recognise(unit_text: str, text: str | float, kind: Kind) -> str:
    """Unit of the kind, or an InputError that says what was probably meant."""
    found = _lookup(unit_text, kind)
    if found is not None:
        return found

    fits = f"a {_say(kind)} takes {_list(kind)}"
    example = f'for instance "{EXAMPLES[kind]}"'
    if not unit_text:
        raise InputError(f"{quoted(text)} has no unit; {fits}, {example}")
    if kind == "temperature_difference" and _lookup(unit_text, "temperature"):
        raise InputError(
            f"{quoted(text)} is a temperature, but a temperature difference is due; {fits}, "
            'for instance "20 K" or "36 Fdeg" (no offset of 32)'
        )
    other = next((k for k in KINDS if k != kind and _lookup(unit_text, k)), None)
    if other is not None:
        raise InputError(f"{quoted(text)} is a {_say(other)}, but a {_say(kind)} is due; {fits}, {example}")
    by_casefold = {unit.casefold(): unit for unit in UNITS[kind] if unit}
    near = difflib.get_close_matches(unit_text.casefold(), by_casefold, n=1, cutoff=0.5)
    hint = f"; did you mean {by_casefold[near[0]]!r}?" if near else ""
    if kind == "length" and unit_text.casefold() in GAUGES:
        hint = "; a gauge names another thickness for each metal: 24 gauge black steel is 0.6 mm, 22 is 0.76 mm"
    raise InputError(f"{quoted(text)} has an unknown unit {quoted(unit_text)}; {fits}{hint}")


def _say(kind: Kind) -> str:
    """Kind in words."""
    return kind.replace("_", " ")


def _list(kind: Kind) -> str:
    """Units of a kind in words, the usual ones first."""
    listed = [unit or "a bare number" for unit in UNITS[kind]]
    return ", ".join(listed[:MAX_LISTED]) + (", ..." if len(listed) > MAX_LISTED else "")


def _plain(value: Fraction, digits: int) -> str:
    """Decimal text of a fraction to so many significant digits, rounded half up."""
    if value == 0:
        return "0"
    size = abs(value)
    power = math.floor(math.log10(size.numerator) - math.log10(size.denominator)) - digits + 1
    scale = Fraction(10) ** power
    whole = math.floor(size / scale + Fraction(1, 2))
    number = Decimal((int(value < 0), tuple(int(d) for d in str(whole)), power))
    text = format(number.normalize(), "f")
    return text if len(text) <= 20 else str(number.normalize())
