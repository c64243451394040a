"""Do the 90 % intervals of `annulus calibrate` hold the truth at their rate?

Run: PYTHONPATH=. python benchmarks/log_coverage.py [--logs 50] [--processes 2] [--seed 1] [--wider]

Each log is invented by the burn model with parameters, probes' offsets and noise drawn from their priors and with
faults planted, read and mended as any log, and fitted. A bare and a sand-packed coil take turns; every tenth
log leaves the gap under the coil free as well; in two of five one gas probe ends below a tenth to four tenths of what
it would read. Printed: how often intervals hold the truth, of every parameter that the log determines, and of all
intervals.

With --wider the excess air that the case states is drawn as well, anywhere in the trade's range for closed stoves
that burn hot, and a bare pipe above the coil; a truth whose loads would not burn in their air is drawn again.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import numpy as np
from invent_burns import draw, end_probe, invent_burn, minutes_of, plant_faults

from annulus.burn.fast import FastBurner
from annulus.case import Case, load
from annulus.errors import ConvergenceError, InputError
from annulus.logs.calibrate import fit
from annulus.logs.crunch import crunch
from annulus.logs.facts import facts_of
from annulus.logs.limits import hotter_priors
from annulus.logs.observing import hotter_name, observe
from annulus.logs.parameters import priors_of
from annulus.logs.predicting import Predictor
from annulus.logs.priors import Prior
from annulus.logs.reading import read_log
from annulus.logs.synthetic import Course

CASES = Path(__file__).parent.parent / "cases"
HEATERS = ("bath-house-bare", "bath-house-sand")
FREE = ["fire.gas_multiplier", "fire.gas_flow"]
HOURS = 2.5
EXCESS_AIR = 3.0
WIDER_AIR, BARE_ABOVE = (1.6, 3.0), (0.0, 0.5)  # [-], [m]
ENDED = {2: "gas_above", 3: "gas_below"}  # probes that end too low, by the log's number modulo 5
BEYOND = (0.1, 0.4)  # of the readings
NAME = "log"
BURNERS: dict[str, FastBurner] = {}


@dataclass(frozen=True)
class Held:
    """One interval: parameter, whether it was reported, whether it holds the truth, posterior over prior width."""

    name: str
    is_reported: bool
    holds: bool
    width: float


def one_log(number: int, seed: int, is_wider: bool) -> list[Held]:
    """Invent, read and fit one log."""
    rng = np.random.default_rng([seed, number])
    case = heater(HEATERS[number % 2])
    if is_wider:
        apart = np.random.default_rng([seed, number, 2])
        case = with_air_and_pipe(case, float(apart.uniform(*WIDER_AIR)), float(apart.uniform(*BARE_ABOVE)))
    free = FREE + (["coil.gap"] if number % 10 == 0 else [])
    facts = replace(facts_of(case), target=None)
    priors = priors_of([case], free, facts.errors)
    truth, course = drawn_burn(case, priors, rng, {} if is_wider else BURNERS, again=is_wider)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        sheet = minutes_of(course, rng)
        if number % 5 in ENDED:
            # drawn apart, so that the other logs are the same with and without it
            share = float(np.random.default_rng([seed, number, 1]).uniform(*BEYOND))
            truth[hotter_name(NAME)] = end_probe(sheet, ENDED[number % 5], share)
        path.write_text(plant_faults(sheet, rng).text(), encoding="utf-8")
        log = read_log(path)
    observation = observe(NAME, case, crunch(log, facts))
    predictor = Predictor([observation])
    priors += hotter_priors([observation])
    try:
        fitted = fit(predictor, predictor.measured, predictor.scale, priors, is_least=predictor.is_least)
    except ConvergenceError:
        return [Held("not settled", True, False, 1.0)]
    found = []
    for n, estimate in enumerate(fitted.estimates()):
        u, width = float(fitted.coordinates[n]), estimate.width
        holds = abs(estimate.prior.coordinate(truth[estimate.prior.name]) - u) <= 1.6449 * width
        found.append(Held(estimate.prior.name, estimate.is_determined, holds, width))
    return found


def drawn_burn(
    case: Case, priors: Sequence[Prior], rng: np.random.Generator, burners: dict[str, FastBurner], again: bool
) -> tuple[dict[str, float], Course]:
    """True values and the burn they make; drawn `again`, if need be, where a load would not burn in its air."""
    while True:
        truth = draw(priors, rng)
        try:
            return truth, invent_burn(case, truth, HOURS, burners)
        except InputError:
            if not again:
                raise


def heater(name: str) -> Case:
    """A demonstration heater with enough air for any drawn flow of gas, and no bare pipe, which costs time alone."""
    return with_air_and_pipe(load(CASES / name), EXCESS_AIR, 0.0)


def with_air_and_pipe(case: Case, excess_air: float, bare_above: float) -> Case:
    """The same with other air and another bare length [m] above the coil."""
    fire = case.fire.model_copy(update={"excess_air": excess_air})
    return case.model_copy(update={"fire": fire, "flue": case.flue.model_copy(update={"bare_above": bare_above})})


def rows(held: list[Held]) -> Iterator[str]:
    """Lines of the table."""
    by_name: dict[str, list[Held]] = defaultdict(list)
    for one in held:
        by_name[one.name].append(one)
    for name, ones in by_name.items():
        reported = [one for one in ones if one.is_reported]
        rate = f"{100 * np.mean([one.holds for one in reported]):.0f} %" if reported else "-"
        width = np.median([one.width for one in ones])
        every = f"{100 * np.mean([one.holds for one in ones]):.0f} %"
        yield f"{name:22s} {len(ones):5d} {len(reported):9d} {rate:>8s} {every:>8s} {width:8.2f}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=50)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--wider", action="store_true")
    options = parser.parse_args()
    begun = time.perf_counter()
    held: list[Held] = []
    with ProcessPoolExecutor(options.processes) as pool:
        each = partial(one_log, seed=options.seed, is_wider=options.wider)
        for number, found in enumerate(pool.map(each, range(options.logs)), 1):
            held += found
            reported = [one for one in held if one.is_reported]
            share = 100 * np.mean([one.holds for one in reported])
            print(
                f"log {number}: {time.perf_counter() - begun:.0f} s, {share:.0f} % of {len(reported)} hold", flush=True
            )
    print("parameter               logs  reported    hold  all hold  width over prior (median)")
    for line in rows(held):
        print(line)
    reported = [one for one in held if one.is_reported]
    print(
        f"reported: {len(reported)} intervals, {100 * np.mean([one.holds for one in reported]):.1f} % hold the truth; "
        f"all {len(held)}: {100 * np.mean([one.holds for one in held]):.1f} %"
    )


if __name__ == "__main__":
    main()
