"""The fair comparison as text and picture.

Goes in: comparisons. Comes out: text, a figure.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from matplotlib.figure import Figure

from annulus.logs.fair import Comparison, Gain
from annulus.present.log_figures import PENS, dress
from annulus.present.style import BODY, GREY, HEADING, INK, SMALL, THIN, TITLE, applied
from annulus.present.tables import LINE, columns

FULL = 9.0  # width [in]


def fair_text(comparisons: Sequence[Comparison], by_model: bool) -> str:
    """Gains against the first heater, with 90 % intervals, and what they mean."""
    rows: list[tuple[str, ...]] = [
        ("", "heat rate as logged", "by faster burning", "heat from a kg of wood", "rate at equal fire and water")
    ]
    for one in comparisons:
        burning = "-" if one.burning is None else f"x {one.burning:.2f}"
        rows.append((one.name, _gain(one.rate), burning, _gain(one.per_wood), _gain(one.equal_conditions)))
    law = "the case's own model" if by_model else "the trade's rule (gas excess times flow to the power 0.75)"
    unknown = ""
    if any(one.equal_conditions is None for one in comparisons):
        unknown = " A dash: a log lacks gas or wood, or its probe below the coil was at its end."
    parts = [
        f"Against {comparisons[0].base}, 90 % intervals\n{columns(rows)}",
        "\n".join(textwrap.fill(verdict(one), LINE, subsequent_indent="  ") for one in comparisons),
        textwrap.fill(
            f"Equal fire and water: gas temperature, gas flow and water temperature, by {law}.{unknown}", LINE
        ),
    ]
    return "\n\n".join(parts)


def verdict(one: Comparison) -> str:
    """What a comparison says, in a sentence or two."""
    if not one.rate.stands_out:
        return f"{one.name}: the heat rate does not differ from that of {one.base} by more than the errors of the logs."
    way = "more" if one.rate.ratio > 1 else "less"
    words = f"{one.name}: {abs(one.rate.ratio - 1):.0%} {way} heat an hour than {one.base}."
    if one.share_of_fire is not None and one.burning is not None and one.per_wood is not None:
        change = f"{abs(one.per_wood.ratio - 1):.0%} {'more' if one.per_wood.ratio > 1 else 'less'} from a kilogram"
        certain = "stands out from" if one.per_wood.stands_out else "does not stand out from"
        burning = f"burning wood {abs(one.burning - 1):.0%} {'faster' if one.burning > 1 else 'slower'}"
        most = f"Most of it ({one.share_of_fire:.0%})" if one.share_of_fire <= 1 else "All of it and more"
        words += {
            "fire": f" {most} came from {burning}, "
            f"which is no {'gain' if way == 'more' else 'loss'} per kilogram; {change} {certain} the scatter of fires.",
            "both": f" {most} came from {burning}; {change} {certain} the scatter of fires.",
            "heater": f" Most of it is the heater's: {change}, which {certain} the scatter of fires.",
            "no gain": "",
        }[one.cause]
    if one.equal_conditions is not None:
        certain = "stands out" if one.equal_conditions.stands_out else "does not stand out"
        words += f" At equal fire and water: {_gain(one.equal_conditions)}, which {certain}."
    return words


def _gain(gain: Gain | None) -> str:
    return "-" if gain is None else f"x {gain.ratio:.2f} ({gain.low:.2f} to {gain.high:.2f})"


def draw_fair(comparisons: Sequence[Comparison]) -> Figure:
    """Gains with their intervals, three panels on one scale of ratios."""
    with applied():
        figure = Figure(figsize=(FULL, 1.5 + 0.42 * len(comparisons)), layout="constrained")
        figure.suptitle(
            f"Gain against {comparisons[0].base}, 90 % intervals", fontsize=TITLE, fontweight="bold", x=0.01, ha="left"
        )
        panels: tuple[tuple[str, list[Gain | None]], ...] = (
            ("heat an hour, as logged", [one.rate for one in comparisons]),
            ("heat from a kg of wood", [one.per_wood for one in comparisons]),
            ("at equal fire and water", [one.equal_conditions for one in comparisons]),
        )
        axes = figure.subplots(1, 3, sharex=True, sharey=True)
        for axis, (heading, gains) in zip(axes, panels, strict=True):
            dress(axis)
            axis.axvline(1.0, color=INK, linewidth=THIN)
            for n, gain in enumerate(gains):
                if gain is None:
                    axis.text(1.02, n, "not known", fontsize=SMALL, color=GREY, va="center", backgroundcolor="white")
                    continue
                bars = [[gain.ratio - gain.low], [gain.high - gain.ratio]]
                filled = PENS[1][0] if gain.stands_out else "white"
                axis.errorbar(gain.ratio, n, xerr=bars, marker="o", color=PENS[1][0], markerfacecolor=filled, capsize=3)
            axis.set_title(heading, fontsize=HEADING, loc="left")
            axis.tick_params(labelsize=BODY)
        axes[0].set_yticks(range(len(comparisons)), [one.name for one in comparisons])
        axes[0].set_ylim(len(comparisons) - 0.5, -0.5)
        axes[1].set_xlabel("ratio; an open mark does not stand out from the scatter of fires", fontsize=SMALL)
        return figure
