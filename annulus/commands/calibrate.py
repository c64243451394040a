"""Fit a case to its burn logs: what the packing really achieved, and what the logs cannot tell."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from annulus import __version__
from annulus.commands.options import add_out, before_names, save_pictures, say_written
from annulus.commands.progress import Progress

if TYPE_CHECKING:
    from annulus.case import Case
    from annulus.logs.calibrate import Fit, Forecast
    from annulus.logs.next_probe import Promise
    from annulus.logs.predicting import Predictor


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("calibrate", help="fit a case to its burn logs, with what they cannot tell apart")
    command.add_argument(
        "files",
        type=Path,
        nargs="+",
        metavar="CASE LOG",
        help="a case and its logs (.csv); then further cases with theirs, fitted together",
    )
    command.add_argument(
        "--free",
        action="append",
        default=[],
        metavar="KEY",
        help="a parameter to fit, such as fire.gas_multiplier, or any number of the case with its range, such as "
        '"coil.gap = 0.2 mm to 2 mm"; may be repeated',
    )
    command.add_argument("--next", type=Path, metavar="CASE", help="foretell the time to target of this case")
    add_out(command)
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Fit; print values, what the logs leave open, and what to measure next."""
    from annulus.case import load
    from annulus.logs.calibrate import fit
    from annulus.logs.facts import errors_of
    from annulus.logs.limits import hotter_priors
    from annulus.logs.parameters import priors_of
    from annulus.logs.predicting import Predictor
    from annulus.present.log_fit import fit_text, forecast_text

    pairs = _pairs(options.files)
    with Progress() as progress:
        observations, cases = _observe(pairs)
        predictor = Predictor(observations)
        priors = [*priors_of(cases, options.free, errors_of(cases[0].log)), *hotter_priors(observations)]
        fitted = fit(predictor, predictor.measured, predictor.scale, priors, progress, predictor.is_least)
        print(fit_text(fitted, predictor.observations))
        forecast: Forecast | None = None
        promises: list[Promise] = []
        if options.next:
            forecast, promises = foretell_next(fitted, predictor, cases, load(options.next), progress)
    if forecast is not None:
        print("\n" + forecast_text(options.next, forecast, promises))
    if options.out:
        _write(options, fitted, predictor, cases, forecast)


def foretell_next(
    fitted: Fit, predictor: Predictor, cases: Sequence[Case], following: Case, progress: Progress
) -> tuple[Forecast, list[Promise]]:
    """Time to target of the next case with its interval, and probes by how much they would narrow it."""
    from annulus.logs.calibrate import foretell
    from annulus.logs.candidates import candidate_probes
    from annulus.logs.next_probe import rank_probes
    from annulus.logs.posterior import for_next

    progress("foretelling the next burn")
    wider = for_next(fitted, [case.filler.material for case in cases], following)
    forecast = foretell(wider, lambda values: predictor.time_to_target(following, values))
    progress("weighing what to measure next")
    return forecast, rank_probes(wider, forecast, candidate_probes(wider, predictor))


def _pairs(files: Sequence[Path]) -> list[tuple[Path, list[Path]]]:
    """Cases, each with the logs that follow it."""
    from annulus.errors import InputError

    pairs: list[tuple[Path, list[Path]]] = []
    for path in files:
        if path.suffix.lower() != ".csv":
            pairs.append((path, []))
        elif not pairs:
            raise InputError(f"calibrate: {path} comes before any case; write CASE LOG ...")
        else:
            pairs[-1][1].append(path)
    for case, logs in pairs:
        if not logs:
            raise InputError(f"calibrate: {case} has no log (.csv) behind it")
    return pairs


def _observe(pairs: Sequence[tuple[Path, list[Path]]]):
    """Observations of all logs, and the cases."""
    from dataclasses import replace

    from annulus.case import load
    from annulus.logs.crunch import crunch
    from annulus.logs.facts import facts_of, mapping_of
    from annulus.logs.observing import observe
    from annulus.logs.reading import read_log
    from annulus.studies.compare import short_names

    names = iter(short_names([log for _, logs in pairs for log in logs]))
    observations, cases = [], []
    for path, logs in pairs:
        case = load(path)
        cases.append(case)
        facts = replace(facts_of(case), target=None)
        for log in logs:
            crunched = crunch(read_log(log, mapping_of(case)), facts)
            observations.append(observe(next(names).removesuffix(".csv"), case, crunched))
    return observations, cases


def _write(
    options: argparse.Namespace, fitted: Fit, predictor: Predictor, cases: Sequence[Case], forecast: Forecast | None
) -> None:
    from annulus.case import dump
    from annulus.logs.limits import at_limit
    from annulus.logs.posterior import calibrated, posterior_of, to_json
    from annulus.present.files import write_json, write_text
    from annulus.present.log_fit import draw_fit, fit_result

    out: Path = options.out
    invented = any(case.invented for case in cases)
    figure = draw_fit(fitted, predictor.observations, predictor(fitted.values), invented)
    written = save_pictures(options, {"fit": figure})
    changed, _ = calibrated(cases[0], fitted)
    before = [f"{name}.toml" for name in before_names(len(cases))]
    for name, case in (("case.toml", changed), *zip(before, cases, strict=True)):
        write_text(out / name, dump(case))
    write_json(out / "posterior.json", to_json(posterior_of(cases, fitted)))
    write_json(
        out / "result.json", {"annulus": __version__, **fit_result(fitted, forecast, at_limit(predictor.observations))}
    )
    say_written(out, [*written, "case.toml", *before, "posterior.json", "result.json"])
