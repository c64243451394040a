"""Text to SI and back. Factors are compared with their definitions and with NIST's rounded table."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from annulus.errors import InputError
from annulus.units import EXAMPLES, KINDS, UNITS, parse, show

# Definitions: inch 0.0254 m, pound 0.45359237 kg, US gallon 231 in3, 0 degC = 273.15 K
# (NIST SP 811, 2008, B.8 and B.9 mark them exact; quoted from memory).
EXACT = [
    ("15 mm", "length", 0.015),
    ("15.3 mm", "length", 0.0153),
    ("1 in", "length", 0.0254),
    ("5/8 in", "length", 0.015875),
    ("1 1/2 in", "length", 0.0381),
    ("1-1/2 in", "length", 0.0381),
    ('5/8"', "length", 0.015875),
    ("3 ft", "length", 0.9144),
    ("1 lb", "mass", 0.45359237),
    ("1 gal", "volume", 0.003785411784),
    ("40 US gal", "volume", 0.15141647136),
    ("1 imp gal", "volume", 0.00454609),
    ("3 L/min", "volume_flow", 5e-5),
    ("9.8 g/s", "mass_flow", 0.0098),
    ("3.6 kg/h", "mass_flow", 0.001),
    ("32 degF", "temperature", 273.15),
    ("212 °F", "temperature", 373.15),
    ("-40 F", "temperature", 233.15),
    ("-40 degC", "temperature", 233.15),
    ("-459.67 degF", "temperature", 0.0),
    ("20 K", "temperature_difference", 20.0),
    ("36 Fdeg", "temperature_difference", 20.0),
    ("20 Cdeg", "temperature_difference", 20.0),
    ("1 atm", "pressure", 101325.0),
    ("0.3 W/mK", "conductivity", 0.3),
    ("0.3 W/(m K)", "conductivity", 0.3),
    ("0.3 W/(m·K)", "conductivity", 0.3),
    ("30 W/(m² K)", "film_coefficient", 30.0),
    ("1e-4 m2 K/W", "contact_resistance", 1e-4),
    ("1 Btu/(lb F)", "heat_capacity", 4186.8),
    ("18 %", "fraction", 0.18),
    (0.18, "fraction", 0.18),
    ("2.2", "number", 2.2),
]

# NIST SP 811 (2008), appendix B.8, seven digits, quoted from memory; the Btu is the International Table one.
# The first three and the specific heat were also seen, to 4-5 digits, in a public finite-element manual.
ROUNDED = [
    ("1 Btu/(h ft degF)", "conductivity", 1.730735),
    ("1 Btu in/(h ft2 degF)", "conductivity", 0.1442279),
    ("1 Btu/h", "power", 0.2930711),
    ("1 Btu/(h ft2 degF)", "film_coefficient", 5.678263),
    ("1 h ft2 degF/Btu", "contact_resistance", 0.1761102),
    ("1 psi", "pressure", 6894.757),
    ("1 lb/ft3", "density", 16.01846),
    ("1 gpm", "volume_flow", 6.309020e-5),
    ("1 ft3/min", "volume_flow", 4.719474e-4),
    ("1 lb/h", "mass_flow", 1.259979e-4),
]


@pytest.mark.parametrize(("text", "kind", "value"), EXACT)
def test_exact_conversion_gives_the_very_float(text, kind, value):
    assert parse(text, kind) == value


@pytest.mark.parametrize(("text", "kind", "value"), ROUNDED)
def test_conversion_agrees_with_the_seven_digits_of_nist(text, kind, value):
    # half a unit in the seventh digit of a table entry that starts with 1
    assert parse(text, kind) == pytest.approx(value, rel=5e-7)


def test_volume_flow_of_water_becomes_a_mass_flow_at_998_2_kg_per_m3():
    # 3 L/min = 5e-5 m3/s; water at 20 degC 998.2 kg/m3 (IAPWS, as tabulated in handbooks)
    assert parse("3 L/min", "water_flow") == 0.04991
    assert parse("3 kg/min", "water_flow") == 0.05


@pytest.mark.parametrize("kind", KINDS)
def test_every_unit_of_every_kind_reads_its_own_name(kind):
    for unit in UNITS[kind]:
        value = parse(f"7.25 {unit}", kind)
        assert parse(show(value, kind, unit), kind) == value
    assert parse(EXAMPLES[kind], kind) > 0


@given(st.sampled_from(KINDS), st.data())
def test_show_and_parse_return_the_same_float(kind, data):
    low = 0.001 if kind == "temperature" else None
    value = data.draw(st.floats(min_value=low, allow_nan=False, allow_infinity=False))
    unit = data.draw(st.sampled_from(list(UNITS[kind])))
    if abs(value) > 1e290 or 0 < abs(value) < 1e-290:
        return  # beyond what the text of a quantity may hold in every unit
    assert parse(show(value, kind, unit), kind) == value


@given(st.floats(min_value=1e-9, max_value=1e9))
def test_sign_is_carried(value):
    text = show(value, "length")
    assert parse("-" + text, "length") == -value == parse(f"- {text}", "length")


def test_show_uses_the_fewest_digits():
    assert show(0.0153, "length") == "15.3 mm"
    assert show(693.15, "temperature") == "420 degC"
    assert show(3 / 3600, "mass_flow", "kg/h") == "3 kg/h"
    assert show(parse("3.1 L/min", "water_flow"), "water_flow") == "3.1 L/min"


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("15", "length", ["'15'", "no unit", "mm", "in"]),
        (15, "length", ["15", "no unit", "15 mm"]),
        ("15 m m", "length", ["unknown unit"]),
        ("3 kw", "power", ["unknown unit", "did you mean 'kW'"]),
        ("24 ga", "length", ["unknown unit", "gauge", "0.6 mm"]),  # 0.0239 in: Manufacturers' Standard, steel
        ("3 kW", "length", ["is a power", "a length is due"]),
        ("20 degC", "temperature_difference", ["is a temperature", "difference is due", "36 Fdeg"]),
        ("20 Cdeg", "temperature", ["is a temperature difference", "a temperature is due"]),
        ("15,5 mm", "length", ["comma", "15.5"]),
        ("mm", "length", ["does not start with a number"]),
        ("1/0 in", "length", ["divides by zero"]),
        ("1/2/3 in", "length", ["unreadable fraction"]),
        ("-300 degC", "temperature", ["absolute zero"]),
        ("1e999 mm", "length", ["exponent"]),
        ("1e350 m", "length", ["too large"]),
        (math.nan, "fraction", ["not a finite number"]),
        (math.inf, "number", ["not a finite number"]),
        (True, "number", ["not a quantity"]),
        (None, "length", ["not a quantity"]),
        ("3 mm", "number", ["is a length", "bare number"]),
        ("__import__('os')", "length", ["does not start with a number"]),
    ],
)
def test_unreadable_quantity_is_named_with_its_likely_cause(text, kind, words):
    with pytest.raises(InputError) as caught:
        parse(text, kind)
    for word in words:
        assert word in str(caught.value)


def test_showing_what_is_not_finite_or_has_a_foreign_unit_is_refused():
    with pytest.raises(InputError, match="not finite"):
        show(math.inf, "length")
    with pytest.raises(InputError, match="not one for a length"):
        show(1.0, "length", "kg")
