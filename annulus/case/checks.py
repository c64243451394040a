"""Rules that join several keys: does it fit, does it exist, is it said once.

Goes in: the parts that are sound by themselves. Comes out: faults. A rule whose
parts are missing or unsound is passed over; its turn comes when they are mended.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

from annulus.case.deriving import standard_pressure
from annulus.case.faults import Fault, Path
from annulus.case.parts import Burn, Coil, Filler, Fire, Flue, Loop, Room, Shroud, Tank, Water
from annulus.case.quantities import LONGEST
from annulus.case.winding import tube_centre
from annulus.units import show

SLACK = 1e-9  # lengths that differ by less are the same [m]; decimal text is no more exact
OPEN_HEAD = 1e5  # most that an open tank adds to the air's pressure: some ten metres of water [Pa]
VOID_SLACK = 1e-5  # a void may overrun the cavity by this and is cut off: a contact strip moves a tube in [m]


def check(parts: Mapping[str, Any], given: frozenset[str]) -> list[Fault]:
    """Faults of the parts together.

    Parameters
    ----------
    parts : mapping
        Sound parts by table name.
    given : frozenset of str
        Tables that the file holds, sound or not.
    """
    rules = (_fire, _flue, _coil, _layers, _filler, _contacts, _tank, _valve, _burn, _vessel)
    return [fault for rule in rules for fault in rule(parts, given)]


def _fire(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    fire: Fire | None = parts.get("fire")
    if fire is None:
        return
    gas = {"gas_temperature": fire.gas_temperature, "gas_flow": fire.gas_flow}
    wood = {"wood_rate": fire.wood_rate, "loss_before_coil": fire.loss_before_coil}
    stated = [key for key, value in {**gas, **wood}.items() if value is not None]
    if set(stated) not in (set(gas), set(wood)):
        yield Fault(
            ("fire",),
            "needs either gas_temperature and gas_flow, or wood_rate and loss_before_coil (the share of the "
            f"fired power that the stove gives off before the coil); found {', '.join(stated) or 'neither'}",
        )
    if fire.moisture_basis == "wet" and fire.moisture >= 0.7:
        yield Fault(
            ("fire", "moisture"),
            'must be below 70 % of the wet wood, which would not burn; was moisture_basis = "dry" meant?',
            show(fire.moisture, "fraction"),
        )


def _flue(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    flue: Flue | None = parts.get("flue")
    if flue is None:
        return
    if flue.soot_thickness >= flue.inner_diameter / 2:
        yield _length(("flue", "soot_thickness"), flue.soot_thickness, "closes the flue; was a diameter meant?")
    if flue.coating_thickness > 0 and flue.coating is None:
        yield Fault(("flue", "coating_thickness"), "is stated without a coating; name it with coating = ...")
    if "coil" not in given and flue.height is None:
        yield Fault(("flue", "height"), "is missing; without a [coil] nothing else states the height")
    if "coil" in given and flue.height is not None:
        yield _length(("flue", "height"), flue.height, "contradicts [coil], whose turns times pitch are the height")


def _coil(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    if "coil" in given and "water" not in given:
        yield Fault(("water",), "is missing; a coil needs a table [water]")
    if "water" in given and "coil" not in given:
        yield Fault(("water",), "has no coil to run through; add [coil] or remove [water]")
    coil: Coil | None = parts.get("coil")
    if coil is None:
        return
    tube = coil.tube_outer_diameter
    if coil.tube_wall >= tube / 2:
        yield _length(("coil", "tube_wall"), coil.tube_wall, f"fills the tube of {_mm(tube)}; was a diameter meant?")
    if coil.pitch < tube - SLACK:
        yield _length(
            ("coil", "pitch"), coil.pitch, f"is under the tube diameter of {_mm(tube)}: the turns would overlap"
        )
    if coil.height > LONGEST:
        yield _length(("coil", "pitch"), coil.pitch, f"makes a coil {coil.height:.0f} m high; was another unit meant?")
    if coil.contact_strip >= tube:
        yield _length(("coil", "contact_strip"), coil.contact_strip, f"must be narrower than the tube of {_mm(tube)}")
    if len(coil.gap) != coil.turns:
        yield Fault(
            ("coil", "gap"), f"lists {len(coil.gap)} values for {coil.turns} turns; give one value, or one per turn"
        )


def _layers(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    if "jacket" in given and "insulation" not in given:
        yield Fault(("jacket",), "has no [insulation] to cover; a bare sheet around the cavity is a [shroud]")
    filler: Filler | None = parts.get("filler")
    if filler is not None and "shroud" not in given and filler.material != "still air":
        yield Fault(("filler", "material"), "needs a [shroud] to hold it", filler.material)
    if filler is not None and filler.film_at_flue > 0 and filler.material == "still air":
        yield _length(("filler", "film_at_flue"), filler.film_at_flue, "needs a packing; the cavity holds air only")


def _filler(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    filler: Filler | None = parts.get("filler")
    coil: Coil | None = parts.get("coil")
    flue: Flue | None = parts.get("flue")
    if filler is None or flue is None or ("coil" in given and coil is None):
        return
    if "shroud" in given and "shroud" not in parts:
        return
    height = coil.height if coil is not None else flue.height
    width = _cavity_width(flue, coil, parts.get("shroud"))
    if height is None or width is None:
        return
    if filler.settled_top > 0 and width <= SLACK:
        yield _length(("filler", "settled_top"), filler.settled_top, "has no cavity to be in; add a [shroud]")
    if filler.film_at_flue >= width > SLACK:
        yield _length(("filler", "film_at_flue"), filler.film_at_flue, f"empties the cavity, {_mm(width)} wide")
    if filler.settled_top >= height:
        yield _length(("filler", "settled_top"), filler.settled_top, f"empties the cavity, which is {_mm(height)} high")
    if filler.strip_under_tubes > 0 and coil is None:
        yield _length(("filler", "strip_under_tubes"), filler.strip_under_tubes, "has no [coil] to lie under")
    if coil is not None and 0 < filler.strip_under_tubes > coil.pitch - coil.tube_outer_diameter + SLACK:
        yield _length(
            ("filler", "strip_under_tubes"),
            filler.strip_under_tubes,
            f"does not fit between turns {_mm(max(coil.pitch - coil.tube_outer_diameter, 0.0))} apart; leave the strip "
            "out, or take a wider coil.pitch",
        )
    for index, void in enumerate(filler.voids):
        for low, high, limit, name in (("r_min", "r_max", width, "wide"), ("z_min", "z_max", height, "high")):
            path: Path = ("filler", "voids", index, high)
            top = getattr(void, high)
            if top <= getattr(void, low):
                yield _length(path, top, f"must be more than {low}")
            if top > limit + VOID_SLACK:
                yield _length(path, top, f"leaves the cavity, which is {_mm(limit)} {name}")


def _contacts(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    needs = {"tube": "coil", "shroud": "shroud", "insulation": "insulation", "jacket": "jacket"}
    for pair, resistance in (parts.get("contacts") or {}).items():
        lacking = [needs[end] for end in pair.split("-") if end in needs and needs[end] not in given]
        if resistance != 0 and lacking:
            yield Fault(
                ("contacts", pair),
                f"names a surface that is not there; add [{lacking[0]}] or remove the key",
                "computed" if resistance is None else show(resistance, "contact_resistance"),
            )


def _tank(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    for name in ("loop", "burn"):
        if name in given and "tank" not in given:
            yield Fault((name,), "has no [tank] to heat; add [tank] or remove the table")
    if "tank" in given and "coil" not in given:
        yield Fault(("tank",), "has no [coil] to heat it")
    tank: Tank | None = parts.get("tank")
    burn: Burn | None = parts.get("burn")
    if tank is None or burn is None:
        return
    if burn.until == "target" and tank.target_temperature <= tank.start_temperature:
        yield Fault(
            ("tank", "target_temperature"),
            f"must be above start_temperature, {show(tank.start_temperature, 'temperature')}; "
            'or burn for a time with [burn] until = "duration"',
            show(tank.target_temperature, "temperature"),
        )


def _valve(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    loop: Loop | None = parts.get("loop")
    water: Water | None = parts.get("water")
    valve = loop.mixing_valve if loop is not None else None
    if loop is None or water is None or valve is None:
        return
    text = show(valve, "temperature")
    if loop.circulation == "natural":
        rule = 'needs a pump; remove it, or circulation = "pumped": a valve stops water that drives itself'
        yield Fault(("loop", "mixing_valve"), rule, text)
    elif water.inlet_temperature < valve:
        rule = f"is colder than loop.mixing_valve, {text}, lets into the coil; set both alike, or leave the valve out"
        yield Fault(("water", "inlet_temperature"), rule, show(water.inlet_temperature, "temperature"))


def _burn(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    burn: Burn | None = parts.get("burn")
    loop: Loop | None = parts.get("loop")
    water: Water | None = parts.get("water")
    if loop is not None and loop.circulation == "natural" and water is not None and water.direction != "up":
        yield Fault(("water", "direction"), "must be up: water that drives itself rises through the coil", "down")
    if burn is None:
        return
    times = [row[0] for row in burn.table]
    if burn.fire == "table" and len(times) < 2:
        yield Fault(("burn", "table"), 'needs two rows or more; or name a file with table_file = "fire.csv"')
    if burn.fire != "table" and times:
        yield Fault(("burn", "table"), f'is not read with fire = "{burn.fire}"; was fire = "table" meant?')
    if any(later <= earlier for earlier, later in pairwise(times)):
        yield Fault(("burn", "table"), "must have times that increase from row to row")
    if burn.fire == "reloads" and burn.charcoal_time < burn.flaming_time:
        yield Fault(
            ("burn", "charcoal_time"),
            "must not be shorter than flaming_time: charcoal burns on when the flames are gone",
            show(burn.charcoal_time, "time", "min"),
        )


def _vessel(parts: Mapping[str, Any], given: frozenset[str]) -> Iterator[Fault]:
    """A closed coil is a bomb: refused without relief, and so is pressure that an open tank cannot hold."""
    water: Water | None = parts.get("water")
    room: Room | None = parts.get("room")
    if water is None or room is None:
        return
    if water.vessel == "closed" and water.relief is None:
        yield Fault(
            ("water", "vessel"),
            "without relief bursts when the water boils; fit a temperature-and-pressure relief valve that nothing "
            'can shut off and state what it opens at, relief = "300 kPa", or leave the tank open',
            "closed",
        )
    if water.vessel == "open" and water.relief is not None:
        yield Fault(
            ("water", "relief"), 'belongs to vessel = "closed"; an open tank needs none', _pressure(water.relief)
        )
    above_air = water.pressure - standard_pressure(room.altitude)
    if water.vessel == "open" and above_air > OPEN_HEAD:
        yield Fault(
            ("water", "pressure"),
            f"is {_pressure(above_air)} above the air, more than ten metres of water over the coil: an open vessel "
            "does not hold it; was a gauge reading added twice, or is the vessel closed?",
            _pressure(water.pressure),
        )
    if water.relief is not None and water.vessel == "closed" and water.relief <= above_air:
        yield Fault(
            ("water", "relief"),
            f"opens below the working pressure of {_pressure(above_air)} above the air; relief is counted from the air",
            _pressure(water.relief),
        )


def _pressure(value: float) -> str:
    return show(round(value), "pressure")


def _cavity_width(flue: Flue, coil: Coil | None, shroud: Shroud | None) -> float | None:
    """From the flue to the shroud, or to the crowns without one; None if the tube itself is impossible. [m]"""
    crowns = 0.0
    if coil is not None:
        radius = coil.tube_outer_diameter / 2
        if coil.contact_strip >= 2 * radius or not coil.gap:
            return None
        crowns = max(tube_centre(0.0, radius, gap, coil.contact_strip) for gap in coil.gap) + radius
    return crowns + (shroud.clearance if shroud is not None else 0.0)


def _length(path: Path, value: float, rule: str) -> Fault:
    return Fault(path, rule, _mm(value))


def _mm(value: float) -> str:
    return show(round(value, 7), "length")
