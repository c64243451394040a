"""Case files spoiled at random: does every one end in a result or in a message that helps?

Run: python benchmarks/fuzz_cases.py --inputs 20000 --seed 1 [--solve-every 100]

Takes the shipped cases and the starter, spoils each copy with one to three
mutations (deleted, doubled, renamed and moved keys, wrong types, wrong units,
NaN, huge, tiny and negative numbers, Unicode, cut files, bytes that are no
text), and reads, lays out and writes back what is accepted; every so many are
solved on the coarsest grid. Counts by ending. A fault is a traceback, a
time-out, a message that does not begin with the file's name, a result that is
not finite, a resolved case that reads back otherwise, or a misspelt key that
is let pass. Ends with status 1 if there was any.
"""

from __future__ import annotations

import argparse
import faulthandler
import math
import random
import re
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from types import FrameType

from annulus.case import dump, load, loads, starter
from annulus.errors import AnnulusError
from annulus.heater import solve_heater, summarise
from annulus.section import lay_out

CASES = Path(__file__).parents[1] / "cases"
PATIENCE = 30  # [s] of processor time that one input may take
STUCK = 300  # [s] by the clock, for one that waits; a busy machine may stand still for long
MOST_TURNS = 6  # of a case that is solved
ASSIGNMENT = re.compile(r"^(\s*#?\s*)([\w.\"-]+)(\s*=\s*)(.*)$")

NUMBERS = ("nan", "inf", "-inf", "0", "-1", "1e308", "-1e308", "1e-308", "5e-324", "1e999", "9" * 400, "0.1e-400", "١٢")
UNITS = ("mm", "m", "degC", "degF", "K", "L/min", "g/s", "kg/h", "W/mK", "%", "kPa", "m2K/W", "furlong", "", "MM", "µm")
TYPES = ("true", "[]", "{}", '""', "1", "1.5", "-3", "1979-05-27", '["1 mm"]', "[[1]]", "'''x'''", '{ a = "1 mm" }')
STRANGE = ("\u0000", "\ufeff", "é", "Ω", "\u202e", "🔥", "\\u0041", '"', "[", "]", "=", "#", "\t", "\r", "½", "\x7f")
WORDS = ("none", "computed", "still air", "copper", "aluminium powder", "sawdust", "up", "room", "ﬁller", "x" * 5000)


class TimeOutError(Exception):
    """An input took too long."""


class Spoiled:
    """A text with mutations, and whether it must be refused."""

    def __init__(self, text: str, rng: random.Random):
        self.lines, self.rng = text.split("\n"), rng
        self.raw: bytes | None = None
        self.must_refuse = False
        self.done: list[str] = []

    def content(self) -> bytes:
        """What is written to the file."""
        return self.raw if self.raw is not None else "\n".join(self.lines).encode("utf-8", "surrogatepass")

    def assignment(self) -> tuple[int, re.Match[str]] | None:
        """A line that sets a key and is no comment."""
        found = [(n, m) for n, line in enumerate(self.lines) if (m := ASSIGNMENT.match(line)) and "#" not in m[1]]
        return self.rng.choice(found) if found else None

    def set_value(self, make: Callable[[str], str]) -> None:
        """Replace the value of a key by what `make` makes of it."""
        chosen = self.assignment()
        if chosen is not None:
            n, m = chosen
            self.lines[n] = f"{m[1]}{m[2]}{m[3]}{make(m[4])}"


def delete(work: Spoiled) -> None:
    work.lines.pop(work.rng.randrange(len(work.lines)))


def double(work: Spoiled) -> None:
    n = work.rng.randrange(len(work.lines))
    work.lines.insert(work.rng.randrange(len(work.lines) + 1), work.lines[n])


def swap(work: Spoiled) -> None:
    a, b = (work.rng.randrange(len(work.lines)) for _ in range(2))
    work.lines[a], work.lines[b] = work.lines[b], work.lines[a]


