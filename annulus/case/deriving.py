"""Values that follow from others: tube sizes, turns, emissivities, pressure.

Goes in: the raw data of a case file. Comes out: data in which each part states
its own numbers, the faults found on the way, and the keys that could not be
derived because something else is wrong (their absence is not reported again).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path as FilePath
from typing import Any

from annulus.case.faults import Fault, Path, table_of
from annulus.case.fire_table import read_fire_table
from annulus.case.parts import MOST_TURNS, PAIRS
from annulus.case.quantities import HIGHEST_GROUND, LOWEST_GROUND
from annulus.case.turn_gaps import spread, widest
from annulus.case.winding import tube_centre, turn_length
from annulus.errors import AnnulusError, InputError
from annulus.materials import find, tube_size
from annulus.units import Kind, parse, show

# ISO 2533 standard atmosphere below 11 km (quoted from memory): p = p0 (1 - L h / T0)^(g M / (R L)).
SEA_LEVEL_PRESSURE = 101325.0  # [Pa]
LAPSE_RATE, SEA_LEVEL_TEMPERATURE = 0.0065, 288.15  # [K/m], [K]
PRESSURE_EXPONENT = 5.25588
WHOLE = 1e-9  # a height or length may miss a whole turn by this fraction and still count as whole


def standard_pressure(altitude: float) -> float:
    """Absolute air pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : float
        Above sea level, below 11 000 m. [m]

    Returns
    -------
    float
        [Pa]

    References
    ----------
    ISO 2533:1975, standard atmosphere (constants quoted from memory).
    """
    share = 1 - LAPSE_RATE * altitude / SEA_LEVEL_TEMPERATURE
    return SEA_LEVEL_PRESSURE * share**PRESSURE_EXPONENT


def derive(raw: Mapping[str, Any]) -> tuple[dict[str, Any], list[Fault], set[Path]]:
    """Fill in what follows from other keys.

    Parameters
    ----------
    raw : mapping
        A case file as the TOML reader gives it.

    Returns
    -------
    data : dict
        The same with derived keys added and alternative keys replaced.
    faults : list of Fault
    excused : set of tuple
        Paths that are absent only because of another fault.
    """
    work = _Derivation(raw)
    work.tube()
    work.turns()
    work.gap()
    work.clearance()
    work.emissivity("flue")
    work.emissivity("jacket")
    work.packing()
    work.pressure()
    work.contacts()
    work.burn()
    return work.data, work.faults, work.excused


class _Derivation:
    """State of one derivation: the data, faults and excused keys so far."""

    def __init__(self, raw: Mapping[str, Any]):
        self.data: dict[str, Any] = dict(raw)
        for name, value in raw.items():
            if isinstance(value, dict):
                self.data[name] = dict(value)
        self.faults: list[Fault] = []
        self.excused: set[Path] = set()

    def tube(self) -> None:
        """Size of a named tube."""
        coil = self._table("coil")
        if coil is None:
            return
        sizes = ("tube_outer_diameter", "tube_wall")
        given = [key for key in sizes if key in coil]
        if "tube" not in coil:
            if not given:
                self._fault(("coil",), 'needs a tube: tube = "EN 1057 15 x 1", or tube_outer_diameter and tube_wall')
                self._excuse("coil", *sizes)
            return
        if given:
            self._fault(("coil", "tube"), f"and {' and '.join(given)} state the size twice; keep one", coil["tube"])
            self._excuse("coil", *sizes)
            return
        try:
            outer, wall = tube_size(str(coil["tube"]))
        except AnnulusError as error:
            self._fault(("coil", "tube"), str(error), coil["tube"])
            self._excuse("coil", *sizes)
            return
        coil["tube_outer_diameter"], coil["tube_wall"] = show(outer, "length"), show(wall, "length")

    def turns(self) -> None:
        """Whole turns from a tube length or a coil height."""
        coil = self._table("coil")
        if coil is None:
            return
        given = [key for key in ("turns", "tube_length", "height") if key in coil]
        if len(given) != 1:
            found = f"; found {', '.join(given)}" if given else ""
            self._fault(("coil",), f"needs exactly one of turns, tube_length, height{found}")
        if given == ["turns"]:
            return
        if len(given) > 1:
            coil.pop("tube_length", None)
            coil.pop("height", None)
        self._excuse("coil", "turns")
        if given == ["height"]:
            self._count("height", self._quantity("coil", "pitch"))
        elif given == ["tube_length"]:
            centre, pitch = self._coil_radius(), self._quantity("coil", "pitch")
            self._count("tube_length", None if centre is None or pitch is None else turn_length(centre, pitch))

    def gap(self) -> None:
        """One gap per turn."""
        coil = self._table("coil")
        if coil is None:
            return
        gap, turns = coil.get("gap", "0 mm"), coil.get("turns")
        if not isinstance(turns, int) or isinstance(turns, bool) or not 1 <= turns <= MOST_TURNS:
            turns = None  # reported with the part; the gap itself is still read
        if "gap_at" in coil:
            coil["gap"], faults = spread(gap, coil.pop("gap_at"), turns)
            self.faults += faults
        elif not isinstance(gap, list):
            coil["gap"] = [gap] * (turns or 1)

    def clearance(self) -> None:
        """Clearance of a shroud given by its inner diameter."""
        shroud = self._table("shroud")
        if shroud is None or "inner_diameter" not in shroud:
            return
        text = shroud.pop("inner_diameter")
        path = ("shroud", "inner_diameter")
        self._excuse("shroud", "clearance")
        if "clearance" in shroud:
            self._fault(path, "and clearance state the size twice; keep one", text)
            return
        bore = self._read(text, "length", path)
        crown = self._crown_radius()
        if bore is None or crown is None:
            return
        clearance = bore / 2 - crown
        if clearance < 0:
            self._fault(
                path,
                f"leaves a cavity too small for the tube: the crowns of the turns reach "
                f"{show(round(2 * crown, 6), 'length')} in diameter; take a wider shroud or a thinner tube",
                text,
            )
            return
        shroud["clearance"] = show(round(clearance, 9), "length")  # to a micrometre's thousandth

    def emissivity(self, part: str) -> None:
        """Emissivity of the outermost surface of a part, unless stated."""
        table = self._table(part)
        if table is None or "emissivity" in table:
            return
        coating = table.get("coating", "none")
        name = table.get("material") if coating == "none" else coating
        self._excuse(part, "emissivity")
        own = table_of(table_of(self.data, "materials"), str(name))
        if own:
            if "emissivity" in own:
                table["emissivity"] = own["emissivity"]
        elif isinstance(name, str):
            try:
                table["emissivity"] = find(name).emissivity
            except AnnulusError:
                return  # the material itself is reported by the check of materials

    def packing(self) -> None:
        """Packing that the library takes when none is stated."""
        filler = self.data.setdefault("filler", {})
        if not isinstance(filler, dict) or "packing" in filler:
            return
        name = filler.get("material", "still air")
        if isinstance(name, str) and name not in table_of(self.data, "materials"):
            try:
                filler["packing"] = find(name).packing or "none"
            except AnnulusError:
                return  # reported by the check of materials

    def pressure(self) -> None:
        """Water pressure of an open vessel at this altitude."""
        water = self._table("water")
        if water is None or "pressure" in water:
            return
        self._excuse("water", "pressure")
        altitude = self._quantity("room", "altitude", "0 m")
        if altitude is not None and LOWEST_GROUND <= altitude <= HIGHEST_GROUND:
            water["pressure"] = show(round(standard_pressure(altitude), 1), "pressure")

    def contacts(self) -> None:
        """Every pair of surfaces, in its usual order; perfect contact unless stated."""
        given: Any = self.data.get("contacts", {})
        if not isinstance(given, dict):
            return
        by_ends = {frozenset(pair.split("-")): pair for pair in PAIRS}
        named: dict[str, Any] = {}
        for key, value in given.items():
            ends = frozenset(str(key).split("-"))
            pair = by_ends[ends] if ends in by_ends else str(key)
            if pair in named:
                self._fault(("contacts", key), f"names the same surfaces as '{pair}'; keep one", value)
            named[pair] = value
        self.data["contacts"] = {**dict.fromkeys(PAIRS, "0 m2K/W"), **named}

    def burn(self) -> None:
        """Loop and burn of a case with a tank, so that their defaults are resolved; a fire's table from its file."""
        if "tank" in self.data:
            self.data.setdefault("loop", {})
            self.data.setdefault("burn", {})
        burn = self._table("burn")
        if burn is None or "table_file" not in burn:
            return
        name, path = burn.pop("table_file"), ("burn", "table_file")
        if "table" in burn:
            self._fault(path, "and table state the fire twice; keep one", name)
        elif not isinstance(name, str):
            self._fault(path, 'must be text in "quotes"', name)
        else:
            try:
                burn["table"] = read_fire_table(FilePath(name))
            except InputError as error:
                self._fault(path, str(error), name)
                burn.pop("fire", None)  # a table that could not be read is not also an empty one

    def _table(self, name: str) -> dict[str, Any] | None:
        table = self.data.get(name)
        return table if isinstance(table, dict) else None

    def _fault(self, path: Path, rule: str, value: Any = "") -> None:
        self.faults.append(Fault(path, rule, value) if value != "" else Fault(path, rule))

    def _excuse(self, table: str, *keys: str) -> None:
        self.excused.update((table, key) for key in keys)

    def _quantity(self, table: str, key: str, default: str | None = None) -> float | None:
        """Value of a key that stays in the data; unreadable ones are reported with their part."""
        text = table_of(self.data, table).get(key, default)
        if text is None:
            return None
        try:
            return parse(text, _KINDS[key])
        except InputError:
            return None

    def _read(self, text: Any, kind: Kind, path: Path) -> float | None:
        """Value of a key that this module uses up, reported here if unreadable."""
        try:
            value = parse(text, kind)
        except InputError as error:
            self._fault(path, str(error), text)
            return None
        if value <= 0:
            self._fault(path, "must be positive", text)
            return None
        return value

    def _count(self, key: str, share: float | None) -> None:
        """Replace a total by the whole number of shares in it."""
        coil = self.data["coil"]
        text = coil.pop(key)
        total = self._read(text, "length", ("coil", key))
        if total is None or share is None or share <= 0:
            return
        turns = math.floor(total / share * (1 + WHOLE))
        if turns < 1:
            self._fault(("coil", key), f"is less than one turn, which takes {show(round(share, 4), 'length')}", text)
            return
        coil["turns"] = turns

    def _widest_gap(self) -> float | None:
        coil = table_of(self.data, "coil")
        return widest(coil.get("gap", "0 mm"), coil.get("gap_at"))

    def _flue_radius(self) -> float | None:
        bore, wall = self._quantity("flue", "inner_diameter"), self._quantity("flue", "wall")
        return None if bore is None or wall is None else bore / 2 + wall

    def _coil_radius(self) -> float | None:
        """Radius of the winding's centre line, at the widest gap. [m]"""
        flue, gap = self._flue_radius(), self._widest_gap()
        tube, strip = self._quantity("coil", "tube_outer_diameter"), self._quantity("coil", "contact_strip", "0.2 mm")
        if flue is None or gap is None or tube is None or strip is None or not 0 < strip < tube:
            return None
        return tube_centre(flue, tube / 2, gap, strip)

    def _crown_radius(self) -> float | None:
        """Radius that the outside of the turns reaches. [m]"""
        if "coil" not in self.data:
            return self._flue_radius()
        centre, tube = self._coil_radius(), self._quantity("coil", "tube_outer_diameter")
        return None if centre is None or tube is None else centre + tube / 2


_KINDS: dict[str, Kind] = {
    "inner_diameter": "length",
    "wall": "length",
    "pitch": "length",
    "tube_outer_diameter": "length",
    "contact_strip": "length",
    "altitude": "length",
}
