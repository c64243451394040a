"""Commands. Each is one module of `annulus.commands`.

Goes in: words from the command line. Comes out: text, files and an exit
status: 0 done, 1 no result (it did not converge, the water would boil) or a
verification that falls short, 2 the input is not acceptable, 130 stopped by hand.
"""

from __future__ import annotations

import argparse
import errno
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from annulus import __version__
from annulus.commands import (
    answers,
    burn,
    calibrate,
    choose,
    compare,
    dryfit,
    field,
    gaps,
    log,
    materials,
    report,
    section,
    sensitivity,
    starter,
    steady,
    sweep,
    upset,
    verify,
)
from annulus.commands.folder import claimed, shown, staged
from annulus.commands.options import prepare
from annulus.errors import AnnulusError, BoilingError, ConvergenceError

COMMANDS = (
    answers,
    starter,
    section,
    steady,
    gaps,
    sensitivity,
    burn,
    upset,
    log,
    calibrate,
    compare,
    sweep,
    choose,
    report,
    dryfit,
    field,
    materials,
    verify,
)  # in the order of --help


FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)  # no room, a quota, a file larger than may be


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; return the exit status."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # the sparse factor calls it on small blocks: threads only wait
    os.environ.setdefault("OMP_WAIT_POLICY", "passive")  # spinning keeps busy cores from the thread that is waited for
    options = _parser().parse_args(argv)
    try:
        prepare(options)
        return _run(options)
    except (BoilingError, ConvergenceError) as fault:
        return _complain(fault, 1)
    except AnnulusError as fault:
        return _complain(fault, 2)
    except BrokenPipeError:
        return 0
    except OSError as fault:
        return _complain(_of_files(fault, options), 2)
    except KeyboardInterrupt:
        return _complain("stopped by hand; earlier results are as they were", 130)


def _run(options: argparse.Namespace) -> int:
    """Run the command; what it writes to --out comes all at once, but for the log that a sweep keeps as it grows."""
    out: Path | None = getattr(options, "out", None)
    if out is None:
        return options.run(options) or 0
    with claimed(out):
        if getattr(options, "writes_in_place", False):
            return options.run(options) or 0
        with staged(out) as options.out:
            return options.run(options) or 0


def _of_files(fault: OSError, options: argparse.Namespace) -> str:
    """What the system says against a file, of what the user asked to be written where it does not name one."""
    named = (getattr(options, name, None) for name in ("out", "page", "file"))
    asked: Path | None = next((path for path in named if path is not None), None)
    place = fault.filename or ("" if asked is None else shown(asked))
    cause = "make room and run it again" if fault.errno in FULL else "is the path right, and may it be written?"
    return f"{place}: {fault.strerror or fault}; {cause}" if place else f"{fault.strerror or fault}; {cause}"


def _complain(fault: object, status: int) -> int:
    print(f"annulus: {fault}", file=sys.stderr)
    return status


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="annulus",
        description="Heat from a wood stove's flue into a coil of tube wound around it: where every watt goes.",
        epilog="Start with: annulus starter my-flue.toml, edit it, then: annulus steady my-flue.toml --out my-flue",
    )
    parser.add_argument("--version", action="version", version=f"annulus {__version__}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    for command in COMMANDS:
        command.add(commands)
    return parser


if __name__ == "__main__":
    sys.exit(main())
