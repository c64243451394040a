"""A case to TOML, fully resolved, and the starter file.

Goes in: a `Case`. Comes out: text that `loads` reads back to an equal case.
"""

from __future__ import annotations

import json
import platform
from collections.abc import Iterator
from importlib import resources
from importlib.metadata import version
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from annulus import __version__
from annulus.case.parts import FIRE_ROW, Burn, Case, Coil, InPlaceMaterial
from annulus.case.quantities import Quantity, Word, marks
from annulus.case.turn_gaps import GAP, shorten
from annulus.units import show

TITLE_LINE = "# Fully resolved case: every default and every derived value is written out."
COMPUTE = ("numpy", "scipy", "numba")  # packages that a digit of a result depends on
_WITH_NAMED_TUBE = ("tube_outer_diameter", "tube_wall")


def starter() -> str:
    """A commented case file that shows every key with its default."""
    return resources.files("annulus.case").joinpath("starter.toml").read_text(encoding="utf-8")


def versions() -> str:
    """Versions of what computes, in words."""
    others = ", ".join(f"{name} {version(name)}" for name in COMPUTE)
    return f"annulus {__version__} with Python {platform.python_version()}, {others}"


def dump(case: Case) -> str:
    """Write a case as TOML.

    Parameters
    ----------
    case : Case

    Returns
    -------
    str
        Every value with its unit, every default written; keys of the alternative
        that was not chosen (a tube size beside a named tube) stand as comments or
        are left out. `loads(dump(case)) == case`.
    """
    lines = [TITLE_LINE, f"# Written by {versions()}. The same versions repeat the run to the last digit."]
    lines += [f"{name} = {_literal(getattr(case, name))}" for name in ("title", "invented", "description")]
    for name in Case.model_fields:
        value = getattr(case, name)
        if isinstance(value, BaseModel):
            lines += ["", f"[{name}]", *_pairs(value)]
        elif name == "contacts":
            lines += ["", "[contacts]"]
            lines += [f"{pair} = {_contact(R)}" for pair, R in case.contacts.items()]
    for name, material in case.materials.items():
        lines += ["", f"[materials.{_literal(name)}]", *_pairs(material)]
    return "\n".join(lines) + "\n"


def _pairs(part: BaseModel) -> Iterator[str]:
    """Lines `key = value` of a part."""
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        text = _value(part, name, value, field)
        if text is None:
            continue
        named = isinstance(part, Coil) and part.tube is not None and name in _WITH_NAMED_TUBE
        yield f"# {name} = {text}  (of the named tube)" if named else f"{name} = {text}"
        if isinstance(part, Coil) and name == "gap":
            yield from _odd_gaps(part)


def _value(part: BaseModel, name: str, value: Any, field: FieldInfo) -> str | None:
    """TOML text of a value; None for a key that is left out."""
    mark = next(marks(field), None)
    if isinstance(part, InPlaceMaterial) and name == "conductivity":
        return _conductivity(value)
    if isinstance(part, Burn) and name == "table":
        return _fire_table(value)
    if isinstance(part, Coil) and name == "gap" and (short := shorten(value)) is not None:
        value = short[0]
    if value is None:
        return _literal(mark.word) if mark is not None and mark.word is not None else None
    if isinstance(value, tuple):
        if value and isinstance(value[0], BaseModel):
            tables = ["{ " + ", ".join(_pairs(item)) + " }" for item in value]
            return f"[{', '.join(tables)}]"
        return f"[{', '.join(_scalar(item, mark) for item in value)}]"
    return _scalar(value, mark)


def _odd_gaps(coil: Coil) -> Iterator[str]:
    """Line of the turns whose gap is not the usual one."""
    short = shorten(coil.gap)
    if short is not None and short[1]:
        yield f"gap_at = {{ {', '.join(f'{turns} = {_literal(GAP.write(gap))}' for turns, gap in short[1].items())} }}"


def _contact(resistance: float | None) -> str:
    return _literal("computed" if resistance is None else show(resistance, "contact_resistance"))


def _scalar(value: Any, mark: Quantity | Word | None) -> str:
    if isinstance(mark, Quantity):
        return repr(float(value)) if mark.kind == "number" else _literal(mark.write(value))
    return _literal(value)


def _conductivity(value: float | tuple[tuple[float, float], ...]) -> str:
    if isinstance(value, tuple):
        rows = (f"[{_literal(show(T, 'temperature'))}, {_literal(show(k, 'conductivity'))}]" for T, k in value)
        return f"[{', '.join(rows)}]"
    return _literal(show(value, "conductivity"))


def _fire_table(rows: tuple[tuple[float, float, float], ...]) -> str:
    written = ([_literal(kind.write(value)) for kind, value in zip(FIRE_ROW, row, strict=True)] for row in rows)
    return f"[{', '.join('[' + ', '.join(row) + ']' for row in written)}]"


def _literal(value: Any) -> str:
    """A text, number or truth value in TOML; JSON's escapes are TOML's, save for the delete sign."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
