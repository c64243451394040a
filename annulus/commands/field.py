"""The field and the tables as files for other programs."""

from __future__ import annotations

import argparse
from pathlib import Path

from annulus.commands.options import add_case, add_within, say_written, solve
from annulus.commands.progress import Progress


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("field", help="the field and the tables as files for other programs")
    add_case(command)
    command.add_argument("--out", type=Path, metavar="DIR", required=True, help="folder for the files")
    command.add_argument(
        "--solid", action="store_true", help="also solid.vtu: the section turned about the axis, to look at"
    )
    command.add_argument("--burn", action="store_true", help="also the burn of the case, as a series over time")
    add_within(command)
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Solve one case; write VTU, XDMF, NPZ and CSV."""
    from annulus.burn import burn_with_errors
    from annulus.burn.run import refuse_without_tank
    from annulus.case import dump, load
    from annulus.present.csvs import results_csv, turns_csv
    from annulus.present.fields import write_burn, write_fields
    from annulus.present.files import write_text

    case = load(options.case)
    if options.burn:
        refuse_without_tank(case)
    with Progress() as progress:
        heater, outcome = solve(case, options, progress)
        progress("writing")
        names = write_fields(heater, options.out)
        if options.solid:
            from annulus.present.solid import write_solid

            names.append(write_solid(heater, options.out))
        if options.burn:
            run, _ = burn_with_errors(case, tell=progress)
            names += write_burn(run, options.out)
        texts = {"results.csv": results_csv(outcome), "turns.csv": turns_csv(outcome), "case.toml": dump(case)}
        for name, text in texts.items():
            write_text(options.out / name, text)
    say_written(options.out, [*names, *texts])
