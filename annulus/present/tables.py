"""Tables for a terminal: aligned text, every number with its unit.

Goes in: outcomes, sections, materials. Comes out: text. No physics.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from annulus.case import Case
from annulus.cautions import ALWAYS, DEFER, Caution
from annulus.heater.precision import error_key
from annulus.materials import Material
from annulus.present.words import millimetres
from annulus.section import Section, wall_layer_resistance
from annulus.units.celsius import to_celsius

Outcome = Mapping[str, Any]

# (label, key, unit, digits) of the lines that a builder reads first
LEDGER = (
    ("heat to the water", "heat_to_water_W", "W", 0),
    ("heat to the room", "heat_to_room_W", "W", 0),
    ("  through the outside", "heat_through_outside_W", "W", 0),
    ("  through the ends", "heat_through_ends_W", "W", 0),
    ("  from bare flue", "heat_from_bare_flue_W", "W", 0),
    ("heat left in the gas", "heat_left_in_gas_W", "W", 0),
    ("water's share of the gas heat", "capture", "%", 1),
    ("water's share of the wood", "efficiency", "%", 1),
)
TEMPERATURES = (
    ("gas below the coil", "gas_below_coil_C", "degC", 0),
    ("gas above the coil", "gas_above_coil_C", "degC", 0),
    ("water in", "water_in_C", "degC", 1),
    ("water out", "water_out_C", "degC", 1),
    ("flue wall inside, coldest", "wall_min_C", "degC", 0),
    ("flue wall inside, hottest", "wall_max_C", "degC", 0),
    ("filler, hottest", "filler_max_C", "degC", 0),
    ("outside, hottest", "outside_max_C", "degC", 0),
    ("bare flue, hottest", "bare_flue_max_C", "degC", 0),
)
SHARES = (
    ("gas film and soot", "share_gas_film", "%", 1),
    ("flue wall to tube bore", "share_wall_to_bore", "%", 1),
    ("water film", "share_water_film", "%", 1),
)
ROOM_KEYS = ("heat_to_room_W", "heat_through_outside_W", "heat_through_ends_W", "heat_from_bare_flue_W")
GROUPS = (
    ("Where the heat goes", LEDGER),
    ("Temperatures", TEMPERATURES),
    ("What holds the heat back, gas to water", SHARES),
)
WATER_ONLY = ("heat_to_water_W", "capture")
LINE = 100  # characters to a line of running text
INDENT = 6 * " "  # of what a caution goes on to say
TURNS_IN_FULL = 12  # more turns than this are listed as bottom, middle and top, and the two that take most and least


def columns(rows: Sequence[Sequence[str]]) -> str:
    """Rows of text in aligned columns: the first to the left, the others to the right."""
    widths = [max(len(row[n]) for row in rows) for n in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [row[0].ljust(widths[0]), *(cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True))]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def number(value: float | None, unit: str, digits: int, error: float | None = None) -> str:
    """A number with its error and unit, or a dash where there is none; the error sets the digits."""
    if value is None:
        return "-"
    if unit == "%":
        value = 100 * value
    if error is not None:
        digits = min(max(-math.floor(math.log10(max(error, 1e-3))), 0), 2)
        return f"{plain(value, digits)} ± {math.ceil(error * 10**digits) / 10**digits:.{digits}f} {unit}"
    return f"{plain(value, digits)} {unit}"


def plain(value: float, digits: int) -> str:
    """A number with this many decimals, never minus zero."""
    text = f"{value:.{digits}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def megajoules(heat: float) -> str:
    """Heat [J] in MJ, with three or more digits."""
    digits = min(max(2 - math.floor(math.log10(max(abs(heat) / 1e6, 1e-3))), 0), 3)
    return f"{plain(heat / 1e6, digits)} MJ"


def entry(outcome: Outcome, key: str, unit: str, digits: int) -> str:
    """A result of an outcome as text, with its error if it has one."""
    return number(outcome.get(key), unit, digits, outcome.get(error_key(key)))


def steady_table(outcome: Outcome, cautions: Sequence[Caution]) -> str:
    """Everything a builder reads from one steady run."""
    parts = [_title(outcome)]
    for heading, lines in GROUPS:
        rows = [(label, entry(outcome, key, unit, digits)) for label, key, unit, digits in lines if _has(outcome, key)]
        if rows:
            parts.append(f"{heading}\n{columns(rows)}")
    if outcome["heat_to_turn_W"]:
        parts.append(_turns(outcome))
    closing = (
        f"Energy closes to {outcome['balance_error']:.0e} of the heat from the gas; "
        f"{outcome['pieces']} pieces, {outcome['rounds']} rounds. "
        "After ±: the error of the grid, not of the laws; a gas-side law is good to some 40 %."
    )
    if any(plain(outcome[key], 2).startswith("-") for key in ROOM_KEYS):
        closing += " A minus to the room: the room is warmer there and gives heat."
    parts.append(textwrap.fill(closing, LINE))
    parts += beyond_range(outcome)
    parts.append(caution_text(cautions))
    return "\n\n".join(parts)


def beyond_range(outcome: Outcome) -> list[str]:
    """Laws that were used beyond their range, as one part of a text; none if all hold."""
    if not outcome["beyond_published_range"]:
        return []
    beyond = [_wrapped("BEYOND", words) for words in outcome["beyond_published_range"]]
    return ["\n".join(["Laws used beyond the range they were published for", *beyond])]


def compare_table(
    named: Mapping[str, Outcome],
    differences: Sequence[tuple[str, Sequence[str]]],
    cautions: Mapping[str, Sequence[Caution]],
) -> str:
    """Several outcomes side by side: what differs between their cases, cautions, then the numbers.

    Parameters
    ----------
    named : mapping from a short name to an outcome
    differences : sequence of (key, values)
        Values as text, one per outcome.
    cautions : mapping from the same names
    """
    names = list(named)
    parts = []
    if differences:
        parts.append("What differs\n" + columns([("", *names), *((key, *values) for key, values in differences)]))
    elif len(names) > 1:
        parts.append("The cases do not differ but in name.")
    shared = [caution for caution in cautions[names[0]] if all(caution in found for found in cautions.values())]
    for name in names:
        own = [caution for caution in cautions[name] if caution not in shared]
        if own:
            parts.append("\n".join([f"Cautions for {name}", *findings(own)]))
    parts.append(caution_text(shared))
    for heading, lines in GROUPS:
        rows = [
            (label, *(entry(outcome, key, unit, digits) for outcome in named.values()))
            for label, key, unit, digits in lines
            if any(_has(outcome, key) for outcome in named.values())
        ]
        parts.append(f"{heading}\n" + columns([("", *names), *rows]))
    first = next(iter(named.values()))["heat_to_water_W"]
    if first > 0 and len(names) > 1:
        gains = [number(outcome["heat_to_water_W"] / first, "x", 2) for outcome in named.values()]
        parts.append(f"Heat to the water against {names[0]}\n" + columns([("", *names), ("", *gains)]))
    return "\n\n".join(parts)


def caution_text(cautions: Sequence[Caution]) -> str:
    """Findings, then what always holds, then whose word counts."""
    return "\n".join(["Cautions", *findings(cautions), *(_wrapped("ALWAYS", words) for words in ALWAYS), "  " + DEFER])


def findings(cautions: Sequence[Caution]) -> list[str]:
    """Each caution as text: what is found, what to do with what it does, whose limit it is, who decides."""
    lines = []
    for caution in cautions:
        where = f"Source: {caution.source}. {caution.decides}."
        found = f"{caution.words}. Do: {caution.remedy}."
        if not caution.computed:
            lines.append(_wrapped(caution.level.upper(), f"{found} {where}"))
            continue
        head, *rest = caution.computed
        lines.append(_wrapped(caution.level.upper(), f"{found} {head[:1].upper()}{head[1:]}"))
        lines += [
            textwrap.fill(f"- {words}", LINE, initial_indent=INDENT, subsequent_indent=INDENT + "  ") for words in rest
        ]
        lines.append(textwrap.fill(where, LINE, initial_indent=INDENT, subsequent_indent=INDENT))
    return lines


def _wrapped(head: str, words: str) -> str:
    return textwrap.fill(f"{head}: {words}", LINE, initial_indent="  ", subsequent_indent=INDENT)


def section_table(case: Case, section: Section) -> str:
    """Turns, tube to buy, filler, sheet and insulation of a section."""
    return f"{case.title}{invented_mark(case.invented)}\n\n{columns(bill_rows(case, section))}"


def bill_rows(case: Case, section: Section) -> list[tuple[str, str]]:
    """What to buy and what it weighs, as (label, amount with unit)."""
    bill = section.bill
    rows = [
        ("height of the coil section", f"{millimetres(section.height)} mm"),
        ("across the outside", f"{millimetres(2 * section.r_max)} mm"),
    ]
    if case.coil is not None:
        rows += [
            ("turns", f"{case.coil.turns}"),
            ("pitch", f"{millimetres(case.coil.pitch)} mm"),
            ("tube", f"{millimetres(case.coil.tube_outer_diameter)} mm x {millimetres(case.coil.tube_wall)} mm"),
            ("tube wound on the flue", f"{_amount(bill.tube_length_wound, 1)} m"),
            ("tube with both tails", f"{_amount(bill.tube_length_to_buy, 1)} m"),
            ("coil to buy", bill.stock_coil or "longer than stock coils"),
            ("mass of the tube", f"{_amount(bill.copper_mass, 1)} kg"),
            ("water in the wound tube", f"{_amount(1e3 * bill.water_volume_in_coil, 2)} L"),
        ]
    rows += [("mass of the flue wall", f"{_amount(bill.flue_mass, 1)} kg")]
    packed = case.filler.material != "still air"
    amounts = (
        ("filler volume", 1e3 * bill.filler_volume if packed else 0.0, "L"),
        ("filler mass", bill.filler_mass if packed else 0.0, "kg"),
        *(
            (f"{label}: {what}", amount, unit)
            for label, volume, mass in bill.inserts
            for what, amount, unit in (("volume", 1e3 * volume, "L"), ("mass", mass, "kg"))
        ),
        ("voids in the filler", 1e3 * bill.void_volume, "L"),
        ("shroud sheet", bill.shroud_area, "m2"),
        ("jacket sheet", bill.jacket_area, "m2"),
        ("insulation", bill.insulation_area, "m2"),
        ("insulation volume", 1e3 * bill.insulation_volume, "L"),
    )
    rows += [(label, f"{_amount(amount, 2)} {unit}") for label, amount, unit in amounts if amount > 0]
    computed = [pair for pair, resistance in case.contacts.items() if resistance is None]
    return rows + [(f"contact {pair}, computed", f"{wall_layer_resistance(case, pair):.2g} m2K/W") for pair in computed]


def _amount(value: float, digits: int) -> str:
    """An amount to buy with this many decimals, more where it would have fewer than two digits."""
    return plain(value, max(digits, 1 - math.floor(math.log10(max(value, 1e-6)))))


def materials_table(materials: Sequence[Material]) -> str:
    """Name, conductivity, density, emissivity, limit and mark of materials."""
    head = ("material", "k at 50 degC", "k at 200 degC", "density", "emissivity", "serves to", "mark")
    rows: list[tuple[str, ...]] = [head]
    for material in materials:
        limit = "-" if material.service_limit is None else f"{to_celsius(material.service_limit):.0f} degC"
        rows.append(
            (
                material.label,
                *(f"{float(material.conductivity(T)):.3g} W/mK" for T in (323.15, 473.15)),
                f"{material.density:.0f} kg/m3" if material.density >= 10 else f"{material.density:.2g} kg/m3",
                f"{material.emissivity:.2f}" if material.emissivity > 0 else "-",
                limit,
                material.mark,
            )
        )
    return columns(rows)


def material_text(material: Material) -> str:
    """One material in full, with its source."""
    lines = [materials_table([material]), f"source: {material.source} [{material.mark}]"]
    if material.note:
        lines.append(f"note: {material.note}")
    lines += [f"caution: {words}" for words in material.warnings]
    return "\n".join(lines)


def _turns(outcome: Outcome) -> str:
    watts, errors = outcome["heat_to_turn_W"], outcome.get("heat_to_turn_error_W")
    count = len(watts)
    chosen = list(range(count))
    if count > TURNS_IN_FULL:
        most, least = (pick(chosen, key=watts.__getitem__) for pick in (max, min))
        chosen = sorted({0, 1, 2, count // 2, count - 3, count - 2, count - 1, most, least})
    rows = [(f"turn {n + 1}", number(watts[n], "W", 1, errors[n] if errors else None)) for n in reversed(chosen)]
    return "Heat of each turn, top to bottom\n" + columns(rows)


def _title(outcome: Outcome) -> str:
    return f"{outcome['title']}{invented_mark(outcome['invented'])}"


def invented_mark(is_invented: bool) -> str:
    return "  [invented example]" if is_invented else ""


def _has(outcome: Outcome, key: str) -> bool:
    """True if there is such a result; without a coil the water has none, and bare flue that is not there loses none."""
    if key == "heat_from_bare_flue_W":
        return outcome.get("bare_flue_max_C") is not None
    return outcome.get(key) is not None and not (key in WATER_ONLY and not outcome["heat_to_turn_W"])
