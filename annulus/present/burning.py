"""A burn as text: what a builder reads from it, and its history as a table for other programs.

Goes in: outcomes and columns. Comes out: text. No physics.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from annulus.cautions import Caution
from annulus.present.tables import LINE, beyond_range, caution_text, columns, invented_mark, megajoules, number, plain
from annulus.units import WATER_DENSITY

Outcome = Mapping[str, Any]

HEAT = (  # of the ledger, in the order in which the heat leaves the fire
    ("given off before the flue", "lost_before_flue_J"),
    ("up the chimney", "up_chimney_J"),
    ("from bare flue", "from_bare_flue_J"),
    ("through the outside", "through_outside_J"),
    ("through the ends", "through_ends_J"),
    ("lost by the tank", "from_tank_J"),
)
PARTS = {
    "tank_water": "the tank's water",
    "drum": "its drum",
    "coil_water": "the coil's water",
    "flue": "flue wall",
    "filler": "filler",
    "void": "voids",
    "tube": "tubes",
    "shroud": "shroud",
    "insulation": "insulation",
    "jacket": "jacket",
}
TEMPERATURES = (
    ("flue wall inside, coldest after a quarter of an hour", "wall_min_C"),
    ("flue wall inside, hottest", "wall_max_C"),
    ("gas above the coil, mean", "gas_above_coil_C"),
    ("tube, hottest", "tube_max_C"),
    ("filler, hottest", "filler_max_C"),
    ("outside, hottest", "outside_max_C"),
    ("bare flue, hottest", "bare_flue_max_C"),
    ("water in the coil, hottest", "coil_water_max_C"),
)


def minutes(seconds: float | None, error: float | None = None) -> str:
    """A time in minutes, and in hours and minutes where it is long."""
    if seconds is None:
        return "-"
    short = number(seconds / 60, "min", 1, None if error is None else error / 60)
    whole = round(seconds / 60)
    return short if whole < 120 else f"{short} ({whole // 60} h {whole % 60:02d} min)"


def _interval(outcome: Outcome) -> list[tuple[str, str]]:
    """What the logs of a calibration tell and leave open, if there is one."""
    if outcome.get("time_to_target_low_s") is None:
        return []
    middle, low, high = (minutes(outcome[f"time_to_target_{end}_s"]) for end in ("by_logs", "low", "high"))
    return [("  by the logs, their gas flow included", middle), ("  90 % interval of that", f"{low} to {high}")]


def burn_table(outcome: Outcome, cautions: Sequence[Caution]) -> str:
    """Everything a builder reads from one burn."""
    mark = invented_mark(outcome["invented"])
    temperatures = [
        (label, number(outcome[key], "degC", 0)) for label, key in TEMPERATURES if outcome.get(key) is not None
    ]
    parts = [f"{outcome['title']}{mark}\n{columns(burn_rows(outcome))}"]
    if "upset" in outcome:
        parts.append(_upset(outcome))
    parts += [
        "Where the heat of the wood went\n" + columns(ledger_rows(outcome)),
        "Temperatures during the burn\n" + columns(temperatures),
    ]
    if "filler_delay_s" in outcome:
        parts.append(_filler(outcome))
    closing = (
        f"Energy closes to {outcome['ledger_error']:.0e} of the wood's heat, every step to "
        f"{outcome['worst_step_imbalance']:.0e} of the heat that moved; {outcome['steps']} steps, "
        f"{outcome['unknowns']} unknowns. After ±: the error of grid and steps, not of the laws; a gas-side law is "
        "good to some 40 %. Bare flue and gas store no heat here."
    )
    return "\n\n".join([*parts, textwrap.fill(closing, LINE), *beyond_range(outcome), caution_text(cautions)])


def burn_rows(outcome: Outcome) -> list[tuple[str, str]]:
    """What a builder reads first of a burn, as (label, value with unit and error)."""
    rows = [("ended", outcome["ended"] + (f", turn {n} from below" if (n := outcome["boiling_turn"]) else ""))]
    if outcome["time_to_boiling_s"] is not None:
        rows += [("time to boiling", minutes(outcome["time_to_boiling_s"], outcome.get("time_to_boiling_error_s")))]
    rows += [
        ("time to the target", minutes(outcome["time_to_target_s"], outcome.get("time_to_target_error_s"))),
        *_interval(outcome),
        ("length of the burn", minutes(outcome["duration_s"])),
        (
            "mean heat to the water",
            number(outcome["mean_heat_to_water_W"], "W", 0, outcome.get("mean_heat_to_water_error_W")),
        ),
        ("mean useful heat, in the tank's water", number(outcome["mean_useful_heat_W"], "W", 0)),
        ("wood", number(outcome["wood_kg"], "kg", 1)),
        ("efficiency, on the lower heating value", number(outcome["efficiency"], "%", 1)),
        ("water's share of the gas heat", number(outcome["capture"], "%", 1)),
        *_circulation_rows(outcome),
    ]
    if outcome["tank_top_C"] - outcome["tank_bottom_C"] > 0.05:
        rows += [("tank, bottom", number(outcome["tank_bottom_C"], "degC", 1))]
        rows += [("tank, top", number(outcome["tank_top_C"], "degC", 1))]
    else:
        rows += [("tank", number(outcome["tank_C"], "degC", 1))]
    return rows


def _circulation_rows(outcome: Outcome) -> list[tuple[str, str]]:
    """How the water moved."""
    per_litre = float(WATER_DENSITY) / 1000 / 60  # [kg/s] in one L/min
    mean, least, most = (outcome[f"water_flow_{name}kg_s"] / per_litre for name in ("", "least_", "most_"))
    pumped = outcome["circulation"] == "pumped"
    rows = [
        (f"circulation, {'by the pump' if pumped else 'by itself'}", f"{mean:.2f} L/min ({least:.2f} to {most:.2f})")
    ]
    if outcome["water_rise_K"] is not None:
        rows += [("rise of the water over the coil, mean", f"{outcome['water_rise_K']:.1f} K")]
    if outcome["water_stood_s"]:
        rows += [("the water stood for", minutes(outcome["water_stood_s"]))]
    if outcome["water_ran_backwards_s"]:
        rows += [("the water ran backwards for", minutes(outcome["water_ran_backwards_s"]))]
    return rows


def ledger_rows(outcome: Outcome) -> list[tuple[str, str, str]]:
    """Where the heat of the wood went, as (label, heat, share)."""
    wood = outcome["wood_J"]
    rows = [("wood burnt", megajoules(wood), "100.0 %")]
    rows += [(f"  {label}", megajoules(outcome[key]), _share(outcome[key], wood)) for label, key in HEAT]
    stored = outcome["stored_J"]
    for part in (*PARTS, *(name for name in stored if name not in PARTS)):
        if part in stored and round(abs(stored[part])) > 0:
            rows.append((f"  stored in {PARTS.get(part, part)}", megajoules(stored[part]), _share(stored[part], wood)))
    return rows


def _share(part: float, whole: float) -> str:
    return f"{plain(100 * part / whole, 1)} %"


def _upset(outcome: Outcome) -> str:
    """What went wrong, and how long it takes to boil."""
    rows = [(f"at {event['time_s'] / 60:.1f} min", event["words"]) for event in outcome["upset"]]
    text = "What goes wrong\n" + columns(rows)
    after = outcome["turn_boils_after_s"]
    if not after:
        return text + "\n" + textwrap.fill("No water boils in the coil while it is watched.", LINE)
    first = min(n for n, time in enumerate(after) if time == min(t for t in after if t is not None))
    chosen = sorted({0, first, len(after) // 2, len(after) - 1}, reverse=True)
    turns = [(f"turn {n + 1}", minutes(after[n]), "the first" if n == first else "") for n in chosen]
    note = (
        "Only the first is computed to its end: the run stops there. The others go on straight from then at the rate "
        "at which each warms."
    )
    return f"{text}\n\nFrom then to boiling, top to bottom\n{columns(turns)}\n{textwrap.fill(note, LINE)}"


def _filler(outcome: Outcome) -> str:
    """Did the filler steal heat?"""
    held = outcome["stored_J"].get("filler", 0.0)
    late = outcome["filler_delay_s"]
    words = f"Did the filler steal heat? At the end it holds {megajoules(held)}"
    if late is not None:
        words += f"; without a heat capacity of its own the target comes {plain(late / 60, 1)} min sooner"
    return textwrap.fill(words + ".", LINE)


def history_csv(history: Mapping[str, Sequence[float]]) -> str:
    """Columns as comma-separated text, names with units in the first line."""
    names = list(history)
    lines = [",".join(names)]
    lines += [",".join(f"{value:.10g}" for value in row) for row in zip(*history.values(), strict=True)]
    return "\n".join(lines) + "\n"
