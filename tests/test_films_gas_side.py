"""Gas film: laws, limits, smoothness, range notes."""

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from annulus.errors import InputError
from annulus.films import DEFAULT_LAW, LAWS, FlueGas, gas_film
from annulus.films.pipe_convection import (
    LAMINAR_END,
    TURBULENT_START,
    mean_buoyancy,
    nusselt_en13384,
    nusselt_forced,
    nusselt_gnielinski,
    nusselt_laminar,
    opposed_factor,
)

GAS = FlueGas(0.2, 2.0)


def film(mass_flow=0.008, hot=673.15, wall=373.15, diameter=0.15, length=0.9, **more):
    return gas_film(mass_flow, diameter, length, hot, wall, GAS, **more)


def test_default_convection_lies_in_the_expected_band():
    # common practice, no source: 5-7 W/(m2 K) for 4-12 g/s in a 150 mm flue, buoyancy opposed;
    # here gas 300-400 C over a wall of 100-150 C. Fifteen per cent over the band is let pass,
    # for every law of this flow is known to +/- 40 % only.
    values = [
        float(film(flow, hot + 273.15, wall + 273.15).convective)
        for flow in (0.004, 0.008, 0.012)
        for hot in (300, 400)
        for wall in (100, 150)
    ]
    assert min(values) > 5.0 and max(values) < 7.0 * 1.15


def test_forced_laws_lie_in_the_band_of_forced_flow():
    # common practice, no source: 2.6-4 W/(m2 K) forced only, 4-12 g/s in 150 mm; the chimney
    # standard at 12 g/s is 8 % above it
    for flow in (0.004, 0.008, 0.010):
        for law in ("forced", "EN 13384-1"):
            assert 2.6 < float(film(flow, law=law).convective) < 4.0
    assert float(film(0.012, law="EN 13384-1").convective) < 4.4


def test_opposed_laws_exceed_forced_flow_and_bracket_the_spread():
    forced, opposed, turbulent = (float(film(law=law).convective) for law in ("forced", "opposed", "opposed turbulent"))
    assert forced < opposed < turbulent < 3 * forced


def test_default_law_tends_to_forced_flow_at_high_flow():
    fast = {law: float(film(0.3, law=law).convective) for law in ("opposed", "forced")}
    assert fast["opposed"] == pytest.approx(fast["forced"], rel=1e-3)


def test_default_law_tends_to_natural_convection_at_low_flow():
    from annulus.films.natural import nusselt_vertical

    hot, wall, length = 673.15, 373.15, 0.9
    mean = 0.5 * (hot + wall)
    viscosity = GAS.viscosity(mean) / GAS.density(mean)
    rayleigh = 9.80665 / mean * (hot - wall) * length**3 / viscosity**2 * GAS.prandtl(mean)
    natural = nusselt_vertical(rayleigh, GAS.prandtl(mean)) * GAS.conductivity(mean) / length
    # at 0.1 g/s the forced part still holds Nu 3.66 + entrance: (1.3 / 6.6)^3 / 3 = 0.3 %
    assert float(film(1e-4).convective) == pytest.approx(float(natural), rel=4e-3)


def test_forced_law_is_laminar_below_and_turbulent_above_the_blend():
    assert nusselt_forced(LAMINAR_END, 0.7, 0.2) == nusselt_laminar(LAMINAR_END, 0.7, 0.2)
    assert nusselt_forced(TURBULENT_START, 0.7, 0.2) == nusselt_gnielinski(TURBULENT_START, 0.7, 0.2)
    number = np.linspace(1500.0, 5000.0, 3501)
    slope = np.diff(nusselt_forced(number, 0.7, 0.2))
    assert np.all(slope > 0)
    assert np.max(np.abs(np.diff(slope))) < 1e-4  # a corner would show the slope itself, 2e-3 and more


def test_chimney_standard_floors_reynolds_and_caps_roughness():
    assert nusselt_en13384(500.0, 0.7, 0.25) == nusselt_en13384(2300.0, 0.7, 0.25)
    smooth = nusselt_en13384(1e4, 0.7, 0.25)
    assert nusselt_en13384(1e4, 0.7, 0.25, 2.0) == pytest.approx(smooth * 2**0.67)
    assert nusselt_en13384(1e4, 0.7, 0.25, 9.0) == pytest.approx(smooth * 3**0.67)


def test_opposed_factor_is_one_without_buoyancy_and_about_two_near_reynolds_3000():
    assert opposed_factor(3000.0, 0.7, 0.0) == 1.0
    # common practice, no source: "about twice" for a flue at Re 3000, Gr/Re^2 about 0.35
    assert 1.7 < opposed_factor(3000.0, 0.7, 0.35 * 3000.0**2) < 2.4


