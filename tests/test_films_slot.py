"""Air in an upright slot: the law by hand, against two other published laws, and its limits."""

import numpy as np
import pytest
from ht import Nu_Nusselt_vertical_Thess

from annulus.errors import InputError
from annulus.films.slot import nusselt_slot, range_note, slot_rayleigh


@pytest.mark.parametrize(
    ("rayleigh", "aspect", "expected"),
    [
        # By hand from the three laws: 0.0605 Ra^(1/3), the law of one cell, 0.242 (Ra/A)^0.272.
        (1e3, 40.0, 1.00007),  # cell: 0.104 * 7.568 / (1 + 12.25) = 0.0594
        (1e4, 40.0, 1.3034),  # turbulent: 0.0605 * 21.544
        (2e4, 40.0, 1.6924),  # cell: 0.104 * 18.206 / (1 + 0.2083) = 1.5670
        (1e5, 5.0, 3.5784),  # layers: 0.242 * 20000^0.272
        (1e6, 40.0, 6.05),  # turbulent: 0.0605 * 100
    ],
)
def test_the_law_by_hand(rayleigh, aspect, expected):
    assert nusselt_slot(rayleigh, aspect) == pytest.approx(expected, rel=5e-5)


def iso_15099(rayleigh: float, aspect: float) -> float:
    """ISO 15099:2003, eqs. 49-52, upright cavities of windows; coefficients read in published code."""
    if rayleigh > 5e4:
        first = 0.0673838 * rayleigh ** (1 / 3)
    elif rayleigh > 1e4:
        first = 0.028154 * rayleigh**0.4134
    else:
        first = 1 + 1.7596678e-10 * rayleigh**2.2984755
    return max(first, 0.242 * (rayleigh / aspect) ** 0.272)


@pytest.mark.parametrize("aspect", [10.0, 20.0, 60.0])
@pytest.mark.parametrize("rayleigh", [1e2, 1e3, 3e3, 1e4, 2e4, 4e4, 1e5, 1e6])
def test_the_law_agrees_with_the_one_of_windows(rayleigh, aspect):
    """Two fits of much the same measurements; their turbulent laws differ by 10 %."""
    assert nusselt_slot(rayleigh, aspect) == pytest.approx(iso_15099(rayleigh, aspect), rel=0.11)


@pytest.mark.parametrize("rayleigh", [2e4, 1e5, 1e6])
def test_the_law_stays_within_the_scatter_of_an_older_one(rayleigh):
    """VDI Heat Atlas, 2nd ed. 2010, as coded in `ht`, for any fluid; up to 30 % above that for air alone."""
    older = Nu_Nusselt_vertical_Thess(0.71, rayleigh / 0.71, H=20.0, L=1.0)
    assert 0.65 < nusselt_slot(rayleigh, 20.0) / older < 1.25


def test_air_that_hardly_moves_conducts_as_still_air():
    assert nusselt_slot(0.0, 30.0) == 1.0
    assert nusselt_slot(1e3, 30.0) == pytest.approx(1.0, abs=1e-3)


def test_the_law_never_falls_with_the_rayleigh_number_and_never_jumps():
    rayleigh = np.geomspace(1.0, 2e7, 40000)  # fine enough to step through single last bits where it is flat
    for aspect in (5.0, 30.0, 110.0):
        nusselt = nusselt_slot(rayleigh, aspect)
        assert (nusselt >= 1.0).all()
        assert (np.diff(nusselt) >= 0.0).all()
        assert (np.diff(nusselt) / nusselt[:-1]).max() < 5e-4


def test_rayleigh_number_by_hand():
    """500 and 300 K, 20 mm; air at 400 K: mu 23.1e-6, rho 0.882, k 0.0335, cp 1014 J/(kg K) (general tables)."""
    diffusivity = 0.0335 / (0.882 * 1014)
    expected = 9.80665 * 200 / 400 * 0.02**3 / (23.1e-6 / 0.882 * diffusivity)
    assert slot_rayleigh(500.0, 300.0, 0.02) == pytest.approx(expected, rel=0.01)


def test_rayleigh_number_does_not_ask_which_wall_is_hot_and_falls_with_altitude():
    assert slot_rayleigh(300.0, 500.0, 0.02) == slot_rayleigh(500.0, 300.0, 0.02)
    assert slot_rayleigh(500.0, 300.0, 0.02, 80000.0) == pytest.approx(
        slot_rayleigh(500.0, 300.0, 0.02) * (80000 / 101325) ** 2, rel=1e-12
    )


def test_arrays_go_through_the_law():
    found = nusselt_slot(slot_rayleigh(np.array([400.0, 600.0]), np.array([300.0, 300.0]), 0.03), 20.0)
    assert found.shape == (2,)
    assert found[0] == nusselt_slot(slot_rayleigh(400.0, 300.0, 0.03), 20.0)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((600.0, 300.0, 0.03, 0.9), ""),
        ((600.0, 300.0, 0.002, 0.9), ""),  # 450 times as high as wide, but the air stands still
        ((600.0, 300.0, 0.3, 3.0), "Rayleigh number"),
        ((600.0, 300.0, 0.05, 0.1), "times as high as wide"),
        ((210.0, 200.0, 0.02, 0.9), "air properties"),
    ],
)
def test_notes_say_what_lies_outside_the_range(arguments, words):
    note = range_note(*arguments)
    assert words in note
    assert bool(note) == bool(words)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((-5.0, 300.0, 0.02), "kelvin; was degC"),
        ((500.0, 300.0, 0.0), "width 0.0 m"),
        ((500.0, 300.0, 0.02, -1.0), "pressure -1.0 Pa"),
    ],
)
def test_unfit_input_is_refused(arguments, words):
    with pytest.raises(InputError, match=words):
        slot_rayleigh(*arguments)
