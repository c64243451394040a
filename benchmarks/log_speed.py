"""Time the reading and crunching of a log of 100 000 rows.

PYTHONPATH=. python benchmarks/log_speed.py
"""

from __future__ import annotations

import argparse
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from make_logs import PLAIN, invent

from annulus.logs.crunch import crunch
from annulus.logs.facts import facts_of_volume
from annulus.logs.reading import read_log
from annulus.logs.synthetic import Course, constant, write_down
from annulus.present.log_figures import draw_log
from annulus.present.style import save


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    rows = parser.parse_args().rows
    course = invent(1, conductance=20.0)
    fine = np.linspace(0.0, course.time[-1], rows)
    channels = {role: np.interp(fine, course.time, values) for role, values in course.channels.items()}
    wood = np.zeros(rows)
    wood[:: rows // 12] = 1.0
    long = Course(np.arange(float(rows)), channels | {"wood": wood}, {})  # a row a second
    sheet = write_down(long, PLAIN, float(long.time[1] - long.time[0]), np.random.default_rng(1))
    sheet.plant("unreadable", "gas_below", [1000], constant("err"))
    sheet.plant("stuck", "tank_top", range(40_000 * rows // 100_000, 46_000 * rows // 100_000), constant("15.0"))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        path.write_text(sheet.text(), encoding="utf-8")
        begun, busy = time.perf_counter(), time.process_time()
        log = read_log(path)
        read = time.perf_counter()
        crunched = crunch(log, replace(facts_of_volume(0.15), surroundings=278.15))
        done, busy = time.perf_counter(), time.process_time() - busy
        save(draw_log("long", crunched), Path(folder) / "long.png")
        drawn = time.perf_counter()
    print(f"{rows} rows: read and mended {read - begun:.2f} s, crunched {done - read:.2f} s; {busy:.2f} s of processor")
    print(f"drawn in {drawn - done:.2f} s")
    print(f"findings: {[(found.kind, found.first_line, found.last_line) for found in log.findings][:5]}")


if __name__ == "__main__":
    main()
