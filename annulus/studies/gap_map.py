"""Where a gap costs most: the heat to the water that a small void or a thin film of air takes, place by place.

Goes in: a solved heater with a coil. Comes out: watts per area of a small void
for every piece, watts of a film for places along every surface of the packing,
and the worst kinds of place solved again with the film there.

A place is a run along a surface at one turn, all the way round the flue; what
lies alike at other turns is of the same kind.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.errors import InputError
from annulus.heater.cavity import is_open
from annulus.heater.precision import BAR, BAR_TOUCHING, tubes_touch
from annulus.heater.sensitivity import HeatSensitivity, heat_sensitivity
from annulus.heater.steady import DEFAULT_FINENESS, SteadyHeater, solve_heater, solve_model
from annulus.section import Turn

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FILM, RUN = 3e-4, 5e-3  # [m], thickness and length of the film that is asked about
WORST = 10  # kinds of place that are told
TRIED = 14  # kinds that are solved again: a film costs less than its slope says where it is narrow
WORTH_NAMING = 0.01  # of the worst place's cost
COVERED = 0.5  # of the run, that a place's links must cover
SIDES = (  # of a tube, by eighths of its circle from the side that faces away from the flue, upwards
    "outer side",
    "outer side, above",
    "top",
    "inner side, above",
    "side to the flue",
    "inner side, below",
    "underside",
    "outer side, below",
)


@dataclass(frozen=True)
class Place:
    """A run along a surface at one turn.

    Attributes
    ----------
    kind : tuple
        The surface's role and where on it; the same at every turn.
    turn : int
        Index, bottom first.
    words : str
    r, z : float
        Its middle. [m]
    links : ndarray of int
        Of the section, that cross the surface there.
    packed : ndarray of int
        Piece of the packing at each link, or -1 where two metals touch.
    covered : float
        Length of the links along the surface. [m]
    """

    kind: tuple[str, int]
    turn: int
    words: str
    r: float
    z: float
    links: Ints
    packed: Ints
    covered: float


@dataclass(frozen=True)
class FilmCost:
    """What a film of air at the worst place of a kind costs.

    Attributes
    ----------
    place : Place
        Where it costs most.
    cost, by_slope : float
        Solved again with the film there, and by the slope alone. [W]
    least_turn, least_share : int, float
        Turn at which the same costs least, and that cost over the worst, by their slopes.
    """

    place: Place
    cost: float
    by_slope: float
    least_turn: int
    least_share: float


@dataclass(frozen=True)
class GapMap:
    """Costs of gaps on one grid.

    Attributes
    ----------
    heater : SteadyHeater
    sensitivity : HeatSensitivity
    void_cost : ndarray, shape (n_pieces,)
        Of a small round void of still air in each piece, per area of its cut; negative where
        it helps; nan in still air. [W/m2]
    film, run : float
        [m]
    slopes : list of (Place, float)
        What the film costs by slope alone at every place. [W]
    worst : list of FilmCost
        The dearest first, those not worth naming left out.
    """

    heater: SteadyHeater
    sensitivity: HeatSensitivity
    void_cost: Floats
    film: float
    run: float
    slopes: list[tuple[Place, float]]
    worst: list[FilmCost]


def make_gap_map(
    heater: SteadyHeater,
    film: float = FILM,
    run: float = RUN,
    tell: Callable[[str], None] | None = None,
    only: Sequence[Place] | None = None,
) -> GapMap:
    """Cost of a small void everywhere, and of a film at the worst kinds of place.

    Parameters
    ----------
    heater : SteadyHeater
        With a coil.
    film, run : float
        Thickness of the film of still air, and its length along the surface. [m]
    tell : callable, optional
        Told in a few words what is going on.
    only : sequence of Place, optional
        Of the same case on another grid: the places to be told, in this order.

    Returns
    -------
    GapMap

    Raises
    ------
    InputError
        If there is no coil.
    ConvergenceError
        As `solve_model`.

    Notes
    -----
    Every place's slope comes from one adjoint solve. A film as thin as a hair costs
    what its slope says; a thicker one in a narrow place costs less, for the heat
    goes around it, so that the worst are solved again. Heat crosses a film by
    conduction of still air; radiation across it is left out.
    """
    say = tell or (lambda words: None)
    say("solving the adjoint")
    sensitivity = heat_sensitivity(heater)
    slopes = [(place, _slope_cost(heater, sensitivity, place, film, run)) for place in places(heater, run)]
    kinds: dict[tuple[str, int], list[tuple[float, Place]]] = {}
    for place, slope in slopes:
        kinds.setdefault(place.kind, []).append((slope, place))
    if only is None:
        tops = sorted((max(costs, key=lambda cost: cost[0]) for costs in kinds.values()), key=lambda cost: -cost[0])
        tried = [(slope, place) for slope, place in tops if slope > 0][:TRIED]
    else:
        wanted = [(place.kind, place.turn) for place in only]
        here = {(cost[1].kind, cost[1].turn): cost for costs in kinds.values() for cost in costs}
        tried = [here[key] for key in wanted if key in here]
    found = []
    for number, (slope, place) in enumerate(tried, start=1):
        say(f"solving with a film {place.words} ({number} of {len(tried)})")
        cost = sensitivity.heat - heat_with_film(heater, place, film)
        least, least_place = min(kinds[place.kind], key=lambda pair: pair[0])
        found.append(FilmCost(place, cost * run / place.covered, slope, least_place.turn, least / slope))
    if only is None:
        found = sorted(found, key=lambda cost: -cost.cost)[:WORST]
        found = [cost for cost in found if cost.cost > WORTH_NAMING * found[0].cost]
    return GapMap(heater, sensitivity, void_cost(heater, sensitivity), film, run, slopes, found)


def gap_map_with_errors(
    case: Case, film: float = FILM, run: float = RUN, tell: Callable[[str], None] | None = None
) -> tuple[GapMap, list[float]]:
    """Gap map on the finer grid of the default pair, and the error of each of its worst costs.

    Parameters
    ----------
    case : Case
        With a coil.
    film, run, tell
        As `make_gap_map`.

    Returns
    -------
    GapMap
    list of float
        By the rule of error bars: the change from the coarser grid times its factor. A place that
        the coarser grid does not resolve has its whole cost as its error. [W]

    Raises
    ------
    InputError, BoilingError, ConvergenceError
        As `solve_heater` and `make_gap_map`.
    """
    if case.coil is None:
        raise InputError("gap map: is told in heat to the water, and the case has no [coil]")
    coarse_heater = solve_heater(case, DEFAULT_FINENESS // 2, tell)
    heater = solve_heater(case, DEFAULT_FINENESS, tell, near=coarse_heater)
    fine = make_gap_map(heater, film, run, tell)
    coarse = make_gap_map(coarse_heater, film, run, tell, [cost.place for cost in fine.worst])
    known = {(cost.place.kind, cost.place.turn): cost.cost for cost in coarse.worst}
    factor = BAR_TOUCHING if tubes_touch(heater) else BAR["W"]
    errors = []
    for cost in fine.worst:
        other = known.get((cost.place.kind, cost.place.turn))
        errors.append(abs(cost.cost) if other is None else factor * abs(cost.cost - other))
    return fine, errors


def void_cost(heater: SteadyHeater, sensitivity: HeatSensitivity) -> Floats:
    """Heat to the water lost to a small round void of still air, per area of its cut, shape (n_pieces,). [W/m2]

    Notes
    -----
    A round void in a wide field disturbs it so that the change is that of its conductivity alone times
    2 k / (k + k_air): twice where k is large. Exact as its size goes to zero; near a surface closer
    than its own size, a guide.

    References
    ----------
    J. C. Maxwell, A Treatise on Electricity and Magnetism, 1873, for the sphere; the
    circle by the same way. From memory; checked in the tests against a section with a void.
    """
    pieces, k = heater.model.pieces, heater.field.network.conductivity
    air = still_air_conductivity(heater, np.arange(pieces.count))
    cut = pieces.volume / (2 * math.pi * pieces.r)
    cost = sensitivity.by_conductivity / cut * (k - air) * 2 * k / (k + air)
    return np.where(_is_open(heater)[pieces.region], np.nan, cost)


def places(heater: SteadyHeater, run: float = RUN) -> list[Place]:
    """All places along the surfaces of the packing, turn by turn: flue, tube, shroud.

    Where a surface meets still air there is nothing to lose, and no place.
    """
    pieces, section = heater.model.pieces, heater.model.section
    role = np.array([region.role for region in section.regions])
    clear = _is_open(heater)
    a, b = pieces.region[pieces.link_a], pieces.region[pieces.link_b]
    packing = np.isin(role, ("filler", "void")) & ~clear
    outer = "shroud" if (role == "shroud").any() else "insulation"

    def at(one: NDArray[np.bool_], other: NDArray[np.bool_]) -> Ints:
        return np.flatnonzero((one[a] & other[b]) | (other[a] & one[b]))

    flue, tube = role == "flue", role == "tube"
    behind = at(flue, packing | tube)
    around = at(tube, packing)
    outside = at(role == outer, packing)
    turn_of = np.array([-1 if region.turn is None else region.turn for region in section.regions])
    tube_turn = np.maximum(turn_of[a], turn_of[b])
    packed = np.where(packing[a], pieces.link_a, np.where(packing[b], pieces.link_b, -1))
    found = []
    for turn in section.turns:
        runs = [
            *_level_runs(turn, "flue", section.flue_radius, behind, heater, run),
            *_tube_runs(turn, around[tube_turn[around] == turn.index], heater, run),
            *_level_runs(turn, outer, section.cavity_radius, outside, heater, run),
        ]
        for kind, words, r, z, links in runs:
            covered = float((pieces.links.area[links] / (2 * math.pi * pieces.links.r[links])).sum())
            if covered >= COVERED * run:
                found.append(Place(kind, turn.index, words, r, z, links, packed[links], covered))
    return found


Run = tuple[tuple[str, int], str, float, float, Ints]


def _level_runs(turn: Turn, role: str, r: float, links: Ints, heater: SteadyHeater, run: float) -> Iterator[Run]:
    """Runs along an upright surface, the middle one level with the turn."""
    section, z = heater.model.section, heater.model.pieces.links.z[links]
    pitch = section.height / len(section.turns)
    reach = int(0.5 * pitch / run - 0.5 + 1e-9)
    for step in range(-reach, reach + 1):
        middle = turn.z + step * run
        side = "behind" if step == 0 else "over" if step > 0 else "under"
        if role != "flue" and step == 0:
            side = "beside"
        off = f", {1000 * abs(step) * run:.3g} mm {'above' if step > 0 else 'below'} its middle" if step else ""
        words = f"{side} turn {turn.index + 1}, against the {role}{off}"
        yield (role, step), words, r, middle, links[np.abs(z - middle) <= 0.5 * run]


def _tube_runs(turn: Turn, links: Ints, heater: SteadyHeater, run: float) -> Iterator[Run]:
    """Runs around a tube, by eighths of its circle."""
    contacts = heater.model.pieces.links
    angle = np.arctan2(contacts.z[links] - turn.z, contacts.r[links] - turn.r)
    for side, name in enumerate(SIDES):
        middle = side * math.pi / 4
        apart = np.abs((angle - middle + math.pi) % (2 * math.pi) - math.pi) * turn.outer_radius
        r, z = turn.r + turn.outer_radius * math.cos(middle), turn.z + turn.outer_radius * math.sin(middle)
        yield ("tube", side), f"on the tube of turn {turn.index + 1}, {name}", r, z, links[apart <= 0.5 * run]


def film_resistance(heater: SteadyHeater, place: Place, film: float) -> Floats:
    """What a film of still air in place of as much packing adds at each link of a place. [m2 K/W]"""
    k = heater.field.network.conductivity
    packed = np.where(place.packed >= 0, place.packed, heater.model.pieces.link_a[place.links])
    replaced = np.where(place.packed >= 0, 1 / k[packed], 0.0)
    return film * (1 / still_air_conductivity(heater, packed) - replaced)


def heat_with_film(heater: SteadyHeater, place: Place, film: float) -> float:
    """Heat to the water with a film of still air at a place, everything solved anew. [W]"""
    pieces, k = heater.model.pieces, heater.field.network.conductivity
    longer_a, longer_b = pieces.links.distance_a.copy(), pieces.links.distance_b.copy()
    extra = film_resistance(heater, place, film)
    in_b = pieces.link_b[place.links] == place.packed
    for distance, piece, mine in ((longer_a, pieces.link_a, ~in_b), (longer_b, pieces.link_b, in_b)):
        links = place.links[mine]
        distance[links] += extra[mine] * k[piece[links]]  # the way through the packing that resists as much
    links = replace(pieces.links, distance_a=longer_a, distance_b=longer_b)
    model = replace(heater.model, pieces=replace(pieces, links=links))
    solved = solve_model(model, near=heater)
    return -float(solved.field.surface_flow[model.water_surfaces].sum())


def _slope_cost(heater: SteadyHeater, sensitivity: HeatSensitivity, place: Place, film: float, run: float) -> float:
    slope = float(sensitivity.by_resistance[place.links] @ film_resistance(heater, place, film))
    return -slope * run / place.covered


def _is_open(heater: SteadyHeater) -> NDArray[np.bool_]:
    return np.array([is_open(region) for region in heater.model.section.regions])


def still_air_conductivity(heater: SteadyHeater, piece: Ints) -> Floats:
    """Of still air at the temperature of pieces. [W/(m K)]"""
    return heater.case.material("still air").conductivity(heater.field.temperature[piece])
