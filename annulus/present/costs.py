"""The table of what each imperfection costs.

Goes in: costs as `annulus.studies.gaps` gives them, and the outcome they
belong to. Comes out: text. No physics.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping
from typing import Any

from annulus.present.tables import LINE, columns, number, plain

NOTHING = "The case states no void, film, gap or contact: nothing keeps heat from the water that could be mended."
NOTE = (
    "Each line: what the water would gain without it, the others kept; they need not add up to all of them. "
    "A cost no larger than its error is not told from nothing."
)


def cost_table(costs: Mapping[str, Any], outcome: Mapping[str, Any]) -> str:
    """Cost of every imperfection in heat to the water, the dearest first, then of all together."""
    listed = costs["imperfections"]
    if not listed:
        return f"What the gaps cost\n{NOTHING}"
    heat = outcome["heat_to_water_W"]
    entries = [(row["name"], row["cost_W"], row["cost_error_W"]) for row in listed]
    entries.append(("all together", costs["together_W"], costs["together_error_W"]))
    rows = [
        (name, _watts(cost, error), number(cost / heat, "%", 1) if heat > 0 else "-") for name, cost, error in entries
    ]
    return f"What the gaps cost, heat to the water\n{columns(rows)}\n{textwrap.fill(NOTE, LINE)}"


def _watts(cost: float, error: float) -> str:
    """Tenths of a watt throughout, so that lines can be compared; the error rounded up."""
    return f"{plain(cost, 1)} ± {math.ceil(10 * error) / 10:.1f} W"
