"""Marching in time: balance, extremes, rest, laws that change, control of the error, refusals.

Published problems stand in `annulus/verification/transients.py`; here are laws
that hold for every section, and closed forms of a body of one temperature.
Numbers said to be seen are regression values of the first version of these tests.
"""

import math
from dataclasses import replace
from itertools import count, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from annulus.conduction import transient
from annulus.conduction.boundaries import Film, Flux, Held, Radiating
from annulus.conduction.steady import solve_steady
from annulus.conduction.transient import march
from annulus.errors import ConvergenceError, InputError, MaterialError
from annulus.shapes import Rectangle
from annulus.verification import marching, transients
from annulus.verification.random_sections import RandomSection, random_section
from annulus.verification.transients import bar

ROOM, FIRE = 293.15, 823.15
HOUR = 3600.0
K, CAPACITY = {"body": 0.3}, {"body": 1e6}  # about sand
SHEET_K, SHEET_CAPACITY, SHEET = (
    {"body": 45.0},
    {"body": 3.8465e6},
    1.5e-3,
)  # steel; so thin that it has one temperature


def capacities(section: RandomSection, seed: int) -> dict[str, float]:
    """From loose wool to copper. [J/(m3 K)]"""
    rng = np.random.default_rng(seed + 10_000)
    return {name: float(10 ** rng.uniform(5, 7)) for name in section.conductivity}


def hot_films(section: RandomSection) -> dict[str, Film]:
    """The section's films with ambients between room and fire."""
    return {name: Film(f.coefficient, ROOM + (FIRE - ROOM) * f.ambient) for name, f in section.films.items()}


def beyond(section: RandomSection, seed: int, tolerance: float) -> float:
    """How far a field from ROOM leaves the range of its ambients at any of four times. [K]"""
    pieces = section.cut()
    films = {name: film for name, film in hot_films(section).items() if name in pieces.boundaries}
    history = march(
        pieces,
        section.conductivity,
        capacities(section, seed),
        films,
        ROOM,
        [10.0, 100.0, 1000.0, 10_000.0],
        contacts={pair: R for pair, R in section.contacts.items() if set(pair) <= {p.name for p in pieces.regions}},
        tolerance=tolerance,
    )
    ambients = [ROOM, *(film.ambient for name, film in films.items() if pieces.boundary_surfaces(name).size)]
    return max(float(history.temperature.max()) - max(ambients), min(ambients) - float(history.temperature.min()))


# -- energy


@settings(max_examples=15)
@given(seed=st.integers(0, 999))
def test_every_step_stores_what_enters(seed):
    """Layers, discs, bores, contacts, films and gas that swing in time, a source. At most 2e-12 was seen."""
    section = random_section(seed, cells=12, decades=4.0)

    def films(time):
        swing = math.sin(time / 600.0)
        return {
            name: Film(film.coefficient * (1 + 0.9 * swing), film.ambient * (1 + 0.1 * swing))
            for name, film in hot_films(section).items()
        }

    history = march(
        section.cut(),
        section.conductivity,
        capacities(section, seed),
        films,
        ROOM,
        [HOUR],
        contacts=section.contacts,
        source=lambda r, z: 1e4 * (1 + np.sin(50 * z)),
        tolerance=1.0,
    )
    assert np.abs(history.imbalance).max() < 1e-9


def test_heat_of_a_march_is_the_rise_times_the_capacity():
    history = march(bar(0.02, 10), K, CAPACITY, {"r_min": Film(30.0, FIRE)}, ROOM, [60.0, HOUR])
    rise = 1e6 * history.pieces.volume @ (history.temperature[-1] - ROOM)
    assert history.stored.sum() == pytest.approx(rise, rel=1e-12)
    assert history.heat["r_min"].sum() == pytest.approx(rise, rel=1e-12)
    assert history.heat["r_max"].sum() == 0.0


def test_energy_closes_where_nearly_nothing_moves():
    """A sheet that comes to rest, and a flux that warms it by 1e-10 K: round-off of 300 K is no lost heat."""
    rest = march(bar(0.1, 40), SHEET_K, SHEET_CAPACITY, {"r_min": Film(30.0, 331.7)}, ROOM, [1e6])
    faint = march(bar(0.1, 40), K, CAPACITY, {"r_min": Flux(1e-3)}, 300.0, [1.0])
    assert max(np.abs(rest.imbalance).max(), np.abs(faint.imbalance).max()) < 1e-9


def test_a_stage_that_is_not_solved_is_noticed(monkeypatch):
    solved = transient.solve_preconditioned

    def careless(*given):
        return replace(solved(*given), x=1.001 * solved(*given).x)

    monkeypatch.setattr(transient, "solve_preconditioned", careless)
    with pytest.raises(ConvergenceError, match="closes its energy to"):
        march(bar(0.02, 10), K, CAPACITY, {"r_min": Film(30.0, FIRE)}, ROOM, [HOUR])


