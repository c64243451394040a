"""Keys of a case file by their dotted names, and a case file changed at some of them.

Goes in: "coil.pitch", and the tree of a case file. Comes out: what kind of
value the key takes; a new tree, ready for the reader of cases.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from annulus.case import PAIRS
from annulus.case.faults import ALTERNATIVES, known_keys, model_at, nearest_key
from annulus.case.quantities import Quantity, Word, marks
from annulus.errors import InputError
from annulus.units import Kind, parse

# keys of a table that state the same thing in different words: a new one takes the place of the others
INSTEAD: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("coil", ("turns", "tube_length", "height")),
    ("coil", ("tube", "tube_outer_diameter")),
    ("coil", ("tube", "tube_wall")),
    ("shroud", ("clearance", "inner_diameter")),
)
LISTS = ("voids", "gap_at")  # tables of a case file, which no single value can stand for


@dataclass(frozen=True)
class Key:
    """A key that can be varied.

    Attributes
    ----------
    path : tuple of str
    kind : str or None
        Kind of quantity; None for words and whole numbers.
    is_whole : bool
    words : tuple of str
        Words that it takes beside quantities, such as "computed".
    """

    path: tuple[str, ...]
    kind: Kind | None = None
    is_whole: bool = False
    words: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The path with points between."""
        return ".".join(self.path)


def read_key(name: str, option: str) -> Key:
    """Find a key by its dotted name.

    Parameters
    ----------
    name : str
        As in a case file, with its table: "contacts.tube-filler", or
        'materials."river sand".conductivity'.
    option : str
        What messages call the place where the name stands.

    Returns
    -------
    Key

    Raises
    ------
    InputError
        If no case file has such a key; the message names the nearest one.
    """
    path = _path(name, option)
    if len(path) < 2:
        raise InputError(f"{option} {name}: must name a table and a key in it, such as coil.pitch")
    if path[0] == "contacts" and len(path) == 2:
        return Key(_pair(path, option), "contact_resistance", words=("computed",))
    if path[-1] not in known_keys(path[:-1]) or path[-1] in LISTS:
        near = nearest_key(path)
        table = f"[{'.'.join(path[:-1])}]"
        known = f"did you mean '{near}'?" if near else f"it knows {', '.join(known_keys(path[:-1])) or 'none'}"
        rule = "is not a single value" if path[-1] in LISTS else f"is not a key of {table}; {known}"
        raise InputError(f"{option} {name}: {rule}")
    if path[-1] in ALTERNATIVES.get(".".join(path[:-1]), ()):
        return Key(path, "length")
    model = model_at(path[:-1])
    assert model is not None  # its keys are known
    field = model.model_fields[path[-1]]
    found = list(marks(field))
    quantity = next((mark for mark in found if isinstance(mark, Quantity)), None)
    words = tuple(mark.word for mark in found if isinstance(mark, (Quantity, Word)) and mark.word is not None)
    return Key(path, quantity.kind if quantity else None, field.annotation is int, words)


def changed(tree: Mapping[str, Any], changes: Sequence[tuple[tuple[str, ...], Any]]) -> dict[str, Any]:
    """A case file's tree with new values.

    Parameters
    ----------
    tree : mapping
        As `annulus.case.load_tree` gives it; left as it is.
    changes : sequence of (path, value)

    Returns
    -------
    dict

    Notes
    -----
    A key that says the same in other words (`INSTEAD`) gives way. A new filler
    comes with its own usual packing unless one is stated with it. Insulation of
    no thickness is no insulation: its table and the jacket's are left out.
    """
    new = copy.deepcopy(dict(tree))
    paths = [path for path, _ in changes]
    for path, value in changes:
        table = new
        for step in path[:-1]:
            table = table.setdefault(step, {})
        for name, keys in INSTEAD:
            if path[:-1] == (name,) and path[-1] in keys:
                for other in keys:
                    if (name, other) not in paths:
                        table.pop(other, None)
        if path == ("filler", "material") and value != table.get("material") and ("filler", "packing") not in paths:
            table.pop("packing", None)
        if path[0] == "contacts":
            for other in [key for key in table if set(key.split("-")) == set(path[1].split("-"))]:
                del table[other]
        table[path[-1]] = value
        if path == ("insulation", "thickness") and parse(value, "length") == 0:
            new.pop("insulation")
            new.pop("jacket", None)
    return new


def _path(name: str, option: str) -> tuple[str, ...]:
    """Steps of a dotted name, quoted ones included."""
    try:
        tree: Any = tomllib.loads(f"{name} = 0")
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{option} {name}: is not the name of a key, such as coil.pitch") from error
    path = []
    while isinstance(tree, dict):
        ((step, tree),) = tree.items()
        path.append(step)
    return tuple(path)


def _pair(path: tuple[str, ...], option: str) -> tuple[str, ...]:
    pair = next((pair for pair in PAIRS if set(pair.split("-")) == set(path[1].split("-"))), None)
    if pair is None:
        raise InputError(f"{option} {'.'.join(path)}: is no pair of surfaces; there are {', '.join(PAIRS)}")
    return (path[0], pair)
