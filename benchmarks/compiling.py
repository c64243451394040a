"""What compiling all kernels costs on a machine without a cache: processor time, the dearest first.

Run: python benchmarks/compiling.py [--show 20]

Everything that compiles is used once: a heater with still air and its stripes, a burn on ports, a section large enough
for multigrid on two threads. A kernel's time is its own, without those that it calls and has compiled for it.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import shutil
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ["NUMBA_CACHE_DIR"] = tempfile.mkdtemp()  # before the first import of a kernel; deleted at the end

import numpy as np
from measuring import machine
from numba.core import event

from annulus.cli import main as annulus
from annulus.conduction.boundaries import Held
from annulus.conduction.grid import uniform_grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import solve_steady
from annulus.shapes import Disc, Rectangle

CASES = Path(__file__).resolve().parent.parent / "cases"
CELLS = 300  # each way: a section that multigrid solves


class Compiled(event.Listener):
    """Seconds of processor time by kernel."""

    def __init__(self) -> None:
        self.own: dict[str, float] = defaultdict(float)
        self.times: dict[str, int] = defaultdict(int)
        self.under_way: list[list[float]] = []

    def on_start(self, begun: event.Event) -> None:
        self.under_way.append([time.process_time(), 0.0])

    def on_end(self, ended: event.Event) -> None:
        start, of_others = self.under_way.pop()
        took = time.process_time() - start
        if self.under_way:
            self.under_way[-1][1] += took
        kernel = ended.data["dispatcher"].py_func
        name = f"{kernel.__module__.removeprefix('annulus.')}.{kernel.__name__}"
        self.own[name] += took - of_others
        self.times[name] += 1


def use_everything() -> None:
    """Call every kernel at least once."""
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        for command, case in (("steady", "bath-house-insulated"), ("burn", "bath-house-sand")):
            annulus([command, str(CASES / case), "--out", str(Path(folder) / command)])
    painted = [Painted("body", Rectangle(0.0, 1.0, 0.0, 1.0)), Painted("disc", Disc(0.5, 0.5, 0.3))]
    pieces = cut_grid(uniform_grid((0.0, 1.0), (0.0, 1.0), (CELLS, CELLS)), painted)
    solve_steady(pieces, {"body": 1.0, "disc": 2.0}, {"z_min": Held(1.0), "r_max": Held(0.0)})
    pieces.pattern.fill(np.ones(pieces.link_a.size), np.ones(pieces.surface_piece.size))


def main() -> int:
    """Print the dearest kernels, then the sum."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--show", type=int, default=20)
    options = parser.parse_args()
    print(machine())
    compiled = Compiled()
    try:
        with event.install_listener("numba:compile", compiled):
            use_everything()
    finally:
        shutil.rmtree(os.environ["NUMBA_CACHE_DIR"])
    print(f"\n{'kernel':<50}{'own, s':>9}{'times':>7}")
    for name in sorted(compiled.own, key=lambda name: -compiled.own[name])[: options.show]:
        print(f"{name:<50}{compiled.own[name]:>9.2f}{compiled.times[name]:>7}")
    multigrid = sum(seconds for name, seconds in compiled.own.items() if name.startswith("conduction.multigrid"))
    total = sum(compiled.own.values())
    print(f"\nall {len(compiled.own)}: {total:.1f} s of processor, of which multigrid {multigrid:.1f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