# -- extremes


@pytest.mark.parametrize("seed", range(8))
def test_layers_stay_between_ambients_and_start(seed):
    """Faces on the layers make an M-matrix; what is left is the error of a step."""
    section = random_section(seed, cells=12, decades=4.0)
    flat = tuple(painted for painted in section.painted if isinstance(painted.shape, Rectangle))
    assert beyond(replace(section, painted=flat), seed, tolerance=1.0) < 1.0


@pytest.mark.parametrize("seed", [21, 27, 33, 36, 37])
def test_sections_with_discs_leave_the_range_by_a_thousandth_of_it(seed):
    """The worst five of 40. The second-order matrix at cut cells is no M-matrix: 0.3 K of 530 K was seen, whatever
    the tolerance of a step."""
    section = random_section(seed, cells=12, decades=4.0)
    assert beyond(section, seed, tolerance=1.0) < 1e-3 * (FIRE - ROOM)


def test_a_step_far_longer_than_the_time_constant_ends_at_rest():
    """L-stable: nothing rings. The trapezoidal rule alone would come out on the other side of the gas."""
    history = march(
        bar(SHEET, 3), SHEET_K, SHEET_CAPACITY, {"r_min": Film(30.0, FIRE)}, ROOM, [192_000.0], fixed_step=192_000.0
    )
    assert history.ends.size == 1
    assert history.temperature[0] == pytest.approx(FIRE, abs=0.01 * (FIRE - ROOM))


# -- rest


@pytest.mark.parametrize("seed", [1, 27, 33])
def test_a_steady_field_stays_and_a_long_march_ends_in_it(seed):
    section = random_section(seed, cells=12, decades=4.0)
    pieces, films, capacity = section.cut(), hot_films(section), capacities(section, seed)
    steady = solve_steady(pieces, section.conductivity, films, section.contacts).temperature

    def end(initial, time):
        (found,) = march(
            pieces, section.conductivity, capacity, films, initial, [time], contacts=section.contacts, tolerance=1.0
        ).temperature
        return found

    assert end(steady, HOUR) == pytest.approx(steady, abs=1e-7)
    assert end(ROOM, 1e8) == pytest.approx(steady, abs=1e-6)


def test_a_field_without_a_flow_stays_as_it_is():
    history = march(bar(0.02, 10), K, CAPACITY, {"r_min": Film(7.3, 331.7)}, 331.7, [HOUR])
    assert history.temperature == pytest.approx(331.7, abs=1e-12)
    assert march(bar(0.02, 10), K, CAPACITY, {}, 331.7, [HOUR]).temperature == pytest.approx(331.7, abs=1e-12)


@pytest.mark.parametrize("cells", [1, 4])
def test_a_radiating_bar_comes_to_rest_in_its_steady_field(cells):
    """Thick cells: the face is far colder than the piece behind it, and the law is read at the face."""
    pieces, laws = bar(0.1, cells), {"r_min": Held(1000.0), "r_max": Radiating(0.98, 300.0)}
    steady = solve_steady(pieces, {"body": 55.6}, laws)
    history = march(pieces, {"body": 55.6}, {"body": 3.6e6}, laws, 300.0, [1e5], tolerance=0.1)
    assert history.temperature[0] == pytest.approx(steady.temperature, abs=1e-6)


def test_conductivity_of_temperature_comes_to_rest_in_its_steady_field():
    pieces, laws = bar(0.02, 10), {"r_min": Held(FIRE), "r_max": Film(10.0, ROOM)}
    k = {"body": lambda T, r, z: 0.3 * (T / 300.0)}
    steady = solve_steady(pieces, k, laws)
    history = march(pieces, k, CAPACITY, laws, ROOM, [1e6], tolerance=0.1)
    assert history.temperature[0] == pytest.approx(steady.temperature, abs=1e-6)


# -- laws that change


def sheet_in(film, times, **more):
    """Temperatures of a sheet of one temperature whose film changes with time, from ROOM in gas at FIRE."""
    return march(
        bar(SHEET, 1), {"body": 1e9}, SHEET_CAPACITY, lambda t: {"r_min": Film(film(t), FIRE)}, ROOM, times, **more
    )


def sheet_temperature(heat_per_degree):
    """Closed form: the excess falls with the integral of the film over time. [J/(m2 K)]"""
    return FIRE + (ROOM - FIRE) * math.exp(-heat_per_degree / (SHEET_CAPACITY["body"] * SHEET))


