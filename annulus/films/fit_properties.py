"""Make property_series.toml: Chebyshev series of fluid properties, fitted to CoolProp.

Goes in: CoolProp's reference equations. Comes out: the data file that
`properties` reads. Run `python -m annulus.films.fit_properties` to rewrite it.
The series exist because importing CoolProp takes longer (about two seconds)
than a whole steady run, and because a series has an exact integral, so that
an enthalpy and its heat capacity can never disagree. A test refits every series and
compares it with the shipped one.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

GAS_RANGE = (250.0, 2000.0)  # K; CO2 and H2O in CoolProp end at 2000 K
WATER_RANGE = (273.16, 510.0)  # K; triple point to 31 bar
DEGREE_GAS = 16  # fits heat capacities to 2e-6, transport of air to 1e-7
DEGREE_WATER = 14  # IF97's own conductivity wiggles by 1e-4; everything else fits to 1e-6
SAMPLES = 96  # Chebyshev points per series, six per coefficient
GASES = {"carbon_dioxide": "CO2", "water_vapour": "H2O", "nitrogen": "N2", "oxygen": "O2", "argon": "Ar"}


def fit(values: Callable[[float], float], low: float, high: float, degree: int) -> list[float]:
    """Chebyshev coefficients of a function on [low, high], least squares on Chebyshev points."""
    nodes = np.cos(np.pi * (np.arange(SAMPLES) + 0.5) / SAMPLES)
    places = 0.5 * (high + low) + 0.5 * (high - low) * nodes
    samples = np.array([values(float(place)) for place in places])
    return [float(c) for c in np.polynomial.chebyshev.chebfit(nodes, samples, degree)]


def all_series() -> dict[str, dict[str, Any]]:
    """Fit everything; name -> {low, high, logarithmic, unit, about, coefficients}.

    A series marked logarithmic gives the natural logarithm of its quantity.
    The argument is T in kelvin, but for `water_saturation_temperature` ln(p / Pa).
    """
    import CoolProp
    from CoolProp.CoolProp import AbstractState, PropsSI

    series: dict[str, dict[str, Any]] = {}

    def add(
        name: str,
        values: Callable[[float], float],
        bounds: tuple[float, float],
        unit: str,
        about: str,
        logarithmic: bool = False,
    ) -> None:
        degree = DEGREE_GAS if bounds == GAS_RANGE else DEGREE_WATER

        def taken(place: float) -> float:
            return float(np.log(values(place))) if logarithmic else values(place)

        series[name] = {
            "low": bounds[0],
            "high": bounds[1],
            "logarithmic": logarithmic,
            "unit": unit,
            "about": about,
            "coefficients": fit(taken, *bounds, degree),
        }

    def ideal_heat_capacity(fluid: str) -> Callable[[float], float]:
        state = AbstractState("HEOS", fluid)

        def at(temperature: float) -> float:
            state.update(CoolProp.DmolarT_INPUTS, 1e-3, temperature)
            return float(state.cp0molar())

        return at

    for name, fluid in GASES.items():
        add(f"{name}_heat_capacity", ideal_heat_capacity(fluid), GAS_RANGE, "J/(mol K)", "ideal gas")

    air = AbstractState("HEOS", "Air")

    def of_air(quantity: str) -> Callable[[float], float]:
        def at(temperature: float) -> float:
            air.update(CoolProp.PT_INPUTS, 101325.0, temperature)
            return float(getattr(air, quantity)())

        return at

    add("air_heat_capacity", ideal_heat_capacity("Air"), GAS_RANGE, "J/(mol K)", "ideal gas")
    add("air_viscosity", of_air("viscosity"), GAS_RANGE, "Pa s", "1 atm")
    add("air_conductivity", of_air("conductivity"), GAS_RANGE, "W/(m K)", "1 atm")

    def of_water(letter: str) -> Callable[[float], float]:
        return lambda temperature: float(PropsSI(letter, "T", temperature, "Q", 0, "IF97::Water"))

    boiling_liquid = "liquid on the saturation line, IAPWS-IF97"
    add("water_heat_capacity", of_water("C"), WATER_RANGE, "J/(kg K)", boiling_liquid)
    add("water_density", of_water("D"), WATER_RANGE, "kg/m3", boiling_liquid)
    add("water_viscosity", of_water("V"), WATER_RANGE, "Pa s", boiling_liquid, logarithmic=True)
    add("water_conductivity", of_water("L"), WATER_RANGE, "W/(m K)", boiling_liquid)
    add("water_saturation_pressure", of_water("P"), WATER_RANGE, "Pa", "IAPWS-IF97", logarithmic=True)

    lowest, highest = (float(np.log(of_water("P")(end))) for end in WATER_RANGE)
    add(
        "water_saturation_temperature",
        lambda log_pressure: float(PropsSI("T", "P", float(np.exp(log_pressure)), "Q", 0, "IF97::Water")),
        # a hair inside, so that exp(log(p)) does not step over the triple point
        (lowest + 1e-9, highest),
        "K",
        "IAPWS-IF97; argument ln(p / Pa)",
    )
    return series


def written(series: dict[str, dict[str, Any]]) -> str:
    """The series as the text of a TOML file."""
    lines = [
        "# Chebyshev series of fluid properties on [low, high], fitted to CoolProp's reference equations.",
        "# Written by `python -m annulus.films.fit_properties`; do not edit by hand.",
    ]
    for name, entry in series.items():
        lines += [
            "",
            f"[{name}]",
            f'unit = "{entry["unit"]}"',
            f'about = "{entry["about"]}"',
            f"low = {entry['low']!r}",
            f"high = {entry['high']!r}",
            f"logarithmic = {'true' if entry['logarithmic'] else 'false'}",
            "coefficients = [",
            *(f"    {coefficient!r}," for coefficient in entry["coefficients"]),
            "]",
        ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    Path(__file__).with_name("property_series.toml").write_text(written(all_series()), encoding="utf-8")
