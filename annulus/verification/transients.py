"""V4, V17 to V22: fields in time whose answers are series or closed forms.

Goes in: nothing. Comes out: rows.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from annulus.conduction.boundaries import Film, Held
from annulus.conduction.grid import Grid, graded_faces, uniform_grid
from annulus.conduction.pieces import Painted, Pieces, cut_grid
from annulus.conduction.probe import interface_temperatures
from annulus.conduction.steady import Field
from annulus.shapes import Rectangle
from annulus.verification import transient_forms as forms
from annulus.verification.marching import Answer, Problem, at, digits, on, time_rows
from annulus.verification.rows import Case, Row, quoted

MM = 1e-3


def bar(length: float, cells: int, name: str = "body") -> Pieces:
    """Plane bar along r, one cell wide."""
    grid = uniform_grid((0.0, length), (0.0, 1.0), (cells, 1), "plane")
    return cut_grid(grid, [Painted(name, Rectangle(0.0, length, 0.0, 1.0))])


def round_bar(inner: float, outer: float, cells: int) -> Pieces:
    """Cylinder or ring, one cell high."""
    grid = uniform_grid((inner, outer), (0.0, 1.0), (cells, 1))
    return cut_grid(grid, [Painted("body", Rectangle(inner, outer, 0.0, 1.0))])


# NAFEMS, The Standard NAFEMS Benchmarks, 1990, test T3 (one-dimensional transient): published 36.60
# at 0.08 m after 32 s, quoted from memory. The digits are the sine series of `driven_bar`.
SWING, FREQUENCY = 100.0, math.pi / 40
NAFEMS_K, NAFEMS_CAPACITY = 35.0, 7200.0 * 440.5
DRIVEN = Answer("T(0.08 m, 32 s)", 36.60312, 0, at(0.08))


def driven_rows() -> list[Row]:
    def ends(time: float) -> dict[str, Held]:
        return {"r_min": Held(0.0), "r_max": Held(SWING * math.sin(FREQUENCY * time))}

    problem = Problem(bar(0.1, 100), {"body": NAFEMS_K}, {"body": NAFEMS_CAPACITY}, ends, (32.0,), SWING)
    rows = time_rows(problem, [DRIVEN], 4.0, error=5e-4)  # 0.05 K of 100 K
    worked = forms.driven_bar(0.08, 32.0, 0.1, NAFEMS_K / NAFEMS_CAPACITY, SWING, FREQUENCY)
    return [*rows, digits([DRIVEN], [worked], 6e-6)]


# Carslaw & Jaeger 7.7 and Incropera & DeWitt 5.6 (Heisler's charts): solid cylinder in a film. Cited
# from memory, the numbers are the series of `cylinder`. By Biot number: (Fourier, centre, surface).
CYLINDER = {
    1.0: [(0.05, 0.9988978, 0.7696407), (0.2, 0.8701742, 0.5702277), (0.5, 0.5485862, 0.3527858)],
    10.0: [(0.05, 0.9936723, 0.2009300), (0.2, 0.6002323, 0.0748439), (0.5, 0.1458001, 0.0177580)],
}
CYLINDER[1.0].append((1.0, 0.2493797, 0.1603384))
FIRST_ROOTS = {0.1: 0.4416818, 1.0: 1.2557837, 10.0: 2.1794966, 100.0: 2.3809017}


def cylinder_rows() -> list[Row]:
    rows = []
    for biot, quotes in CYLINDER.items():
        answers, worked = [], []
        for n, (fourier, centre, surface) in enumerate(quotes):
            answers.append(Answer(f"Bi {biot:g}, Fo {fourier:g}, centre", centre, n, at(0.0)))
            answers.append(Answer(f"Bi {biot:g}, Fo {fourier:g}, surface", surface, n, on("r_max")))
            worked += list(forms.cylinder(biot, fourier, [0.0, 1.0]))
        times = tuple(quote[0] for quote in quotes)
        one = {"body": 1.0}
        problem = Problem(round_bar(0.0, 1.0, 60), one, one, {"r_max": Film(biot, 0.0)}, times, 1.0, initial=1.0)
        rows += [*time_rows(problem, answers, 0.025), digits(answers, worked, 6e-8)]
    return [*rows, quoted((root, float(forms.cylinder_roots(biot)[0]), 6e-8) for biot, root in FIRST_ROOTS.items())]


# Carslaw & Jaeger 13.4: hollow cylinder from r = 1 to 2, diffusivity 1, both faces stepped from 1 to 0. From
# memory; the numbers are the series of `hollow_cylinder`.
RING_PLACES = (1.25, 1.5, 1.75)
RING = {
    0.01: (0.9309459, 0.9991970, 0.9175337),
    0.05: (0.5921919, 0.7747136, 0.5269676),
    0.1: (0.3691419, 0.4786972, 0.3150219),
}


def ring_rows() -> list[Row]:
    answers = [
        Answer(f"T({r:g}), t = {time:g}", T, n, at(r))
        for n, (time, row) in enumerate(RING.items())
        for r, T in zip(RING_PLACES, row, strict=True)
    ]
    one, faces = {"body": 1.0}, {"r_min": Held(0.0), "r_max": Held(0.0)}
    problem = Problem(round_bar(1.0, 2.0, 60), one, one, faces, tuple(RING), 1.0, initial=1.0)
    worked = np.concatenate([forms.hollow_cylinder(time, RING_PLACES) for time in RING])
    return [*time_rows(problem, answers, 0.005), digits(answers, worked.tolist(), 6e-8)]


# Incropera & DeWitt 5.8 (products of one-dimensional solutions): cylinder as high as wide, film of Biot number 1
# all round. From memory; the numbers are products of the series. By Fourier number: centre, rim of an end.
SHORT = {0.1: (0.9700845, 0.4953353), 0.3: (0.6689647, 0.2851994), 0.8: (0.2116148, 0.0887393)}


def short_rows() -> list[Row]:
    answers, worked = [], []
    for n, (fourier, (centre, rim)) in enumerate(SHORT.items()):
        answers.append(Answer(f"Fo {fourier:g}, centre", centre, n, at(0.0, 0.0)))
        answers.append(Answer(f"Fo {fourier:g}, rim", rim, n, on("r_max", 1.0)))
        worked += list(forms.cylinder(1.0, fourier, [0.0, 1.0]) * forms.wall(1.0, fourier, [0.0, 1.0]))
    pieces = cut_grid(uniform_grid((0.0, 1.0), (0.0, 1.0), (30, 30)), [Painted("body", Rectangle(0.0, 1.0, 0.0, 1.0))])
    one, film = {"body": 1.0}, Film(1.0, 0.0)
    problem = Problem(pieces, one, one, {"r_max": film, "z_max": film}, tuple(SHORT), 1.0, initial=1.0)
    return [*time_rows(problem, answers, 0.05), digits(answers, worked, 6e-8)]


# Carslaw & Jaeger 2.4 (face stepped) and 2.7 (film): half-space of diffusivity 5e-7 m2/s, k = 0.8, h = 40.
# From memory; the numbers are error functions. The body is made 0.2 m deep, where less than 1e-15 arrives.
EARTH_K, EARTH_CAPACITY, EARTH_FILM, DEPTH = 0.8, 1.6e6, 40.0, 0.2
STEPPED = {60.0: 0.1967056, 300.0: 0.5637029}  # at 10 mm, by time [s]
FILMED = {0.0: 0.5328387, 10 * MM: 0.3254344, 30 * MM: 0.0849410}  # at 600 s, by place [m]


def half_space() -> Pieces:
    """Cells of 0.5 mm at the face that grow inwards."""
    faces = graded_faces([0.0, 10 * MM, DEPTH], lambda x: 0.5 * MM + 0.05 * np.maximum(0.0, x - 30 * MM))
    return cut_grid(Grid(faces, np.array([0.0, 1.0]), "plane"), [Painted("body", Rectangle(0.0, DEPTH, 0.0, 1.0))])


def half_space_rows() -> list[Row]:
    pieces, k, capacity = half_space(), {"body": EARTH_K}, {"body": EARTH_CAPACITY}
    diffusivity = EARTH_K / EARTH_CAPACITY
    stepped = [Answer(f"stepped, T(10 mm, {t:g} s)", T, n, at(10 * MM)) for n, (t, T) in enumerate(STEPPED.items())]
    filmed = [Answer(f"film, T({x / MM:g} mm, 600 s)", T, 0, at(x) if x else on("r_min")) for x, T in FILMED.items()]
    worked_stepped = [forms.half_space(10 * MM, t, diffusivity) for t in STEPPED]
    worked_filmed = [forms.half_space_with_film(x, 600.0, diffusivity, EARTH_K, EARTH_FILM) for x in FILMED]
    step = Problem(pieces, k, capacity, {"r_min": Held(1.0)}, tuple(STEPPED), 1.0)
    film = Problem(pieces, k, capacity, {"r_min": Film(EARTH_FILM, 1.0)}, (600.0,), 1.0)
    return [
        *time_rows(step, stepped, 15.0),
        digits(stepped, worked_stepped, 6e-8),
        *time_rows(film, filmed, 60.0),
        digits(filmed, worked_filmed, 6e-8),
    ]


# No published source: two layers with a contact, face stepped from 0 to 1, back adiabatic. The numbers are an
# inverted Laplace transform that agreed to 1e-8 with a sum of eigenfunctions; `two_layers` inverts it again.
LAYER_EDGES, LAYER_K, LAYER_CAPACITY, LAYER_CONTACT = (0.0, 0.010, 0.030), (0.3, 45.0), (1.28e6, 3.8465e6), 1e-3
TWO_LAYERS = {  # 5 mm, both sides of the contact at 10 mm, back at 30 mm
    60.0: (0.3428394, 0.0183329, 0.0052156, 0.0024987),
    600.0: (0.5910958, 0.1977666, 0.1749384, 0.1698603),
    3600.0: (0.8603821, 0.7260817, 0.7182871, 0.7165532),
}
LAYER_STEPS = {(60.0, 600.0): 20.0, (3600.0,): 300.0}  # longest step tried, by times reached with it [s]


def contact_side(which: int) -> Callable[[Field], float]:
    """Reading at the contact, on the side of the first layer or of the second."""
    return lambda found: float(interface_temperatures(found, "filler", "steel")[2 + which][0])


def two_layer_rows() -> list[Row]:
    face, contact, back = LAYER_EDGES
    grid = Grid(graded_faces(LAYER_EDGES, lambda x: np.full(x.shape, 0.25 * MM)), np.array([0.0, 1.0]), "plane")
    layers = [
        Painted("filler", Rectangle(face, contact, 0.0, 1.0)),
        Painted("steel", Rectangle(contact, back, 0.0, 1.0)),
    ]
    names = ("filler", "steel")
    pieces, contacts = cut_grid(grid, layers), {names: LAYER_CONTACT}
    k, capacity = dict(zip(names, LAYER_K, strict=True)), dict(zip(names, LAYER_CAPACITY, strict=True))
    places: list[tuple[str, float, bool, Callable[[Field], float]]] = [
        ("5 mm", 5 * MM, False, at(5 * MM)),
        ("10 mm, filler", contact, False, contact_side(0)),
        ("10 mm, steel", contact, True, contact_side(1)),
        ("30 mm", back, False, on("r_max")),
    ]
    rows = []
    for times, first_step in LAYER_STEPS.items():
        problem = Problem(pieces, k, capacity, {"r_min": Held(1.0)}, times, 1.0, contacts=contacts)
        answers, worked = [], []
        for n, time in enumerate(times):
            for (name, x, other_side, read), T in zip(places, TWO_LAYERS[time], strict=True):
                answers.append(Answer(f"T({name}, {time:g} s)", T, n, read))
                thickness = (contact, back - contact)
                worked.append(forms.two_layers(x, time, thickness, LAYER_K, LAYER_CAPACITY, LAYER_CONTACT, other_side))
        rows += [*time_rows(problem, answers, first_step), digits(answers, worked, 6e-8)]
    return rows


# Incropera & DeWitt 5.1 (lumped capacitance), from memory: steel plate of 1.5 mm, film of 30 W/(m2 K) on one side to
# gas at 550, first at 20. A plate of k = 45 has a Biot number of 0.001 and lags by a third of that.
PLATE, STEEL_CAPACITY, GAS_FILM, GAS, FIRST = 1.5 * MM, 3.8465e6, 30.0, 550.0, 20.0
LUMPED = {100.0: 234.889, 1200.0: 548.966}


def lumped_rows() -> list[Row]:
    problem = Problem(
        bar(PLATE, 3),
        {"body": 45.0},
        {"body": STEEL_CAPACITY},
        {"r_min": Film(GAS_FILM, GAS)},
        tuple(LUMPED),
        GAS - FIRST,
        initial=FIRST,
    )
    answers = [Answer(f"T({t:g} s)", T, n, at(PLATE / 2)) for n, (t, T) in enumerate(LUMPED.items())]
    worked = [forms.lumped(t, FIRST, GAS, STEEL_CAPACITY * PLATE / GAS_FILM) for t in LUMPED]
    return [*time_rows(problem, answers, 100.0), digits(answers, worked, 6e-4)]


SERIES = "series, summed again"

CASES = (
    Case(
        "V4",
        "Bar whose end swings",
        "a held temperature that changes with time",
        f"NAFEMS T3; {SERIES}",
        driven_rows,
    ),
    Case(
        "V17",
        "Long cylinder cooled by a film",
        "storage in rings, a film from the first instant",
        f"Carslaw & Jaeger 7.7; {SERIES}",
        cylinder_rows,
    ),
    Case(
        "V18",
        "Hollow cylinder, both faces stepped",
        "a jump at the boundary does not ring",
        f"Carslaw & Jaeger 13.4; {SERIES}",
        ring_rows,
    ),
    Case(
        "V19",
        "Short cylinder cooled all round",
        "heat in both directions, a rim between two films",
        f"product of two solutions; {SERIES}",
        short_rows,
    ),
    Case(
        "V20",
        "Half-space, face stepped or in a film",
        "a front that runs into a graded grid",
        "closed form, error functions; Carslaw & Jaeger 2.4, 2.7",
        half_space_rows,
    ),
    Case(
        "V21",
        "Filler and steel with a contact between",
        "a contact resistance while heat is stored on both its sides",
        "Laplace transform, inverted again",
        two_layer_rows,
    ),
    Case(
        "V22",
        "Thin plate in hot gas",
        "the limit of one temperature, long steps past its time constant",
        "closed form; Incropera & DeWitt 5.1",
        lumped_rows,
    ),
)