def test_a_film_that_swings_acts_by_its_integral():
    period = 200.0
    history = sheet_in(lambda t: 30 * (1 + 0.8 * math.sin(2 * math.pi * t / period)), [50.0, 170.0], tolerance=1e-3)
    for time, found in zip(history.times, history.temperature, strict=True):
        integral = 30 * (time + 0.8 * period / (2 * math.pi) * (1 - math.cos(2 * math.pi * time / period)))
        assert found[0] == pytest.approx(
            sheet_temperature(integral), abs=0.02
        )  # errors of steps add up: 10 tolerances were seen


def test_a_film_that_swings_keeps_second_order():
    errors = []
    exact = sheet_temperature(30 * (150 + 0.8 * 200 / (2 * math.pi) * (1 - math.cos(1.5 * math.pi))))
    for step in (10.0, 5.0, 2.5):
        history = sheet_in(lambda t: 30 * (1 + 0.8 * math.sin(2 * math.pi * t / 200)), [150.0], fixed_step=step)
        errors.append(abs(history.temperature[0, 0] - exact))
    assert np.log2(errors[0] / errors[1]) == pytest.approx(2.0, abs=0.2)
    assert np.log2(errors[1] / errors[2]) == pytest.approx(2.0, abs=0.2)


def test_a_film_that_jumps_makes_steps_smaller_and_the_field_right():
    """The door is opened at 100 s, which no wished time tells."""
    history = sheet_in(lambda t: 30.0 if t < 100 else 5.0, [400.0], tolerance=0.01)
    assert history.refused > 0
    assert history.temperature[0, 0] == pytest.approx(sheet_temperature(30 * 100 + 5 * 300), abs=0.05)
    told = sheet_in(lambda t: 30.0 if t < 100 else 5.0, [100.0, 400.0], tolerance=0.01)
    assert told.temperature[1, 0] == pytest.approx(history.temperature[0, 0], abs=0.05)


def test_conductivity_and_capacity_of_temperature_keep_second_order():
    """A wall whose face is warmed smoothly to FIRE: k doubles, capacity grows by half. Field and heat stored."""
    k = {"body": lambda T, r, z: 0.3 * T / ROOM}
    capacity = {"body": lambda T, r, z: 1e6 * (1 + (T - ROOM) / 1000)}

    def face(time):
        return {"r_min": Held(ROOM + 0.5 * (FIRE - ROOM) * (1 - math.cos(math.pi * time / 600)))}

    def enthalpy(T):
        return 1e6 * (T - ROOM) * (1 + (T - ROOM) / 2000)

    pieces = bar(0.02, 20)
    runs = [march(pieces, k, capacity, face, ROOM, [600.0], fixed_step=600 / n) for n in (20, 40, 80, 160)]
    change = [np.abs(a.temperature - b.temperature).max() for a, b in pairwise(runs)]
    off = [abs(run.stored.sum() - pieces.volume @ enthalpy(run.temperature[0])) for run in runs]
    assert np.log2(np.divide(change[:-1], change[1:])) == pytest.approx(2.0, abs=0.2)
    assert np.log2(np.divide(off[:-1], off[1:])) == pytest.approx(2.0, abs=0.25)
    assert off[-1] < 1e-4 * runs[-1].stored.sum()


# -- control of the error


@pytest.mark.parametrize("law", [Held(FIRE), Film(30.0, FIRE)], ids=["held", "film"])
def test_half_the_tolerance_lowers_the_true_error(law):
    """Errors of steps add up, so the whole error falls as the two-thirds power; up to 0.9 times the tolerance at
    0.25 K was seen."""
    pieces, times, tolerances = bar(0.02, 40), [100.0, 600.0, HOUR], [4.0, 2.0, 1.0, 0.5, 0.25]
    best = march(pieces, K, CAPACITY, {"r_min": law}, ROOM, times, tolerance=2e-3).temperature
    errors = [
        np.abs(march(pieces, K, CAPACITY, {"r_min": law}, ROOM, times, tolerance=tolerance).temperature - best).max()
        for tolerance in tolerances
    ]
    assert (np.diff(errors) < 0).all()
    assert np.less(errors, tolerances).all()


@pytest.mark.parametrize("pieces_of_time", [2, 7, 60])
def test_wished_times_on_the_way_change_the_end_by_less_than_the_tolerance(pieces_of_time):
    def end(times):
        return march(bar(0.02, 40), K, CAPACITY, {"r_min": Film(30.0, FIRE)}, ROOM, times, tolerance=0.5).temperature[
            -1
        ]

    assert end(np.linspace(0.0, HOUR, pieces_of_time + 1)[1:]) == pytest.approx(end([HOUR]), abs=0.5)


