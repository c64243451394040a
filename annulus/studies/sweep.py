"""Many designs computed, on one core, on all, or on a cluster.

Goes in: designs and an executor. Comes out: a row for each design in the order
of the designs, whatever the order in which they were finished.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor, as_completed
from pathlib import Path
from typing import Any

from annulus import __version__
from annulus.errors import AnnulusError
from annulus.studies.designs import Design, compute, fingerprint
from annulus.studies.finished import FinishedLog
from annulus.studies.models import Result, steady_result

Row = dict[str, Any]


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
    Every design is computed by itself from its case (no start from a
    neighbour), so that order and number of workers do not touch the numbers.
    KeyboardInterrupt passes through; finished designs are on disk by then.
    """
    mark = fingerprint(designs, f"{result.__module__}.{result.__qualname__}", __version__)
    with FinishedLog(folder, mark, resume) as log:
        for design in designs:
            if design.case is None and design.number not in log.rows:
                log.add(design.number, {"reason": design.reason})
        open_cases = [
            (design.number, design.case)
            for design in designs
            if design.case is not None and design.number not in log.rows
        ]
        futures = {executor.submit(compute, case, result): number for number, case in open_cases}
        try:
            for future in as_completed(futures):
                log.add(futures[future], future.result())
                if tell is not None:
                    tell(len(log.rows), len(designs), log.rows[futures[future]])
        except BrokenExecutor as error:
            raise StoppedError(
                f"a worker ended before its design was done; is memory short? {len(log.rows)} of {len(designs)} "
                f"designs are kept in {folder}: go on with --resume and fewer --jobs"
            ) from error
        finally:
            for future in futures:
                future.cancel()
        return [log.rows[design.number] for design in designs]
