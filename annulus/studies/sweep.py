"""Many designs computed, on one core, on all, or on a cluster.

Goes in: designs and an executor. Comes out: a row for each design in the order
of the designs, whatever the order in which they were finished.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, as_completed
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from annulus import __version__
from annulus.case import Case
from annulus.errors import AnnulusError
from annulus.heater.ports import section_parts
from annulus.studies.designs import Design, compute, compute_together, fingerprint
from annulus.studies.finished import FinishedLog
from annulus.studies.models import TOGETHER, Result, steady_result

Row = dict[str, Any]

LEAST_TOGETHER = 12  # designs with one section that are worth ports of it: these cost as much as five designs
AT_ONCE = 16  # designs computed together: what a kill may cost, a second or two
SPREAD = 8  # designs that the ports of a section are made of


class StoppedError(AnnulusError):
    """Workers ended before their work was done; what was finished is kept."""


def run_sweep(
    designs: Sequence[Design],
    executor: Executor,
    folder: Path,
    result: Result = steady_result,
    resume: bool = False,
    tell: Callable[[int, int, Row], None] | None = None,
) -> list[Row]:
    """Compute every design that is not on disk yet.

    Parameters
    ----------
    designs : sequence of Design
    executor : concurrent.futures.Executor
        Of threads, processes or a cluster. It is left running.
    folder : path
        Holds the log of finished designs.
    result : callable
        From a case to its results, a function of a module.
    resume : bool
        Go on with the log that the folder holds.
    tell : callable, optional
        Told how many designs are finished, of how many, and the latest row.

    Returns
    -------
    list of dict
        By design: `results`, or the `reason` why there are none.

    Raises
    ------
    InputError
        As `FinishedLog`.
    StoppedError
        If a worker dies, which is most often for want of memory.

    Notes
    -----
    A design is computed by itself from its case (no start from a neighbour), or, where at least `LEAST_TOGETHER`
    have the same section, together with others on its ports. Which others depends on the designs alone, so that
    order and number of workers, and where an earlier run ended, do not touch the numbers.
    KeyboardInterrupt passes through; finished designs are on disk by then.
    """
    mark = fingerprint(designs, f"{result.__module__}.{result.__qualname__}", __version__)
    with FinishedLog(folder, mark, resume) as log:
        for design in designs:
            if design.case is None and design.number not in log.rows:
                log.add(design.number, {"reason": design.reason})
        futures = {
            task.submit(executor, result): task.numbers
            for task in _tasks(designs, result)
            if not log.rows.keys() >= set(task.numbers)
        }
        try:
            for future in as_completed(futures):
                for number, row in zip(futures[future], future.result(), strict=True):
                    if number not in log.rows:
                        log.add(number, row)
                        if tell is not None:
                            tell(len(log.rows), len(designs), row)
        except BrokenExecutor as error:
            raise StoppedError(
                f"a worker ended before its design was done; is memory short? {len(log.rows)} of {len(designs)} "
                f"designs are kept in {folder}: go on with --resume and fewer --jobs"
            ) from error
        finally:
            for future in futures:
                future.cancel()
        return [log.rows[design.number] for design in designs]


@dataclass(frozen=True)
class _Task:
    """Designs that are computed in one go; `spread` is empty for one that is computed by itself."""

    numbers: tuple[int, ...]
    cases: tuple[Case, ...]
    spread: tuple[Case, ...] = ()

    def submit(self, executor: Executor, result: Result) -> Future[list[Row]]:
        """Hand it to an executor."""
        if self.spread:
            return executor.submit(compute_together, self.cases, self.spread, result)
        return executor.submit(compute_alone, self.cases[0], result)


def compute_alone(case: Case, result: Result) -> list[Row]:
    """The row of one design, in a list as `compute_together` gives its own."""
    return [compute(case, result)]


def _tasks(designs: Sequence[Design], result: Result) -> list[_Task]:
    """All designs that make a case, those that share a section together, in the order of the first of each."""
    groups: dict[str, list[tuple[int, Case]]] = {}
    for design in designs:
        if design.case is not None:
            key = repr(section_parts(design.case)) if result in TOGETHER else str(design.number)
            groups.setdefault(key, []).append((design.number, design.case))
    tasks = []
    for group in groups.values():
        numbers, cases = zip(*group, strict=True)
        if len(group) < LEAST_TOGETHER:
            tasks += [_Task((number,), (case,)) for number, case in group]
            continue
        spread = tuple(cases[n] for n in sorted({round(n * (len(cases) - 1) / (SPREAD - 1)) for n in range(SPREAD)}))
        for first in range(0, len(group), AT_ONCE):
            those = slice(first, first + AT_ONCE)
            tasks.append(_Task(numbers[those], cases[those], spread))
    return tasks
