"""The bed model at its limits, against its published form in long arithmetic, and its refusals."""

from decimal import Decimal, getcontext

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from annulus.errors import MaterialError
from annulus.materials.bed import (
    bed_conductivity,
    conductivity_bounds,
    radiation_ratio,
    rarefaction_ratio,
    relative_conductivity,
)

getcontext().prec = 80

porosities = st.floats(0.2, 0.9)
ratios = st.floats(0.05, 1e4)
radiations = st.floats(0.0, 5.0)
rarefactions = st.floats(0.3, 1.0)


def shape_term(porosity, shape_factor=1.25):
    return shape_factor * ((1.0 - porosity) / porosity) ** (10.0 / 9.0)


def published_form(kp, e, k_r, k_G, phi):
    """Zehner-Bauer-Schluender as printed, 80 digits: the oracle of the rearranged form.

    Equations from the project's fact sheet, section 2.1 (VDI Heat Atlas, 11th ed.).
    """
    B = Decimal(shape_term(e))
    kp, e, k_r, k_G, phi = map(Decimal, (kp, e, k_r, k_G, phi))
    N = (1 + (k_r - B * k_G) / kp) / k_G - B * (1 / k_G - 1) * (1 + k_r / kp)
    logarithm = ((kp + k_r) / (B * (k_G + (1 - k_G) * (kp + k_r)))).ln()
    k_c = (2 / N) * (
        B * (kp + k_r - 1) / (N**2 * k_G * kp) * logarithm
        + (B + 1) / (2 * B) * (k_r / k_G - B * (1 + k_r * (1 - k_G) / k_G))
        - (B - 1) / (N * k_G)
    )
    share = (1 - e).sqrt()
    return float((1 - share) * e * (1 / (e - 1 + 1 / k_G) + k_r) + share * (phi * kp + (1 - phi) * k_c))


@given(porosities)
def test_grains_that_conduct_like_the_gas_make_a_bed_that_does(porosity):
    assert relative_conductivity(1.0, porosity) == pytest.approx(1.0, rel=1e-13)


@given(porosities)
def test_bed_is_finite_where_the_published_form_divides_zero_by_zero(porosity):
    """kp = B: the core tends to (2 B + 1)/3 (limit taken by hand)."""
    B = shape_term(porosity)
    share = np.sqrt(1.0 - porosity)
    expected = 1.0 - share + share * (2.0 * B + 1.0) / 3.0
    assert relative_conductivity(B, porosity) == pytest.approx(expected, rel=1e-13)


@given(porosities, st.floats(-12, -1), st.sampled_from([-1.0, 1.0]), radiations, rarefactions)
def test_rearranged_form_equals_the_published_one_near_its_singularity(porosity, power, side, k_r, k_G):
    B = shape_term(porosity)
    room = 1.0 - B * (1.0 - k_G)
    if room <= 0.01 or B * k_G / room - k_r <= 1e-3:
        return  # no singular kp for these values
    kp = (B * k_G / room - k_r) * (1.0 + side * 10.0**power)
    computed = relative_conductivity(kp, porosity, radiation=k_r, rarefaction=k_G)
    # 1e-10: kp itself is rounded, and the room above amplifies that up to a hundredfold
    assert computed == pytest.approx(published_form(kp, porosity, k_r, k_G, 0.0), rel=1e-10)


@given(ratios, porosities, radiations, rarefactions, st.floats(0.0, 0.05))
def test_rearranged_form_equals_the_published_one_everywhere(kp, porosity, k_r, k_G, phi):
    computed = relative_conductivity(kp, porosity, radiation=k_r, rarefaction=k_G, flattening=phi)
    assert computed == pytest.approx(published_form(kp, porosity, k_r, k_G, phi), rel=1e-10)


def test_series_and_logarithm_join_without_a_step():
    """kp on both sides of |y| = 0.1, where the computation changes."""
    B = shape_term(0.4)
    for y in (-0.1, 0.1):
        below, above = (relative_conductivity(B * (1.0 + y * (1.0 + shift)), 0.4) for shift in (-1e-13, 1e-13))
        assert below == pytest.approx(above, rel=1e-11)


@given(ratios, ratios, porosities)
def test_better_grains_never_make_a_worse_bed(kp, other, porosity):
    low, high = sorted((kp, other))
    assert relative_conductivity(low, porosity) <= relative_conductivity(high, porosity) * (1 + 1e-12)


