"""Try a heater on a page of this machine: turn knobs, see what follows, save it as a case."""

from __future__ import annotations

import argparse
from pathlib import Path

from annulus.commands.options import add_case
from annulus.commands.progress import Progress
from annulus.errors import InputError

MOST_PORT = 65_535


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("dry-fit", help="turn knobs in a browser, see what follows, save a case")
    add_case(command)
    command.add_argument("--port", type=int, default=0, metavar="N", help="of this machine (default: a free one)")
    command.add_argument(
        "--into", type=Path, default=Path(), metavar="DIR", help="folder for saved cases (default: the present one)"
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Serve the page until stopped by hand."""
    from annulus.case import load
    from annulus.dryfit.server import Server
    from annulus.dryfit.trial import Bench

    if not 0 <= options.port <= MOST_PORT:
        raise InputError(f"--port {options.port}: must lie between 0 and {MOST_PORT}")
    if options.into.exists() and not options.into.is_dir():
        raise InputError(f"--into {options.into}: is a file and must be a folder")
    bench = Bench(load(options.case))
    with Progress() as progress:
        bench.warm_up(progress)
    with Server(bench, options.into, options.port) as server:
        print(f"open {server.address} in a browser on this machine; stop with Ctrl-C", flush=True)
        server.serve_forever()
