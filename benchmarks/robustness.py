"""Steps of multigrid over the whole range of sections: contrasts, contacts, gaps, gradings.

Run: python benchmarks/robustness.py [--cell 0.5]

A short coil: flue wall, filler with three copper rings, insulation; each case changes one thing, some change several.
Steps are those of flexible conjugate gradients on the first-order matrix, to 1e-10 of the right-hand side, and of
residual minimising on the second-order matrix down to round-off, both preconditioned by one cycle. A case that does not
converge raises and ends the run; so does one that takes more than twice the median.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from dataclasses import dataclass
from itertools import product
from statistics import median

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from measuring import machine

from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid, graded_faces
from annulus.conduction.multigrid import multigrid_of
from annulus.conduction.network import Network, connect
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.steady import conductivity_of_pieces, linearise, resistance_table
from annulus.shapes import Disc, Rectangle

TURNS = 3
INSIDE, WALL, RADIUS, BORE = 0.075, 0.0765, 6.35e-3, 5.55e-3  # [m]
BEHIND, INSULATION = 3.5e-3, 0.0315  # [m] between tubes and shroud, and of insulation
REDUCTION = 1e-10


@dataclass(frozen=True)
class Section:
    """One case. Lengths in [m], conductivities [W/(m K)], contacts [m2 K/W], film [W/(m2 K)]."""

    gap: float = 0.3e-3
    between: float = 4.3e-3
    filler: float = 0.3
    copper: float = 390.0
    flue: float = 45.0
    wool: float = 0.08
    contact: float = 0.0
    water: float = 2000.0
    smallest: float | None = None  # cells at the closest places, growing by a fifth; equal cells without it

    def network(self, cell: float) -> Network:
        pitch = 2 * RADIUS + self.between
        height, cavity = TURNS * pitch, WALL + self.gap + 2 * RADIUS + BEHIND

        def size(x, near):
            if self.smallest is None:
                return np.full(x.shape, cell)
            return np.minimum(5 * cell, self.smallest + 0.2 * np.abs(x - near))

        grid = Grid(
            graded_faces([INSIDE, WALL, cavity, cavity + INSULATION], lambda r: size(r, WALL)),
            graded_faces(np.arange(TURNS + 1) * pitch, lambda z: size(z, pitch * np.round(z / pitch))),
        )
        painted = [Painted("filler", Rectangle(WALL, cavity, 0.0, height))]
        for n in range(TURNS):
            r, z = WALL + self.gap + RADIUS, (n + 0.5) * pitch
            painted += [Painted(f"tube {n}", Disc(r, z, RADIUS)), Painted(f"bore {n}", Disc(r, z, BORE), False)]
        painted += [
            Painted("flue", Rectangle(INSIDE, WALL, 0.0, height)),
            Painted("wool", Rectangle(cavity, cavity + INSULATION, 0.0, height)),
        ]
        pieces = cut_grid(grid, painted)
        films = {"r_min": Film(30.0, 550.0), "r_max": Film(10.0, 20.0)}
        films |= {f"bore {n}": Film(self.water, 40.0) for n in range(TURNS)}
        laws = {"filler": self.filler, "flue": self.flue, "wool": self.wool}
        laws |= {f"tube {n}": self.copper for n in range(TURNS)}
        contacts = {("filler", other): self.contact for other in ("flue", "wool", *(f"tube {n}" for n in range(TURNS)))}
        k = conductivity_of_pieces(pieces, laws, np.zeros(pieces.count))
        q0, h = linearise(pieces, films, np.zeros(pieces.surface_piece.size))
        return connect(pieces, k, resistance_table(pieces, contacts), q0, h)


def cases() -> dict[str, Section]:
    """Every case by what it changes."""
    found = {"default": Section()}
    for factor in (1e-3, 1e-2, 1e-1, 1e1, 1e2, 1e3):
        for part in ("filler", "copper", "flue", "wool"):
            found[f"{part} x {factor:g}"] = Section(**{part: getattr(Section, part) * factor})
    for contact in (1e-7, 1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1, 1.0):
        found[f"contact {contact:g} m2K/W"] = Section(contact=contact)
    for gap in (1e-6, 1e-5, 1e-4, 1e-3, 1e-2):
        found[f"tubes {1e3 * gap:g} mm apart"] = Section(between=gap)
        found[f"tubes {1e3 * gap:g} mm off the wall"] = Section(gap=gap)
    for smallest in (1e-5, 3e-5, 1e-4):
        found[f"cells from {1e3 * smallest:g} mm"] = Section(smallest=smallest)
    for water in (1e-6, 1.0, 1e6):
        found[f"water film {water:g} W/m2K"] = Section(water=water)
    for contact, gap, contrast in product((1e-7, 1.0), (1e-6, 1e-2), (1e-3, 1e3)):
        name = f"contact {contact:g}, {1e3 * gap:g} mm, filler x {contrast:g}"
        found[name] = Section(contact=contact, between=gap, gap=gap, filler=0.3 * contrast)
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cell", type=float, default=0.5, help="cells of the default grid [mm]")
    options = parser.parse_args()
    print(machine())
    print(f"\n{'case':<40}{'pieces':>9}{'steps':>7}{'second order':>14}{'seconds':>9}")
    counts: dict[str, tuple[int, int]] = {}
    for name, section in cases().items():
        net = section.network(options.cell * 1e-3)
        pieces, start = net.pieces, np.zeros(net.pieces.count)
        begun = time.perf_counter()
        cycle = multigrid_of(net)
        one = cycle.solve(net.drive, start, REDUCTION).steps
        two = cycle.solve(net.drive, start, correction=net.correction).steps
        counts[name] = one, two
        print(f"{name:<40}{pieces.count:>9}{one:>7}{two:>14}{time.perf_counter() - begun:>9.2f}", flush=True)
    refused = []
    for n, words in enumerate(("first order", "second order")):
        steps = {name: count[n] for name, count in counts.items()}
        middle, worst = median(steps.values()), max(steps, key=lambda name, s=steps: s[name])
        print(f"{words}: {len(steps)} cases, median {middle:g} steps, most {steps[worst]} ({worst})")
        refused += [f"{words}, {name}: {count}" for name, count in steps.items() if count > 2 * middle]
    if refused:
        raise SystemExit("above twice the median: " + "; ".join(refused))
    return 0


if __name__ == "__main__":
    sys.exit(main())