@given(ratios, porosities)
def test_bed_lies_between_its_grains_and_its_gas(kp, porosity):
    bed = relative_conductivity(kp, porosity)
    assert min(1.0, kp) * (1 - 1e-12) <= bed <= max(1.0, kp) * (1 + 1e-12)


@given(st.floats(2.0, 1e3), porosities, radiations, st.floats(0.0, 0.02))
def test_radiation_and_contacts_only_add(kp, porosity, k_r, phi):
    bare = relative_conductivity(kp, porosity)
    assert relative_conductivity(kp, porosity, radiation=k_r) >= bare * (1 - 1e-12)
    assert relative_conductivity(kp, porosity, flattening=phi) >= bare * (1 - 1e-12)


def test_rarefied_gas_matters_in_fine_powder_only():
    """Fact sheet 2.1: it matters below 0.1 mm. Regression bounds for the bed: over 5 % at 10 um, 2-3 % at 1 mm.

    The gas itself loses 0.04 % at 1 mm; the bed loses more because the heat crowds into the
    narrowest part of the gap, where grains of high conductivity all but touch.
    """
    assert rarefaction_ratio(300.0, 10e-6) < 0.97
    assert rarefaction_ratio(300.0, 1e-3) > 0.9995
    fine, coarse = (
        bed_conductivity(300.0, 6.0, 0.026, 0.4, d, 0.8)
        / bed_conductivity(300.0, 6.0, 0.026, 0.4, d, 0.8, accommodation=None)
        for d in (10e-6, 1e-3)
    )
    assert fine < 0.95
    assert 0.97 < coarse < 0.98


def test_radiation_ratio_by_hand():
    """4 * 5.670374e-8 * 600^3 * 3e-3 / (1.5 * 0.0456) = 0.146976 / 0.0684."""
    assert radiation_ratio(600.0, 3e-3, 0.8, 0.0456) == pytest.approx(2.1487735, rel=1e-7)


def test_rarefaction_ratio_by_hand():
    """l = 0.07 um * (592/296) * 2 * 1.15/0.85 = 0.378824 um; k_G = 1/(1 + 2 l/0.1 mm)."""
    assert rarefaction_ratio(592.0, 1e-4, 0.85) == pytest.approx(1.0 / (1.0 + 7.576471e-3), rel=1e-8)


def test_arrays_give_arrays_and_agree_with_numbers():
    T = np.linspace(280.0, 900.0, 7)
    k_s, k_f = 6.0 * 300.0 / T, 0.026 * (T / 300.0) ** 0.8
    bed = bed_conductivity(T, k_s, k_f, 0.4, 0.5e-3, 0.8)
    assert bed.shape == (7,)
    for i in range(7):
        assert bed[i] == bed_conductivity(T[i], k_s[i], k_f[i], 0.4, 0.5e-3, 0.8)


@given(ratios, porosities)
def test_bounds_do_not_depend_on_which_part_conducts_better(kp, porosity):
    low, high = conductivity_bounds(kp, 1.0, porosity)
    other_low, other_high = conductivity_bounds(1.0, kp, 1.0 - porosity)
    assert low == pytest.approx(other_low, rel=1e-12)
    assert high == pytest.approx(other_high, rel=1e-12)
    assert low <= high * (1 + 1e-12)


GOOD_RELATIVE = {"solid_ratio": 100.0, "porosity": 0.4}


@pytest.mark.parametrize(
    "change, named",
    [
        ({"solid_ratio": -1.0}, "solid_ratio"),
        ({"solid_ratio": np.array([10.0, np.nan])}, "solid_ratio"),
        ({"porosity": 40.0}, "per cent"),
        ({"porosity": 0.0}, "porosity"),
        ({"shape_factor": 0.0}, "shape_factor"),
        ({"radiation": -0.1}, "radiation"),
        ({"rarefaction": 1.1}, "rarefaction"),
        ({"flattening": 1.0}, "flattening"),
    ],
)
def test_impossible_bed_is_refused_with_the_name_of_the_value(change, named):
    relative_conductivity(**GOOD_RELATIVE)
    with pytest.raises(MaterialError, match=named):
        relative_conductivity(**{**GOOD_RELATIVE, **change})


def test_all_impossible_values_are_named_at_once():
    with pytest.raises(MaterialError) as caught:
        bed_conductivity(-3.0, 6.0, 0.0, 0.4, 0.0, 1.5, accommodation=2.0)
    for name in ("temperature", "fluid_conductivity", "grain_diameter", "emissivity", "accommodation"):
        assert name in str(caught.value)
