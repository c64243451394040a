"""A burn in time: how long until the water is hot, how much wood, where the heat went."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from annulus import __version__
from annulus.commands.options import add_case, add_out, save_pictures, say_written
from annulus.commands.progress import Progress

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from annulus.burn import BurnRun
    from annulus.case import Case
    from annulus.cautions import Caution
    from annulus.logs.posterior import Posterior


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("burn", help="from the cold drum to its target: time, wood, where the heat went")
    add_case(command)
    add_out(command)
    add_marching(command)
    command.add_argument(
        "--without-filler-heat",
        action="store_true",
        help="burn also with a filler that stores no heat: did it steal any?",
    )
    command.add_argument(
        "--posterior",
        type=Path,
        metavar="FILE",
        help="posterior.json of annulus calibrate: what its logs leave open, as an interval of the time",
    )
    command.add_argument(
        "--stripes",
        metavar="TIMES",
        help='with --out: heat stripes at up to four times after lighting, such as "1 min, 10 min, 2 h", side by side '
        "(with --full, if the first minute matters)",
    )
    command.set_defaults(run=run)


def add_marching(command: argparse.ArgumentParser) -> None:
    """Add the options that set grid and body of a march."""
    command.add_argument(
        "--fineness",
        type=int,
        default=2,
        choices=(2, 4),
        help="cells of the grid, each way; the error comes from a grid half as fine (default: 2)",
    )
    command.add_argument(
        "--full",
        action="store_true",
        help="march every cell of the section in place of its ports: slower, to check against",
    )


def run(options: argparse.Namespace) -> None:
    """March one burn; print the ledger; write results, history and picture."""
    from annulus.burn import burn_with_errors
    from annulus.case import load
    from annulus.cautions import judge_with_remedies

    times = _read_times(options)
    case = load(options.case)
    posterior = _read_posterior(options.posterior)
    with Progress() as progress:
        burnt, outcome = burn_with_errors(case, options.fineness, progress, options.without_filler_heat, options.full)
        if posterior is not None and outcome["time_to_target_s"] is not None:
            progress("weighing what the logs leave open")
            outcome |= interval_of(case, posterior)
        cautions = judge_with_remedies(case, burnt.model.section, outcome, progress)
        stripes = {"stripes": _draw_stripes(burnt, times, progress)} if times else {}
    report(options, burnt, outcome, cautions, more=stripes)


def _read_times(options: argparse.Namespace) -> list[float]:
    """Times at which stripes are wanted. [s]"""
    from annulus.errors import InputError
    from annulus.present.instants import MOST
    from annulus.units import parse

    if options.stripes is None:
        return []
    if not options.out:
        raise InputError("--stripes: makes a picture; say with --out where to put it")
    times = []
    for text in options.stripes.split(","):
        try:
            times.append(parse(text.strip(), "time"))
        except InputError as fault:
            raise InputError(f"--stripes: {fault}") from fault
    if len(times) > MOST:
        raise InputError(
            f"--stripes {options.stripes!r}: {len(times)} times are more than the {MOST} that fit side by side"
        )
    return times


def _draw_stripes(burnt: BurnRun, times: Sequence[float], progress: Progress) -> Figure:
    """Heat stripes at some instants of a burn."""
    from annulus.burn.whole_field import field_at, moments_at
    from annulus.conduction.stripes import trace_storing_stripes
    from annulus.heater.cavity import is_open
    from annulus.heater.steady import stripe_watts
    from annulus.present.instants import draw_instants
    from annulus.present.words import mark_invented

    model, section = burnt.model, burnt.model.section
    progress("tracing heat stripes of the burn")
    moments = moments_at(burnt.march, times)
    fields = [field_at(burnt.march, now) for now in moments]
    full = stripe_watts(max(float(abs(field.surface_flow[model.gas_surfaces]).sum()) for field in fields))
    sinks = [region.name for region in section.regions if region.role == "tube"]
    kinds = {region.name: "air" if is_open(region) else region.role for region in section.regions}
    traced = [trace_storing_stripes(field, sinks, full, kinds) for field in fields]
    about = mark_invented(burnt.case.title, burnt.case.invented)
    return draw_instants(about, section, [(now.time, each) for now, each in zip(moments, traced, strict=True)])


def _read_posterior(path: Path | None) -> Posterior | None:
    from annulus.logs.posterior import read_posterior

    return None if path is None else read_posterior(path)


def interval_of(case: Case, posterior: Posterior) -> dict[str, Any]:
    """Time to target by the logs of a calibration, what is carried along included, and the 90 % interval they leave."""
    from annulus.logs.calibrate import foretell
    from annulus.logs.posterior import for_next
    from annulus.logs.predicting import Predictor

    predictor = Predictor([])
    fitted = for_next(posterior.fit, posterior.fillers, case)
    told = foretell(fitted, lambda values: predictor.time_to_target(case, posterior.values_for_calibrated(values)))
    return {
        "time_to_target_by_logs_s": told.value,
        "time_to_target_low_s": told.low,
        "time_to_target_high_s": told.high,
    }


def report(
    options: argparse.Namespace,
    burnt: BurnRun,
    outcome: dict[str, Any],
    cautions: Sequence[Caution],
    marks: Sequence[tuple[float, str]] = (),
    more: Mapping[str, Figure] = MappingProxyType({}),
) -> None:
    """Print a burn; write it, with more figures by name, where that is asked for."""
    from annulus.burn import history
    from annulus.case import dump
    from annulus.present.burning import PARTS, burn_table, history_csv
    from annulus.present.files import write_json, write_text
    from annulus.present.history import draw_history
    from annulus.present.ledger import burn_flows, draw_ledger
    from annulus.present.tables import megajoules
    from annulus.present.words import mark_invented

    written: Sequence[str] = ()
    if options.out:
        columns = history(burnt.march)
        last = outcome["duration_s"]
        source, heat, flows = burn_flows(outcome, PARTS)
        about = mark_invented("where the heat of the wood went", outcome["invented"])
        figures = {
            "history": draw_history(outcome, columns, [mark for mark in marks if mark[0] < last]),
            "ledger": draw_ledger(outcome["title"], about, source, heat, flows, megajoules),
            **more,
        }
        written = (*save_pictures(options, figures), "history.csv", "result.json", "case.toml")
        write_text(options.out / "case.toml", dump(burnt.case))
        write_text(options.out / "history.csv", history_csv(columns))
        findings = [asdict(caution) for caution in cautions]
        write_json(options.out / "result.json", {"annulus": __version__, **outcome, "cautions": findings})
    print(burn_table(outcome, cautions))
    if options.out:
        say_written(options.out, written)
