"""Are the error bars honest? Random sections against a grid four times finer.

Run: python benchmarks/error_bars.py [--sections 60] [--seed 1]

For every heat flow and temperature that a steady run reports, prints in how
many sections the true error lies inside the bar, and the median ratio of bar
to true error. Wanted: at least 95 %, and a ratio of at most 5. Exit status 1
if the figures of all results taken together fall short.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections import defaultdict

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from annulus.case import Case, loads
from annulus.heater.outcome import summarise
from annulus.heater.precision import error_key, with_errors
from annulus.heater.steady import DEFAULT_FINENESS, solve_heater
from annulus.materials.tubes import tube_size

FINER = 4  # the reference has cells of a quarter of the size
CHECKED = (
    "heat_to_water_W",
    "heat_to_turn_W",
    "heat_to_room_W",
    "heat_through_outside_W",
    "wall_min_C",
    "wall_max_C",
    "filler_max_C",
    "outside_max_C",
)
INSIDE_WANTED, WIDTH_WANTED = 0.95, 5.0
TUBES = ("EN 1057 10 x 1", "EN 1057 12 x 1", "EN 1057 15 x 1", "EN 1057 22 x 1", "ASTM B88 L 1/2")
FILLERS = (("still air", "none"), ("quartz sand", "loose"), ("quartz sand", "vibrated"), ("graphite powder", "tapped"))


def random_case(rng: np.random.Generator) -> Case:
    """A short section: tube, gaps, filler, shroud, insulation, contacts and voids drawn over the trade's ranges."""
    tube = str(rng.choice(TUBES))
    diameter = 1e3 * tube_size(tube)[0]
    turns = int(rng.integers(1, 4))
    pitch = diameter * float(rng.choice([1.004, rng.uniform(1.02, 1.3), rng.uniform(1.3, 3.0)]))
    gaps = [float(rng.choice([0.0, 0.05, rng.uniform(0.1, 3.0)])) for _ in range(turns)]
    if rng.random() < 0.6:
        gaps = gaps[:1] * turns
    filler, packing = FILLERS[rng.integers(len(FILLERS))]
    lines = [
        'title = "random section"',
        "[flue]",
        f'material = "{rng.choice(["black steel", "stainless 304"])}"',
        f'inner_diameter = "{rng.uniform(100, 200):.1f} mm"',
        f'wall = "{rng.uniform(0.6, 3.0):.2f} mm"',
        f'soot_thickness = "{rng.choice([0.0, 1.0])} mm"',
        "[coil]",
        f'tube = "{tube}"',
        f"turns = {turns}",
        f'pitch = "{pitch:.3f} mm"',
        "gap = [" + ", ".join(f'"{gap:.3f} mm"' for gap in gaps) + "]",
        "[filler]",
        f'material = "{filler}"',
        *([f'packing = "{packing}"'] if packing != "none" else []),
    ]
    if filler != "still air":
        lines += [
            f'settled_top = "{rng.choice([0.0, rng.uniform(1, 0.4 * pitch)]):.2f} mm"',
            f'strip_under_tubes = "{rng.choice([0.0, rng.uniform(0.1, 1.0)]):.2f} mm"'
            if pitch > 1.2 * diameter
            else "",
        ]
    if filler != "still air" or rng.random() < 0.4:
        lines += ["[shroud]", 'material = "black steel"', f'sheet = "{rng.uniform(0.6, 1.5):.2f} mm"']
        lines += [f'clearance = "{rng.uniform(0.5, 20):.2f} mm"']
    if rng.random() < 0.6:
        lines += ["[insulation]", 'material = "mineral wool"', f'thickness = "{rng.uniform(10, 75):.1f} mm"']
    lines += [
        "[contacts]",
        f'tube-filler = "{10 ** rng.uniform(-6, -2):.3g} m2K/W"',
        "[fire]",
        f'gas_temperature = "{rng.uniform(250, 700):.0f} degC"',
        f'gas_flow = "{rng.uniform(4, 20):.2f} g/s"',
        f"gas_multiplier = {rng.uniform(0.7, 6):.2f}",
        "[water]",
        f'flow = "{rng.uniform(1, 6):.2f} L/min"',
        f'inlet_temperature = "{rng.uniform(5, 60):.1f} degC"',
        "[room]",
        'temperature = "18 degC"',
    ]
    return loads("\n".join(lines), "random section")


def main() -> int:
    """Run the study; return the exit status."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sections", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    found: dict[str, list[tuple[float, float]]] = defaultdict(list)
    begun = time.perf_counter()
    for number in range(options.sections):
        case = random_case(rng)
        coarse, fine, reference = (
            summarise(solve_heater(case, fineness))
            for fineness in (DEFAULT_FINENESS // 2, DEFAULT_FINENESS, FINER * DEFAULT_FINENESS)
        )
        outcome = with_errors(fine, coarse, touches=case.coil is not None and min(case.coil.gap) == 0)
        for key in CHECKED:
            if fine[key] is None:
                continue
            parts = (outcome[error_key(key)], fine[key], reference[key])
            bars, values, truths = (np.atleast_1d(part) for part in parts)
            found[key] += list(zip(bars.tolist(), np.abs(values - truths).tolist(), strict=True))
        if sys.stderr.isatty():
            print(f"\r{number + 1} of {options.sections}", end="", file=sys.stderr)
    print(f"{options.sections} sections, seed {options.seed}, {time.perf_counter() - begun:.0f} s")
    print(f"{'result':<26}{'count':>6}{'inside':>9}{'bar / error, median':>21}{'worst error / bar':>19}")
    for key in (*found, "all"):
        rows = np.array([row for rows in found.values() for row in rows] if key == "all" else found[key])
        bar, error = rows[:, 0], np.maximum(rows[:, 1], 1e-12)
        inside, width, worst = (error <= bar).mean(), np.median(bar / error), (error / bar).max()
        print(f"{key:<26}{bar.size:>6}{100 * inside:>8.1f}%{width:>21.2f}{worst:>19.2f}")
    return 0 if inside >= INSIDE_WANTED and width <= WIDTH_WANTED else 1


if __name__ == "__main__":
    sys.exit(main())
