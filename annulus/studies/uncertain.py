"""Inputs that are not known well, and a case with one of them changed.

Goes in: a `Case`. Comes out: the inputs of `uncertain.toml` that count for it,
each with its range for this case; copies of the case with other values.

A value is what the range is given in: a factor, an amount added, or the input itself.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal, cast

from annulus.case import FILLER_PAIRS, Case
from annulus.errors import InputError
from annulus.materials import Material
from annulus.units import Kind, parse, show

BAND_TEMPERATURE = parse("130 degC", "temperature")  # middle of the 30 to 230 degC in which bands of conductivity hold
By = Literal["factor", "more", "value"]


@dataclass(frozen=True)
class Uncertain:
    """An input that is not known well, for one case.

    Attributes
    ----------
    name, key : str
    by : {"factor", "more", "value"}
        What values of the range do to the stated one.
    stated : float or None
        The value that leaves the case as it is; None where the case states several at once or has one computed.
    low, high : float
        In SI.
    kind : str
        Of what the range is given in: "number" for a factor.
    words : str
        The range as a reader sees it.
    mark, source : str
    """

    name: str
    key: str
    by: By
    stated: float | None
    low: float
    high: float
    kind: Kind
    words: str
    mark: str
    source: str

    def change(self, case: Case, value: float) -> Case:
        """The case with another value of this input."""
        part, key = self.key.split(".")
        if part == "conductivity":
            material = _material_of(case, key)
            return case if material is None else case.with_conductivity(material.name, value)
        if part == "contacts":
            contacts = {pair: value if pair in FILLER_PAIRS else now for pair, now in case.contacts.items()}
            return case.model_copy(update={"contacts": contacts})
        table = getattr(case, part)
        now = getattr(table, key)
        if key == "gap":
            new: Any = (value,) * len(now)
        elif key == "settled_top":
            new = value * case.height
        else:
            new = now * value if self.by == "factor" else now + value if self.by == "more" else value
        return case.model_copy(update={part: table.model_copy(update={key: new})})


def uncertain_inputs(case: Case) -> list[Uncertain]:
    """Inputs that count for a case, in the order of the list that ships with annulus.

    Raises
    ------
    InputError
        If there is no coil whose water could gain or lose.
    """
    if case.coil is None:
        raise InputError("sensitivity: is told in heat to the water, and the case has no [coil]")
    found = []
    for entry in _entries():
        if not WHERE[entry["where"]](case):
            continue
        limits = _range(case, entry)
        if limits is None:
            continue
        by: By = entry["by"]
        stated = _stated(case, entry["key"], by)
        found.append(
            Uncertain(
                name=entry["name"],
                key=entry["key"],
                by=by,
                stated=stated,
                low=limits[0],
                high=limits[1],
                kind="number" if by == "factor" else entry["kind"],
                words=_words(by, entry["kind"], limits),
                mark=entry["mark"],
                source=entry["source"],
            )
        )
    return found


@cache
def listed_keys() -> frozenset[str]:
    """Keys of all inputs of the list, those included that do not count for a case."""
    return frozenset(entry["key"] for entry in _entries())


@cache
def _entries() -> list[dict[str, Any]]:
    text = resources.files("annulus.studies").joinpath("uncertain.toml").read_text(encoding="utf-8")
    return cast("list[dict[str, Any]]", tomllib.loads(text)["input"])


def _range(case: Case, entry: dict[str, Any]) -> tuple[float, float] | None:
    """Ends of the range; for a conductivity without one its material's band over the law, None if it has none."""
    if "range" in entry:
        low, high = (parse(text, entry["kind"]) for text in entry["range"])
        return low, high
    material = _material_of(case, entry["key"].split(".")[1])
    if material is None or material.conductivity_band is None:
        return None
    now = material.conductivity(BAND_TEMPERATURE)
    return material.conductivity_band[0] / now, material.conductivity_band[1] / now


def _stated(case: Case, key: str, by: By) -> float | None:
    if by != "value":
        return 1.0 if by == "factor" else 0.0
    part, name = key.split(".")
    if part == "contacts":
        return _only({value for pair, value in case.contacts.items() if pair in FILLER_PAIRS})
    value = getattr(getattr(case, part), name)
    if name == "gap":
        return _only(set(value))
    return float(value) / case.height if name == "settled_top" else float(value)


def _only(values: set[float | None]) -> float | None:
    """The value, if there is but one."""
    return next(iter(values)) if len(values) == 1 else None


def _words(by: By, kind: Kind, limits: tuple[float, float]) -> str:
    if by == "factor":
        return f"{100 * limits[0]:.0f} to {100 * limits[1]:.0f} % of the stated one"
    low, high = (show(float(f"{limit:.3g}"), kind) for limit in limits)
    return f"{low} to {high}{' more' if by == 'more' else ''}"


def _material_of(case: Case, role: str) -> Material | None:
    if role == "filler":
        return case.material(case.filler.material, case.filler.packing)
    part = case.insulation if role == "insulation" else case.coil
    return None if part is None else case.material(part.material)


def _has_still_air(case: Case) -> bool:
    filler = case.filler
    voids = filler.settled_top > 0 or filler.strip_under_tubes > 0 or filler.film_at_flue > 0 or bool(filler.voids)
    return _is_air(case) or voids


def _is_air(case: Case) -> bool:
    return case.material(case.filler.material, case.filler.packing).family == "gas"


def _is_bare_stainless(case: Case) -> bool:
    return case.flue.material.startswith("stainless") and case.flue.coating is None


WHERE: dict[str, Callable[[Case], bool]] = {
    "always": lambda case: True,
    "packed": lambda case: not _is_air(case),
    "loose": lambda case: case.filler.packing == "loose",
    "air at steel": lambda case: _has_still_air(case) and not _is_bare_stainless(case),
    "air at stainless": lambda case: _has_still_air(case) and _is_bare_stainless(case),
    "insulated": lambda case: case.insulation is not None,
    "soot": lambda case: case.flue.soot_thickness > 0,
    "stated gas": lambda case: case.fire.gas_flow is not None,
    "wood": lambda case: case.fire.wood_rate is not None,
    "computed gas film": lambda case: case.fire.film_coefficient is None,
}
