"""Which number matters."""

from __future__ import annotations

import argparse

from annulus import __version__
from annulus.commands.options import add_case, add_out, save_pictures, say_written
from annulus.commands.progress import Progress
from annulus.errors import InputError


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser(
        "sensitivity", help="which uncertain input matters most, and the band in which the heat lies"
    )
    add_case(command)
    add_out(command)
    command.add_argument(
        "--designs",
        type=int,
        default=256,
        metavar="N",
        help="drawn at once for the band, a power of two (default: 256)",
    )
    command.add_argument("--jobs", type=int, metavar="N", help="processes at work (default: one a core)")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Rank the inputs, draw the spread; print both; write picture and numbers."""
    from annulus.case import dump, load
    from annulus.present.files import write_json, write_text
    from annulus.present.sensitivity import draw_sensitivity, sensitivity_result, sensitivity_table
    from annulus.studies.sensitivity import check_designs, which_number_matters
    from annulus.studies.uncertain import uncertain_inputs
    from annulus.studies.workers import available_cores, process_pool

    check_designs(options.designs)
    if options.jobs is not None and options.jobs < 1:
        raise InputError(f"--jobs {options.jobs}: must be 1 or more")
    case = load(options.case)
    uncertain_inputs(case)  # a case without a coil is refused before any process is begun
    with Progress() as progress, process_pool(options.jobs or available_cores()) as pool:
        found = which_number_matters(case, options.designs, pool, progress)
        if options.out:
            progress("drawing")
            written = save_pictures(options, {"sensitivity": draw_sensitivity(found)})
            write_json(options.out / "sensitivity.json", {"annulus": __version__, **sensitivity_result(found)})
            write_text(options.out / "case.toml", dump(case))
    print(sensitivity_table(found))
    if options.out:
        say_written(options.out, (*written, "sensitivity.json", "case.toml"))
