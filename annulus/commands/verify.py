"""Known answers beside computed ones: are the numbers right here?"""

from __future__ import annotations

import argparse

from annulus import __version__
from annulus.commands.progress import Progress


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("verify", help="known answers beside computed ones: are the numbers right here?")
    command.add_argument("--only", metavar="NAMES", help="run these cases, such as V14,V30")
    command.add_argument("--json", action="store_true", help="print everything for other programs")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Run the verification cases and print their table; status 1 if any falls short."""
    import json

    from annulus.present.verification import verification_dictionary, verification_table
    from annulus.verification import FAMILIES, cases, choose, run_all, warm_up

    chosen = cases() if options.only is None else choose(options.only.split(","))
    with Progress() as progress:
        progress("cutting a first small section")
        warm_up()
        results = run_all(chosen, progress)
    if options.json:
        found = {"annulus": __version__, **verification_dictionary(results)}
        print(json.dumps(found, indent=1, allow_nan=False, ensure_ascii=False))
    else:
        print(verification_table(FAMILIES, results))
    return 0 if all(result.holds for result in results) else 1
