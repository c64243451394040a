"""A result says where it leaves the range of a published law, and stays silent where it does not."""

from __future__ import annotations

from heaters import solved

from annulus.heater import summarise
from annulus.heater.ranges import range_notes
from annulus.present.tables import steady_table

COOL = ('gas_temperature = "420 degC"', 'gas_temperature = "150 degC"')


def test_an_ordinary_fire_stays_within_every_range():
    assert range_notes(solved()) == []


def test_gas_below_the_emissivity_charts_is_named():
    """Leckner's fit begins at 200 degC (trade facts on gas radiation, from memory of the paper)."""
    [note] = range_notes(solved(COOL))
    assert note.startswith("gas side: ")


def test_a_conductivity_read_beyond_its_table_is_named_with_both_ranges():
    narrow = (
        "[room]",
        '[materials."test sand"]\nfamily = "filler"\ndensity = "1600 kg/m3"\nheat_capacity = "800 J/kgK"\n'
        'emissivity = 0.9\nconductivity = [["0 degC", "0.3 W/mK"], ["9 degC", "0.31 W/mK"]]\n\n[room]',
    )
    heater = solved(narrow, ('material = "quartz sand"\npacking = "vibrated"', 'material = "test sand"'))
    [note] = range_notes(heater)
    assert note.startswith("test sand: conductivity known from 0 to 9 degC, used from ")


def test_the_table_shows_what_is_beyond_its_range():
    heater = solved(COOL)
    table = steady_table(summarise(heater), ())
    assert "Laws used beyond the range they were published for" in table
    assert "BEYOND: gas side" in table
    assert "BEYOND" not in steady_table(summarise(solved()), ())
