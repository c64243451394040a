"""Parts of the report as HTML: tables, cautions, inputs with their sources.

Goes in: cases, sections, outcomes, cautions. Comes out: fragments of HTML, every
text escaped.
"""

from __future__ import annotations

import base64
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from itertools import pairwise
from typing import Any

from annulus.case import Case, dump
from annulus.cautions import ALWAYS, DEFER, Caution
from annulus.conduction.stripes import Stripes
from annulus.heater.precision import error_key
from annulus.materials import MARKS, Material
from annulus.present.bands import legend_rows, say_radiant
from annulus.present.burning import burn_rows, ledger_rows
from annulus.present.sheet import HARD_SPACE, WITH_NUMBER
from annulus.present.style import RADIATION
from annulus.present.tables import GROUPS, bill_rows, entry, number
from annulus.present.words import watts
from annulus.section import Section

Outcome = Mapping[str, Any]
Cell = str | tuple[str, float]  # words, and the number that they sort by

LEAD = (
    ("to the water", "heat_to_water_W", "W", 0),
    ("of the gas heat", "capture", "%", 1),
    ("coldest flue wall", "wall_min_C", "°C", 0),
    ("hottest filler", "filler_max_C", "°C", 0),
    ("hottest outside", "outside_max_C", "°C", 0),
)
LONG_NUMBER = re.compile(r"-?\d+\.\d{5,}(?:e[-+]?\d+)?")  # as a conversion of units leaves it
SHOWN_AT = (323.15, 473.15)  # temperatures at which conductivities are listed [K]


def table(heads: Sequence[str], rows: Iterable[Sequence[Cell]], caption: str, numeric: Sequence[int] = ()) -> str:
    """A table that sorts; a cell is text, or (text, the number that it sorts by). Columns in `numeric` stand right."""
    right = dict.fromkeys(numeric, ' class="n"')
    head = "".join(f'<th scope="col"{right.get(n, "")}>{escape(words)}</th>' for n, words in enumerate(heads))
    lines = []
    for row in rows:
        cells = []
        for n, cell in enumerate(row):
            words, value = cell if isinstance(cell, tuple) else (cell, None)
            sort = "" if value is None else f' data-value="{value!r}"'
            cells.append(f"<td{right.get(n, '')}{sort}>{escape(words)}</td>")
        lines.append(f"<tr>{''.join(cells)}</tr>")
    return (
        f'<div class="scroll"><table class="sortable"><caption>{escape(caption)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(lines)}</tbody></table></div>"
    )


def lead(outcome: Outcome) -> str:
    """The few numbers that are read first."""
    items = [
        f"<li><b>{escape(_plain_degrees(entry(outcome, key, unit, digits)))}</b> {escape(words)}</li>"
        for words, key, unit, digits in LEAD
        if outcome.get(key) is not None
    ]
    return f'<ul class="lead">{"".join(items)}</ul>'


def bill(case: Case, section: Section) -> str:
    """What to buy."""
    return table(("what", "how much"), bill_rows(case, section), "What to buy and what it weighs", (1,))


def results(outcome: Outcome) -> str:
    """All groups of results, each number with its error."""
    made = []
    for heading, lines in GROUPS:
        rows = [
            (label.strip(), *_with_error(outcome, key, unit, digits))
            for label, key, unit, digits in lines
            if outcome.get(key) is not None
        ]
        if rows:
            made.append(table(("what", "value", "± grid"), rows, heading, (1, 2)))
    return f'<div class="columns">{"".join(made)}</div>'


def burn(outcome: Outcome) -> str:
    """What a builder reads of a burn, and its ledger."""
    rows = [(label, _plain_degrees(words)) for label, words in burn_rows(outcome)]
    ledger = [(label.strip(), heat, share) for label, heat, share in ledger_rows(outcome)]
    return (
        '<div class="columns">'
        + table(("what", "value"), rows, "The burn, from cold", (1,))
        + table(("where", "heat", "share"), ledger, "Heat of the wood", (1, 2))
        + "</div>"
    )


def turns(outcome: Outcome) -> str:
    """One line per turn, bottom first."""
    if not outcome["heat_to_turn_W"]:
        return ""
    errors = outcome.get("heat_to_turn_error_W") or [None] * len(outcome["heat_to_turn_W"])
    columns = zip(
        outcome["heat_to_turn_W"],
        errors,
        outcome["gas_C"],
        outcome["wall_coldest_C"],
        outcome["water_after_turn_C"],
        strict=True,
    )
    rows = [
        (
            (f"{n}", float(n)),
            (number(heat, "W", 1, error), heat),
            *((f"{value:.1f} °C", value) for value in (gas, wall, wet)),
        )
        for n, (heat, error, gas, wall, wet) in enumerate(columns, start=1)
    ]
    heads = ("turn", "heat to its water", "gas above it", "coldest wall beside it", "water after it")
    return table(heads, rows, "Every turn, counted from the bottom", range(5))


def cautions(found: Sequence[Caution]) -> str:
    """Findings with number, limit and remedy, then what always holds. There is no way to leave them out."""
    made = [
        f'<div class="caution {escape(one.level)}"><b>{escape(one.level)}</b> {_flowing(one.words)}.'
        f"<br>Do: {_flowing(one.remedy)}.{_computed(one)}"
        f'{"" if one.computed else "<br>"}<span class="small">Limit from: {_flowing(one.source)}. '
        f"{escape(one.decides)}.</span></div>"
        for one in found
    ]
    made += [f'<div class="caution always"><b>always</b> {escape(words)}</div>' for words in ALWAYS]
    return "".join(made) + f"<p><strong>{escape(DEFER)}</strong></p>"


