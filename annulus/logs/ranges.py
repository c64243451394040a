"""Errors and usual ranges that the trade gives, from `ranges.toml`.

Goes in: nothing. Comes out: frozen tables in SI.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields
from functools import cache
from importlib import resources
from typing import Any

from annulus.units import parse


@dataclass(frozen=True)
class Errors:
    """One standard deviation of what a log is made of.

    Attributes
    ----------
    water_probe, gas_probe, stratified : float
        [K]
    volume, flow, wood, heating_value, gas_flow, tank_loss : float
        Of the value. [-]
    moisture : float
        Water over wet mass. [-]
    """

    water_probe: float
    gas_probe: float
    volume: float
    flow: float
    wood: float
    moisture: float
    heating_value: float
    gas_flow: float
    tank_loss: float
    stratified: float


@dataclass(frozen=True)
class Lags:
    """How late probes read. [s]"""

    gas: float
    water: float


@dataclass(frozen=True)
class Fires:
    """How fires differ, and what of it a heat rate feels.

    Attributes
    ----------
    scatter : float
        Standard deviation of a heat between fires on one heater. [-]
    flow_exponent, flow_exponent_error : float
        Of the heat rate on the flow of gas. [-]
    """

    scatter: float
    flow_exponent: float
    flow_exponent_error: float


@cache
def stored() -> dict[str, Any]:
    """The file as it stands."""
    text = resources.files("annulus.logs").joinpath("ranges.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def usual_errors() -> Errors:
    """Errors that are taken where the builder states none."""
    return Errors(**_read("errors", Errors))


@cache
def usual_lags() -> Lags:
    """How late usual probes read."""
    return Lags(**_read("lags", Lags))


@cache
def usual_fires() -> Fires:
    """How fires differ where the logs do not tell."""
    return Fires(**_read("fires", Fires))


@cache
def usual_hotter() -> tuple[float, float]:
    """How much hotter than the end of a probe the gas was while it stood there, nine times of ten. [K]"""
    row = stored()["probe_at_its_end"]["hotter"]
    low, high = (parse(text, row["kind"]) for text in row["range"])
    return low, high


def _read(table: str, kind: type[Any]) -> dict[str, float]:
    rows = stored()[table]
    return {field.name: parse(rows[field.name]["value"], rows[field.name]["kind"]) for field in fields(kind)}
