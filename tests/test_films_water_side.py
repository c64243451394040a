"""Film and friction in the wound tube."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from annulus.errors import InputError
from annulus.films import boiling_onset_flux, pressure_gradient, water, water_film
from annulus.films.water_side import (
    TURBULENT_SPAN,
    critical_reynolds,
    friction_coil,
    friction_laminar,
    friction_turbulent,
    nusselt_coil,
    nusselt_laminar,
    nusselt_turbulent,
)

BORE, WINDING, WARM = 0.010, 0.170, 313.15
LITRE_PER_MINUTE = 992.2e-3 / 60.0  # kg/s at 40 C


def test_film_lies_between_purely_laminar_and_purely_turbulent():
    ratio = BORE / WINDING
    start = critical_reynolds(ratio)
    assert nusselt_coil(start, 4.3, ratio) == nusselt_laminar(start, 4.3, ratio)
    end = TURBULENT_SPAN * start
    assert nusselt_coil(end, 4.3, ratio) == pytest.approx(nusselt_turbulent(end, 4.3, ratio))
    assert friction_coil(0.99 * start, ratio) == friction_laminar(0.99 * start, ratio)
    assert friction_coil(1.01 * end, ratio) == pytest.approx(friction_turbulent(1.01 * end, ratio))


def test_film_is_smooth_and_rises_with_flow():
    number = np.geomspace(100.0, 1e5, 6001)
    for ratio in (0.03, 0.0588, 0.13):
        curve = np.log(nusselt_coil(number, 5.0, ratio))
        slope = np.diff(curve) / np.diff(np.log(number))
        assert np.all(slope > 0.0)
        assert np.max(np.abs(np.diff(slope))) < 0.02  # a corner at Re_crit would show some 0.7


def test_warmer_wall_thins_the_water_and_raises_the_film():
    even = float(water_film(0.03, BORE, WINDING, WARM, WARM).coefficient)
    warm = float(water_film(0.03, BORE, WINDING, WARM, WARM + 30.0).coefficient)
    expected = float((water.prandtl(WARM) / water.prandtl(WARM + 30.0)) ** 0.14)
    assert warm / even == pytest.approx(expected, rel=1e-12)
    assert 1.03 < expected < 1.15


def test_film_answers_turn_by_turn():
    value = water_film(0.03, BORE, WINDING, np.linspace(285.0, 330.0, 30), 335.0)
    assert value.coefficient.shape == value.in_range.shape == (30,)
    assert np.all(value.in_range) and value.range_note == ""


def test_rough_bore_costs_more_pressure_in_turbulent_flow_only():
    slow, fast = 0.5 * LITRE_PER_MINUTE, 6.0 * LITRE_PER_MINUTE
    rough = [float(pressure_gradient(m, BORE, WINDING, WARM, roughness=5e-5)) for m in (slow, fast)]
    smooth = [float(pressure_gradient(m, BORE, WINDING, WARM, roughness=0.0)) for m in (slow, fast)]
    assert rough[0] == smooth[0]
    assert rough[1] > 1.05 * smooth[1]


def test_standing_water_is_an_explicit_error():
    with pytest.raises(InputError, match="standing water"):
        water_film(0.0, BORE, WINDING, WARM, WARM)
    with pytest.raises(InputError, match="standing water"):
        pressure_gradient(0.0, BORE, WINDING, WARM)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ((-0.05, BORE, WINDING, WARM, WARM), "direction"),
        ((0.05, 0.2, WINDING, WARM, WARM), "outer diameter"),
        ((0.05, BORE, WINDING, float("nan"), WARM), "water temperature"),
        ((0.05, BORE, WINDING, WARM, 0.0), "bore surface temperature"),
    ],
)
def test_impossible_arguments_are_refused(arguments, word):
    with pytest.raises(InputError, match=word):
        water_film(*arguments)


def test_range_notes_name_what_is_left():
    assert "1.5e5" in water_film(2.0, BORE, WINDING, WARM, WARM).range_note
    assert "0.2 of the winding" in water_film(0.05, 0.05, 0.17, WARM, WARM).range_note
    frozen = water_film(0.05, BORE, WINDING, np.array([265.0, 300.0]), WARM)
    assert "273.16" in frozen.range_note and list(frozen.in_range) == [False, True]


def test_boiling_needs_a_superheat():
    assert float(boiling_onset_flux(1.2e5, 0.0)) == 0.0
    with pytest.raises(InputError, match="superheat"):
        boiling_onset_flux(1.2e5, -1.0)


@settings(max_examples=60, deadline=None)
@given(
    flow=st.floats(1e-4, 1.0),
    bore=st.floats(0.005, 0.03),
    winding=st.floats(0.1, 0.4),
    bulk=st.floats(274.0, 400.0),
    wall=st.floats(274.0, 450.0),
)
def test_film_and_friction_are_positive_and_finite(flow, bore, winding, bulk, wall):
    value = water_film(flow, bore, winding, bulk, wall)
    assert 10.0 < float(value.coefficient) < 1e6
    assert 0.0 < float(pressure_gradient(flow, bore, winding, bulk)) < float("inf")
