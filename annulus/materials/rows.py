"""From a row of the data file to a material.

Goes in: rows of `library.toml`. Comes out: materials. Every row is checked as
strictly as a case file, so that a slip in it is an error and not a wrong number.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np

from annulus.errors import MaterialError, quoted
from annulus.materials.bed import bed_conductivity
from annulus.materials.law import ZERO_CELSIUS, Law, Material
from annulus.units import parse

PSI = parse("1 psi", "pressure")  # [Pa]
SOLID_REFERENCE = 300.0  # temperature at which a grain's conductivity is listed [K]
BED_T_MIN = 250.0  # coldest bed that is tabulated; below, the pore air is outside its table [K]
BED_STEP = 20.0  # spacing of a bed's table; its linear error stays below 2e-4 [K]

_LAW_KEYS = {"value", "at_degC", "values", "coefficients_degC", "valid_degC"}
_BED_KEYS = {
    "solid",
    "solid_exponent",
    "grain_diameter",
    "grain_emissivity",
    "shape_factor",
    "porosity",
    "flattening",
}
_PACKING_KEYS = {"density", "porosity", "flattening", "band"}
_ROW_KEYS = {
    "name",
    "aliases",
    "family",
    "conductivity",
    "bed",
    "packing",
    "density",
    "heat_capacity",
    "emissivity",
    "service_limit_degC",
    "expansion",
    "band",
    "usual_thickness",
    "allowable_stress_psi",
    "source",
    "mark",
    "note",
    "zinc",
    "warnings",
}


@lru_cache(maxsize=1)
def read_data() -> dict[str, Any]:
    """Raw content of the data file; do not change it."""
    text = files("annulus.materials").joinpath("library.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def material_from_row(row: Mapping[str, Any], packing: str | None = None, pore_gas: Law | None = None) -> Material:
    """Material of one row of the data file.

    Parameters
    ----------
    row : mapping
        Keys as described at the head of `library.toml`.
    packing : str, optional
        Which packing of the row; its first by default.
    pore_gas : Law, optional
        Conductivity of the gas in the pores, needed by a bed. [W/(m K)]

    Raises
    ------
    MaterialError
        If a key is unknown or missing, a value impossible, or the packing not
        one of the row's.
    """
    name = str(row.get("name", "without a name"))
    _check_keys(row, _ROW_KEYS, f"library row {name!r}")
    if ("conductivity" in row) == ("bed" in row):
        raise MaterialError(f"library row {name!r}: give either 'conductivity' or 'bed'")
    packing, values = _choose_packing(row, packing)
    stress = row.get("allowable_stress_psi")
    limit = row.get("service_limit_degC")
    try:
        return Material(
            name=name,
            family=row["family"],
            conductivity=(
                _bed_law(row["bed"], values, kelvin(limit), pore_gas)
                if "bed" in row
                else _listed_law(row["conductivity"], f"library row {name!r}, conductivity")
            ),
            density=float(values["density"]),
            heat_capacity=_listed_law(row["heat_capacity"], f"library row {name!r}, heat_capacity"),
            emissivity=float(row["emissivity"]),
            service_limit=kelvin(limit),
            source=row["source"],
            mark=row["mark"],
            note=row["note"],
            zinc=row.get("zinc", False),
            warnings=tuple(row.get("warnings", ())),
            packing=packing,
            expansion=row.get("expansion"),
            conductivity_band=_pair(values.get("band")),
            usual_thickness=_pair(row.get("usual_thickness")),
            grain_diameter=row["bed"]["grain_diameter"] if "bed" in row else None,
            allowable_stress=(None if stress is None else _listed_law(stress, f"library row {name!r}, stress", PSI)),
        )
    except KeyError as error:
        raise MaterialError(f"library row {name!r}: key {error} is missing") from error


def _choose_packing(row: Mapping[str, Any], packing: str | None) -> tuple[str | None, Mapping[str, Any]]:
    name = row["name"]
    choices = row.get("packing", {})
    if not choices:
        if packing is not None:
            raise MaterialError(
                f"material {quoted(name)}: packing {quoted(packing)} does not apply, it is listed in one state only; "
                f"leave packing out"
            )
        return None, {**row.get("bed", {}), **row}
    chosen = next(iter(choices)) if packing is None else packing
    if chosen not in choices:
        raise MaterialError(
            f"material {quoted(name)}: packing {quoted(packing)} is not listed; choose one of "
            + ", ".join(f"'{choice}'" for choice in choices)
        )
    _check_keys(choices[chosen], _PACKING_KEYS, f"library row {name!r}, packing {chosen!r}")
    return chosen, choices[chosen]


def _bed_law(bed: Mapping[str, Any], state: Mapping[str, Any], limit: float | None, pore_gas: Law | None) -> Law:
    """Table of the bed model from `BED_T_MIN` up to the service limit [K]."""
    _check_keys(bed, _BED_KEYS, "library, bed")
    if limit is None or pore_gas is None:
        raise MaterialError("library, bed: needs a service limit, which ends the table, and a pore gas")
    steps = int(np.ceil((limit - BED_T_MIN) / BED_STEP)) + 1
    T = np.linspace(BED_T_MIN, limit, steps)
    k = bed_conductivity(
        T,
        solid_conductivity=bed["solid"] * (SOLID_REFERENCE / T) ** bed["solid_exponent"],
        fluid_conductivity=pore_gas(T),
        porosity=state["porosity"],
        grain_diameter=bed["grain_diameter"],
        emissivity=bed["grain_emissivity"],
        shape_factor=bed["shape_factor"],
        flattening=state["flattening"],
    )
    return Law.table(T.tolist(), k.tolist())


def _listed_law(entry: Mapping[str, Any], place: str, unit: float = 1.0) -> Law:
    """Law of a table of the data file; temperatures from degC to kelvin."""
    _check_keys(entry, _LAW_KEYS, place)
    if "valid_degC" not in entry:
        raise MaterialError(f"{place}: key 'valid_degC' is missing; every law states its range")
    low, high = (t + ZERO_CELSIUS for t in entry["valid_degC"])
    given = {"value", "values", "coefficients_degC"} & set(entry)
    if len(given) != 1 or ("values" in entry) != ("at_degC" in entry):
        raise MaterialError(f"{place}: give one of value, at_degC with values, or coefficients_degC")
    if "value" in entry:
        return Law.constant(entry["value"] * unit, low, high)
    if "values" in entry:
        points = [t + ZERO_CELSIUS for t in entry["at_degC"]]
        return Law.table(points, [v * unit for v in entry["values"]], low, high)
    return Law.polynomial([c * unit for c in entry["coefficients_degC"]], low, high, origin=ZERO_CELSIUS)


def _check_keys(row: Mapping[str, Any], known: set[str], place: str) -> None:
    for key in row:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            hint = f"; did you mean '{near[0]}'?" if near else ""
            raise MaterialError(f"{place}: key '{key}' is unknown{hint}")


def kelvin(celsius: float | None) -> float | None:
    """Temperature of the data file [degC] in [K]; None stays None."""
    return None if celsius is None else celsius + ZERO_CELSIUS


def _pair(band: Sequence[float] | None) -> tuple[float, float] | None:
    return None if band is None else (float(band[0]), float(band[1]))