def _computed(one: Caution) -> str:
    """Remedies of a caution with their computed effect, as a list."""
    if not one.computed:
        return ""
    head, *rest = (_flowing(words) for words in one.computed)
    return f" {head[:1].upper()}{head[1:]}<ul>{''.join(f'<li>{words}</li>' for words in rest)}</ul>"


def inputs(case: Case, given: Mapping[str, Any]) -> str:
    """Every key of the case with its value, and whether the case file gave it or a default or a rule did.

    `given` is the tree of the case file as it was written.
    """
    made = []
    for name, part in tomllib.loads(dump(case)).items():
        if not isinstance(part, dict):
            continue
        source = given.get(name)
        stated = source if isinstance(source, dict) else {}
        rows = [
            (key, _show(value), _origin(stated[key], value) if key in stated else "default or derived")
            for key, value in part.items()
        ]
        if rows:
            made.append(table(("key", "value", "from"), rows, f"[{name}]"))
    return f'<div class="columns">{"".join(made)}</div>'


def materials(section: Section) -> str:
    """Materials of the section with conductivity, limit, mark and source."""
    used: dict[str, Material] = {}
    for region in section.regions:
        if region.material is not None:
            used.setdefault(region.material.label, region.material)
    rows = []
    for label, material in used.items():
        cold, hot = (float(material.conductivity(T)) for T in SHOWN_AT)
        rows.append((label, (f"{cold:.3g}", cold), (f"{hot:.3g}", hot), material.mark, material.source))
    heads = ("material", "k at 50 °C, W/(m K)", "k at 200 °C, W/(m K)", "mark", "source")
    marks = "; ".join(f"{mark}: {words}" for mark, words in MARKS.items() if any(row[3] == mark for row in rows))
    return table(heads, rows, f"Materials. Marks: {marks}", (1, 2))


def stripe_key(section: Section, stripes: Stripes) -> str:
    """What the colours of the stripes mean, with watts."""
    made = ["<p><b>Heat ends in</b></p>"]
    for row in legend_rows(section, stripes):
        kind = "swatch hatched" if row.colours.hatch else "swatch"
        boxes = "".join(
            f'<span class="{kind}" style="background-color:{face}"></span>'
            for face in (row.colours.dark, row.colours.light)
        )
        made.append(f"<p>{boxes} {escape(row.words)}: {escape(watts(row.heat))}</p>")
    made.append(
        f"<p>Each full stripe carries {escape(watts(stripes.watts))} from the flue wall to where it ends; "
        "a pale one carries the rest, less than a full one.</p>"
    )
    if stripes.sight is not None:
        made.append(
            f'<p><span class="dashes" style="border-color:{RADIATION}"></span> radiation across air: '
            f"{escape(say_radiant(stripes.sight, stripes.watts))}</p>"
        )
    return "".join(made)


def gap_key(bounds: Sequence[float], colours: Sequence[str]) -> str:
    """What the classes of the gap map mean."""
    milli = [f"{1e3 * bound:g}" for bound in bounds]
    words = ["helps", f"up to {milli[0]}", *(f"{a} to {b}" for a, b in pairwise(milli)), f"more than {milli[-1]}"]
    rows = [
        f'<p><span class="swatch" style="background-color:{colour}"></span> {escape(text)}</p>'
        for colour, text in zip(colours, words, strict=True)
    ]
    return (
        "<p><b>What a void of 1 mm² costs the water, mW</b></p>"
        + "".join(reversed(rows))
        + "<p>All the way round the flue, in a packing that fills all else. Still air is left white.</p>"
    )


def image(data: bytes, kind: str, words: str, caption: str, where: str = "") -> str:
    """A picture inside the page, with its text alternative."""
    source = base64.b64encode(data).decode("ascii")
    return (
        f'<figure class="{where}"><img src="data:image/{kind};base64,{source}" alt="{escape(words, quote=True)}">'
        f"<figcaption>{escape(caption)}</figcaption></figure>"
    )


def _with_error(
    outcome: Outcome, key: str, unit: str, digits: int
) -> tuple[tuple[str, float], str | tuple[str, float]]:
    """A result and its error as two cells; the error sets the digits of both."""
    value, error = float(outcome[key]), outcome.get(error_key(key))
    words = _plain_degrees(number(value, unit, digits, error))
    if error is None:
        return (words, value), ""
    whole, rest = words.split(" ± ")
    return (f"{whole} {rest.partition(' ')[2]}", value), (rest, float(error))


def _flowing(words: str) -> str:
    """Running text whose numbers keep their units on their line."""
    return escape(WITH_NUMBER.sub(HARD_SPACE, _plain_degrees(words)))


def _plain_degrees(words: str) -> str:
    return words.replace("degC", "°C").replace("degF", "°F")


def _origin(written: Any, value: Any) -> str:
    """That the case file gave a value, and in which words where these are others."""
    return f"case file: {written}" if isinstance(written, str) and _show(written) != _show(value) else "case file"


def _show(value: Any) -> str:
    if isinstance(value, str):
        return LONG_NUMBER.sub(lambda found: f"{float(found.group()):.6g}", value)
    if isinstance(value, list):
        return ", ".join(map(_show, value))
    if isinstance(value, dict):
        return "; ".join(f"{key} {_show(item)}" for key, item in value.items())
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
