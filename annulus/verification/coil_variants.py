"""V30B: the coil section with poor contact, narrow gaps, voids and touching tubes.

The references in coil_section_references.toml are made by
benchmarks/reference_coil_section.py, finite elements that share no code with
annulus. The limits are those of the plain section.
Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.steady import Field
from annulus.verification.coil_section import (
    COARSE,
    FINE,
    MM,
    QUANTITIES,
    TURN,
    CoilSection,
    Reference,
    heat_of_turns,
    measure,
    named,
    quantity_row,
    share_row,
)
from annulus.verification.rows import Case, Row, worst, zero

Floats = NDArray[np.float64]

PLAIN = "plain"
TEMPERATURES = tuple(name for name, (_, unit, _) in QUANTITIES.items() if unit == "degC")
CHANGE = 0.04  # allowed of what a void changes; worst: 2.6 % of the 0.025 W by which one in the shadow moves 110 W
MIRRORED = 1e-6  # allowed between turns that mirror each other: round-off of faces, the solver's residual


@dataclass(frozen=True)
class Variant:
    """A section, what it is in words, its reference and the heat of its turns [W].

    `mesh_error` is the largest relative change of any value from a coarser mesh.
    """

    what: str
    section: CoilSection
    reference: Reference
    turns: Floats
    mesh_error: float


@cache
def variants() -> dict[str, Variant]:
    """Every variant of the file by its name, the plain sections among them."""
    text = (files("annulus.verification") / "coil_section_references.toml").read_text(encoding="utf-8")
    return {name: _read(entry) for name, entry in tomllib.loads(text).items()}


def _read(entry: dict) -> Variant:
    void = tuple(side * MM for side in entry["void"]) if "void" in entry else None
    section = CoilSection(entry["filler"], entry["pitch"] * MM, entry["centre"] * MM, entry["contact"], void)
    reference = Reference(**{field.name: entry[field.name] for field in fields(Reference)})
    return Variant(entry["what"], section, reference, np.array(entry["turns"]), entry["mesh_error"])


def is_plain(name: str) -> bool:
    """Whether a variant is the plain section, which has its own case."""
    return name.startswith(PLAIN)


def largest_error(measured: Reference, expected: Reference) -> float:
    """Of the five temperatures, each counted from the water's."""
    return worst(quantity_row(name, expected, measured, measured).error for name in TEMPERATURES)


def variant_rows(variant: Variant, solved: dict[int, Field]) -> list[Row]:
    """Rows of one variant, by its fields on the fine and the coarse cells."""
    fine, coarse = (measure(solved[fineness]) for fineness in (FINE, COARSE))
    rows = [quantity_row(name, variant.reference, fine, coarse) for name in QUANTITIES if name not in TEMPERATURES]
    of_T = [largest_error(found, variant.reference) for found in (fine, coarse)]
    of_turn = [worst(np.abs(heat_of_turns(solved[n]) / variant.turns - 1)) for n in (FINE, COARSE)]
    rows.append(share_row("worst of five temperatures", of_T, QUANTITIES[TEMPERATURES[0]][2]))
    rows.append(share_row("worst of eight tubes", of_turn, TURN))
    return rows


def void_rows(variant: Variant, solved: dict[int, Field], plain: dict[int, Field]) -> list[Row]:
    """A void moves some heat flows by less than their limits; so what it changes is held to the reference, too."""
    without = variants()[PLAIN]
    of_turns, of_outside = [], []
    for fineness in (FINE, COARSE):
        change = heat_of_turns(solved[fineness]) - heat_of_turns(plain[fineness])
        expected = variant.turns - without.turns
        of_turns.append(float(np.abs(change - expected).max() / np.abs(expected).max()))
        moved = measure(solved[fineness]).outside - measure(plain[fineness]).outside
        of_outside.append(abs(moved / (variant.reference.outside - without.reference.outside) - 1))
    return [
        share_row("change of the tubes' heat", of_turns, CHANGE),
        share_row("change of the outside's heat", of_outside, CHANGE),
    ]


def rows_of_all() -> list[Row]:
    rows, lost, apart = [], [], []
    plain = {n: variants()[PLAIN].section.solve(n) for n in (FINE, COARSE)}
    for name, variant in variants().items():
        if is_plain(name):
            continue
        solved = {n: variant.section.solve(n) for n in (FINE, COARSE)}
        mine = variant_rows(variant, solved)
        if variant.section.void is not None:
            mine += void_rows(variant, solved, plain)
        rows += [named(row, name.replace("_", " ")) for row in mine]
        for field in solved.values():
            turns = heat_of_turns(field)
            lost.append(abs(field.imbalance) / field.heat_into("r_min"))
            apart.append(worst(np.abs(turns / turns[::-1] - 1)))
    return [
        *rows,
        zero("heat lost, of the heat", worst(lost), 1e-9),
        zero("turns that mirror each other, apart by", worst(apart), MIRRORED),
    ]


CASES = (
    Case(
        "V30B",
        "The same with poor contact, narrow gaps, voids and touching tubes",
        "what goes wrong when a coil is wound and packed: contact 1e-3 m2K/W, gaps of 0.05 mm, tubes on the flue, air "
        "between two turns on the flue's side (inner) or the shroud's (outer), over 4.3 mm or centre to centre (deep)",
        "finite elements, benchmarks/reference_coil_section.py, two meshes agree to 3e-6",
        rows_of_all,
    ),
)
