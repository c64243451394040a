"""Units of each kind, their exact sizes in SI and their other spellings.

Goes in: nothing. Comes out: tables of exact fractions, read by `annulus.units`.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, get_args

Kind = Literal[
    "length",
    "area",
    "temperature",
    "temperature_difference",
    "mass",
    "mass_flow",
    "volume",
    "volume_flow",
    "water_flow",
    "time",
    "power",
    "pressure",
    "conductivity",
    "film_coefficient",
    "contact_resistance",
    "density",
    "heat_capacity",
    "heat_loss",
    "fraction",
    "number",
]
KINDS: tuple[Kind, ...] = get_args(Kind)

# Density that turns a measured water volume into a mass in the kind "water_flow".
# Water at 20 degC, 998.2 kg/m3; between 4 and 40 degC the true density stays within 0.6 % of it.
WATER_DENSITY = Fraction("998.2")

# Definitions (exact): international inch and pound, US liquid gallon of 231 cubic inches,
# imperial gallon, standard gravity, International Table Btu (2326 J/kg per Btu/lb).
_INCH = Fraction("0.0254")
_FOOT = 12 * _INCH
_POUND = Fraction("0.45359237")
_BTU = 2326 * _POUND
_F_DEGREE = Fraction(5, 9)
_GALLON = 231 * _INCH**3
_PSI = _POUND * Fraction("9.80665") / _INCH**2
_LITRE = Fraction(1, 1000)
_MINUTE, _HOUR = Fraction(60), Fraction(3600)


def _rates(amounts: dict[str, Fraction]) -> dict[str, Fraction]:
    """Amount per second, minute and hour, for every amount."""
    seconds = {"s": Fraction(1), "min": _MINUTE, "h": _HOUR}
    return {f"{a}/{t}": size / span for a, size in amounts.items() for t, span in seconds.items()}


def _first(units: dict[str, Fraction], *names: str) -> dict[str, Fraction]:
    """The same units, the named ones first."""
    return {name: units[name] for name in names} | units


_MASSES = {"kg": Fraction(1), "g": Fraction(1, 1000), "lb": _POUND, "oz": _POUND / 16}
_VOLUMES = {
    "L": _LITRE,
    "m3": Fraction(1),
    "mL": _LITRE / 1000,
    "cm3": _LITRE / 1000,
    "gal": _GALLON,
    "impgal": Fraction("0.00454609"),
    "ft3": _FOOT**3,
    "in3": _INCH**3,
}
_FLOWS = {**_rates(_VOLUMES), "gpm": _GALLON / _MINUTE}

# kind -> {unit as written: size in SI}; the first one is what `show` writes.
UNITS: dict[Kind, dict[str, Fraction]] = {
    "length": {
        "mm": Fraction(1, 1000),
        "m": Fraction(1),
        "cm": Fraction(1, 100),
        "um": Fraction(1, 1_000_000),
        "in": _INCH,
        "ft": _FOOT,
    },
    "area": {
        "m2": Fraction(1),
        "mm2": Fraction(1, 10**6),
        "cm2": Fraction(1, 10**4),
        "in2": _INCH**2,
        "ft2": _FOOT**2,
    },
    "temperature": {"degC": Fraction(1), "K": Fraction(1), "degF": _F_DEGREE},
    "temperature_difference": {"K": Fraction(1), "Cdeg": Fraction(1), "Fdeg": _F_DEGREE},
    "mass": _MASSES,
    "mass_flow": _first(_rates(_MASSES), "g/s", "kg/s", "kg/h", "lb/h"),
    "volume": _VOLUMES,
    "volume_flow": _first(_FLOWS, "L/min", "L/s", "m3/h", "gal/min", "ft3/min"),
    "water_flow": _first(
        {**{unit: WATER_DENSITY * size for unit, size in _FLOWS.items()}, **_rates(_MASSES)},
        *("L/min", "L/h", "gal/min", "kg/s", "g/s", "kg/h"),
    ),
    "time": {"s": Fraction(1), "min": _MINUTE, "h": _HOUR, "d": 24 * _HOUR},
    "power": {"W": Fraction(1), "kW": Fraction(1000), "Btu/h": _BTU / _HOUR},
    "pressure": {
        "kPa": Fraction(1000),
        "Pa": Fraction(1),
        "MPa": Fraction(10**6),
        "bar": Fraction(10**5),
        "mbar": Fraction(100),
        "atm": Fraction(101325),
        "psi": _PSI,
    },
    "conductivity": {
        "W/mK": Fraction(1),
        "Btu/(h ft degF)": _BTU / (_HOUR * _FOOT * _F_DEGREE),
        "Btu in/(h ft2 degF)": _BTU * _INCH / (_HOUR * _FOOT**2 * _F_DEGREE),
    },
    "film_coefficient": {
        "W/m2K": Fraction(1),
        "Btu/(h ft2 degF)": _BTU / (_HOUR * _FOOT**2 * _F_DEGREE),
    },
    "contact_resistance": {
        "m2K/W": Fraction(1),
        "h ft2 degF/Btu": _HOUR * _FOOT**2 * _F_DEGREE / _BTU,
    },
    "density": {
        "kg/m3": Fraction(1),
        "g/cm3": Fraction(1000),
        "kg/L": Fraction(1000),
        "lb/ft3": _POUND / _FOOT**3,
    },
    "heat_capacity": {
        "J/kgK": Fraction(1),
        "kJ/kgK": Fraction(1000),
        "Btu/(lb degF)": _BTU / (_POUND * _F_DEGREE),
    },
    "heat_loss": {"W/K": Fraction(1), "Btu/(h degF)": _BTU / (_HOUR * _F_DEGREE)},
    "fraction": {"%": Fraction(1, 100), "": Fraction(1)},
    "number": {"": Fraction(1)},
}

# Kelvin at the zero of each temperature scale.
ZERO = {"K": Fraction(0), "degC": Fraction("273.15"), "degF": Fraction("459.67") * _F_DEGREE}

# Other ways to write a unit, after `_squeeze`; per kind, because C and F mean two things.
SPELLINGS: dict[str, str] = {
    "inch": "in",
    "inches": "in",
    '"': "in",
    "foot": "ft",
    "feet": "ft",
    "micron": "um",
    "l": "L",
    "ml": "mL",
    "litre": "L",
    "liter": "L",
    "USgal": "gal",
    "gallon": "gal",
    "gallons": "gal",
    "lbs": "lb",
    "sec": "s",
    "hr": "h",
    "hour": "h",
    "hours": "h",
    "minutes": "min",
    "hPa": "mbar",
    "percent": "%",
    "W/(m2K)": "W/m2K",
    "W/(m2*K)": "W/m2K",
    "W/m2/K": "W/m2K",
    "W/(mK)": "W/mK",
    "W/m/K": "W/mK",
    "J/(kgK)": "J/kgK",
    "J/kg/K": "J/kgK",
    "kJ/(kgK)": "kJ/kgK",
    "kJ/kg/K": "kJ/kgK",
    "Km2/W": "m2K/W",
}
TEMPERATURE_SPELLINGS = {"C": "degC", "F": "degF", "celsius": "degC", "fahrenheit": "degF"}

# One example a kind, for messages.
EXAMPLES: dict[Kind, str] = {
    "length": "15 mm",
    "area": "2 m2",
    "temperature": "46 degF",
    "temperature_difference": "20 K",
    "mass": "15 kg",
    "mass_flow": "9.8 g/s",
    "volume": "40 gal",
    "volume_flow": "3 L/min",
    "water_flow": "3 L/min",
    "time": "20 min",
    "power": "12 kW",
    "pressure": "101.3 kPa",
    "conductivity": "0.3 W/mK",
    "film_coefficient": "30 W/m2K",
    "contact_resistance": "1e-4 m2K/W",
    "density": "1650 kg/m3",
    "heat_capacity": "800 J/kgK",
    "heat_loss": "2.5 W/K",
    "fraction": "18 %",
    "number": "2.2",
}
