"""The shipped library: reading the data file, finding a material, defining one in place.

Goes in: names as a builder writes them. Comes out: materials. The data file
`library.toml` is read once, when a material is first asked for.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from annulus.errors import MaterialError, quoted
from annulus.materials.banned import cautions_for, plain, refuse_if_banned
from annulus.materials.law import FAMILIES, ZERO_CELSIUS, Law, Material
from annulus.materials.rows import PSI, material_from_row, read_data

NEAREST = 4  # names offered for an unknown one


@dataclass(frozen=True)
class Surface:
    """Emissivity of one state of a surface: usual value and span [-], source and mark."""

    of: str
    state: str
    emissivity: float
    low: float
    high: float
    source: str
    mark: str


@dataclass(frozen=True)
class Joint:
    """A joint or hose: highest temperature [K], rated pressure [Pa] or None, source and mark."""

    name: str
    limit: float
    pressure: float | None
    solidus: float | None
    source: str
    mark: str
    note: str


def names(family: str | None = None) -> list[str]:
    """Names in the library, in the order of the data file.

    Parameters
    ----------
    family : {"metal", "filler", "insulation", "coating", "gas"}, optional
        Restrict to one family.

    Raises
    ------
    MaterialError
        If there is no such family.
    """
    if family is not None and family not in FAMILIES:
        raise MaterialError(f"family {family!r} is none of {', '.join(FAMILIES)}")
    return [row["name"] for row in read_data()["material"] if family in (None, row["family"])]


def packings(name: str) -> list[str]:
    """Packings in which a material of the library comes, the default first; may be empty."""
    return list(_row(name).get("packing", {}))


def find(name: str, packing: str | None = None) -> Material:
    """Material of the library.

    Parameters
    ----------
    name : str
        Plain trade name; case, spacing and American spelling do not matter.
    packing : {"loose", "vibrated", "tapped", "pressed"}, optional
        For fillers that come in several; the first listed is the default.

    Returns
    -------
    Material
        The same object for the same request.

    Raises
    ------
    MaterialError
        If the material is refused, unknown (nearest names are given), or does
        not come in that packing (the choices are given).
    """
    row = _row(name)
    default = next(iter(row.get("packing", ())), None)
    return _build(row["name"], default if packing is None else packing)


def custom(
    name: str,
    conductivity: float | Sequence[tuple[float, float]],
    density: float,
    heat_capacity: float,
    emissivity: float,
    family: str,
    service_limit: float | None = None,
) -> Material:
    """Material defined in place.

    Parameters
    ----------
    name : str
        Checked against the banned fillers.
    conductivity : float or sequence of (temperature, conductivity)
        One value, or points with rising temperature. [W/(m K)], [K]
    density : float
        [kg/m3]
    heat_capacity : float
        [J/(kg K)]
    emissivity : float
        In (0, 1]. [-]
    family : {"metal", "filler", "insulation", "coating", "gas"}
    service_limit : float, optional
        [K]

    Returns
    -------
    Material
        Marked "user"; its warnings are those its name calls for.

    Raises
    ------
    MaterialError
        If the name is refused or a value is impossible; all faults are named.
    """
    refuse_if_banned(name)
    faults: list[str] = []
    laws = {}
    for key, given in (("conductivity", conductivity), ("heat_capacity", heat_capacity)):
        try:
            laws[key] = _given_law(given)
        except MaterialError as error:
            faults.append(f"{key}: {error}")
    placeholder = Law.constant(1.0)
    try:
        material = Material(
            name=name.strip(),
            family=family,
            conductivity=laws.get("conductivity", placeholder),
            density=density,
            heat_capacity=laws.get("heat_capacity", placeholder),
            emissivity=emissivity,
            service_limit=service_limit,
            source="given in the case file",
            mark="user",
            zinc="galvanised" in plain(name) or "zinc-coated" in plain(name),
            warnings=cautions_for(name),
        )
    except MaterialError as error:
        faults.append(str(error))
    if faults:
        raise MaterialError(f"material {quoted(name)} defined in place: " + "; ".join(faults))
    return material


@lru_cache(maxsize=1)
def surfaces() -> tuple[Surface, ...]:
    """Emissivities by state of the surface, for every metal and coating listed."""
    return tuple(
        Surface(group["of"], state, usual, low, high, group["source"], group["mark"])
        for group in read_data()["surface"]
        for state, low, high, usual in group["states"]
    )


@lru_cache(maxsize=1)
def joints() -> tuple[Joint, ...]:
    """Joints and hoses with the temperature that each stands."""
    return tuple(
        Joint(
            name=row["name"],
            limit=row["limit_degC"] + ZERO_CELSIUS,
            pressure=row["pressure_psi"] * PSI if "pressure_psi" in row else None,
            solidus=row["solidus_degC"] + ZERO_CELSIUS if "solidus_degC" in row else None,
            source=row["source"],
            mark=row["mark"],
            note=row["note"],
        )
        for row in read_data()["joint"]
    )


@lru_cache(maxsize=256)
def _build(name: str, packing: str | None) -> Material:
    row = _rows()[plain(name)]
    pore_gas = find("still air").conductivity if "bed" in row else None
    return material_from_row(row, packing, pore_gas)


@lru_cache(maxsize=1)
def _rows() -> dict[str, Mapping[str, Any]]:
    """Rows by every name and alias they go by."""
    rows: dict[str, Mapping[str, Any]] = {}
    for row in read_data()["material"]:
        for key in (row["name"], *row.get("aliases", ())):
            if plain(key) in rows:
                raise MaterialError(f"library: name {key!r} is used twice")
            rows[plain(key)] = row
    return rows


def _row(name: str) -> Mapping[str, Any]:
    refuse_if_banned(name)
    key = plain(name)
    rows = _rows()
    if key in rows:
        return rows[key]
    words = set(key.split())
    close = difflib.get_close_matches(key, rows, n=NEAREST, cutoff=0.6)
    sharing = [known for known in names() if words & set(known.split())]
    found = dict.fromkeys((*(rows[known]["name"] for known in close), *sharing))
    nearest = list(found)[:NEAREST]
    raise MaterialError(
        f"material {quoted(name)} is not in the library; {'nearest' if nearest else 'it has'}: "
        + ", ".join(f"'{known}'" for known in nearest or names())
        + "; or define it in place under [materials]"
    )


def _given_law(given: float | Sequence[tuple[float, float]]) -> Law:
    if isinstance(given, Sequence):
        if not given:
            raise MaterialError("the table is empty; give at least one pair of temperature and value")
        return Law.table([T for T, _ in given], [value for _, value in given])
    return Law.constant(given)
