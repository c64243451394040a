"""Every combination of what is varied, in a table and pictures."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from annulus.commands.options import add_case, add_pictures, save_pictures, say_written
from annulus.commands.progress import Progress
from annulus.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from annulus.case import Case
    from annulus.studies.plan import Plan
    from annulus.studies.reading import Sweep

EPILOG = """\
what --vary takes:
  "coil.pitch = 16 mm .. 40 mm x 9"                           nine values in even steps
  "contacts.tube-filler = 1e-5 .. 1e-2 m2K/W x 7 by ratio"    each the same multiple of the one before
  "shroud.clearance = 1, 3, 6, 10 mm"                         these
  "filler.material = quartz sand (vibrated), still air"       materials, with their packing if need be
  "contacts.tube-filler and contacts.flue-filler = ..."       two keys with the same value
Given more than once, every combination is computed. A folder with case.toml and sweep.toml needs no --vary.
"""


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser(
        "sweep",
        help="many designs at once: a table, curves, maps, heat against cost",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_case(command)
    command.add_argument("--vary", action="append", default=[], metavar="KEY=VALUES", help="what is varied; see below")
    command.add_argument("--table", type=Path, metavar="CSV", help="settings that belong together, one line each")
    command.add_argument("--out", type=Path, metavar="DIR", required=True, help="write the table and pictures here")
    add_pictures(command)
    command.add_argument("--resume", action="store_true", help="go on with the sweep that DIR holds")
    command.add_argument(
        "--keep", action="append", default=[], metavar="LIMIT", help='a limit on a result, such as "wall_min_C > 60"'
    )
    command.add_argument(
        "--show",
        metavar="RESULT",
        help="result to draw and rank (default: heat_to_water_W; of burns mean_heat_to_water_W)",
    )
    command.add_argument("--burn", action="store_true", help="burn each design in time; it needs a [tank]")
    command.add_argument("--jobs", type=int, metavar="N", help="processes at work (default: one a core)")
    command.add_argument("--cluster", metavar="ADDRESS", help="work on a Dask cluster, such as tcp://10.0.0.5:8786")
    command.set_defaults(run=run, writes_in_place=True)


def run(options: argparse.Namespace) -> None:
    """Compute all designs, write table and pictures, print what they say."""
    from annulus.burn.run import refuse_without_tank
    from annulus.case import dump, load, load_tree
    from annulus.present.files import write_text
    from annulus.present.sweep_table import sweep_csv, sweep_table
    from annulus.studies.designs import make_designs
    from annulus.studies.limits import check_names
    from annulus.studies.models import burn_result, steady_result
    from annulus.studies.plan import find_plan
    from annulus.studies.reading import read_sweep
    from annulus.studies.result_names import result_names
    from annulus.studies.sweep import run_sweep

    plan = _plan(options)
    case = load(options.case)
    tree, _ = load_tree(options.case)
    if options.burn:
        refuse_without_tank(case)
    show = options.show or (not options.burn and plan.show) or _usual(case, options.burn)
    result = burn_result if options.burn else steady_result
    designs = make_designs(tree, plan.variations)
    cases = [design.case for design in designs if design.case is not None]
    stated = "--show" if options.show else f"{find_plan(options.case)}: show"
    check_names({stated: show}, plan.limits, result_names(cases, options.burn))
    with Progress() as progress, _executor(options) as executor:
        progress(f"computing {len(designs)} designs")

        def tell(done: int, total: int, row: dict[str, Any]) -> None:
            progress(f"{done} of {total} designs")

        try:
            rows = run_sweep(designs, executor, options.out, result, options.resume, tell)
        except KeyboardInterrupt:
            progress.heard_stop()
            progress("stopping")
            print(f"finished designs are kept in {options.out}: go on with --resume", file=sys.stderr)
            raise
        sweep = read_sweep(case.title, plan.variations, designs, rows, plan.limits, case.invented)
        progress("drawing")
        write_text(options.out / "sweep.csv", sweep_csv(sweep))
        write_text(options.out / "case.toml", dump(case))
        drawn = _draw(sweep, show, options)
    print(sweep_table(sweep, show))
    say_written(options.out, ("sweep.csv", *drawn, "case.toml"))


def _usual(case: Case, burn: bool) -> str:
    """The result that is shown if none is named."""
    if burn:
        return "mean_heat_to_water_W"
    return "heat_to_water_W" if case.coil is not None else "heat_to_room_W"


def _plan(options: argparse.Namespace) -> Plan:
    from annulus.studies.limits import read_limit
    from annulus.studies.plan import Plan, find_plan, make_plan, read_plan

    if options.jobs is not None and options.jobs < 1:
        raise InputError(f"--jobs {options.jobs}: must be 1 or more")
    path = find_plan(options.case)
    if options.vary or options.table or path is None:
        return make_plan(options.vary, options.table, options.keep, options.show)
    plan = read_plan(path)
    limits = tuple(read_limit(words) for words in options.keep)
    return Plan(plan.variations, limits or plan.limits, plan.show)


@contextmanager
def _executor(options: argparse.Namespace) -> Iterator[Executor]:
    from annulus.studies.workers import available_cores, process_pool

    if options.cluster is None:
        with process_pool(options.jobs or available_cores()) as pool:
            yield pool
        return
    try:
        from distributed import Client
    except ImportError as error:
        raise InputError("--cluster: needs the package 'distributed': pip install 'annulus[cluster]'") from error
    try:
        client = Client(options.cluster, timeout=20)
    except (OSError, ValueError) as error:
        raise InputError(f"--cluster {options.cluster}: no scheduler answers there ({error})") from error
    with client:
        yield client.get_executor()


def _draw(sweep: Sweep, show: str, options: argparse.Namespace) -> list[str]:
    """Pictures that the sweep can bear, by their names."""
    from annulus.present.sweep_lines import draw_lines, numeric
    from annulus.present.sweep_map import draw_map
    from annulus.present.trade import draw_trade

    figures: dict[str, Figure | None] = {}
    axes = numeric(sweep)
    if any(reading.value(show) is not None for reading in sweep.readings):
        if axes:
            figures["curves"] = draw_lines(sweep, show, axes[0])
        if len(axes) > 1:
            figures["map"] = draw_map(sweep, show, axes[0], axes[1])
        figures["trade"] = draw_trade(sweep, show)
    return save_pictures(options, {name: figure for name, figure in figures.items() if figure is not None})
