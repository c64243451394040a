"""Where a gap costs most."""

from __future__ import annotations

import argparse

from annulus import __version__
from annulus.commands.options import add_case, add_out, save_pictures, say_written
from annulus.commands.progress import Progress
from annulus.errors import InputError


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("gaps", help="where a void or a film of air costs most heat, place by place")
    add_case(command)
    add_out(command)
    command.add_argument(
        "--film", default="0.3 mm", metavar="THICKNESS", help="film of air that is asked about (default: 0.3 mm)"
    )
    command.add_argument(
        "--over", default="5 mm", metavar="LENGTH", help="its length along the surface (default: 5 mm)"
    )
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Find the places; print the worst in words; write the picture and the numbers."""
    from annulus.case import dump, load
    from annulus.present.files import write_json, write_text
    from annulus.present.gap_map import draw_gap_map, gap_result, gap_table
    from annulus.studies.gap_map import gap_map_with_errors

    film, length = _length("--film", options.film), _length("--over", options.over)
    case = load(options.case)
    with Progress() as progress:
        found, errors = gap_map_with_errors(case, film, length, progress)
        if options.out:
            progress("drawing")
            written = save_pictures(options, {"gaps": draw_gap_map(found, errors)})
            write_json(options.out / "gaps.json", {"annulus": __version__, **gap_result(found, errors)})
            write_text(options.out / "case.toml", dump(case))
    print(gap_table(found, errors))
    if options.out:
        say_written(options.out, (*written, "gaps.json", "case.toml"))


def _length(option: str, text: str) -> float:
    from annulus.units import parse

    try:
        value = parse(text, "length")
    except InputError as fault:
        raise InputError(f"{option}: {fault}") from fault
    if not value > 0:
        raise InputError(f"{option} {text}: must be more than 0 mm")
    return value
