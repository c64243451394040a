"""One file to read, to show around and to print."""

from __future__ import annotations

import argparse
from pathlib import Path

from annulus.commands.options import add_case, add_solving, solve, stripes_of
from annulus.commands.progress import Progress
from annulus.errors import InputError

SUFFIXES = (".html", ".htm")


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("report", help="everything about one case in one file for a browser or for paper")
    add_case(command)
    command.add_argument(
        "--out", type=Path, metavar="FILE", dest="page", help="where to write it (default: the case's name with .html)"
    )
    add_solving(command)
    command.add_argument("--without-burn", action="store_true", help="leave the burn out, though the case has a tank")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Solve one case and write its report."""
    from annulus.present.files import write_text

    target = options.page or Path(f"{_name(options.case)}.html")
    if target.suffix.lower() not in SUFFIXES or target.is_dir():
        raise InputError(f"--out {target}: must be the name of a file that ends in .html")
    with Progress() as progress:
        text = report_of(options, progress)
    write_text(target, text)
    print(f"wrote {target}: open it in a browser; it needs no network")


def report_of(options: argparse.Namespace, progress: Progress) -> str:
    """Report on the case of a command's options."""
    from annulus.burn import burn_with_errors
    from annulus.case import build, load_tree
    from annulus.cautions import judge_with_remedies
    from annulus.present.report.page import Burnt, Told, report_page
    from annulus.studies.gap_map import make_gap_map

    given, name = load_tree(options.case)
    case = build(given, name)
    heater, outcome = solve(case, options, progress)
    stripes = stripes_of(heater, options, progress)
    gaps = None
    if heater.model.section.turns:
        gaps = make_gap_map(heater, tell=progress, only=())
    burnt = None
    if case.tank is not None and not options.without_burn:
        burn, of_burn = burn_with_errors(case, tell=progress)
        burnt = Burnt(burn, of_burn, judge_with_remedies(case, burn.model.section, of_burn, progress))
    progress("writing")
    told = Told(
        heater=heater,
        outcome=outcome,
        stripes=stripes,
        cautions=judge_with_remedies(case, heater.model.section, outcome, progress),
        gaps=gaps,
        burnt=burnt,
        given=given,
        command=f"annulus report {options.case}",
    )
    return report_page(told)


def _name(path: Path) -> str:
    return path.name if path.is_dir() else path.stem