def rename(work: Spoiled) -> None:
    """One letter of a key changed: it must be refused, with the nearest key."""
    chosen = work.assignment()
    if chosen is None or not re.fullmatch(r"[a-z_]{4,}", chosen[1][2]):
        return
    n, m = chosen
    place = work.rng.randrange(len(m[2]))
    letter = work.rng.choice([letter for letter in "qxz" if letter != m[2][place]])
    work.lines[n] = f"{m[1]}{m[2][:place]}{letter}{m[2][place + 1 :]}{m[3]}{m[4]}"
    work.must_refuse = True


def number(work: Spoiled) -> None:
    """Another number, its unit kept."""
    work.set_value(lambda value: re.sub(r"-?[\d.]+(e-?\d+)?", work.rng.choice(NUMBERS), value, count=1))


def scale(work: Spoiled) -> None:
    """The number times a power of ten."""

    def grown(match: re.Match[str]) -> str:
        return repr(float(match[0]) * 10.0 ** work.rng.randint(-12, 12))

    work.set_value(lambda value: re.sub(r"\d+\.?\d*(?:e-?\d+)?", grown, value, count=1))


def unit(work: Spoiled) -> None:
    work.set_value(lambda value: re.sub(r"(\d)\s*[^\d\s\"']*\"", rf'\1 {work.rng.choice(UNITS)}"', value, count=1))


def kind(work: Spoiled) -> None:
    work.set_value(lambda value: work.rng.choice(TYPES))


def word(work: Spoiled) -> None:
    work.set_value(lambda value: f'"{work.rng.choice(WORDS)}"')


def strange(work: Spoiled) -> None:
    n = work.rng.randrange(len(work.lines))
    place = work.rng.randint(0, len(work.lines[n]))
    work.lines[n] = work.lines[n][:place] + work.rng.choice(STRANGE) + work.lines[n][place:]


def uncomment(work: Spoiled) -> None:
    commented = [n for n, line in enumerate(work.lines) if re.match(r"#\s*[\w\[]", line)]
    if commented:
        n = work.rng.choice(commented)
        work.lines[n] = work.lines[n].lstrip("# ")


def drop_table(work: Spoiled) -> None:
    heads = [n for n, line in enumerate(work.lines) if line.startswith("[")]
    if heads:
        n = work.rng.choice(heads)
        end = next((m for m in heads if m > n), len(work.lines))
        del work.lines[n:end]


def cut(work: Spoiled) -> None:
    content = work.content()
    work.raw = content[: work.rng.randint(0, len(content))]


def flip(work: Spoiled) -> None:
    content = bytearray(work.content())
    for _ in range(work.rng.randint(1, 8)):
        if content:
            content[work.rng.randrange(len(content))] = work.rng.randrange(256)
    work.raw = bytes(content)


def noise(work: Spoiled) -> None:
    encodings = (
        lambda: work.rng.randbytes(work.rng.randint(0, 4000)),
        lambda: work.content().decode("utf-8", "replace").encode("utf-16"),
        lambda: b"\xef\xbb\xbf" + work.content(),
        lambda: b"a = " + b"[" * 20000,
        lambda: b"a = " + b"9" * 10000,
        lambda: b"".join(b"[%d]\n" % n for n in range(300)),
        lambda: work.content().replace(b"\n", b"\r"),
    )
    work.raw = work.rng.choice(encodings)()


USUAL = (delete, double, swap, rename, number, number, scale, scale, unit, unit, kind, kind, word, strange, uncomment)
MUTATIONS = (*USUAL, *USUAL, *USUAL, drop_table, cut, flip, noise)


def spoil(texts: list[str], seed: int, number_of_input: int) -> Spoiled:
    """One spoiled case file; the same for the same seed and number."""
    rng = random.Random(seed * 1_000_003 + number_of_input)
    work = Spoiled(rng.choice(texts), rng)
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        mutation = rng.choice(MUTATIONS)
        work.done.append(mutation.__name__)
        mutation(work)
        if not work.lines:
            work.lines = [""]
    if work.done != ["rename"]:
        work.must_refuse = False  # another mutation may have mended or removed it
    return work


