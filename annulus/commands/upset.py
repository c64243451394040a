"""What if the pump stops, the coil runs dry, the stove is over-fired, the chimney burns?"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from annulus.commands.burn import add_marching, report
from annulus.commands.options import add_case, add_out
from annulus.commands.progress import Progress
from annulus.errors import InputError

if TYPE_CHECKING:
    from annulus.burn import Upset
    from annulus.units import Kind

# option, its default if it is a how-much, what it says
INSTANTS = (
    ("--pump-stop", "the water stands still from then on: no power, or air in the loop"),
    ("--tank-dry", "the coil loses its water then"),
    ("--over-fire", "the stove is over-fired from then on"),
    ("--chimney-fire", "soot burns in the flue from then on"),
)
AMOUNTS = (
    ("--over-fire-gas", "650 degC", "gas that enters the flue during the over-fire"),
    ("--over-fire-for", "30 min", "how long it lasts"),
    ("--chimney-fire-gas", "1100 degC", "gas that enters the flue during the chimney fire"),
    ("--chimney-fire-for", "10 min", "how long it lasts"),
    ("--watch", "2 h", "how long to look at what follows"),
)


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("upset", help="a burn in which something goes wrong: time to boiling, hottest parts")
    add_case(command)
    add_out(command)
    add_marching(command)
    for option, words in INSTANTS:
        command.add_argument(option, metavar="TIME", help=f'{words}; a time from lighting, such as "60 min"')
    for option, default, words in AMOUNTS:
        command.add_argument(option, metavar="AMOUNT", default=default, help=f"{words} (default: {default})")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """March the burn with its upset; print and write what follows."""
    from annulus.burn import burn_with_errors
    from annulus.case import load
    from annulus.cautions import judge_with_remedies

    upset = read_upset(options)
    case = load(options.case)
    with Progress() as progress:
        burnt, outcome = burn_with_errors(case, options.fineness, progress, full=options.full, upset=upset)
        cautions = judge_with_remedies(case, burnt.model.section, outcome, progress, upset)
    report(options, burnt, outcome, cautions, upset.marks())


def read_upset(options: argparse.Namespace) -> Upset:
    """Upset that the options describe; InputError if they describe none."""
    from annulus.burn import Heat, Upset

    heats = []
    for name in ("over_fire", "chimney_fire"):
        begins = _time(options, name)
        if begins is not None:
            gas, lasts = _read(options, f"{name}_gas", "temperature"), _read(options, f"{name}_for", "time")
            heats.append(Heat(begins, lasts, gas))
    pump, dry = _time(options, "pump_stop"), _time(options, "tank_dry")
    if pump is None and dry is None and not heats:
        raise InputError(f"upset: nothing goes wrong; say what, with {', '.join(option for option, _ in INSTANTS)}")
    return Upset(pump, dry, tuple(heats), _read(options, "watch", "time"))


def _time(options: argparse.Namespace, name: str) -> float | None:
    return None if getattr(options, name) is None else _read(options, name, "time")


def _read(options: argparse.Namespace, name: str, kind: Kind) -> float:
    """Value of an option in SI, positive."""
    from annulus.units import parse

    option, text = f"--{name.replace('_', '-')}", getattr(options, name)
    try:
        value = parse(text, kind)
    except InputError as fault:
        raise InputError(f"{option}: {fault}") from fault
    if not value > 0:
        raise InputError(f"{option} {text}: must be more than 0")
    return value
