"""Which keys of a case are absurd, for the message when a heater cannot be solved.

Goes in: a `Case`. Comes out: words, one for each key whose value no wood
stove's heater has, with value, usual range and likely cause.

The ranges are common practice, no source, widened tenfold or more: they accuse
nobody whose heater solves.
"""

from __future__ import annotations

from collections.abc import Iterator

from annulus.case import Case
from annulus.units import Kind, show

GAS_FLOW = 1e-4, 0.5  # [kg/s]; stoves bring 3 to 30 g/s
HOTTEST_GAS = 1673.0  # [K]; chimney fires reach 1125 degC
WATER_FLOW = 8e-4, 2.0  # [kg/s]; coils pass 0.5 to 20 L/min
CONDUCTIVITY = 0.01, 500.0  # [W/(m K)], from still air's half to past copper
ROOM = 223.0, 333.0  # [K]
THINNEST = 1e-7  # [m]; molecules of air fly as far between two hits
MEASURED_AT = 300.0  # [K], where a conductivity is judged


def suspects(case: Case) -> list[str]:
    """Keys whose values are far from any heater's.

    Parameters
    ----------
    case : Case

    Returns
    -------
    list of str
        Empty where nothing stands out.
    """
    return [*_streams(case), *_gaps(case), *_materials(case)]


def blame(case: Case, fault: Exception) -> str:
    """The fault's own words, then the case's suspects."""
    found = suspects(case)
    if not found:
        return str(fault)
    return f"{fault}. Far from any heater in this case, so look there first: {'; '.join(found)}"


def _streams(case: Case) -> Iterator[str]:
    fire, water, room = case.fire, case.water, case.room
    if fire.gas_flow is not None:
        yield from _outside("fire.gas_flow", fire.gas_flow, "mass_flow", GAS_FLOW, "is the unit right, does it draw?")
    if fire.gas_temperature is not None:
        if fire.gas_temperature > HOTTEST_GAS:
            yield _is("fire.gas_temperature", fire.gas_temperature, "temperature", "hotter than a chimney fire")
        if water is not None and fire.gas_temperature < water.inlet_temperature:
            words = f"colder than the water, {show(water.inlet_temperature, 'temperature')}: it would cool the water"
            yield _is("fire.gas_temperature", fire.gas_temperature, "temperature", words)
    if water is not None:
        yield from _outside("water.flow", water.flow, "water_flow", WATER_FLOW, "is the unit right, does the pump run?")
    yield from _outside("room.temperature", room.temperature, "temperature", ROOM, "was another unit meant?")


def _gaps(case: Case) -> Iterator[str]:
    lengths = {}
    if case.coil is not None:
        lengths["coil.gap"] = min((gap for gap in case.coil.gap if gap > 0), default=0.0)
    if case.filler is not None:
        lengths["filler.film_at_flue"] = case.filler.film_at_flue
        lengths["filler.strip_under_tubes"] = case.filler.strip_under_tubes
    if case.shroud is not None:
        lengths["shroud.clearance"] = case.shroud.clearance
    for key, length in lengths.items():
        if 0 < length < THINNEST:
            yield _is(key, length, "length", "thinner than molecules fly: write 0, or was another unit meant?")


def _materials(case: Case) -> Iterator[str]:
    named = {("flue.material", case.flue.material)}
    if case.coil is not None:
        named.add(("coil.material", case.coil.material))
    for key, part in (("filler", case.filler), ("shroud", case.shroud), ("insulation", case.insulation)):
        if part is not None:
            named.add((f"{key}.material", part.material))
    for key, name in sorted(named):
        value = float(case.material(name).conductivity(MEASURED_AT))
        if not CONDUCTIVITY[0] <= value <= CONDUCTIVITY[1]:
            low, high = (show(end, "conductivity") for end in CONDUCTIVITY)
            yield (
                f"{key} = {name!r} conducts {value:.3g} W/mK, and materials conduct {low} to {high}; was another unit "
                "meant?"
            )


def _outside(key: str, value: float, kind: Kind, ends: tuple[float, float], cause: str) -> Iterator[str]:
    low, high = ends
    if not low <= value <= high:
        yield _is(key, value, kind, f"not between {show(low, kind)} and {show(high, kind)}; {cause}")


def _is(key: str, value: float, kind: Kind, words: str) -> str:
    return f"{key} = {show(value, kind)!r} is {words}"
