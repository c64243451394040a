"""Options that several commands share, and the refusals that come before any work.

Goes in: a command's parser, or its parsed words. Comes out: numbers in SI and
folders that may be written, or an InputError that names the option.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from annulus.commands.folder import shown
from annulus.commands.progress import Progress
from annulus.errors import InputError
from annulus.texts import real_path

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from annulus.case import Case
    from annulus.heater import SteadyHeater

PICTURES = {"png": (".png",), "svg": (".svg",), "both": (".png", ".svg")}  # suffixes by the words of --pictures


def add_case(command: argparse.ArgumentParser) -> None:
    command.add_argument("case", type=Path, metavar="CASE", help="a case file, or a folder that holds case.toml")


def add_out(command: argparse.ArgumentParser) -> None:
    command.add_argument("--out", type=Path, metavar="DIR", help="write results, resolved case and pictures here")
    add_pictures(command)


def add_pictures(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--pictures", choices=tuple(PICTURES), default="png", help="kind of files of pictures (default: png)"
    )


def add_within(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--within",
        metavar="SHARE",
        help='refine the grid until the error of the heat to the water is within this share, such as "0.5 %%"',
    )


def add_solving(command: argparse.ArgumentParser) -> None:
    add_within(command)
    command.add_argument(
        "--stripe", metavar="WATTS", help='heat of one stripe, such as "10 W" (default: about 100 stripes)'
    )


def prepare(options: argparse.Namespace) -> None:
    """Refuse options that could only fail after the work is done; read the watts of a stripe."""
    out: Path | None = getattr(options, "out", None)
    if out is not None and out.exists() and not out.is_dir():
        raise InputError(f"--out {out}: is a file and must be a folder, or a name that is free")
    written = [
        path for path in (out, getattr(options, "page", None), getattr(options, "file", None)) if path is not None
    ]
    for path in written:
        refuse_unwritable(path)
    if out is not None:
        _spare_inputs(out, options)
    text: str | None = getattr(options, "stripe", None)
    if text is not None:
        from annulus.units import parse

        try:
            options.stripe = parse(text, "power")
        except InputError as fault:
            raise InputError(f"--stripe: {fault}") from fault
        if not options.stripe > 0:
            raise InputError(f"--stripe {text}: must be more than 0 W")


def refuse_unwritable(path: Path) -> None:
    """InputError for a place where nothing can be written."""
    if path.is_symlink() and not path.exists():
        raise InputError(f"{path}: is a link that leads nowhere; choose another name")
    nearest = next((folder for folder in (path, *path.parents) if folder.exists()), path)
    if not os.access(nearest, os.W_OK):
        raise InputError(f"{path}: cannot be written, {nearest} is read-only for you; choose another place")


def _spare_inputs(out: Path, options: argparse.Namespace) -> None:
    """Refuse a folder in which the resolved case would replace the case file that was read, comments and all."""
    from annulus.studies.compare import short_names

    compared: Sequence[Path] = getattr(options, "cases", ())
    others = (getattr(options, "case", None), *getattr(options, "files", ()), getattr(options, "next", None))
    names = short_names(compared) if compared else ["case", *before_names(len(others))]
    paths = [*compared, *(path for path in others if path is not None)]
    read = {real_path(path / "case.toml" if path.is_dir() else path) for path in paths}
    for written in (real_path(out) / f"{name}.toml" for name in names):
        if written in read:
            raise InputError(f"--out {out}: would replace {written.name}, which is read; choose another folder")


def before_names(count: int) -> list[str]:
    """Names of the cases as they were before a calibration, without a suffix."""
    return ["before", *(f"before-{n}" for n in range(2, count + 1))][:count]


def within(options: argparse.Namespace) -> float | None:
    """Share that the error of the heat must not exceed; None if none was asked for. [-]"""
    from annulus.units import parse

    if options.within is None:
        return None
    try:
        share = parse(options.within, "fraction")
    except InputError as fault:
        raise InputError(f"--within: {fault}") from fault
    if not 0 < share < 1:
        raise InputError(f"--within {options.within!r}: must be a positive share of the heat, such as '0.5 %'")
    return share


def solve(case: Case, options: argparse.Namespace, progress: Progress) -> tuple[SteadyHeater, dict[str, Any]]:
    from annulus.heater import solve_with_errors

    return solve_with_errors(case, within(options), progress)


def stripes_of(heater: SteadyHeater, options: argparse.Namespace, progress: Progress):
    from annulus.conduction.stripes import trace_stripes

    progress("tracing heat stripes")
    sinks = [region.name for region in heater.model.section.regions if region.role == "tube"]
    watts = options.stripe or heater.stripe_watts()
    return trace_stripes(heater.field, sinks, watts)


def save_pictures(options: argparse.Namespace, figures: Mapping[str, Figure]) -> list[str]:
    """Write figures by name into the folder of `--out`, as the kinds of files asked for; the files' names."""
    from annulus.present.style import save

    names = [(f"{name}{suffix}", figure) for name, figure in figures.items() for suffix in PICTURES[options.pictures]]
    for name, figure in names:
        save(figure, options.out / name)
    return [name for name, _ in names]


def say_written(out: Path, names: Sequence[str]) -> None:
    print(f"\nwritten to {shown(out)}: {', '.join(names)}")
