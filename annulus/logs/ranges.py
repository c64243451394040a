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


@cache
def stored() -> dict[str, Any]:
    """The file as it stands."""
    text = resources.files("annulus.logs").joinpath("ranges.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def usual_errors() -> Errors:
    """Errors that are taken where the builder states none."""
    rows = stored()["errors"]
    return Errors(
        **{field.name: parse(rows[field.name]["value"], rows[field.name]["kind"]) for field in fields(Errors)}
    )
