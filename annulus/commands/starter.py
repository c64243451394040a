"""Write a commented case file to edit."""

from __future__ import annotations

import argparse
from pathlib import Path

from annulus.errors import InputError


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("starter", help="write a commented case file to edit")
    command.add_argument("file", type=Path, metavar="FILE")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Write the commented starter case; never over a file that exists."""
    from annulus.case import starter
    from annulus.present.files import write_text

    if options.file.exists():
        raise InputError(f"{options.file}: exists already and is left as it is; choose another name")
    write_text(options.file, starter())
    print(f"wrote {options.file}: edit it, then run: annulus steady {options.file} --out {options.file.stem}")
