"""Is nothing lost when a sweep is killed? Twenty kills at random moments, and the table of one that ran through.

Run: python benchmarks/sweep_killed.py [--kills 20] [--seed 1] [--outside]

A sweep of cases/study-gap over its winding and shroud (--outside: over fire, water and room, whose designs are told in
batches on shared ports) runs through once. The same sweep is then begun, killed without a word (SIGKILL) at a random
moment, and resumed, again and again, until it has been killed so often; the last one ends by itself. Exit status 1
unless both tables are the same bytes. Needs a POSIX system.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent
SECTION = ("coil.gap = 0.1 mm .. 3 mm x 12", "shroud.clearance = 2 mm .. 20 mm x 10")
OUTSIDE = (
    "fire.gas_temperature = 300 degC .. 500 degC x 10",
    "water.flow = 1 .. 5 L/min x 9",
    "room.temperature = 0, 15 degC",
)


def begin(out: Path, resume: bool, vary: tuple[str, ...]) -> subprocess.Popen[bytes]:
    varied = [word for words in vary for word in ("--vary", words)]
    words = [sys.executable, "-m", "annulus", "sweep", "cases/study-gap", *varied, "--out", str(out)]
    return subprocess.Popen([*words, "--resume"] if resume else words, cwd=ROOT, stdout=subprocess.DEVNULL)


def designs_in(out: Path) -> int:
    log = out / "finished.jsonl"
    return max(0, log.read_bytes().count(b"\n") - 1) if log.exists() else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--outside", action="store_true")
    options = parser.parse_args()
    vary = OUTSIDE if options.outside else SECTION
    draw = random.Random(options.seed)
    folder = Path(tempfile.mkdtemp())
    try:
        begun = time.monotonic()
        if begin(folder / "through", False, vary).wait() != 0:
            return 1
        took = time.monotonic() - begun
        total = designs_in(folder / "through")
        print(f"through: {total} designs in {took:.0f} s", flush=True)

        out = folder / "killed"
        killed = 0
        while killed < options.kills:
            process = begin(out, killed > 0, vary)
            # at any moment: while it starts, while it computes, while it writes
            aim = draw.uniform(0.0, 1.6 * (total - designs_in(out)) / (options.kills - killed) * took / total + 1.0)
            try:
                process.wait(aim)
                break  # it came to its end: nothing is left to kill
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
                killed += 1
                print(f"kill {killed} after {aim:.2f} s: {designs_in(out)} of {total} designs are kept", flush=True)
        last = begin(out, True, vary)
        if last.wait() != 0:
            print(f"the last sweep ended with status {last.returncode}")
            return 1
        same = (out / "sweep.csv").read_bytes() == (folder / "through" / "sweep.csv").read_bytes()
        print(f"{killed} kills; the table is {'the same bytes' if same else 'NOT the same'}")
        return 0 if same and killed == options.kills else 1
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    if os.name != "posix":
        sys.exit("needs a POSIX system")
    sys.exit(main())
