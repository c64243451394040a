"""Case file to `Case`, with all faults of the file at once.

Goes in: a path or text. Comes out: a validated case.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path as FilePath
from typing import Any

from pydantic import TypeAdapter, ValidationError

from annulus.case.checks import check
from annulus.case.deriving import derive
from annulus.case.faults import UNKNOWN, Fault, Path, explain, nearest_key, refuse
from annulus.case.lookups import check_materials
from annulus.case.parts import Case
from annulus.texts import parse_toml, read_text

CASE_FILE = "case.toml"  # name of the file in a case's folder


def load(path: str | os.PathLike[str]) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : path
        A TOML file, or a folder that holds `case.toml`.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        If the file cannot be read, or with a line for every fault in it.
    """
    tree, name = load_tree(path)
    return build(tree, name)


def load_tree(path: str | os.PathLike[str]) -> tuple[dict[str, Any], str]:
    """Read a case file as it is written, nothing judged but its TOML.

    Parameters
    ----------
    path : path
        As `load`.

    Returns
    -------
    tree : dict
        Tables and keys with the texts that stand in the file; a file that it names is looked for beside it.
    name : str
        What messages call the file.

    Raises
    ------
    InputError
        If the file cannot be read or is not TOML.
    """
    file = FilePath(path)
    if file.is_dir():
        file = file / CASE_FILE
    text = read_text(file, "the case file")
    tree = parse_toml(text, str(file))
    burn = tree.get("burn")
    if isinstance(burn, dict) and isinstance(burn.get("table_file"), str):
        burn["table_file"] = str(file.parent / burn["table_file"])
    return tree, str(file)


def loads(text: str, name: str = "case") -> Case:
    """Read a case from text.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        What messages call the text.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        With a line for every fault.
    """
    return build(parse_toml(text, name), name)


def build(raw: Mapping[str, Any], name: str = "case") -> Case:
    """Make a case of a tree of tables and keys.

    Parameters
    ----------
    raw : mapping
        As `load_tree` gives it.
    name : str
        What messages call the tree.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        With a line for every fault.
    """
    data, faults, excused = derive(raw)
    complaints = _complaints(data)
    # a misspelt key is one fault, not also a missing one
    unknown = [fault.path for fault in complaints if fault.rule.startswith(UNKNOWN)]
    excused |= {(*path[:-1], near) for path in unknown if (near := nearest_key(path)) is not None}
    faults += [fault for fault in complaints if not _is_excused(fault, excused)]
    unsound = {fault.path[0] for fault in complaints if fault.path}
    faults += check_materials(data)
    faults += check(_sound_parts(data, unsound), frozenset(raw))
    # an excused fault without the fault that excused it must still be told
    refuse(faults or complaints, name)
    return Case.model_validate(data)


def _complaints(data: Mapping[str, Any]) -> list[Fault]:
    """What the parts, each for itself, say against the data."""
    try:
        Case.model_validate(data)
    except ValidationError as error:
        return [explain(details) for details in error.errors(include_url=False)]
    return []


def _sound_parts(data: Mapping[str, Any], unsound: set[str | int]) -> dict[str, Any]:
    """Parts that are valid by themselves, defaults included, by table name."""
    parts = {}
    for name, field in Case.model_fields.items():
        if name in unsound:
            continue
        if name in data:
            annotation: Any = field.annotation
            parts[name] = TypeAdapter(annotation).validate_python(data[name])
        elif not field.is_required():
            parts[name] = field.get_default(call_default_factory=True)
    return parts


def _is_excused(fault: Fault, excused: set[Path]) -> bool:
    return fault.rule.startswith("is missing") and fault.path in excused
