"""How long commands take from the prompt, and what compiling costs on the first run.

Run: python benchmarks/start_up.py [--repeats 7]

Every command is a process of its own, in turn, medians: `annulus --help`, `annulus steady` of a demonstration case, and
for comparison Python alone and the imports that other numerical programs begin with. Then `annulus steady` with an
empty cache of compiled code; what it takes longer is the compiler's.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from measuring import in_turn, machine, median, spread

ROOT = Path(__file__).resolve().parent.parent
CASE = ROOT / "cases" / "bath-house-sand" / "case.toml"


def command(*words: str, cache: str | None = None) -> None:
    """Run Python with these words; a fault ends the benchmark."""
    environment = dict(os.environ, PYTHONPATH=str(ROOT))
    if cache is not None:
        environment["NUMBA_CACHE_DIR"] = cache
    subprocess.run([sys.executable, *words], env=environment, check=True, capture_output=True)


def main() -> int:
    """Print one table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=7)
    options = parser.parse_args()
    print(machine())
    steady = ("-m", "annulus", "steady", str(CASE))
    ways = {
        "annulus --help": lambda: command("-m", "annulus", "--help"),
        "annulus steady": lambda: command(*steady),
        "Python alone": lambda: command("-c", "pass"),
        "import numpy, scipy.sparse.linalg": lambda: command("-c", "import numpy, scipy.sparse.linalg"),
        "import matplotlib.pyplot": lambda: command("-c", "import matplotlib.pyplot"),
        "import numba": lambda: command("-c", "import numba"),
    }
    times = in_turn(ways, options.repeats)
    help_time = median(times["annulus --help"])
    print(f"\n{'command':<36}{'median, s':>11}{'best, s':>9}{'spread':>9}{'to --help':>11}")
    for name, seconds in times.items():
        ratio = median(seconds) / help_time
        print(f"{name:<36}{median(seconds):>11.3f}{min(seconds):>9.3f}{spread(seconds):>8.2f}x{ratio:>10.2f}x")
    warm = median(times["annulus steady"])
    with tempfile.TemporaryDirectory() as cache:
        before, begun = os.times(), time.perf_counter()
        command(*steady, cache=cache)
        cold, after = time.perf_counter() - begun, os.times()
    busy = after.children_user + after.children_system - before.children_user - before.children_system
    print(f"\nannulus steady, nothing compiled: {cold:.1f} s, {cold - warm:.1f} s of it compiling; CPU {busy:.1f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
