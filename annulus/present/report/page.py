"""The report on one case as one HTML file that needs nothing else.

Goes in: a solved heater, its outcome, stripes, cautions, the tree of its case file.
Comes out: the text of the page: tables and pictures that print, and a section that is
read with a pointer or by keyboard.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape
from importlib import resources
from string import Template
from typing import Any

from annulus import __version__
from annulus.burn import BurnRun, history, instants
from annulus.cautions import LEVELS, Caution
from annulus.conduction.stripes import Stripes
from annulus.errors import InputError
from annulus.heater.steady import SteadyHeater
from annulus.present.burning import PARTS, minutes
from annulus.present.drawing import draw_section
from annulus.present.history import draw_history
from annulus.present.ledger import burn_flows, draw_ledger, steady_flows
from annulus.present.report import parts
from annulus.present.report.embed import (
    MOST_INSTANTS,
    embed_burn,
    embed_field,
    embed_gaps,
    embed_section,
    embed_stripes,
    join,
)
from annulus.present.report.words import job, method
from annulus.present.stripes import draw_stripes
from annulus.present.style import picture
from annulus.present.tables import megajoules
from annulus.present.temperature import draw_temperature
from annulus.studies.gap_map import GapMap

SCRIPTS = ("section.js", "viewer.js", "report.js")
PRINT_DPI = 130  # of the pictures for paper
SCREEN_DPI = 160  # of pictures of many words, which are larger as drawings
STEADY, BURN = "in the steady fire", "in the burn"  # before a caution that holds of one of them
MOST_STRIPES = 1500  # that a page carries


@dataclass(frozen=True)
class Burnt:
    """A burn with its outcome and cautions."""

    run: BurnRun
    outcome: Mapping[str, Any]
    cautions: Sequence[Caution]


@dataclass(frozen=True)
class Told:
    """All that a report tells.

    Attributes
    ----------
    heater : SteadyHeater
    outcome : mapping
        With errors.
    stripes : Stripes
    cautions : sequence of Caution
    gaps : GapMap or None
        Without a coil there is none.
    burnt : Burnt or None
        Where the case has a tank.
    given : mapping
        The tree of the case file as it was written.
    command : str
        That makes the same report again.
    """

    heater: SteadyHeater
    outcome: Mapping[str, Any]
    stripes: Stripes
    cautions: Sequence[Caution]
    gaps: GapMap | None
    burnt: Burnt | None
    given: Mapping[str, Any]
    command: str


def report_page(told: Told) -> str:
    """The report as HTML.

    Parameters
    ----------
    told : Told

    Returns
    -------
    str

    Raises
    ------
    InputError
        If the stripes are too many.
    """
    count = len(told.stripes.bands)
    if count > MOST_STRIPES:
        raise InputError(
            f"report: {count} stripes are more than the {MOST_STRIPES} that it takes; give each more watts"
        )
    case = told.heater.case
    return Template(shipped("report.html")).substitute(
        title=escape(case.title),
        style=shipped("report.css"),
        body=_body(told),
        data=as_data(_packed(told)),
        script="\n".join(map(shipped, SCRIPTS)),
    )


def shipped(name: str) -> str:
    """Text of a file beside this module."""
    return resources.files("annulus.present.report").joinpath(name).read_text(encoding="utf-8")


def as_data(content: Mapping[str, Any]) -> str:
    """JSON that may stand inside a page."""
    return json.dumps(content, allow_nan=False, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def _packed(told: Told) -> dict[str, Any]:
    """What the page's scripts read."""
    heater, section = told.heater, told.heater.model.section
    joined = join(heater.model)
    gaps = None if told.gaps is None else embed_gaps(told.gaps, joined)
    return {
        "section": embed_section(heater.model, joined),
        "field": embed_field(heater, joined),
        "stripes": embed_stripes(section, told.stripes),
        "gaps": gaps,
        "burn": None if told.burnt is None else embed_burn(told.burnt.run),
        "keys": {"stripes": parts.stripe_key(section, told.stripes)}
        | ({} if gaps is None else {"gaps": parts.gap_key(gaps["bounds"], gaps["colours"])}),
    }


def _viewer(told: Told) -> str:
    """The live section, with a choice for the gap map where there is one."""
    gaps = '<label><input type="radio" name="shown" value="gaps"> what gaps cost</label>'
    return Template(shipped("viewer.html")).substitute(
        choices="" if told.gaps is None else gaps,
        slider="" if told.burnt is None else _slider(told.burnt.run),
    )


def _slider(run: BurnRun) -> str:
    """The instants of a burn, after the steady fire at 0."""
    count = len(instants(run.march, MOST_INSTANTS))
    return (
        '<div class="slider"><label for="moment">through the burn</label>'
        f'<input type="range" id="moment" min="0" max="{count}" step="1" value="0">'
        '<output id="moment-words" for="moment">steady fire</output></div>'
    )


