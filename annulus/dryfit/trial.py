"""One trial of a heater on the page: quick on the coarsest grid, or as `annulus steady` computes it.

Goes in: a case. Comes out: a dictionary for the page. A trial may be given up between two rounds.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from typing import Any

from annulus.case import Case, dump
from annulus.cautions import judge
from annulus.conduction.stripes import trace_stripes
from annulus.errors import AnnulusError
from annulus.heater import SteadyHeater, solve_heater, solve_with_errors, summarise
from annulus.present.ledger import steady_flows
from annulus.present.report import parts
from annulus.present.report.embed import embed_field, embed_section, embed_stripes, join
from annulus.present.words import watts

QUICK = 1  # fineness of the first answer
MOST_PIECES = 20_000  # that are sent to the page


class SupersededError(AnnulusError):
    """A newer trial waits; this one is given up."""


class Bench:
    """Tries one heater after the other, the newest first.

    Parameters
    ----------
    case : Case
        From which knobs turn.
    """

    def __init__(self, case: Case):
        self.case = case
        self._working = threading.Lock()
        self._newest = 0
        self._counting = threading.Lock()
        self._near: SteadyHeater | None = None

    def warm_up(self, tell: Callable[[str], None]) -> None:
        """Try the case itself, so that everything is compiled before the first knob is turned."""
        self._near = solve_heater(self.case, QUICK, tell)
        tell("tracing heat stripes")
        _told(self._near, summarise(self._near))

    def quick(self, case: Case) -> dict[str, Any]:
        """Answer on the coarsest grid, without error bars."""
        number = self._announce()
        with self._working:
            begun = time.perf_counter()
            heater = solve_heater(case, QUICK, self._tell(number), self._fit(case))
            self._near = heater
            return _told(heater, summarise(heater)) | {"refined": False, "seconds": time.perf_counter() - begun}

    def refined(self, case: Case) -> dict[str, Any]:
        """Answer on the pair of grids that `annulus steady` takes, digit for digit, with error bars."""
        number = self._announce()
        with self._working:
            begun = time.perf_counter()
            heater, outcome = solve_with_errors(case, tell=self._tell(number))
            return _told(heater, outcome) | {"refined": True, "seconds": time.perf_counter() - begun}

    def _announce(self) -> int:
        with self._counting:
            self._newest += 1
            return self._newest

    def _tell(self, number: int) -> Callable[[str], None]:
        def give_up(_: str) -> None:
            if number != self._newest:
                raise SupersededError

        return give_up

    def _fit(self, case: Case) -> SteadyHeater | None:
        """The heater tried last, to start from, if it has the same parts."""
        near = self._near
        if near is None or _parts_of(near.case) != _parts_of(case):
            return None
        return near


def _parts_of(case: Case) -> tuple[Any, ...]:
    coil, filler = case.coil, case.filler
    return (
        coil.turns if coil is not None else 0,
        case.shroud is None,
        case.insulation is None,
        case.jacket is None,
        filler.material == "still air",
        filler.settled_top > 0,
        filler.film_at_flue > 0,
        filler.strip_under_tubes > 0,
        len(filler.voids),
        case.water is None or case.water.direction,
    )


def _told(heater: SteadyHeater, outcome: Mapping[str, Any]) -> dict[str, Any]:
    """What the page shows of a heater."""
    section = heater.model.section
    joined = join(heater.model, MOST_PIECES)
    tubes = [region.name for region in section.regions if region.role == "tube"]
    stripes = trace_stripes(heater.field, tubes, heater.stripe_watts())
    source, heat, flows = steady_flows(outcome)
    return {
        "section": embed_section(heater.model, joined),
        "field": embed_field(heater, joined),
        "stripes": embed_stripes(section, stripes),
        "keys": {"stripes": parts.stripe_key(section, stripes)},
        "lead": parts.lead(outcome),
        "cautions": parts.cautions(judge(heater.case, section, outcome)),
        "source": f"{source}: {watts(heat)}",
        "ledger": [
            {"words": flow.words, "heat": flow.heat, "told": watts(flow.heat), "colour": flow.colours.light}
            for flow in flows
        ],
        "heat_to_water_W": outcome["heat_to_water_W"],
        "case": dump(heater.case),
    }
