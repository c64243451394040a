"""Which measures a drawing of the section carries.

Goes in: a section and its case. Comes out: places in metres, and words in mm.
"""

from __future__ import annotations

from annulus.case import Case
from annulus.present.views import View
from annulus.present.words import millimetres
from annulus.section import Section
from annulus.shapes import Rectangle

SLIVER = 1e-7  # a space thinner than this has no measure [m]


def diameters(section: Section) -> list[tuple[float, str]]:
    """(radius, words) of every cylindrical surface, inside out."""
    radii = [(section.r_min, "bore")]
    around = "crowns" if section.outer_role == "filler" else "cavity"
    names = {"flue": "flue", "filler": around, "shroud": "shroud", "insulation": "insulation", "jacket": "jacket"}
    for region in section.regions:
        if region.role in names and isinstance(region.shape, Rectangle):
            radii.append((region.shape.r_max, names[region.role]))
    seen: dict[float, str] = {}
    for radius, name in sorted(radii):
        seen.setdefault(round(radius, 7), f"⌀ {millimetres(2 * radius)} {name}")
    return sorted(seen.items())


def thicknesses(section: Section, case: Case, view: View) -> list[tuple[float, str]]:
    """(radius of the middle, words) of every layer, tube and gap in a view, inside out."""
    found = []
    for region in section.regions:
        shape = region.shape
        if region.role in ("flue", "shroud", "insulation", "jacket") and isinstance(shape, Rectangle):
            if shape.r_min >= view.r_max:
                continue
            name = "wall" if region.role == "flue" else region.role
            middle = 0.5 * (shape.r_min + min(shape.r_max, view.r_max))
            found.append((middle, f"{name} {millimetres(shape.r_max - shape.r_min)}"))
    seen = [turn for turn in section.turns if view.shows(turn.z)]
    if seen and case.coil is not None:
        turn = seen[-1]
        tube = f"tube {millimetres(2 * turn.outer_radius)} × {millimetres(turn.outer_radius - turn.inner_radius)}"
        found.append((turn.r, tube))
        gaps = [case.coil.gap[turn.index] for turn in seen]
        least, most = millimetres(min(gaps)), millimetres(max(gaps))
        middle = section.flue_radius + 0.5 * gaps[-1]
        if max(gaps) > SLIVER:
            found.append((middle, f"gap {least}" if least == most else f"gap {least} to {most}"))
        else:
            found.append((section.flue_radius, f"touching, {millimetres(case.coil.contact_strip)} wide"))
        crown = max(turn.r + turn.outer_radius for turn in section.turns)
        if section.cavity_radius - crown > SLIVER:
            found.append((0.5 * (crown + section.cavity_radius), f"clear {millimetres(section.cavity_radius - crown)}"))
    elif section.cavity_radius - section.flue_radius > SLIVER:
        middle = 0.5 * (section.flue_radius + section.cavity_radius)
        found.append((middle, f"cavity {millimetres(section.cavity_radius - section.flue_radius)}"))
    return sorted(found)


def heights(section: Section, view: View) -> list[tuple[float, float, str]]:
    """(from, to, words) of the pitch and of the settled top where a view shows them; else the whole height."""
    found = []
    seen = [turn.z for turn in section.turns if view.shows(turn.z)]
    if len(seen) > 1:
        found.append((seen[0], seen[1], f"pitch {millimetres(seen[1] - seen[0])}"))
    elif view.z_max - view.z_min > 0.999 * section.height:
        found.append((section.z_min, section.z_max, millimetres(section.height)))
    for region in section.regions:
        shape = region.shape
        if region.name != "settled top" or not isinstance(shape, Rectangle):
            continue
        if view.z_min <= shape.z_min < view.z_max and (not found or shape.z_min >= found[0][1]):
            found.append((shape.z_min, shape.z_max, f"settled {millimetres(shape.z_max - shape.z_min)}"))
    return found