def test_steps_end_on_wished_times_and_only_taken_steps_are_kept():
    """A face that jumps needs refusals; the record has none of the refused steps."""
    times = [7.0, 11.0, 700.0]
    history = march(bar(0.02, 40), K, CAPACITY, {"r_min": Held(FIRE)}, ROOM, times, tolerance=0.1)
    assert history.refused > 0
    assert set(times) <= set(history.ends.tolist())
    assert (np.diff(history.ends) > 0).all() and history.ends[-1] == 700.0
    assert history.stored.size == history.ends.size == history.heat["r_min"].size == history.imbalance.size


def test_even_steps_share_one_factor():
    """1000 steps whose lengths differ by round-off."""
    times = np.linspace(0.0, 1100.0, 1001)[1:]
    history = march(bar(0.02, 5), K, CAPACITY, {"r_min": Film(7.3, FIRE)}, ROOM, times, fixed_step=1.1)
    assert history.ends.size == 1000 and history.factorisations == 1


# -- refusals


@pytest.mark.parametrize("times", [[], [0.0], [-1.0, 2.0], [2.0, 2.0], [3.0, 2.0], [math.nan], [1.0, math.inf], 5.0])
def test_times_that_do_not_increase_from_zero_are_refused(times):
    with pytest.raises(InputError, match="must be positive and increase"):
        march(bar(0.02, 2), K, CAPACITY, {}, ROOM, times)


@pytest.mark.parametrize("steps", [{"tolerance": 0.0}, {"tolerance": math.nan}, {"fixed_step": -1.0}])
def test_an_impossible_tolerance_or_step_is_refused(steps):
    with pytest.raises(InputError, match="must be positive"):
        march(bar(0.02, 2), K, CAPACITY, {}, ROOM, [1.0], **steps)


@pytest.mark.parametrize("initial", [math.nan, [300.0, 300.0, 300.0], [[300.0, 300.0]]])
def test_an_impossible_initial_field_is_refused(initial):
    with pytest.raises(InputError, match="initial temperature of shape"):
        march(bar(0.02, 2), K, CAPACITY, {}, initial, [1.0])


def test_unknown_boundaries_and_regions_without_a_law_are_refused():
    with pytest.raises(InputError, match="'r_mx' is unknown; there are"):
        march(bar(0.02, 2), K, CAPACITY, lambda t: {"r_mx": Held(FIRE)}, ROOM, [1.0])
    with pytest.raises(InputError, match="'body': no heat capacity given"):
        march(bar(0.02, 2), K, {"sand": 1e6}, {}, ROOM, [1.0])
    with pytest.raises(InputError, match="'body': no conductivity given"):
        march(bar(0.02, 2), {}, CAPACITY, {}, ROOM, [1.0])


@pytest.mark.parametrize("capacity", [0.0, -1.0, math.nan, lambda T, r, z: 300.0 - T])
def test_a_heat_capacity_that_is_not_positive_is_refused(capacity):
    with pytest.raises(MaterialError, match=r"heat capacity .* must be positive and finite"):
        march(bar(0.02, 2), K, {"body": capacity}, {"r_min": Held(FIRE)}, 305.0, [1.0])


def test_a_boundary_that_jumps_without_end_ends_in_an_error_that_says_where():
    """Other heat at every reading, too much of it for any step."""
    readings = count()

    def noise(time):
        return {"r_min": Flux(1e30 * (-1.0) ** next(readings))}

    with pytest.raises(ConvergenceError, match=r"at 0 s the step shrank to .* does a boundary jump without end"):
        march(bar(0.02, 10), K, CAPACITY, noise, ROOM, [HOUR])


def test_a_face_that_is_heated_the_more_the_hotter_it_is_is_refused():
    class Runaway:
        depends_on_temperature = True

        def linearise(self, temperature, r, z):
            return 1e3 * np.sin(temperature * 1e3), np.zeros(temperature.size)

    with pytest.raises(ConvergenceError, match="a face still changes by"):
        march(bar(0.02, 2), K, CAPACITY, {"r_min": Runaway()}, ROOM, [1.0])


# -- the published cases notice


@pytest.mark.parametrize("case", transients.CASES, ids=lambda case: case.id)
def test_bodies_that_store_five_per_cent_more_are_noticed(case, monkeypatch):
    def heavier(pieces, conductivity, capacity, *rest, **more):
        return march(pieces, conductivity, {name: 1.05 * c for name, c in capacity.items()}, *rest, **more)

    monkeypatch.setattr(marching, "march", heavier)
    assert any("error" in row.faults for row in case.run())


def test_a_first_order_error_of_steps_is_noticed(monkeypatch):
    def sloppy(*given, fixed_step, **more):
        history = march(*given, fixed_step=fixed_step, **more)
        return replace(history, temperature=history.temperature + 1e-2 * (fixed_step or 0.0))

    monkeypatch.setattr(marching, "march", sloppy)
    (order,) = (row for row in transients.lumped_rows() if row.quantity == "order in time")
    assert order.faults == ["error"]
