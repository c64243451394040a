"""The best design as text and picture.

Goes in: a `Choice`. Comes out: text; a figure of the neighbourhood, a plot for
each range; a dictionary for other programs. No physics.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from matplotlib.figure import Figure

from annulus.heater.precision import error_key
from annulus.present.panels import Panels, bar_note, plain_ticks, say_result
from annulus.present.style import BAR, THIN, applied
from annulus.present.tables import LINE, columns, invented_mark, number, plain
from annulus.present.words import mark_invented
from annulus.studies.choose import FLAT, Choice, Neighbour
from annulus.studies.limits import KEPT, Limit, judge
from annulus.studies.searching import Wish
from annulus.studies.vary import Span, Variation

BEST = "#d55e00"
READ_FIRST = ("heat_to_water_W", "heat_to_room_W", "wall_min_C", "outside_max_C", "water_out_C", "tube_length_to_buy_m")


def choice_table(choice: Choice, lists: Sequence[Variation], wish: Wish, limits: Sequence[Limit]) -> str:
    """What a builder reads from a choice."""
    how = "most" if wish.most else "least"
    names = [*(span.name for span in choice.spans), *(variation.name for variation in lists)]
    rows = [(name, setting.name) for name, setting in zip(names, choice.settings, strict=True)]
    shown = dict.fromkeys([wish.name, *(limit.name for limit in limits), *READ_FIRST])
    rows += [(name, entry) for name in shown if (entry := _entry(choice.results, name))]
    parts = [f"{choice.case.title}{invented_mark(choice.case.invented)}: {how} {wish.name}\n{columns(rows)}"]
    if choice.binding:
        parts.append("What holds it back: " + "; ".join(choice.binding))
    else:
        parts.append("Nothing holds it back: the top lies inside the ranges and the limits.")
    within = [
        f"{span.name} from {low:g} to {high:g} {span.unit}".strip()
        for span, (low, high) in zip(choice.spans, choice.flat, strict=True)
    ]
    flat = f"How flat the top is: one at a time, these give within {100 * FLAT:g} % of the best and keep the limits: "
    parts.append(textwrap.fill(flat + "; ".join(within) + " (of the values tried).", LINE))
    parts.append(f"Found in {choice.rough} designs on the coarse grid and {choice.full} with error bars.")
    return "\n\n".join(parts)


def _entry(results: dict[str, Any], name: str) -> str:
    value, error = results.get(name), results.get(error_key(name))
    if value is None:
        return ""
    return number(value, "", 0, error).strip() if error else plain(value, 2)


def choice_dictionary(
    choice: Choice, lists: Sequence[Variation], wish: Wish, limits: Sequence[Limit]
) -> dict[str, Any]:
    """The same for other programs."""
    names = [*(span.name for span in choice.spans), *(variation.name for variation in lists)]
    return {
        "wish": {"name": wish.name, "most": wish.most},
        "limits": [limit.words for limit in limits],
        "settings": {name: setting.name for name, setting in zip(names, choice.settings, strict=True)},
        "results": choice.results,
        "binding": list(choice.binding),
        "flat": {span.name: list(ends) for span, ends in zip(choice.spans, choice.flat, strict=True)},
        "neighbours": [
            {"key": choice.spans[n.span].name, "value": n.at, "unit": choice.spans[n.span].unit, "results": n.results}
            for n in choice.neighbours
        ],
        "designs_on_coarse_grid": choice.rough,
        "designs_with_errors": choice.full,
    }


def draw_choice(choice: Choice, wish: Wish, limits: Sequence[Limit]) -> Figure:
    """The wished result along each range, the others held at the best."""
    at = ", ".join(setting.name for setting in choice.settings)
    foot = [
        f"Ring: the best design ({at}). Filled marks keep every limit with their whole error bar, hollow ones do not."
        if limits
        else f"Ring: the best design ({at}).",
        bar_note([wish.name]),
    ]
    with applied():
        about = f"{say_result(wish.name)} around the best design, one range at a time"
        page = Panels(
            choice.case.title,
            mark_invented(about, choice.case.invented),
            foot,
            [_words(span) for span in choice.spans],
            0.15,
        )
        for n, span in enumerate(choice.spans):
            own = [one for one in choice.neighbours if one.span == n and _value(one, wish) is not None]
            axes = page.open(n, _words(span), say_result(wish.name))
            if span.by_ratio:
                axes.set_xscale("log")
            x = [one.at for one in own]
            y = [_value(one, wish) or 0.0 for one in own]
            error = [float((one.results or {}).get(error_key(wish.name)) or 0.0) for one in own]
            axes.errorbar(x, y, error, color=BAR, linewidth=THIN, elinewidth=THIN, capsize=2)
            for one, value in zip(own, y, strict=True):
                face = BAR if judge(limits, one.results or {}) == KEPT else "white"
                axes.plot([one.at], [value], "o", markersize=3.5, color=BAR, markerfacecolor=face, markeredgewidth=THIN)
            best = float(choice.settings[n].cells[0])
            axes.plot([best], [choice.results[wish.name]], "o", markersize=8, markerfacecolor="none", color=BEST)
            axes.margins(0.06, 0.12)
            plain_ticks(axes, span.by_ratio)
        return page.sheet.figure


def _words(span: Span) -> str:
    name = span.name.replace(".", " ").replace("_", " ")
    return f"{name} / {span.unit}" if span.unit else name


def _value(neighbour: Neighbour, wish: Wish) -> float | None:
    value = (neighbour.results or {}).get(wish.name)
    return None if value is None else float(value)
