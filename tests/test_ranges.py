"""A result says where it leaves the range of a published law, and stays silent where it does not."""

from __future__ import annotations

import re

from heaters import edited_text, solved

from annulus.burn.fast import FastBurner
from annulus.burn.ranges import range_notes_of_burn
from annulus.case import loads
from annulus.heater import summarise
from annulus.heater.ranges import range_notes
from annulus.present.tables import steady_table

NARROW = (
    (
        "[room]",
        '[materials."test sand"]\nfamily = "filler"\ndensity = "1600 kg/m3"\nheat_capacity = "800 J/kgK"\n'
        'emissivity = 0.9\nconductivity = [["0 degC", "0.3 W/mK"], ["9 degC", "0.31 W/mK"]]\n\n[room]',
    ),
    ('material = "quartz sand"\npacking = "vibrated"', 'material = "test sand"'),
)
COOL = ('gas_temperature = "420 degC"', 'gas_temperature = "150 degC"')


def test_an_ordinary_fire_stays_within_every_range():
    assert range_notes(solved()) == []


def test_gas_below_the_emissivity_charts_is_named():
    """Leckner's fit begins at 200 degC (trade facts on gas radiation, from memory of the paper)."""
    [note] = range_notes(solved(COOL))
    assert note.startswith("gas side: ")


def test_a_conductivity_read_beyond_its_table_is_named_with_both_ranges():
    heater = solved(*NARROW)
    [note] = range_notes(heater)
    assert note.startswith("test sand: conductivity known from 0 to 9 degC, used from ")


def test_a_burn_says_for_how_long_a_law_and_how_far_a_conductivity_is_beyond_its_range():
    """Gas of 420 degC falls to 150 within the second half hour: Leckner's fit begins at 200 degC."""
    fire = 'fire = "table"\ntable = [["0 min", "420 degC", "9 g/s"], ["30 min", "420 degC", "9 g/s"], '
    fire += '["31 min", "150 degC", "9 g/s"], ["60 min", "150 degC", "9 g/s"]]\n'
    tank = '[tank]\nvolume = "200 L"\nstart_temperature = "4 degC"\ntarget_temperature = "40 degC"\n'
    case = loads(f'{edited_text(*NARROW)}\n{tank}[burn]\nuntil = "duration"\nduration = "60 min"\n{fire}')
    burner = FastBurner(case, 1, most_refined=0)
    gas, sand = range_notes_of_burn(burner.first.march, burner.body.model)
    spent = int(re.fullmatch(r"gas side, for (\d+) of 60 min: .*", gas)[1])
    assert 28 <= spent <= 33  # less than the last half hour by no more than a step
    assert re.fullmatch(
        r"test sand: conductivity known from 0 to 9 degC, used from [4-9] to \d{2} degC", f"{sand} degC"
    )


def test_the_table_shows_what_is_beyond_its_range():
    heater = solved(COOL)
    table = steady_table(summarise(heater), ())
    assert "Laws used beyond the range they were published for" in table
    assert "BEYOND: gas side" in table
    assert "BEYOND" not in steady_table(summarise(solved()), ())