def try_one(work: Spoiled, path: Path, solve: bool) -> tuple[str, str]:
    """Ending of one input, and what is wrong with it if that is a fault."""
    path.write_bytes(work.content())
    try:
        case = load(path)
    except AnnulusError as refusal:
        return judge_message(str(refusal), path)
    if work.must_refuse:
        return "FAULT", "a misspelt key was let pass"
    try:
        section = lay_out(case)
    except AnnulusError as refusal:
        return "refused by the layout", "" if len(str(refusal)) > 20 else "says too little"
    if not all(math.isfinite(value) for value in (section.r_max, section.height, section.bill.flue_mass)):
        return "FAULT", "a section that is not finite"
    if loads(dump(case)) != case:
        return "FAULT", "the resolved case reads back otherwise"
    if not solve or (case.coil is not None and case.coil.turns > MOST_TURNS):
        return "accepted", ""
    try:
        outcome = summarise(solve_heater(case, 1))
    except AnnulusError as refusal:
        return f"solver says {type(refusal).__name__}", "" if len(str(refusal)) > 20 else "says too little"
    bad = [key for key, value in outcome.items() if isinstance(value, float) and not math.isfinite(value)]
    return ("FAULT", f"not finite: {bad}") if bad else ("solved", "")


def judge_message(text: str, path: Path) -> tuple[str, str]:
    """A refusal must name the file in every line, and the key or what is wrong with the whole file."""
    for line in text.split("\n"):
        if not line.startswith(str(path)):
            return "FAULT", f"a line that does not name the file: {line[:150]!r}"
        if len(line) > 1000 + len(str(path)):
            return "FAULT", f"a line of {len(line)} characters: {line[:150]!r}"
        if not re.search(r": key '.+?'|is not valid TOML|UTF-8|cannot be read|\[\w+\]|\w+", line[len(str(path)) :]):
            return "FAULT", f"a line without a key: {line[:150]!r}"
    return "refused", ""


def alarmed(_: int, frame: FrameType | None) -> None:
    raise TimeOutError


def main() -> int:
    """Try all inputs; print counts and every fault."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--inputs", type=int, default=20000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first input")
    parser.add_argument("--solve-every", type=int, default=50, help="solve one in so many that are accepted")
    options = parser.parse_args()
    faulthandler.enable()
    texts = [path.read_text(encoding="utf-8") for path in sorted(CASES.glob("*/case.toml"))] + [starter()]
    few = [re.sub(r"(?m)^turns = \d+", "turns = 3", text) for text in texts]
    for kind_of_alarm in (signal.SIGALRM, signal.SIGPROF):
        signal.signal(kind_of_alarm, alarmed)
    summarise(solve_heater(loads(few[0]), 1))  # compiles the kernels, which no input should wait for
    endings: Counter[str] = Counter()
    begun, slowest = time.perf_counter(), (0.0, -1)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "case.toml"
        for n in range(options.first, options.first + options.inputs):
            solve = n % options.solve_every == 0
            work = spoil(few if solve else texts, options.seed, n)
            started = time.process_time()
            signal.alarm(STUCK)
            signal.setitimer(signal.ITIMER_PROF, PATIENCE)
            try:
                ending, wrong = try_one(work, path, solve)
            except TimeOutError:
                ending, wrong = "FAULT", f"over {PATIENCE} s"
            except Exception as fault:  # whatever else gets out is a fault of the program: that is what is looked for
                ending, wrong = "FAULT", "".join(traceback.format_exception(fault)[-4:])
            signal.alarm(0)
            signal.setitimer(signal.ITIMER_PROF, 0)
            slowest = max(slowest, (time.process_time() - started, n))
            if wrong:
                print(f"input {n} ({', '.join(work.done)}): {wrong}\n", flush=True)
                ending = "FAULT"
            endings[ending] += 1
    print(f"{options.inputs} inputs, seed {options.seed}, in {time.perf_counter() - begun:.0f} s")
    for ending, count in endings.most_common():
        print(f"{count:7d}  {ending}")
    print(f"slowest {slowest[0]:.1f} s of processor time, input {slowest[1]}")
    return 1 if endings["FAULT"] else 0


if __name__ == "__main__":
    sys.exit(main())
