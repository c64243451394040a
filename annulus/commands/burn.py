"""A burn in time: how long until the water is hot, how much wood, where the heat went."""

from __future__ import annotations

import argparse

from annulus import __version__
from annulus.commands.options import add_case, add_out, say_written
from annulus.commands.progress import Progress


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("burn", help="from the cold drum to its target: time, wood, where the heat went")
    add_case(command)
    add_out(command)
    command.add_argument(
        "--fineness",
        type=int,
        default=2,
        choices=(2, 4),
        help="cells of the grid, each way; the error comes from a grid half as fine (default: 2)",
    )
    command.add_argument(
        "--without-filler-heat",
        action="store_true",
        help="burn also with a filler that stores no heat: did it steal any?",
    )
    command.add_argument(
        "--full",
        action="store_true",
        help="march every cell of the section in place of its ports: slower, to check against",
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """March one burn; print the ledger; write results, history and picture."""
    from annulus.burn import burn_with_errors, history
    from annulus.case import dump, load
    from annulus.present.burning import burn_table, history_csv
    from annulus.present.files import write_json, write_text
    from annulus.present.history import draw_history
    from annulus.present.style import save

    case = load(options.case)
    with Progress() as progress:
        burnt, outcome = burn_with_errors(case, options.fineness, progress, options.without_filler_heat, options.full)
    print(burn_table(outcome, []))
    if options.out:
        columns = history(burnt.march)
        save(draw_history(outcome, columns), options.out / "history.png")
        write_text(options.out / "case.toml", dump(case))
        write_text(options.out / "history.csv", history_csv(columns))
        write_json(options.out / "result.json", {"annulus": __version__, **outcome})
        say_written(options.out, ("history.png", "history.csv", "result.json", "case.toml"))
