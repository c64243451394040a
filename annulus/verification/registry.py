"""All verification cases, in the order of the table.

Goes in: names of cases. Comes out: families, cases, and their results.
"""

from __future__ import annotations

import difflib
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from annulus.conduction.boundaries import Held
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import solve_steady
from annulus.errors import AnnulusError, InputError
from annulus.shapes import Disc, Rectangle
from annulus.verification import (
    coil_section,
    coil_variants,
    cylinders,
    inclusions,
    laws,
    plates,
    properties,
    radiation,
    rings,
    shape_factors,
    streams,
    tanks,
    transients,
)
from annulus.verification.rows import Case, Family, Row


def _by_number(*groups: tuple[Case, ...]) -> tuple[Case, ...]:
    return tuple(sorted((case for group in groups for case in group), key=lambda case: int(case.id[1:])))


FAMILIES = (
    Family(
        "Layers and films on a grid that follows them",
        "Temperatures are judged by the span of the case unless their error is in K, heat by the heat. "
        "Order over three grids or four.",
        _by_number(cylinders.CASES, plates.CASES, rings.CASES),
    ),
    Family(
        "Circles cut into the grid",
        "Shown at 25 cells to the radius, where 0.1 % is allowed; 0.5 % must hold at 12 cells too. Order over "
        "6, 12, 25 and 50 cells. Temperatures are judged by the span of the case, heat by the heat.",
        _by_number(shape_factors.CASES, inclusions.CASES),
    ),
    Family(
        "The coil section",
        "Shown on cells of 0.125 mm; three times the tolerance must hold on cells of 0.25 mm too. Temperatures are "
        "judged by what they lie above the water.",
        (*coil_section.CASES, *coil_variants.CASES),
    ),
    Family(
        "Fields in time",
        "With even steps whose halving changes no reading by half of what is allowed, and with steps that choose "
        "themselves. Errors are of the span of the case.",
        transients.CASES,
    ),
    Family("Air gaps that radiate", "", radiation.CASES),
    Family("Component laws", "Formulas are good to a part in a million of the quoted digits.", laws.CASES),
    Family("Streams of gas and water, and the tank they warm", "", (*streams.CASES, *tanks.CASES)),
    Family(
        "Properties of every section",
        "Relative to the heat passed on, the span of the ambients or the largest conductance.",
        properties.CASES,
    ),
)


@dataclass(frozen=True)
class Result:
    """Rows of a case, how long they took [s], and why there are none if it could not be computed."""

    case: Case
    rows: tuple[Row, ...]
    seconds: float
    fault: str = ""

    @property
    def holds(self) -> bool:
        return not self.fault and all(row.holds for row in self.rows)


def cases() -> list[Case]:
    """Every case, in the order of the table."""
    return [case for family in FAMILIES for case in family.cases]


def choose(names: Iterable[str]) -> list[Case]:
    """Cases by their names, in the order of the table; small letters will do.

    Raises
    ------
    InputError
        For names that are none, all at once, or if there is no name.
    """
    known = {case.id: case for case in cases()}
    in_order = sorted(known, key=lambda name: (int("".join(filter(str.isdigit, name))), name))
    wanted = [name.strip().upper() for name in names if name.strip()]
    faults = []
    for name in wanted:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1, cutoff=0.81)
            hint = f"; did you mean {near[0]}?" if near else ""
            faults.append(f"{name!r} is no case{hint}")
    if faults or not wanted:
        raise InputError(f"{'; '.join(faults) or 'no case is named'}; there are {', '.join(in_order)}")
    return [case for name, case in known.items() if name in wanted]


def run_all(chosen: Sequence[Case], progress: Callable[[str], None]) -> list[Result]:
    """Run cases one after the other; `progress` is told which begins."""
    results = []
    for n, case in enumerate(chosen):
        progress(f"{n + 1} of {len(chosen)}: {case.id}, {case.title}")
        begun = time.perf_counter()
        rows: tuple[Row, ...] = ()
        fault = ""
        try:
            rows = tuple(case.run())
        except AnnulusError as refused:
            fault = str(refused)
        results.append(Result(case, rows, time.perf_counter() - begun, fault))
    return results


def warm_up() -> None:
    """Solve one small section, so that compiling is not counted with the first case."""
    painted = [Painted("body", Rectangle(0.0, 1.0, 0.0, 1.0)), Painted("disc", Disc(0.5, 0.5, 0.3))]
    pieces = cut_grid(uniform_grid((0.0, 1.0), (0.0, 1.0), (6, 6)), painted)
    solve_steady(pieces, {"body": 1.0, "disc": 2.0}, {"z_min": Held(1.0), "r_max": Held(0.0)})
