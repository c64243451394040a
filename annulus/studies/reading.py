"""A sweep as its readers take it: settings, results with errors, and whether limits are kept.

Goes in: variations, designs, rows, limits. Comes out: one `Reading` a design.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from annulus.heater.precision import error_key
from annulus.studies.designs import Design
from annulus.studies.limits import KEPT, Limit, judge
from annulus.studies.unbeaten import unbeaten
from annulus.studies.vary import Setting, Variation

AS_THEY_COME = ("fire", "room")  # tables of a case that no design chooses
LESS_IS_BETTER = ("time_to_target_s", "wood_kg", "heat_to_room_W")  # of all other results more is taken to be better


@dataclass(frozen=True)
class Reading:
    """One design.

    Attributes
    ----------
    number : int
    settings : tuple of Setting
    results : mapping
        Empty if there are none.
    reason : str
        Why there are none.
    kept : str or None
        Verdict on the limits; None without results.
    """

    number: int
    settings: tuple[Setting, ...]
    results: Mapping[str, Any]
    reason: str
    kept: str | None

    @property
    def name(self) -> str:
        """Its settings, "16 mm, sand"."""
        return ", ".join(setting.name for setting in self.settings)

    @property
    def counts(self) -> bool:
        """True if it has results and keeps every limit."""
        return self.kept == KEPT

    def value(self, name: str) -> float | None:
        """A result; None if it is absent."""
        found = self.results.get(name)
        return None if found is None else float(found)

    def error(self, name: str) -> float:
        """Its error, 0 where it has none."""
        return float(self.results.get(error_key(name)) or 0.0)


@dataclass(frozen=True)
class Sweep:
    """A sweep that is done.

    Attributes
    ----------
    title : str
        Of the case.
    variations : tuple of Variation
    readings : tuple of Reading
        In the order of the designs.
    limits : tuple of Limit
    invented : bool
        Whether the case is an invented example.
    """

    title: str
    variations: tuple[Variation, ...]
    readings: tuple[Reading, ...]
    limits: tuple[Limit, ...]
    invented: bool = False

    @property
    def names(self) -> list[str]:
        """Names of results, in the order in which they first occur."""
        return list(dict.fromkeys(name for reading in self.readings for name in reading.results))

    def apart(self) -> list[tuple[str, Sweep]]:
        """The sweep under each fire and in each room by its name: designs are rivals only where these are the same.

        One part without a name where nothing of them is varied, or nothing else.
        """
        given = [n for n, variation in enumerate(self.variations) if _is_given(variation)]
        chosen = [variation for n, variation in enumerate(self.variations) if n not in given]
        if not given or math.prod(len(variation.settings) for variation in chosen) == 1:
            return [("", self)]
        parts = []
        for settings in itertools.product(*(self.variations[n].settings for n in given)):
            rivals = [r for r in self.readings if all(r.settings[n] == s for n, s in zip(given, settings, strict=True))]
            parts.append((", ".join(s.name for s in settings), replace(self, readings=tuple(rivals))))
        return parts

    def best(self, name: str) -> list[Reading]:
        """Designs that keep the limits and have a result, the best first."""
        having = [reading for reading in self.readings if reading.counts and reading.value(name) is not None]
        sign = 1 if name in LESS_IS_BETTER else -1
        return sorted(having, key=lambda reading: (sign * float(reading.results[name]), reading.number))

    def not_beaten(self, name: str, cost: str, less_is_better: bool = True) -> list[Reading]:
        """Designs that keep the limits and that no other such design beats in a result and its cost."""
        having = [reading for reading in self.best(name) if reading.value(cost) is not None]
        values = [[reading.results[name], reading.results[cost]] for reading in having]
        errors = [[reading.error(name), reading.error(cost)] for reading in having]
        more_is_better = (name not in LESS_IS_BETTER, not less_is_better)
        remains = unbeaten(np.reshape(values, (-1, 2)), np.reshape(errors, (-1, 2)), more_is_better)
        return [reading for reading, stays in zip(having, remains, strict=True) if stays]


def _is_given(variation: Variation) -> bool:
    """True if all that varies has to be taken as it comes."""
    return all(path[0] in AS_THEY_COME for setting in variation.settings for path, _ in setting.changes)


def read_sweep(
    title: str,
    variations: Sequence[Variation],
    designs: Sequence[Design],
    rows: Sequence[Mapping[str, Any]],
    limits: Sequence[Limit] = (),
    invented: bool = False,
) -> Sweep:
    """Put designs, rows and limits together."""
    readings = [
        Reading(
            design.number,
            design.settings,
            row.get("results", {}),
            row.get("reason", ""),
            judge(limits, row["results"]) if "results" in row else None,
        )
        for design, row in zip(designs, rows, strict=True)
    ]
    return Sweep(title, tuple(variations), tuple(readings), tuple(limits), invented)
