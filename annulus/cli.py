"""Commands. Each is one function; heavy rooms are entered only when needed.

Goes in: words from the command line. Comes out: text, files and an exit
status: 0 done, 1 no result (it did not converge, the water would boil) or a
verification that falls short, 2 the input is not acceptable, 130 stopped by hand.
"""

from __future__ import annotations

import argparse
import os
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from annulus import __version__
from annulus.errors import AnnulusError, BoilingError, ConvergenceError, InputError

if TYPE_CHECKING:
    from annulus.case import Case
    from annulus.heater import SteadyHeater

PATIENCE = 2.5  # [s] after which a step that is usually quick gets a word of explanation
COMPILING = "compiling for this machine, once: some 20 s"


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; return the exit status."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # the sparse factor calls it on small blocks: threads only wait
    options = _parser().parse_args(argv)
    try:
        _prepare(options)
        return options.run(options) or 0
    except (BoilingError, ConvergenceError) as fault:
        return _complain(fault, 1)
    except AnnulusError as fault:
        return _complain(fault, 2)
    except BrokenPipeError:
        return 0
    except OSError as fault:
        place = f"{fault.filename}: " if fault.filename else ""
        return _complain(f"{place}{fault.strerror or fault}; is the path right, and may it be written?", 2)
    except KeyboardInterrupt:
        return _complain("stopped by hand; files already written are whole", 130)


def _prepare(options: argparse.Namespace) -> None:
    """Refuse options that could only fail after the work is done; read the watts of a stripe."""
    out: Path | None = getattr(options, "out", None)
    if out is not None and out.exists() and not out.is_dir():
        raise InputError(f"--out {out}: is a file and must be a folder, or a name that is free")
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


def _spare_inputs(out: Path, options: argparse.Namespace) -> None:
    """Refuse a folder in which the resolved case would replace the case file that was read, comments and all."""
    from annulus.studies.compare import short_names

    paths: Sequence[Path] = options.cases if hasattr(options, "cases") else [options.case]
    names = short_names(paths) if hasattr(options, "cases") else ["case"]
    read = {(path / "case.toml" if path.is_dir() else path).resolve() for path in paths}
    for written in (out.resolve() / f"{name}.toml" for name in names):
        if written in read:
            raise InputError(f"--out {out}: would replace {written.name}, which is read; choose another folder")


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

    command = commands.add_parser("starter", help="write a commented case file to edit")
    command.add_argument("file", type=Path, metavar="FILE")
    command.set_defaults(run=run_starter)

    command = commands.add_parser("section", help="draw the cut to scale and list what to buy")
    _add_case(command)
    _add_out(command)
    command.set_defaults(run=run_section)

    command = commands.add_parser("steady", help="heat flows and temperatures of a steady fire")
    _add_case(command)
    _add_out(command)
    _add_solving(command)
    command.add_argument(
        "--cost-of-gaps",
        action="store_true",
        help="solve also without each void, film, gap and contact of the case: what does each cost?",
    )
    command.set_defaults(run=run_steady)

    command = commands.add_parser("compare", help="several cases side by side, differences named")
    command.add_argument(
        "cases", type=Path, nargs="+", metavar="CASE", help="case files, or folders that hold case.toml"
    )
    _add_out(command)
    _add_solving(command)
    command.set_defaults(run=run_compare)

    command = commands.add_parser("materials", help="list the materials, or show one with its source")
    command.add_argument("name", nargs="?", metavar="NAME")
    command.add_argument("--packing", metavar="WORD", help="how a filler is packed")
    command.set_defaults(run=run_materials)

    command = commands.add_parser("verify", help="known answers beside computed ones: are the numbers right here?")
    command.add_argument("--only", metavar="NAMES", help="run these cases, such as V14,V30")
    command.add_argument("--json", action="store_true", help="print everything for other programs")
    command.set_defaults(run=run_verify)
    return parser


def _add_case(command: argparse.ArgumentParser) -> None:
    command.add_argument("case", type=Path, metavar="CASE", help="a case file, or a folder that holds case.toml")


def _add_out(command: argparse.ArgumentParser) -> None:
    command.add_argument("--out", type=Path, metavar="DIR", help="write results, resolved case and pictures here")


def _add_solving(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--within",
        metavar="SHARE",
        help='refine the grid until the error of the heat to the water is within this share, such as "0.5 %%"',
    )
    command.add_argument(
        "--stripe", metavar="WATTS", help='heat of one stripe, such as "10 W" (default: about 100 stripes)'
    )


