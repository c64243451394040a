"""Burn logs: what a fire really showed, one log or several side by side."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from annulus import __version__
from annulus.commands.options import add_out, save_pictures, say_written

if TYPE_CHECKING:
    from annulus.case import Case
    from annulus.logs.crunch import Crunched, Facts
    from annulus.logs.fair import Comparison

# option, kind of quantity, field of `Facts`, help
FACTS = (
    ("--water", "volume", "water_volume", 'water in the tank, such as "150 L"; not needed with --case'),
    ("--target", "temperature", "target", 'temperature of the tank that ends the count, such as "48 degC"'),
    ("--tank-loss", "heat_loss", "tank_loss", 'of the tank, such as "2.5 W/K"'),
    ("--around", "temperature", "surroundings", "what surrounds the tank; else the log's own column"),
    ("--moisture", "fraction", "moisture_wet", 'of the wet wood, such as "18 %%"'),
    ("--excess-air", "number", "excess_air", "air over the least needed, such as 2.2"),
)


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("log", help="burn logs: heat, power, wood, and every fault of the log by its row")
    command.add_argument("logs", type=Path, nargs="+", metavar="LOG", help="CSV files")
    command.add_argument("--case", type=Path, metavar="CASE", help="case file: tank, wood and names of columns")
    for option, _, _, about in FACTS:
        command.add_argument(option, metavar="VALUE", help=about)
    command.add_argument(
        "--fair",
        action="store_true",
        help="compare at equal gas temperature, gas flow and water temperature, and per kilogram of wood",
    )
    command.add_argument(
        "--heaters",
        nargs="+",
        metavar="NAME",
        help="with --fair: the heater of each log, in order; logs of one heater are its repeated fires",
    )
    add_out(command)
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Crunch logs; print what they show; write pictures and results."""
    from annulus.case import load
    from annulus.logs.crunch import crunch
    from annulus.logs.facts import mapping_of
    from annulus.logs.reading import read_log
    from annulus.present.log_tables import log_text, side_by_side
    from annulus.studies.compare import short_names

    case = load(options.case) if options.case else None
    facts = read_facts(options, case)
    mapping = mapping_of(case)
    names = [name.removesuffix(".csv") for name in short_names(options.logs)]
    crunched = {name: crunch(read_log(path, mapping), facts) for name, path in zip(names, options.logs, strict=True)}
    print("\n\n".join(log_text(name, one) for name, one in crunched.items()))
    if len(crunched) > 1:
        print("\n" + side_by_side(crunched))
    compared = compare(options, crunched, case) if options.fair else []
    if compared:
        from annulus.present.log_fair import fair_text

        print("\n" + fair_text(compared, by_model=case is not None))
    if options.out:
        _write(options, crunched, compared, case)


def compare(options: argparse.Namespace, crunched: dict[str, Crunched], case: Case | None) -> list[Comparison]:
    """Fair comparison of the logs' heaters with the first one."""
    from annulus.errors import InputError
    from annulus.logs.fair import Law, PowerLaw, compare_fairly
    from annulus.logs.model_law import ModelLaw
    from annulus.logs.ranges import usual_fires

    heaters = options.heaters or list(crunched)
    if len(heaters) != len(crunched):
        raise InputError(f"--heaters: names {len(heaters)} heaters for {len(crunched)} logs; give one for each")
    law: Law = ModelLaw(case) if case is not None else PowerLaw(usual_fires().flow_exponent)
    return compare_fairly(list(zip(heaters, crunched.values(), strict=True)), law, usual_fires())


def read_facts(options: argparse.Namespace, case: Case | None) -> Facts:
    """Facts of the case, options put over them."""
    from dataclasses import replace
    from typing import Any, cast

    from annulus.errors import InputError
    from annulus.logs.facts import facts_of, facts_of_volume
    from annulus.units import Kind, parse

    stated: dict[str, Any] = {}
    for option, kind, field, _ in FACTS:
        text = getattr(options, option.removeprefix("--").replace("-", "_"))
        if text is None:
            continue
        try:
            value = parse(text, cast(Kind, kind))
        except InputError as fault:
            raise InputError(f"{option}: {fault}") from fault
        if not value >= 0 or (field == "water_volume" and value == 0):
            raise InputError(f"{option} {text}: must be positive")
        stated[field] = value
    if case is None and "water_volume" not in stated:
        raise InputError('a log does not say how much water was heated: give --case CASE, or --water such as "150 L"')
    facts = facts_of(case) if case is not None else facts_of_volume(stated["water_volume"])
    return replace(facts, **stated)


def _write(
    options: argparse.Namespace, crunched: dict[str, Crunched], compared: list[Comparison], case: Case | None
) -> None:
    from dataclasses import asdict

    from annulus.case import dump
    from annulus.present.files import write_json, write_text
    from annulus.present.log_figures import draw_log, draw_side_by_side
    from annulus.present.log_tables import findings_csv, log_result

    out: Path = options.out
    written = ["result.json"]
    for name, one in crunched.items():
        written += save_pictures(options, {name: draw_log(name, one)})
        write_text(out / f"{name}-findings.csv", findings_csv(one))
        written.append(f"{name}-findings.csv")
    if len(crunched) > 1:
        written += save_pictures(options, {"logs": draw_side_by_side(crunched)})
    if compared:
        from annulus.present.log_fair import draw_fair

        written += save_pictures(options, {"fair": draw_fair(compared)})
    fair = [asdict(one) for one in compared]
    logs = {name: log_result(one) for name, one in crunched.items()}
    write_json(out / "result.json", {"annulus": __version__, "logs": logs, "fair": fair})
    if case is not None:
        write_text(out / "case.toml", dump(case))
        written.append("case.toml")
    say_written(out, written)
