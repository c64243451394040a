"""Several cases side by side, differences named."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from annulus import __version__
from annulus.commands.options import add_out, add_solving, save_pictures, say_written, solve, stripes_of
from annulus.commands.progress import Progress


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("compare", help="several cases side by side, differences named")
    command.add_argument(
        "cases", type=Path, nargs="+", metavar="CASE", help="case files, or folders that hold case.toml"
    )
    add_out(command)
    add_solving(command)
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Solve several cases and set them side by side."""
    from annulus.case import load
    from annulus.cautions import judge_with_remedies
    from annulus.present.tables import compare_table
    from annulus.studies.compare import differences, short_names

    cases = dict(zip(short_names(options.cases), map(load, options.cases), strict=True))
    outcomes: dict[str, dict[str, Any]] = {}
    solved, cautions = {}, {}
    with Progress() as progress:
        for name, case in cases.items():
            progress(name)
            solved[name], outcomes[name] = heater, outcome = solve(case, options, progress)
            cautions[name] = judge_with_remedies(case, heater.model.section, outcome, progress)
        if options.out:
            written = _write_compare(options, solved, outcomes, progress)
    print(compare_table(outcomes, differences(list(cases.values())), cautions))
    if options.out:
        say_written(options.out, (*written, "result.json", *(f"{name}.toml" for name in cases)))


def _write_compare(options: argparse.Namespace, solved, outcomes, progress: Progress) -> list[str]:
    """Write what `--out` asks for; the pictures' names."""
    from annulus.case import dump
    from annulus.present.compare import draw_compare
    from annulus.present.files import write_json, write_text

    if options.stripe is None:
        options.stripe = max(heater.stripe_watts() for heater in solved.values())
    rows = [(name, outcomes[name], heater, stripes_of(heater, options, progress)) for name, heater in solved.items()]
    progress("drawing")
    written = save_pictures(options, {"compare": draw_compare(rows)})
    for name, heater in solved.items():
        write_text(options.out / f"{name}.toml", dump(heater.case))
    write_json(options.out / "result.json", {"annulus": __version__, "cases": outcomes})
    return written
