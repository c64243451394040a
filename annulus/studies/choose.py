"""The best design within ranges, which limit holds it back, and how flat the top is.

Goes in: the tree of a case file, ranges, lists, limits, the result that is to be most or least.
Comes out: a `Choice`.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.errors import ConvergenceError, InputError
from annulus.heater.precision import error_key
from annulus.studies.designs import make_designs, refuse_twice
from annulus.studies.limits import KEPT, Limit, judge
from annulus.studies.models import Result, Results, rough_steady, steady_result
from annulus.studies.searching import BROKEN, Search, Wish
from annulus.studies.vary import Setting, Span, Variation, setting_at

Floats = NDArray[np.float64]

STEPS = (0.02, 0.05, 0.1, 0.2, 0.4)  # to both sides of the best, of the range: how flat is the top?
FLAT = 0.01  # designs within this share of the best count as the flat top
AT_END = 5e-3  # of the range: nearer to its end the best lies at the end


@dataclass(frozen=True)
class Neighbour:
    """A design beside the best one: one span moved to a value in its unit, the others held."""

    span: int
    at: float
    results: Results | None


@dataclass(frozen=True)
class Choice:
    """The best design and its neighbourhood.

    Attributes
    ----------
    settings : tuple of Setting
        Of spans, then of lists.
    spans : tuple of Span
    case : Case
    results : dict
        With the error of each.
    neighbours : tuple of Neighbour
        The best among them.
    flat : tuple of (float, float)
        For each span, between which of the values tried the result stays within `FLAT` of the best and the limits
        are kept.
    binding : tuple of str
        What holds the best design back; empty where nothing does.
    rough, full : int
        Designs computed on the coarse grid, and on the pair of grids.
    """

    settings: tuple[Setting, ...]
    spans: tuple[Span, ...]
    case: Case
    results: Results
    neighbours: tuple[Neighbour, ...]
    flat: tuple[tuple[float, float], ...]
    binding: tuple[str, ...]
    rough: int
    full: int


def choose(
    tree: Mapping[str, Any],
    spans: Sequence[Span],
    lists: Sequence[Variation],
    wish: Wish,
    limits: Sequence[Limit],
    executor: Executor,
    tell: Callable[[str], None] | None = None,
    models: tuple[Result, Result] = (rough_steady, steady_result),
) -> Choice:
    """Find the best design.

    Parameters
    ----------
    tree : mapping
        As `annulus.case.load_tree` gives it.
    spans : sequence of Span
        Ranges in which anything goes; at least one.
    lists : sequence of Variation
        Of which every combination is searched.
    wish : Wish
    limits : sequence of Limit
        Kept with the whole error bar.
    executor : concurrent.futures.Executor
        Computes designs that are tried together.
    tell : callable, optional
        Told in a few words what is going on.
    models : tuple of callable
        From a case to its results, without errors for the first search and with errors for the second.

    Returns
    -------
    Choice

    Raises
    ------
    InputError
        If there is no range, a key is varied twice, a result's name is unknown, or no design tried makes a case.
    ConvergenceError
        If no design that was tried keeps the limits; the message has the nearest one.

    Notes
    -----
    Differential evolution (R. Storn and K. Price, J. Global Optimization 11, 1997, as scipy has it) on the
    coarse grid finds the neighbourhood; COBYLA (M. J. D. Powell, 1994, as scipy has it) goes on from there on
    the pair of grids, the limits shifted by the error bars; whole numbers are then tried one up and one down.
    """
    if not spans:
        raise InputError("--vary: has no range to search; write for instance --vary 'coil.pitch = 16 mm .. 40 mm'")
    refuse_twice([*_ends(spans), *lists])
    say = tell or (lambda words: None)
    found: list[tuple[Search, Floats]] = []
    for fixed in itertools.product(*(variation.settings for variation in lists)):
        search = Search(tree, spans, fixed, wish, limits, executor, models)
        words = ", ".join(setting.name for setting in fixed)
        say(f"searching {words}" if words else "searching")
        found.append((search, search.polish(search.explore(), say)))
    search, best = min(found, key=lambda entry: _rank(*entry))
    row = search.full(best)
    if search.merit(row) >= BROKEN:
        raise _nothing_keeps(search, best)
    say("looking round the best")
    neighbours = _look_round(search, best)
    known = [key for one, _ in found for key in one.known]
    return Choice(
        settings=search.settings(best),
        spans=tuple(spans),
        case=search.case(best),
        results=row["results"],
        neighbours=tuple(neighbours),
        flat=tuple(_flat(search, best, n, neighbours) for n in range(len(spans))),
        binding=tuple(_binding(search, best, neighbours)),
        rough=sum(rough for _, rough in known),
        full=sum(not rough for _, rough in known),
    )


def _ends(spans: Sequence[Span]) -> list[Variation]:
    """Both ends of each range."""
    settings = [(setting_at(span, span.first), setting_at(span, span.last)) for span in spans]
    return [Variation(span.name, (span.name,), both) for span, both in zip(spans, settings, strict=True)]


def corner_cases(tree: Mapping[str, Any], spans: Sequence[Span], lists: Sequence[Variation]) -> list[Case]:
    """Cases at the ends of all ranges; none where no such place makes a case, which the search itself tells."""
    try:
        designs = make_designs(tree, [*_ends(spans), *lists])
    except InputError:
        return []
    return [design.case for design in designs if design.case is not None]


def _rank(search: Search, best: Floats) -> tuple[float, float]:
    """Order of searches: how badly limits are broken first, then the wished result."""
    row = search.full(best)
    merit = search.merit(row)
    if merit >= BROKEN:
        return merit, 0.0
    return 0.0, -search.wish.sign * float(row["results"][search.wish.name])


def _nothing_keeps(search: Search, best: Floats) -> ConvergenceError:
    row = search.full(best)
    where = ", ".join(setting.name for setting in search.settings(best))
    if "results" not in row:
        return ConvergenceError(f"choose: the best place found, {where}, has no result: {row['reason']}")
    results = row["results"]
    broken = [limit for limit in search.limits if limit.verdict(results) != KEPT]
    said = "; ".join(
        f"{limit.words}, and there it is {results[limit.name]:.4g} ± {results.get(error_key(limit.name)) or 0.0:.2g}"
        for limit in broken
    )
    return ConvergenceError(
        f"choose: no design within the ranges was found that keeps the limits with its whole error bar; the nearest, "
        f"{where}, must keep {said}. Widen a range or ease a limit"
    )


def _look_round(search: Search, best: Floats) -> list[Neighbour]:
    """Designs to both sides of the best along each span, by value."""
    places: list[tuple[int, Floats]] = []
    for n in range(best.size):
        reach = search.high[n] - search.low[n]
        for step in sorted((*(-s for s in STEPS), 0.0, *STEPS)):
            x = best.copy()
            x[n] = np.clip(best[n] + step * reach, search.low[n], search.high[n])
            places.append((n, x))
    rows = search.rows([x for _, x in places], rough=False)
    found: dict[tuple[int, float], Neighbour] = {}
    for (n, x), row in zip(places, rows, strict=True):
        at = search.values(x)[n]
        found[n, at] = Neighbour(n, at, row.get("results"))
    return sorted(found.values(), key=lambda neighbour: (neighbour.span, neighbour.at))


def _flat(search: Search, best: Floats, span: int, neighbours: Sequence[Neighbour]) -> tuple[float, float]:
    """Values of a span next to each other, the best among them, that give nearly as much and keep the limits."""
    top = float(search.full(best)["results"][search.wish.name])
    at = search.values(best)[span]

    def is_flat(neighbour: Neighbour) -> bool:
        results = neighbour.results
        if results is None or results[search.wish.name] is None or judge(search.limits, results) != KEPT:
            return False
        return search.wish.sign * (top - float(results[search.wish.name])) <= FLAT * abs(top)

    own = [neighbour for neighbour in neighbours if neighbour.span == span]
    below = itertools.takewhile(is_flat, [n for n in reversed(own) if n.at <= at])
    above = itertools.takewhile(is_flat, [n for n in own if n.at >= at])
    return min((n.at for n in below), default=at), max((n.at for n in above), default=at)


def _binding(search: Search, best: Floats, neighbours: Sequence[Neighbour]) -> list[str]:
    """What holds the best back: a limit that better neighbours break, an end of a range with nothing better inside."""
    row = search.full(best)["results"]
    name, sign = search.wish.name, search.wish.sign
    top, error = float(row[name]), float(row.get(error_key(name)) or 0.0)
    better = [
        n.results
        for n in neighbours
        if n.results is not None and n.results[name] is not None and sign * (float(n.results[name]) - top) > error
    ]
    said = [limit.words for limit in search.limits if any(limit.verdict(results) != KEPT for results in better)]
    for span, value, low, high in zip(search.spans, best, search.low, search.high, strict=True):
        for end, which in ((low, "lower"), (high, "upper")):
            if abs(value - end) <= AT_END * (high - low):
                said.append(f"{span.name} at the {which} end of its range")
    return said
