"""What builders ask, and the command that answers it."""

from __future__ import annotations

import argparse


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("answers", help="what builders ask, and the one command that answers each")
    command.add_argument("numbers", nargs="*", type=int, metavar="NUMBER", help="only these questions")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Print questions with their commands."""
    from annulus.present.answers import answers_text

    print(answers_text(options.numbers))
    print("\nThe cases are those of the source folder; put your own case file in their place.")
