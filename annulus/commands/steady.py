"""Heat flows and temperatures of a steady fire."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from annulus import __version__
from annulus.commands.options import (
    add_case,
    add_out,
    add_solving,
    save_pictures,
    say_written,
    solve,
    stripes_of,
    within,
)
from annulus.commands.progress import Progress

if TYPE_CHECKING:
    from annulus.heater import SteadyHeater


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("steady", help="heat flows and temperatures of a steady fire")
    add_case(command)
    add_out(command)
    add_solving(command)
    command.add_argument(
        "--cost-of-gaps",
        action="store_true",
        help="solve also without each void, film, gap and contact of the case: what does each cost?",
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Solve one case; print the ledger; write results and pictures."""
    from annulus.case import load
    from annulus.cautions import judge_with_remedies
    from annulus.present.costs import cost_table
    from annulus.present.tables import steady_table
    from annulus.studies.gaps import cost_of_gaps, imperfections

    case = load(options.case)
    if options.cost_of_gaps:
        imperfections(case)  # a case whose gaps have no cost is refused before anything is computed
    with Progress() as progress:
        heater, outcome = solve(case, options, progress)
        if options.cost_of_gaps:
            outcome["cost_of_gaps"] = cost_of_gaps(case, outcome, within(options), progress)
        cautions = judge_with_remedies(case, heater.model.section, outcome, progress)
        stripes = stripes_of(heater, options, progress) if options.out else None
        if stripes is not None:
            progress("drawing")
            written = _write_steady(options, heater, outcome, stripes, cautions)
    print(steady_table(outcome, cautions))
    if options.cost_of_gaps:
        print("\n" + cost_table(outcome["cost_of_gaps"], outcome))
    if options.out:
        say_written(options.out, written)


def _write_steady(
    options: argparse.Namespace, heater: SteadyHeater, outcome: dict[str, Any], stripes, cautions
) -> list[str]:
    """Write what `--out` asks for; the files' names."""
    from annulus.case import dump
    from annulus.present.files import write_json, write_text
    from annulus.present.ledger import draw_ledger, steady_flows
    from annulus.present.stripes import draw_stripes
    from annulus.present.temperature import draw_temperature
    from annulus.present.words import mark_invented

    out: Path = options.out
    source, heat, flows = steady_flows(outcome)
    about = mark_invented("where the heat of a steady fire goes; bands as wide as their share", outcome["invented"])
    figures = {
        "temperature": draw_temperature(heater, outcome=outcome),
        "stripes": draw_stripes(heater, stripes),
        "ledger": draw_ledger(outcome["title"], about, source, heat, flows),
    }
    written = save_pictures(options, figures)
    write_text(out / "case.toml", dump(heater.case))
    write_json(
        out / "result.json", {"annulus": __version__, **outcome, "cautions": [asdict(each) for each in cautions]}
    )
    return [*written, "result.json", "case.toml"]
