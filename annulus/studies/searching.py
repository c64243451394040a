"""The search for the best design: from anywhere in the ranges to the best there is.

Goes in: the tree of a case file, ranges, limits, a wish. Comes out: places, and the rows of all designs tried.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import differential_evolution, minimize

from annulus.case import Case, build
from annulus.errors import InputError
from annulus.heater.precision import error_key
from annulus.studies.designs import compute
from annulus.studies.keys import changed
from annulus.studies.limits import Limit, check_names, numeric
from annulus.studies.models import Result, Results
from annulus.studies.vary import Setting, Span, setting_at

Floats = NDArray[np.float64]

SEED = 20  # of the first search: the same question has the same answer
PER_VARIABLE, MOST_ROUNDS = 6, 12  # designs tried at once a variable, and rounds, of the first search
FIRST_STEP, LAST_STEP = 0.08, 4e-3  # of the second search, of the ranges
MOST_TRIALS = 25  # of the second search, a variable
DIGITS = 4  # of a value that is tried: nobody winds to a micrometre
BROKEN = 1e3  # merit of a design that breaks a limit; one without results has twice that


@dataclass(frozen=True)
class Wish:
    """The result that is to be most, or least."""

    name: str
    most: bool

    @property
    def sign(self) -> float:
        """1 where more is better, else -1."""
        return 1.0 if self.most else -1.0

    @property
    def option(self) -> str:
        """The option that states it."""
        return "--most" if self.most else "--least"


class Search:
    """One search over the spans, listed settings held."""

    def __init__(
        self,
        tree: Mapping[str, Any],
        spans: Sequence[Span],
        fixed: Sequence[Setting],
        wish: Wish,
        limits: Sequence[Limit],
        executor: Executor,
        models: tuple[Result, Result],
    ) -> None:
        self.models = models
        self.tree, self.spans, self.fixed = tree, tuple(spans), tuple(fixed)
        self.wish, self.limits, self.executor = wish, tuple(limits), executor
        ends = np.array([[self._scaled(span, float(end)) for end in (span.first, span.last)] for span in spans])
        self.low, self.high = ends.min(axis=1), ends.max(axis=1)
        self.whole = np.array([span.keys[0].is_whole for span in spans])
        self.known: dict[tuple[str, bool], dict[str, Any]] = {}
        self.size: float | None = None  # of the wished result, to make merits of order one

    @staticmethod
    def _scaled(span: Span, value: float) -> float:
        return math.log10(value) if span.by_ratio else value

    def values(self, x: Floats) -> list[float]:
        """Values of the spans in their units, as they are tried."""
        plain = [10.0**at if span.by_ratio else float(at) for span, at in zip(self.spans, x, strict=True)]
        ends = [sorted((float(span.first), float(span.last))) for span in self.spans]
        rounded = [
            float(round(value)) if span.keys[0].is_whole else float(f"{value:.{DIGITS}g}")
            for span, value in zip(self.spans, plain, strict=True)
        ]
        return [min(max(value, low), high) for value, (low, high) in zip(rounded, ends, strict=True)]

    def settings(self, x: Floats) -> tuple[Setting, ...]:
        moved = [setting_at(span, value) for span, value in zip(self.spans, self.values(x), strict=True)]
        return (*moved, *self.fixed)

    def case(self, x: Floats) -> Case:
        """Case of a place; InputError if the parts do not fit there."""
        return build(changed(self.tree, [change for setting in self.settings(x) for change in setting.changes]))

    def rows(self, places: Sequence[Floats], rough: bool) -> list[dict[str, Any]]:
        """Rows of several places, computed together where they are not known."""
        names = [" ".join(setting.name for setting in self.settings(x)) for x in places]
        tasks = {}
        for name, x in zip(names, places, strict=True):
            if (name, rough) in self.known or name in tasks:
                continue
            try:
                case = self.case(x)
            except InputError as error:
                self.known[name, rough] = {"reason": str(error)}
                continue
            tasks[name] = self.executor.submit(compute, case, self.models[0] if rough else self.models[1])
        for name, future in tasks.items():
            row = self.known[name, rough] = future.result()
            if "results" in row:
                check_names({self.wish.option: self.wish.name}, self.limits, numeric(row["results"]))
        return [self.known[name, rough] for name in names]

    def full(self, x: Floats) -> dict[str, Any]:
        """Row of one place with error bars."""
        return self.rows([x], rough=False)[0]

    def merit(self, row: Mapping[str, Any]) -> float:
        """What is made least: the result with its sign; above `BROKEN` where a limit is not kept."""
        if "results" not in row:
            return 2 * BROKEN
        results = row["results"]
        if results[self.wish.name] is None:
            return 2 * BROKEN
        short = sum(max(0.0, -self.spare(limit, results)) for limit in self.limits)
        if short > 0:
            return BROKEN * (1 + short / (1 + short))
        return self._aim(results)

    def _aim(self, results: Mapping[str, Any]) -> float:
        value = float(results[self.wish.name])
        if self.size is None:
            self.size = max(abs(value), 1e-9)
        return -self.wish.sign * value / self.size

    def spare(self, limit: Limit, results: Mapping[str, Any]) -> float:
        """How far the whole error bar lies inside a limit, of the limit's size."""
        size = max(abs(limit.value), 1.0)
        return min((limit.room(results) - float(results.get(error_key(limit.name)) or 0.0)) / size, 1e3)

    def explore(self) -> Floats:
        """The neighbourhood of the best on the coarse grid."""

        refused: list[InputError] = []  # scipy takes a ValueError for a fault of its own caller

        def merits(places: Floats) -> Floats:
            if not refused:
                try:
                    return np.array([self.merit(row) for row in self.rows(list(places.T), rough=True)])
                except InputError as error:
                    refused.append(error)
            return np.full(places.shape[1], 2 * BROKEN)

        found = differential_evolution(
            merits,
            list(zip(self.low, self.high, strict=True)),
            popsize=PER_VARIABLE,
            maxiter=MOST_ROUNDS,
            rng=SEED,
            polish=False,
            vectorized=True,
            updating="deferred",
            integrality=self.whole,
        )
        if refused:
            raise refused[0]
        if found.fun >= 2 * BROKEN:
            reason = next(row["reason"] for row in self.known.values() if "reason" in row)
            raise InputError(f"--vary: no design within the ranges has a result; one of them:\n{reason}")
        return np.asarray(found.x, float)

    def polish(self, start: Floats, say: Callable[[str], None]) -> Floats:
        """The best near a place, on the pair of grids."""
        best = self._slide(start, say)
        for _ in range(len(self.spans)):
            steps = [step * unit for unit in np.eye(len(best))[self.whole] for step in (-1.0, 1.0)]
            places = [best + step for step in steps if self._holds(best + step)]
            rows = self.rows(places, rough=False)
            better = [x for x, row in zip(places, rows, strict=True) if self.merit(row) < self.merit(self.full(best))]
            if not better:
                break
            best = self._slide(min(better, key=lambda x: self.merit(self.full(x))), say)
        return best

    def _holds(self, x: Floats) -> bool:
        return bool((x >= self.low).all() and (x <= self.high).all())

    def _slide(self, start: Floats, say: Callable[[str], None]) -> Floats:
        """COBYLA over the variables that are not whole numbers."""
        free, reach = ~self.whole, self.high - self.low
        tried: list[Floats] = [start]
        if free.any():

            def place(share: Floats) -> Floats:
                x = start.copy()
                x[free] = self.low[free] + np.clip(share, 0.0, 1.0) * reach[free]
                return x

            def results(share: Floats) -> Results:
                x = place(share)
                row = self.full(x)
                tried.append(x)
                say(f"{len(tried)} designs near the best")
                return row.get("results", {})

            def aim(share: Floats) -> float:
                found = results(share)
                return self._aim(found) if found and found[self.wish.name] is not None else 1.0

            limits = [
                {"type": "ineq", "fun": lambda share, limit=limit: self._spare_or_none(results(share), limit)}
                for limit in self.limits
            ]
            minimize(
                aim,
                (start[free] - self.low[free]) / reach[free],
                method="COBYLA",
                bounds=[(0.0, 1.0)] * int(free.sum()),
                constraints=limits,
                tol=LAST_STEP,
                options={"rhobeg": FIRST_STEP, "maxiter": MOST_TRIALS * int(free.sum())},
            )
        return min(tried, key=lambda x: self.merit(self.full(x)))

    def _spare_or_none(self, results: Results, limit: Limit) -> float:
        return self.spare(limit, results) if results else -1.0