def _body(told: Told) -> str:
    heater, outcome, case = told.heater, told.outcome, told.heater.case
    section = heater.model.section
    drawing = picture(draw_section(section, case))
    source, heat, flows = steady_flows(outcome)
    ledger = picture(draw_ledger("", "", source, heat, flows))
    invented = '<p><span class="invented">invented example</span></p>' if case.invented else ""
    cautions = told.cautions if told.burnt is None else merge_cautions(told.cautions, told.burnt.cautions)
    beyond = [f"{STEADY}: {words}" for words in outcome["beyond_published_range"]]
    if told.burnt is not None:
        beyond += [f"{BURN}: {words}" for words in told.burnt.outcome["beyond_published_range"]]
    limits = "".join(f"<li>{escape(words.replace('degC', '°C'))}</li>" for words in beyond)
    how = "".join(
        f"<p>{escape(words)}</p>" for words in method(outcome, heater.model.pieces.grid.shape, heater.field.solver)
    )
    return "\n".join(
        [
            f"<h1>{escape(case.title)}</h1>",
            invented,
            f"<p>{escape(case.description)}</p>" if case.description else "",
            f"<p>{escape(job(case, section, outcome))}</p>",
            parts.lead(outcome),
            "<h2>Cautions</h2>",
            parts.cautions(cautions),
            "<h2>The section</h2>",
            parts.image(
                drawing, "svg+xml", _alt_drawing(told), "Cut through the flue's axis, to scale, measures in mm."
            ),
            "<h2>What to buy</h2>",
            parts.bill(case, section),
            "<h2>Where the heat goes</h2>",
            parts.image(ledger, "svg+xml", _alt_ledger(heat, flows), "Bands as wide as their share of the heat."),
            "<h2>Temperature and heat in the section</h2>",
            _viewer(told),
            _for_paper(told),
            "" if told.burnt is None else _burn(told.burnt),
            "<h2>Numbers of the steady fire</h2>",
            parts.results(outcome),
            parts.turns(outcome),
            "<h2>Inputs</h2>",
            parts.materials(section),
            parts.inputs(case, told.given),
            "<h2>How it was computed</h2>",
            how,
            f"<p>Laws used beyond the range they were published for:</p><ul>{limits}</ul>" if limits else "",
            f"<p>annulus {escape(__version__)}. The same report again: <code>{escape(told.command)}</code></p>",
        ]
    )


def merge_cautions(steady: Sequence[Caution], burnt: Sequence[Caution]) -> list[Caution]:
    """Cautions of the steady fire and of the burn, the worst first; those of one of them say of which.

    Where both pass the same limit it is told once, of the run that passes it further.
    """
    found = []
    for runs, mine, others in ((STEADY, steady, burnt), (BURN, burnt, steady)):
        for one in mine:
            same = [other for other in others if (other.group, other.result, other.level) == _limit_of(one)]
            if one in same:
                found += [one] if runs == STEADY else []
            elif not any(_further(other, one) for other in same):
                found.append(replace(one, words=f"{runs}: {one.words}"))
    return sorted(found, key=lambda caution: LEVELS.index(caution.level))


def _limit_of(one: Caution) -> tuple[str, str, str]:
    return one.group, one.result, one.level


def _further(other: Caution, one: Caution) -> bool:
    """Whether another caution passes the same limit further."""
    if one.value is None or one.limit is None or other.value is None or other.limit is None:
        return False
    return abs(other.value - other.limit) > abs(one.value - one.limit)


def _burn(burnt: Burnt) -> str:
    """The burn: its numbers, history and ledger."""
    outcome = burnt.outcome
    curves = picture(draw_history(outcome, history(burnt.run.march)), ".png", SCREEN_DPI)
    source, heat, flows = burn_flows(outcome, PARTS)
    ledger = picture(draw_ledger("", "", source, heat, flows, megajoules), ".png", SCREEN_DPI)
    reached = minutes(outcome["time_to_target_s"], outcome.get("time_to_target_error_s"))
    ends = ", ".join(f"{flow.words} {megajoules(flow.heat)}" for flow in flows if flow.heat)
    about = f"{outcome['ended']}; the target after {reached}."
    return "\n".join(
        [
            "<h2>The burn</h2>",
            parts.burn(outcome),
            parts.image(curves, "png", f"Temperatures and heat over the burn: {about}", "From the cold start."),
            parts.image(ledger, "png", f"Of {megajoules(heat)} of wood: {ends}.", "Where the wood's heat went."),
        ]
    )


def _for_paper(told: Told) -> str:
    """The pictures that stand in for the live one on paper and where scripts do not run."""
    outcome = told.outcome
    temperature = picture(draw_temperature(told.heater, outcome=outcome), ".png", PRINT_DPI)
    stripes = picture(draw_stripes(told.heater, told.stripes), ".png", PRINT_DPI)
    hot = f"Temperatures from {outcome['wall_min_C']:.0f} to {outcome['wall_max_C']:.0f} °C along the flue wall."
    return parts.image(temperature, "png", hot, "Temperatures in the section.", "paper") + parts.image(
        stripes,
        "png",
        "Heat stripes, all of equal watts, from the flue wall to where they end.",
        "Heat stripes.",
        "paper",
    )


def _alt_drawing(told: Told) -> str:
    section = told.heater.model.section
    layers = [
        region.role for region in section.regions if region.role in ("flue", "filler", "shroud", "insulation", "jacket")
    ]
    return (
        f"Drawing of the section: {len(section.turns)} turns on {1e3 * section.height:.0f} mm of flue; "
        f"layers {', '.join(dict.fromkeys(layers))}."
    )


def _alt_ledger(heat: float, flows: Sequence[Any]) -> str:
    ends = ", ".join(f"{flow.words} {flow.heat:.0f} W" for flow in flows)
    return f"Flow of heat: of {heat:.0f} W go {ends}."