def run_starter(options: argparse.Namespace) -> None:
    """Write the commented starter case; never over a file that exists."""
    from annulus.case import starter
    from annulus.present.files import write_text

    if options.file.exists():
        raise InputError(f"{options.file}: exists already and is left as it is; choose another name")
    write_text(options.file, starter())
    print(f"wrote {options.file}: edit it, then run: annulus steady {options.file} --out {options.file.stem}")


def run_section(options: argparse.Namespace) -> None:
    """List the section's parts and draw it."""
    from annulus.case import dump, load
    from annulus.present.files import write_text
    from annulus.present.tables import section_table
    from annulus.section import lay_out

    case = load(options.case)
    section = lay_out(case)
    print(section_table(case, section))
    if options.out:
        from annulus.present.drawing import draw_section
        from annulus.present.style import save

        write_text(options.out / "case.toml", dump(case))
        save(draw_section(section, case), options.out / "section.png")
        _say_written(options.out, ("section.png", "case.toml"))


def run_steady(options: argparse.Namespace) -> None:
    """Solve one case; print the ledger; write results and pictures."""
    from annulus.case import load
    from annulus.cautions import judge
    from annulus.present.costs import cost_table
    from annulus.present.tables import steady_table
    from annulus.studies.gaps import cost_of_gaps, imperfections

    case = load(options.case)
    if options.cost_of_gaps:
        imperfections(case)  # a case whose gaps have no cost is refused before anything is computed
    with Progress() as progress:
        heater, outcome = _solve(case, options, progress)
        if options.cost_of_gaps:
            outcome["cost_of_gaps"] = cost_of_gaps(case, outcome, _within(options), progress)
        cautions = judge(case, heater.model.section, outcome)
        stripes = _stripes(heater, options, progress) if options.out else None
        if stripes is not None:
            progress("drawing")
            _write_steady(options.out, heater, outcome, stripes, cautions)
    print(steady_table(outcome, cautions))
    if options.cost_of_gaps:
        print("\n" + cost_table(outcome["cost_of_gaps"], outcome))
    if options.out:
        _say_written(options.out, ("temperature.png", "stripes.png", "result.json", "case.toml"))


def run_compare(options: argparse.Namespace) -> None:
    """Solve several cases and set them side by side."""
    from annulus.case import load
    from annulus.cautions import judge
    from annulus.present.tables import compare_table
    from annulus.studies.compare import differences, short_names

    cases = dict(zip(short_names(options.cases), map(load, options.cases), strict=True))
    outcomes: dict[str, dict[str, Any]] = {}
    solved = {}
    with Progress() as progress:
        for name, case in cases.items():
            progress(name)
            solved[name], outcomes[name] = _solve(case, options, progress)
        if options.out:
            _write_compare(options, solved, outcomes, progress)
    cautions = {name: judge(heater.case, heater.model.section, outcomes[name]) for name, heater in solved.items()}
    print(compare_table(outcomes, differences(list(cases.values())), cautions))
    if options.out:
        _say_written(options.out, ("compare.png", "result.json", *(f"{name}.toml" for name in cases)))


def run_materials(options: argparse.Namespace) -> None:
    """List the library, or one material with its source."""
    from annulus.materials import find, names, packings
    from annulus.present.tables import material_text, materials_table

    if options.packing and not options.name:
        raise InputError("--packing: goes with the NAME of a material")
    if options.name:
        print(material_text(find(options.name, options.packing)))
        return
    packed: list[tuple[str, str | None]] = [
        (name, packing) for name in names() for packing in (*packings(name),) or (None,)
    ]
    found = [find(name, packing) for name, packing in packed]
    print(materials_table(found))
    print("\nmarks: P+ published and read, P published and quoted from memory, C common practice, calc computed here")


def run_verify(options: argparse.Namespace) -> int:
    """Run the verification cases and print their table; status 1 if any falls short."""
    import json

    from annulus.present.verification import verification_dictionary, verification_table
    from annulus.verification import FAMILIES, cases, choose, run_all, warm_up

    chosen = cases() if options.only is None else choose(options.only.split(","))
    with Progress() as progress:
        progress("cutting a first small section")
        warm_up()
        results = run_all(chosen, progress)
    if options.json:
        found = {"annulus": __version__, **verification_dictionary(results)}
        print(json.dumps(found, indent=1, allow_nan=False, ensure_ascii=False))
    else:
        print(verification_table(FAMILIES, results))
    return 0 if all(result.holds for result in results) else 1