def test_mean_buoyancy_matches_a_numerical_mean_density():
    for ratio in (0.4, 0.6, 0.95, 0.99995, 1.0):
        bulk, wall = 1.0, ratio
        places = np.linspace(wall, bulk, 20001)
        mean = np.trapezoid(1.0 / places, places) / (bulk - wall) if ratio < 1 else 1.0
        assert float(mean_buoyancy(ratio)) == pytest.approx(mean - 1.0, rel=1e-6, abs=1e-9)


def test_bands_carry_the_mean_over_the_heated_length():
    """With the same temperatures everywhere each band has the coefficient of the whole length."""
    whole = film().convective
    bands = film(hot=np.full(12, 673.15), wall=np.full(12, 373.15)).convective
    assert bands == pytest.approx(np.full(12, whole), rel=1e-14)


@pytest.mark.parametrize("law", sorted(LAWS))
def test_every_law_takes_one_number_or_many(law):
    hot, wall = np.array([[500.0, 600.0], [700.0, 800.0]]), 350.0
    many = film(hot=hot, wall=wall, law=law)
    assert many.convective.shape == many.radiative.shape == many.in_range.shape == (2, 2)
    alone = film(hot=700.0, wall=wall, law=law)
    assert many.total[1, 0] == pytest.approx(float(alone.total), rel=1e-14)


@pytest.mark.parametrize("sweep", ["hot", "wall", "flow"])
def test_default_film_is_smooth_in_temperatures_and_flow(sweep):
    """Curvature halves with the step: no corner, no jump (through equal temperatures and 200 C)."""
    grids = {
        "hot": (300.0, 900.0, lambda x: film(hot=x, wall=400.0).total),
        "wall": (280.0, 700.0, lambda x: film(hot=650.0, wall=x).total),
        "flow": (5e-4, 0.02, lambda x: np.array([float(film(mass_flow=m).total) for m in x])),
    }
    low, high, curve = grids[sweep]
    points = 301 if sweep == "flow" else 24001
    slope = np.diff(curve(np.linspace(low, high, points)))
    corner = np.max(np.abs(np.diff(slope))) / np.max(np.abs(slope))
    # 0.3 at worst, around equal temperatures, where the step is a quarter of the softened width;
    # the true corner of the chimney standard at Re 2300 shows 0.8 in this measure
    assert corner < 0.5


@settings(max_examples=60, deadline=None)
@given(
    flow=st.floats(1e-4, 0.05),
    diameter=st.floats(0.08, 0.3),
    length=st.floats(0.2, 3.0),
    hot=st.floats(310.0, 1500.0),
    wall=st.floats(275.0, 900.0),
    law=st.sampled_from(sorted(LAWS)),
)
def test_coefficients_are_positive_and_finite_everywhere(flow, diameter, length, hot, wall, law):
    value = gas_film(flow, diameter, length, hot, wall, GAS, law=law)
    assert 0.0 < float(value.convective) < 100.0
    assert 0.0 < float(value.radiative) < 200.0


def test_range_notes_name_what_is_left():
    assert film().range_note == "" and bool(film().in_range)
    notes = {
        "200 C": film(hot=400.0),
        "wall hotter": film(hot=500.0, wall=550.0),
        "emissivity not above": film(wall_emissivity=0.4),
        "under one bore": film(length=0.1),
        "below 2300": film(law="opposed turbulent"),
        "2000 K": film(hot=2100.0),
    }
    for words, value in notes.items():
        assert words in value.range_note and not bool(value.in_range)


def test_range_is_told_band_by_band():
    value = film(hot=np.array([700.0, 450.0]))
    assert list(value.in_range) == [True, False]


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"mass_flow": 0.0}, "gas flow"),
        ({"diameter": -0.1}, "flue bore"),
        ({"length": float("nan")}, "heated length"),
        ({"hot": -5.0}, "positive kelvin"),
        ({"wall": float("nan")}, "diverge"),
        ({"flame_emissivity": 1.2}, "flame emissivity"),
        ({"law": "magic"}, "choose one of opposed"),
    ],
)
def test_impossible_arguments_are_refused(change, word):
    with pytest.raises(InputError, match=word):
        film(**change)


def test_default_law_is_one_of_the_laws():
    assert DEFAULT_LAW in LAWS


def test_three_hundred_bands_cost_about_a_millisecond():
    hot, wall = np.linspace(700.0, 500.0, 300), np.linspace(320.0, 380.0, 300)
    durations = []
    for _ in range(30):
        start = time.perf_counter()
        film(hot=hot, wall=wall)
        durations.append(time.perf_counter() - start)
    assert min(durations) < 3e-3  # 0.8 ms alone on a 2020s core; the margin is for a shared one


def test_the_smoothness_measure_sees_the_corner_of_the_chimney_standard():
    flows = np.linspace(5e-4, 0.02, 301)
    slope = np.diff([float(film(mass_flow=m, law="EN 13384-1").total) for m in flows])
    assert np.max(np.abs(np.diff(slope))) / np.max(np.abs(slope)) > 0.5
