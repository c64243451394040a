"""Designs of a sweep: a case changed in every combination of settings, and what is computed of each.

Goes in: the tree of a case file, variations, a function from a case to its
results. Comes out: designs in a fixed order; for each a row of results, or the
reason why there is none.
"""

from __future__ import annotations

import hashlib
import itertools
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from typing import Any

import numba
import numpy as np
from threadpoolctl import threadpool_limits

from annulus.case import Case, build
from annulus.errors import AnnulusError, InputError
from annulus.section import lay_out
from annulus.studies.keys import changed
from annulus.studies.models import TOGETHER, Result, Results
from annulus.studies.vary import Setting, Variation

MOST_DESIGNS = 100_000  # more is taken for a slip of the pen

# A factor that breaks down or a number that overflows belongs to the one design that caused it.
FAILURES = (AnnulusError, ArithmeticError, RuntimeError, np.linalg.LinAlgError, MemoryError)


@dataclass(frozen=True)
class Design:
    """One combination of settings.

    Attributes
    ----------
    number : int
        From 1.
    settings : tuple of Setting
        One of each variation.
    case : Case or None
        None if the parts do not make a case.
    reason : str
        Why they do not.
    """

    number: int
    settings: tuple[Setting, ...]
    case: Case | None
    reason: str = ""


def make_designs(tree: Mapping[str, Any], variations: Sequence[Variation]) -> list[Design]:
    """Every combination of settings, the last variation fastest.

    Parameters
    ----------
    tree : mapping
        A case file as `annulus.case.load_tree` gives it.
    variations : sequence of Variation

    Returns
    -------
    list of Design

    Raises
    ------
    InputError
        If two variations set one key, there are too many designs, or none of them makes a case.
    """
    refuse_twice(variations)
    count = int(np.prod([len(variation.settings) for variation in variations], dtype=object))
    if count > MOST_DESIGNS:
        raise InputError(f"--vary: {count} designs are more than {MOST_DESIGNS}; take fewer steps")
    combinations = itertools.product(*(variation.settings for variation in variations))
    designs = [_make(tree, number, settings) for number, settings in enumerate(combinations, start=1)]
    if all(design.case is None for design in designs):
        raise InputError(f"none of {len(designs)} designs makes a case; the first:\n{designs[0].reason}")
    return designs


def _make(tree: Mapping[str, Any], number: int, settings: tuple[Setting, ...]) -> Design:
    changes = [change for setting in settings for change in setting.changes]
    try:
        return Design(number, settings, build(changed(tree, changes), "design"))
    except InputError as error:
        return Design(number, settings, None, str(error))


def refuse_twice(variations: Sequence[Variation]) -> None:
    """Refuse to vary nothing, or one key in two ways."""
    if not variations:
        raise InputError("--vary: nothing is varied; write for instance --vary 'coil.pitch = 16 mm .. 40 mm x 9'")
    seen: set[tuple[str, ...]] = set()
    for variation in variations:
        paths = {path for setting in variation.settings for path, _ in setting.changes}
        twice = sorted(seen & paths)
        if twice:
            raise InputError(f"--vary {'.'.join(twice[0])}: is varied twice; keep one")
        seen |= paths


def fingerprint(designs: Sequence[Design], result: str, version: str) -> str:
    """Mark by which a sweep that goes on knows that nothing was changed.

    The resolved cases count, not how their files are written; so do the
    program's version and the name of the result.
    """
    digest = hashlib.sha256(json.dumps([version, result]).encode())
    for design in designs:
        content = design.reason if design.case is None else design.case.model_dump_json()
        digest.update(json.dumps([[setting.name for setting in design.settings], content]).encode())
    return digest.hexdigest()


def compute(case: Case, result: Result) -> dict[str, Any]:
    """Results and bill of one design, or why there are none.

    Parameters
    ----------
    case : Case
    result : callable
        Of a case; a function of a module, so that another process finds it.

    Returns
    -------
    dict
        `results`, whose entries are numbers, texts and None; or `reason`. Alone on one thread, from nothing
        but the case: the same to the last digit wherever it runs.
    """
    try:
        with _one_thread():
            bill = {f"{name}_{unit}": value for name, unit, value in _bill(case)}
            flat = {key: value for key, value in result(case).items() if key not in DESCRIPTIVE and _is_flat(value)}
    except FAILURES as error:
        return {"reason": str(error) or type(error).__name__}
    return {"results": flat | bill}


def compute_together(cases: Sequence[Case], spread: Sequence[Case], result: Result) -> list[dict[str, Any]]:
    """As `compute` of designs that share their section.

    Parameters
    ----------
    cases : sequence of Case
    spread : sequence of Case
        A few, spread over all designs with this section.
    result : callable
        A key of `TOGETHER`.

    Returns
    -------
    list of dict
        From nothing but the arguments. A design that cannot be told together with others is computed by itself, and
        so are all of them if their ports cannot be made.
    """
    outcomes: list[Results | None] = [None] * len(cases)
    with suppress(*FAILURES), _one_thread():
        outcomes = TOGETHER[result](spread, cases)
    return [
        compute(case, result if outcome is None else _known(outcome))
        for case, outcome in zip(cases, outcomes, strict=True)
    ]


def _known(outcome: Results) -> Result:
    """A result that is known already."""
    return lambda case: outcome


@contextmanager
def _one_thread() -> Iterator[None]:
    """Every numerical library on one thread."""
    threads = numba.get_num_threads()
    numba.set_num_threads(1)
    try:
        with threadpool_limits(1):
            yield
    finally:
        numba.set_num_threads(threads)


DESCRIPTIVE = ("title", "invented")
BILLED = {
    "tube_length_wound": "m",
    "tube_length_to_buy": "m",
    "filler_mass": "kg",
    "copper_mass": "kg",
    "insulation_volume": "m3",
}


def _bill(case: Case) -> list[tuple[str, str, float]]:
    amounts = asdict(lay_out(case).bill)
    if case.material(case.filler.material, case.filler.packing).family == "gas":
        amounts["filler_mass"] = 0.0  # nobody buys air
    return [(name, unit, float(amounts[name])) for name, unit in BILLED.items()]


def _is_flat(value: Any) -> bool:
    return value is None or isinstance(value, (bool, int, float, str))
