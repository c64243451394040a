"""Outside film and the air pressure."""

import numpy as np
import pytest

from annulus.errors import InputError
from annulus.films import atmospheric_pressure, room_film
from annulus.films.properties import STEFAN_BOLTZMANN
from annulus.films.room import range_note

ROOM = 293.15


def test_film_unpacks_into_convection_and_radiation():
    convective, radiative = room_film(330.0, ROOM, 0.6, 0.9)
    assert float(room_film(330.0, ROOM, 0.6, 0.9).total) == pytest.approx(float(convective + radiative))


def test_radiation_in_linear_form_is_exact():
    surface = np.array([250.0, 293.15, 330.0, 700.0])
    radiative = room_film(surface, ROOM, 0.6, 0.85).radiative
    expected = 0.85 * STEFAN_BOLTZMANN * (surface**4 - ROOM**4)
    assert radiative * (surface - ROOM) == pytest.approx(expected, rel=1e-12)


def test_film_is_the_same_for_a_colder_and_a_warmer_surface():
    # same film temperature, heat flow turned round
    warm = room_film(303.15, 293.15, 0.6, 0.0).convective
    cold = room_film(293.15, 303.15, 0.6, 0.0).convective
    assert float(warm) == pytest.approx(float(cold), rel=1e-14)


def test_film_is_smooth_through_room_temperature():
    difference = np.linspace(-1.0, 1.0, 2001)  # 0.001 K, a hundredth of the softened width
    slope = np.diff(room_film(ROOM + difference, ROOM, 0.6, 0.9).total)
    assert np.max(np.abs(np.diff(slope))) < 0.05 * np.max(np.abs(slope))
    assert np.isfinite(room_film(ROOM, ROOM, 0.6, 0.9).total)


def test_bright_surface_radiates_a_tenth():
    bright, dull = (room_film(330.0, ROOM, 0.6, e).radiative for e in (0.09, 0.9))
    assert float(dull) == pytest.approx(10 * float(bright))


def test_thin_air_convects_less():
    assert room_film(330.0, ROOM, 0.6, 0.9, 7e4).convective < room_film(330.0, ROOM, 0.6, 0.9).convective


def test_curvature_limit_is_told():
    # 35 L / Gr^(1/4), height 0.6 m: 0.14 m at 40 C down to 0.12 m at 70 C, computed by hand
    assert range_note(313.15, ROOM, 0.6, 0.15) == ""
    assert "0.138" in range_note(313.15, ROOM, 0.6, 0.12)
    assert range_note(343.15, ROOM, 0.6, 0.12) == ""
    assert "1e12" in range_note(500.0, ROOM, 12.0, 5.0)
    assert "air properties" in range_note(200.0, 220.0, 0.1, 5.0)


def test_pressure_falls_with_altitude_as_the_standard_atmosphere():
    # ISO 2533:1975 table, from memory: 0 m 101 325, 300 m 97 773, 1000 m 89 875 Pa
    assert atmospheric_pressure(0.0) == 101325.0
    assert atmospheric_pressure(300.0) == pytest.approx(97773.0, abs=3.0)
    assert atmospheric_pressure(1000.0) == pytest.approx(89875.0, abs=3.0)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        ((-3.0, ROOM, 0.6, 0.9), "surface temperature"),
        ((330.0, float("nan"), 0.6, 0.9), "room temperature"),
        ((330.0, ROOM, 0.0, 0.9), "height"),
        ((330.0, ROOM, 0.6, 1.1), "emissivity"),
        ((330.0, ROOM, 0.6, 0.9, 0.0), "air pressure"),
    ],
)
def test_impossible_arguments_are_refused(arguments, word):
    with pytest.raises(InputError, match=word):
        room_film(*arguments)


def test_an_altitude_off_the_ground_is_refused():
    with pytest.raises(InputError, match="altitude"):
        atmospheric_pressure(20000.0)