def _solve(case: Case, options: argparse.Namespace, progress: Progress) -> tuple[SteadyHeater, dict[str, Any]]:
    from annulus.heater import solve_with_errors

    return solve_with_errors(case, _within(options), progress)


def _within(options: argparse.Namespace) -> float | None:
    """Share that the error of the heat must not exceed; None if none was asked for. [-]"""
    from annulus.units import parse

    if options.within is None:
        return None
    within = parse(options.within, "fraction")
    if not within > 0:
        raise InputError(f"--within {options.within!r}: must be a positive share, such as '0.5 %'")
    return within


def _stripes(heater: SteadyHeater, options: argparse.Namespace, progress: Progress):
    from annulus.conduction.stripes import trace_stripes

    progress("tracing heat stripes")
    sinks = [region.name for region in heater.model.section.regions if region.role == "tube"]
    watts = options.stripe or heater.stripe_watts()
    return trace_stripes(heater.field, sinks, watts)


def _write_steady(out: Path, heater: SteadyHeater, outcome: dict[str, Any], stripes, cautions) -> None:
    from annulus.case import dump
    from annulus.present.files import write_json, write_text
    from annulus.present.stripes import draw_stripes
    from annulus.present.style import save
    from annulus.present.temperature import draw_temperature

    save(draw_temperature(heater), out / "temperature.png")
    save(draw_stripes(heater, stripes), out / "stripes.png")
    write_text(out / "case.toml", dump(heater.case))
    findings = [{"level": c.level, "words": c.words, "remedy": c.remedy} for c in cautions]
    write_json(out / "result.json", {"annulus": __version__, **outcome, "cautions": findings})


def _write_compare(options: argparse.Namespace, solved, outcomes, progress: Progress) -> None:
    from annulus.case import dump
    from annulus.present.compare import draw_compare
    from annulus.present.files import write_json, write_text
    from annulus.present.style import save

    if options.stripe is None:
        options.stripe = max(heater.stripe_watts() for heater in solved.values())
    rows = [(name, outcomes[name], heater, _stripes(heater, options, progress)) for name, heater in solved.items()]
    progress("drawing")
    save(draw_compare(rows), options.out / "compare.png")
    for name, heater in solved.items():
        write_text(options.out / f"{name}.toml", dump(heater.case))
    write_json(options.out / "result.json", {"annulus": __version__, "cases": outcomes})


def _say_written(out: Path, names: Sequence[str]) -> None:
    print(f"\nwritten to {out}: {', '.join(names)}")


class Progress:
    """One line on the terminal that says what is going on, silent where there is no terminal.

    A first step that outlasts `PATIENCE` is the compiler at work: that is said
    anywhere, and how long it took.
    """

    def __init__(self) -> None:
        self.is_terminal = sys.stderr.isatty()
        self.timer: threading.Timer | None = None
        self.begun = 0.0
        self.compiling = False
        self.may_compile = {"cutting", "tracing"}  # first words of steps that compile on their first run

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_: object) -> None:
        self._settle()
        if self.is_terminal:
            print("\r\033[K", end="", file=sys.stderr, flush=True)

    def __call__(self, words: str) -> None:
        """Say what begins now."""
        self._settle()
        self.begun = time.perf_counter()
        step = words.split()[0]
        if step in self.may_compile:
            self.may_compile.remove(step)
            self.timer = threading.Timer(PATIENCE, self._explain)
            self.timer.daemon = True
            self.timer.start()
        if self.is_terminal:
            print(f"\r\033[K{words}", end="", file=sys.stderr, flush=True)

    def _explain(self) -> None:
        self.compiling = True
        start = "\r\033[K" if self.is_terminal else ""
        print(f"{start}annulus: {COMPILING}", file=sys.stderr, flush=True)

    def _settle(self) -> None:
        """End the step before: stop its timer, and tell how long compiling took."""
        if self.timer is not None:
            self.timer.cancel()
            self.timer = None
        if self.compiling:
            self.compiling = False
            took = time.perf_counter() - self.begun
            print(f"annulus: compiled in {took:.0f} s; kept for later runs", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
