"""Invented logs for tests: those that ship, with their truth, and small ones written here."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from annulus.logs.crunch import Facts
from annulus.logs.facts import facts_of_volume
from annulus.logs.findings import Finding
from annulus.logs.reading import Log, read_log

FOLDER = Path(__file__).parents[1] / "cases" / "burn-logs"
FITTED = Path(__file__).parents[1] / "cases" / "calibration-logs"
NAMES = tuple(sorted(path.stem for path in FOLDER.glob("*.csv")))

Place = tuple[str, str, int, int]


def truth_of(name: str) -> dict[str, Any]:
    """What is known of a shipped log."""
    return json.loads((FOLDER / f"{name}.truth.json").read_text(encoding="utf-8"))


@cache
def shipped(name: str) -> Log:
    return read_log(FOLDER / f"{name}.csv")


def facts_for(name: str, **changes: Any) -> Facts:
    """Facts as the truth has them."""
    truth = truth_of(name)
    facts = facts_of_volume(truth["water_volume_L"] / 1000)
    around = 273.15 + truth["surroundings_C"]
    return replace(facts, surroundings=around, tank_loss=truth["tank_loss_W_per_K"], **changes)


def places(findings: tuple[Finding, ...]) -> set[Place]:
    """Kind, column and lines of findings."""
    return {(found.kind, found.column, found.first_line, found.last_line) for found in findings}


def planted(name: str) -> set[Place]:
    """Kind, column and lines of the faults in a shipped log."""
    faults = truth_of(name)["faults"]
    return {(fault["kind"], fault["column"], fault["first_line"], fault["last_line"]) for fault in faults}


def write_log(folder: Path, *lines: str, name: str = "log.csv") -> Path:
    path = folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
