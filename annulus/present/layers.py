"""What each part of a section is called in a picture, and where to point at it.

Goes in: a view, a section and its case. Comes out: pointers for a column of words
beside the view or for rows of words below it.
"""

from __future__ import annotations

import numpy as np

from annulus.case import Case
from annulus.present.labels import Pointer
from annulus.present.paint import regions_in
from annulus.present.views import View, Window
from annulus.present.words import millimetres
from annulus.section import Region, Section, Turn
from annulus.shapes import Disc, Rectangle

CANDIDATES = 15  # places each way that are tried for a dot in a void
INSET = 0.05  # of a dot from a view's lower end [in]

_NAMES = {
    "flue": "flue wall",
    "filler": "filling",
    "tube": "tube",
    "bore": "water",
    "shroud": "shroud",
    "insulation": "insulation",
    "jacket": "jacket",
}


def parts_in(section: Section, case: Case, window: Window) -> list[tuple[str, str, Region]]:
    """(name, description, region) of every kind of part that a window shows, from the flue outwards.

    One tube stands for all, one strip of air for its like. Coating and soot, too thin to be drawn,
    are named with the flue wall.
    """
    found: dict[str, tuple[str, str, Region]] = {}
    for region in regions_in(section, window):
        kind: str = region.role
        name = _NAMES.get(kind, region.name)
        if kind == "void":
            kind = name = region.name.rstrip("0123456789 ")  # "strip under tube 3", "void 2": one for all
            if region.material is not None and region.material.family != "gas":
                kind = f"{region.material.label} in place of the filler"
                name = "insert"
        about = "" if region.material is None else region.material.label
        if region.role == "filler":
            name = "cavity" if region.material is not None and region.material.family == "gas" else "filling"
        if region.role == "flue":
            about += _films(case)
        if kind not in found:
            found[kind] = (name, about, region)
    order = ["flue", "filler", "tube", "bore"]
    return sorted(found.values(), key=lambda part: _rank(part[2], order))


def _rank(region: Region, order: list[str]) -> int:
    if region.role in order:
        return order.index(region.role)
    return len(order) + ["void", "shroud", "insulation", "jacket"].index(region.role)


def _films(case: Case) -> str:
    flue, words = case.flue, ""
    if flue.coating is not None and flue.coating_thickness > 0:
        words += f" + {millimetres(flue.coating_thickness)} mm {flue.coating} outside"
    if flue.soot_thickness > 0:
        words += f" + {millimetres(flue.soot_thickness)} mm soot inside"
    return words


def pointers_below(view: View, section: Section, case: Case) -> list[Pointer]:
    """A pointer to every part, each from a place with a free way straight down."""
    bottom = view.z_min + INSET / view.scale
    lowest = _whole_turns(view, section)[:1]
    pointers = []
    for name, about, region in parts_in(section, case, view.window):
        shape = region.shape
        if isinstance(shape, Disc):
            if not lowest:
                continue
            turn = lowest[0]
            if region.role == "tube":
                r, z = turn.r, turn.z - 0.5 * (turn.outer_radius + turn.inner_radius)
            else:
                r, z = turn.r - 0.5 * turn.inner_radius, turn.z - 0.5 * turn.inner_radius
        elif region.role == "filler" and lowest:
            r, z = _beyond(section, lowest[0]), bottom
            room = lowest[0].z - 0.66 * lowest[0].outer_radius - view.z_min
            z = min(z, view.z_min + 0.5 * room)
        elif region.role == "void":
            r, z = _clear_of_tubes(section, shape, view.window)
        else:
            r, z = 0.5 * (shape.r_min + min(shape.r_max, view.r_max)), bottom
        words = f"{name}: {about}" if about else name
        pointers.append(Pointer(words, view.x(r), view.y(z)))
    return pointers


def pointers_beside(view: View, section: Section, case: Case) -> list[Pointer]:
    """A pointer to every part for words at the right; the inner parts at the top."""
    parts = parts_in(section, case, view.window)
    turns = _whole_turns(view, section)
    layers = [part for part in parts if part[2].role in ("shroud", "insulation", "jacket")]
    pointers = []
    for name, about, region in parts:
        shape = region.shape
        words = f"{name}\n{about}" if about else name
        if isinstance(shape, Disc):
            if not turns:
                continue
            turn = turns[-1] if region.role == "tube" else turns[0]
            if region.role == "tube":
                r, z = turn.r + 0.5 * (turn.outer_radius + turn.inner_radius), turn.z
            else:
                r, z = turn.r + 0.6 * turn.inner_radius, turn.z
            pointers.append(Pointer(words, view.x(r), view.y(z)))
        elif region.role == "flue":
            over = turns[-1].z + turns[-1].outer_radius if turns else view.z_max - 0.2 / view.scale
            r, z = 0.5 * (shape.r_min + shape.r_max), 0.5 * (over + view.z_max)
            pointers.append(Pointer(words, view.x(r), view.y(z)))
        elif region.role == "filler":
            r, z = _between(view, section, turns) or (0.5 * (shape.r_min + shape.r_max), _middle(view))
            pointers.append(Pointer(words, view.x(r), view.y(z)))
        elif region.role == "void":
            r, z = _clear_of_tubes(section, shape, view.window)
            pointers.append(Pointer(words, view.x(r), view.y(z)))
        else:
            share = (layers.index((name, about, region)) + 0.5) / len(layers)
            z = view.z_max - share * (view.z_max - view.z_min)
            pointers.append(
                Pointer(words, view.x(0.5 * (shape.r_min + min(shape.r_max, view.r_max))), view.y(z), free=True)
            )
    return pointers


def _whole_turns(view: View, section: Section) -> list[Turn]:
    return [
        turn
        for turn in section.turns
        if turn.z - turn.outer_radius >= view.z_min and turn.z + turn.outer_radius <= view.z_max
    ]


def _between(view: View, section: Section, turns: list[Turn]) -> tuple[float, float] | None:
    """A place in the filler beside a turn, away from tubes."""
    if not turns:
        return None
    turn = turns[len(turns) // 2]
    return _beyond(section, turn), turn.z - 0.5 * section.height / len(section.turns)


def _beyond(section: Section, turn: Turn) -> float:
    """A radius in the filler outside a turn, or near its crown if there is little room outside. [m]"""
    crown = turn.r + turn.outer_radius
    clearance = section.cavity_radius - crown
    return crown + 0.5 * clearance if clearance > 0.1 * turn.outer_radius else turn.r + 0.75 * turn.outer_radius


def _middle(view: View) -> float:
    return 0.5 * (view.z_min + view.z_max)


def _clear_of_tubes(section: Section, shape: Rectangle, window: Window) -> tuple[float, float]:
    """A place in a void outside all tubes; beyond their crowns, if the void goes so far. [m]"""
    share = (np.arange(CANDIDATES) + 0.5) / CANDIDATES
    low, high = max(shape.z_min, window.z_min), min(shape.z_max, window.z_max)
    r = (shape.r_min + share * (min(shape.r_max, window.r_max) - shape.r_min))[None, :]
    z = (low + share * (high - low))[:, None]
    clear = np.full((CANDIDATES, CANDIDATES), np.inf)
    for turn in section.turns:
        clear = np.minimum(clear, np.hypot(r - turn.r, z - turn.z) - turn.outer_radius)
    crown = max((turn.r + turn.outer_radius for turn in section.turns), default=0.0)
    beyond = (r > crown) & (clear > 0)
    row, column = np.unravel_index(np.argmax(np.where(beyond, clear + crown, clear)), clear.shape)
    return float(r[0, column]), float(z[row, 0])
