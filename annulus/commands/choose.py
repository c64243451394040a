"""The best design within ranges, and what holds it back."""

from __future__ import annotations

import argparse
from pathlib import Path

from annulus import __version__
from annulus.commands.options import add_case, add_out, save_pictures, say_written
from annulus.commands.progress import Progress
from annulus.errors import InputError

EPILOG = """\
what --vary takes:
  "coil.pitch = 16 mm .. 40 mm"                          anything in a range
  "coil.turns = 10 .. 40"                                whole numbers in a range
  "contacts.tube-filler = 1e-5 .. 1e-2 m2K/W by ratio"   a range over decades
  "filler.material = quartz sand, graphite powder"       one of these; each is searched
"""


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser(
        "choose",
        help="the best design within ranges, what holds it back, how flat the top is",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_case(command)
    command.add_argument("--vary", action="append", required=True, metavar="KEY=VALUES", help="see below")
    wish = command.add_mutually_exclusive_group(required=True)
    wish.add_argument("--most", metavar="RESULT", help="result to make most, such as heat_to_water_W")
    wish.add_argument("--least", metavar="RESULT", help="result to make least, such as heat_to_room_W")
    command.add_argument(
        "--keep", action="append", default=[], metavar="LIMIT", help='a limit on a result, such as "wall_min_C > 60"'
    )
    command.add_argument("--burn", action="store_true", help="burn each design in time; it needs a [tank]")
    add_out(command)
    command.add_argument("--jobs", type=int, metavar="N", help="processes at work (default: one a core)")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Search, print the best design, write its case, its neighbourhood and a picture."""
    from annulus.burn.run import refuse_without_tank
    from annulus.case import dump, load, load_tree
    from annulus.present.choice import choice_dictionary, choice_table, draw_choice
    from annulus.present.files import write_json, write_text
    from annulus.studies.choose import choose, corner_cases
    from annulus.studies.limits import check_names, read_limit
    from annulus.studies.models import burn_result, rough_burn, rough_steady, steady_result
    from annulus.studies.result_names import result_names
    from annulus.studies.searching import Wish
    from annulus.studies.vary import Span, Variation, read_span
    from annulus.studies.workers import available_cores, process_pool

    if options.jobs is not None and options.jobs < 1:
        raise InputError(f"--jobs {options.jobs}: must be 1 or more")
    found = [read_span(words) for words in options.vary]
    spans = [one for one in found if isinstance(one, Span)]
    lists = [one for one in found if isinstance(one, Variation)]
    limits = [read_limit(words) for words in options.keep]
    wish = Wish(options.most or options.least, options.most is not None)
    case = load(options.case)  # must be sound by itself: its faults are told before any work
    if options.burn:
        refuse_without_tank(case)
    tree, _ = load_tree(options.case)
    cases = [case, *corner_cases(tree, spans, lists)]
    check_names({wish.option: wish.name}, limits, result_names(cases, options.burn, rough=True))
    models = (rough_burn, burn_result) if options.burn else (rough_steady, steady_result)
    with Progress() as progress, process_pool(options.jobs or available_cores()) as pool:
        choice = choose(tree, spans, lists, wish, limits, pool, progress, models)
        if options.out:
            out: Path = options.out
            progress("drawing")
            written = save_pictures(options, {"neighbourhood": draw_choice(choice, wish, limits)})
            write_text(out / "case.toml", dump(choice.case))
            write_json(out / "choice.json", {"annulus": __version__, **choice_dictionary(choice, lists, wish, limits)})
    print(choice_table(choice, lists, wish, limits))
    if options.out:
        say_written(options.out, (*written, "choice.json", "case.toml"))
