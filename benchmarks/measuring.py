"""What every benchmark needs: who ran where, and methods timed in turn.

Goes in: functions by name. Comes out: their times, medians and ratios.
"""

from __future__ import annotations

import os
import platform
import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

SHOWN = ("numpy", "scipy", "numba", "pypardiso", "mkl", "pyamg", "scikit-sparse", "petsc4py", "scikit-fem", "gmsh")


def machine() -> str:
    """One line each for the machine and for the versions that count."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text(encoding="utf-8").splitlines() if info.exists() else []
    name = next(
        (line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), platform.processor()
    )
    parts = [f"Python {platform.python_version()}"]
    for package in SHOWN:
        try:
            parts.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            parts.append(f"{package} not installed")
    busy = f"; load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    return f"{name or platform.machine()}, {os.cpu_count()} cores{busy}\n{', '.join(parts)}"


def in_turn(ways: Mapping[str, Callable[[], object]], repeats: int) -> dict[str, list[float]]:
    """Seconds of every way, the ways taking turns; the first turn warms up and is not kept."""
    times: dict[str, list[float]] = {name: [] for name in ways}
    for turn in range(repeats + 1):
        for name, way in ways.items():
            begun = time.perf_counter()
            way()
            took = time.perf_counter() - begun
            if turn:
                times[name].append(took)
    return times


def spread(seconds: Sequence[float]) -> float:
    """Slowest over fastest."""
    return max(seconds) / min(seconds)


def median(seconds: Sequence[float]) -> float:
    """Median of some times."""
    return statistics.median(seconds)
