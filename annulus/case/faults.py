"""What is wrong with a case file, one line per fault.

Goes in: the complaints of the validation library. Comes out: `Fault` lines that
name the file, the key, the value, the rule and what was probably meant.
"""

from __future__ import annotations

import difflib
import json
import types
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from annulus.case.parts import Case
from annulus.case.quantities import Quantity, marks
from annulus.errors import MOST_QUOTED, InputError

Path = tuple[str | int, ...]

# Keys that are turned into others before the parts are built (see `deriving`).
ALTERNATIVES: dict[str, tuple[str, ...]] = {
    "coil": ("tube_length", "height", "gap_at"),
    "shroud": ("inner_diameter",),
    "burn": ("table_file",),
}
UNKNOWN = "is not a key of"  # how the rule of an unknown key begins
_NOTHING = object()


@dataclass(frozen=True)
class Fault:
    """One fault: where, the value found there, and the rule with its likely cause."""

    path: Path
    rule: str
    value: Any = _NOTHING

    def line(self, file: str) -> str:
        """The fault as one line of a message."""
        where = f"{file}: key '{dotted(self.path)}'" if self.path else file
        if self.value is _NOTHING or isinstance(self.value, (dict, list)):
            return f"{where}: {self.rule}"
        text = json.dumps(self.value, ensure_ascii=False, default=str)
        return f"{where} = {text if len(text) <= MOST_QUOTED else text[:MOST_QUOTED] + '...'}: {self.rule}"


def refuse(faults: Iterable[Fault], file: str) -> None:
    """Raise an InputError with a line per fault, if there is any."""
    lines = list(dict.fromkeys(fault.line(file) for fault in _joined(list(faults))))
    if lines:
        raise InputError("\n".join(lines))


def _joined(faults: list[Fault]) -> list[Fault]:
    """Faults in which several entries of one list that break a rule with one value count once."""

    def alike(fault: Fault) -> tuple[Path, str, str]:
        return fault.path[:-1], fault.rule, repr(fault.value)

    in_lists = Counter(alike(fault) for fault in faults if fault.path and isinstance(fault.path[-1], int))
    return [replace(fault, path=fault.path[:-1]) if in_lists[alike(fault)] > 1 else fault for fault in faults]


def dotted(path: Path) -> str:
    """Key path as text: ('coil', 'gap', 3) -> "coil.gap[3]"."""
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def explain(error: ErrorDetails) -> Fault:
    """One complaint of the validation library as a fault."""
    path: Path = tuple(step for step in error["loc"] if step != "[key]")
    context = error.get("ctx", {})
    kind = error["type"]
    if kind == "missing":
        return Fault(path, f"is missing{_write_like(path)}")
    if kind == "extra_forbidden":
        return Fault(path, f"{UNKNOWN} {_table(path[:-1])}; {_meant(path)}", error["input"])
    if isinstance(context.get("error"), InputError):
        return Fault(path, str(context["error"]), error["input"])
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return Fault(path, f"must be a table, written [{dotted(path)}] on a line of its own", error["input"])
    if kind == "tuple_type":
        return Fault(path, "must be a list in square brackets", error["input"])
    if kind == "literal_error":
        return Fault(path, f"must be one of {context['expected']}", error["input"])
    if kind == "string_type":
        return Fault(path, 'must be text in "quotes"', error["input"])
    if kind == "bool_type":
        return Fault(path, "must be true or false, without quotes", error["input"])
    if kind == "int_type":
        return Fault(path, "must be a whole number, without quotes and without a unit", error["input"])
    if kind == "greater_than_equal":
        return Fault(path, f"must be {context['ge']} or more", error["input"])
    if kind == "less_than_equal":
        return Fault(path, f"must be {context['le']} or less", error["input"])
    return Fault(path, error["msg"], error["input"])


def model_at(path: Path) -> type[BaseModel] | None:
    """The part that describes a table, if the path leads to one."""
    current: Any = Case
    for step in path:
        if isinstance(current, type) and issubclass(current, BaseModel):
            field = current.model_fields.get(str(step))
            current = field.annotation if field else None
        else:
            current = get_args(current)[-1] if get_origin(current) is dict else _item(current)
        current = _without_none(current)
    return current if isinstance(current, type) and issubclass(current, BaseModel) else None


def known_keys(path: Path) -> list[str]:
    """Keys that a table may hold."""
    model = model_at(path)
    listed = list(model.model_fields) if model else []
    return [*listed, *ALTERNATIVES.get(dotted(path), ())]


def nearest_key(path: Path) -> str | None:
    """Key of the same table that an unknown one resembles."""
    key, known = str(path[-1]), known_keys(path[:-1])
    near = difflib.get_close_matches(key, known, n=1, cutoff=0.6)
    return near[0] if near else next((longer for longer in known if longer.startswith(f"{key}_")), None)


def _item(annotation: Any) -> Any:
    return next((a for a in get_args(annotation) if a is not Ellipsis), None)


def _without_none(annotation: Any) -> Any:
    if get_origin(annotation) in (Union, types.UnionType):
        return next(a for a in get_args(annotation) if a is not type(None))
    return annotation


def _table(path: Path) -> str:
    return f"[{dotted(path)}]" if path else "the case file"


def _meant(path: Path) -> str:
    """Which known key an unknown one was meant to be."""
    key, table = str(path[-1]), path[:-1]
    known = known_keys(table)
    near = nearest_key(path)
    if near is not None:
        return f"did you mean '{near}'?"
    homes = [name for name in Case.model_fields if name not in table and key in known_keys((name,))]
    if homes:
        return f"it belongs to {' or '.join(f'[{name}]' for name in homes)}"
    return f"it knows {', '.join(known)}"


def _write_like(path: Path) -> str:
    """Example of a missing key."""
    if model_at(path) is not None:
        return f"; add a table [{dotted(path)}]"
    model = model_at(path[:-1])
    field = model.model_fields.get(str(path[-1])) if model else None
    quantity = next((m for m in marks(field) if isinstance(m, Quantity)), None) if field else None
    if quantity is None:
        return ""
    example = quantity.example if quantity.kind == "number" else f'"{quantity.example}"'
    return f"; write it like {path[-1]} = {example}"


def table_of(data: Mapping[str, Any], name: str) -> dict[str, Any]:
    """Copy of a table of the raw data; empty if it is absent or not a table."""
    table = data.get(name)
    return dict(table) if isinstance(table, dict) else {}
