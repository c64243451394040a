"""Steady temperatures of a section with given boundaries.

Goes in: pieces, conductivities (numbers or laws of temperature and place),
contact resistances, boundary laws and a heat source. Comes out: a `Field`
whose heat flows balance, or ConvergenceError.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.beyond import driving_range, refuse_beyond
from annulus.conduction.boundaries import Boundary
from annulus.conduction.exchange import PatchEquations, Radiation, patch_equations
from annulus.conduction.multigrid import Multigrid, multigrid_of
from annulus.conduction.network import Network, connect
from annulus.conduction.pieces import Pieces
from annulus.conduction.radiant import RadiantFlow, with_radiation
from annulus.conduction.solvers import conjugate_gradients, factor, solve_preconditioned
from annulus.errors import ConvergenceError, InputError

Floats = NDArray[np.float64]
Conductivity = float | Callable[[Floats, Floats, Floats], Floats]  # of temperature [K], r [m], z [m]

SETTLED = 1e-10  # change of temperature, of the field's span, that ends the iteration on k(T) and radiation
MULTIGRID_ABOVE = 20_000  # pieces, from which multigrid, once compiled, is faster (26 000: 0.015 s against 0.060 s)
MAX_ROUNDS = 60  # 3 times the worst seen in cases/
LEAST_SPAN = 1e-5  # of the temperature [K]: a field that spans less is judged as if it spanned this


@dataclass(frozen=True)
class Field:
    """Temperatures of pieces and the heat flows that go with them.

    Attributes
    ----------
    temperature : ndarray, shape (n_pieces,)
        [K]
    link_flow : ndarray, shape (n_links,)
        From piece a to piece b, by conduction and radiation. [W]
    surface_flow, surface_temperature : ndarray, shape (n_surfaces,)
        Into the body [W]; of the body's own face [K].
    radiant : RadiantFlow or None
        The radiant part of `link_flow`, where there is open space.
    imbalance : float
        Boundary heat plus source, summed over the body; zero but for the solver's residual. [W]
    rounding : float
        Heat that double precision cannot tell: a bound on `imbalance`, and a bar on every heat. [W]
    solver : str
        What preconditioned the linear systems: "direct factor" or "multigrid".
    rounds, factorisations, seconds
        Iterations on k(T) and radiating boundaries, factors or hierarchies made, wall time.
    """

    network: Network
    temperature: Floats
    link_flow: Floats
    surface_flow: Floats
    surface_temperature: Floats
    radiant: RadiantFlow | None
    imbalance: float
    rounding: float
    solver: str
    rounds: int
    factorisations: int
    seconds: float

    @property
    def pieces(self) -> Pieces:
        return self.network.pieces

    @cached_property
    def face_temperatures(self) -> tuple[Floats, Floats]:
        """See `annulus.conduction.probe.face_temperatures`."""
        p, k = self.pieces, self.network.conductivity
        flow_a = flow_b = self.link_flow
        if self.radiant is not None:  # in open space only what is conducted makes a gradient
            conducted = self.link_flow - self.radiant.link
            flow_a = np.where(self.radiant.clear[p.region[p.link_a]], conducted, flow_a)
            flow_b = np.where(self.radiant.clear[p.region[p.link_b]], conducted, flow_b)
        a = self.temperature[p.link_a] + p.link_shift_a @ self.temperature
        b = self.temperature[p.link_b] + p.link_shift_b @ self.temperature
        a = a - flow_a * p.links.distance_a / (p.links.area * k[p.link_a])
        b = b + flow_b * p.links.distance_b / (p.links.area * k[p.link_b])
        return a, b

    def heat_into(self, boundary: str) -> float:
        """Heat that enters the body through one boundary; negative when it leaves. [W]"""
        return float(self.surface_flow[self.pieces.boundary_surfaces(boundary)].sum())


def resistance_table(pieces: Pieces, contacts: Mapping[tuple[str, str], float]) -> Floats:
    """Contact resistance of every pair of regions, shape (n_regions, n_regions). [m2 K/W]"""
    table = np.zeros((len(pieces.regions),) * 2)
    for (one, other), value in contacts.items():
        if not value >= 0:
            raise InputError(f"contact {one!r} - {other!r}: resistance {value} m2 K/W must not be negative")
        a, b = pieces.region_index(one), pieces.region_index(other)
        table[a, b] = table[b, a] = value
    return table


def conductivity_of_pieces(pieces: Pieces, laws: Mapping[str, Conductivity], temperature: Floats) -> Floats:
    """Conductivity of every piece at its temperature. [W/(m K)]"""
    present = np.bincount(pieces.region, minlength=len(pieces.regions)) > 0
    numbers = np.zeros(present.size)
    for index in np.flatnonzero(present):
        name = pieces.regions[index].name
        if name not in laws:
            raise InputError(f"region {name!r}: no conductivity given; there are {sorted(laws)}")
        law = laws[name]
        numbers[index] = np.nan if callable(law) else law
    k = numbers[pieces.region]
    for index in np.flatnonzero(present & np.isnan(numbers)):
        law, mine = laws[pieces.regions[index].name], np.flatnonzero(pieces.region == index)
        k[mine] = law(temperature[mine], pieces.r[mine], pieces.z[mine]) if callable(law) else law
    return k


def solve_steady(
    pieces: Pieces,
    conductivity: Mapping[str, Conductivity],
    boundaries: Mapping[str, Boundary],
    contacts: Mapping[tuple[str, str], float] | None = None,
    source: Callable[[Floats, Floats], Floats] | None = None,
    radiation: Radiation | None = None,
    start: float = 300.0,
) -> Field:
    """Solve for the steady field.

    Parameters
    ----------
    pieces : Pieces
    conductivity : mapping from region name to a number or a law k(T, r, z)
        [W/(m K)]
    boundaries : mapping from boundary name to a law
        Sides "r_min", "r_max", "z_min", "z_max" and the names of holes; one left out is adiabatic.
    contacts : mapping from pairs of region names to a resistance, optional
        [m2 K/W]
    source : callable, optional
        Heat released at (r, z). [W/m3]
    radiation : Radiation, optional
        Across open space.
    start : float
        Temperature at which laws are first read. [K]

    Returns
    -------
    Field

    Raises
    ------
    InputError
        For an unknown boundary or region, or if no boundary fixes the level of temperature.
    ConvergenceError
        If k(T) or radiation does not settle, or the field leaves the range of what drives it.
    """
    begun = time.perf_counter()
    for name in boundaries:
        if name not in pieces.boundaries:
            raise InputError(f"boundary {name!r} is unknown; there are {list(pieces.boundaries)}")
    resistance = resistance_table(pieces, contacts or {})
    heat = pieces.volume * source(pieces.r, pieces.z) if source else np.zeros(pieces.count)
    temperature = np.full(pieces.count, float(start))
    face = np.full(pieces.surface_piece.size, float(start))
    n_patches = radiation.enclosure.count if radiation is not None else 0
    datum, unknowns = float(start), np.zeros(pieces.count + n_patches)  # what they count from keeps their digits
    patches = None
    changes: list[float] = []
    factorisations = 0
    for rounds in range(1, MAX_ROUNDS + 1):
        k = conductivity_of_pieces(pieces, conductivity, temperature)
        q0, h = linearise(pieces, boundaries, face)
        if not (h > 0).any():
            raise InputError("boundaries: at least one must be a film, held or radiating, or no level is fixed")
        network = connect(pieces, k, resistance, q0, h)
        unknowns = unknowns + datum
        datum = float(np.median((q0 / np.where(h > 0, h, 1.0))[h > 0]))
        unknowns = unknowns - datum
        risen = replace(network, surface_drive=network.surface_drive - network.surface_conductance * datum)
        body: Network | PatchEquations = risen
        if radiation is not None:
            body = patches = patch_equations(risen, resistance, radiation, datum + unknowns[pieces.count :], datum)
        rhs = body.drive + np.concatenate([heat, np.zeros(n_patches)])
        factorisations += 1
        solver, solve = choose_solver(body)
        if isinstance(solve, Multigrid):
            new = solve.solve(rhs, unknowns, correction=risen.correction).x
        elif radiation is not None or pieces.is_corrected:
            new = solve_preconditioned(body.matrix, rhs, solve, unknowns).x
        else:
            new = conjugate_gradients(body.matrix, rhs, solve, unknowns.copy()).x
        rise = new[: pieces.count]
        temperature = datum + rise
        surface_flow = risen.surface_flow(rise)
        face = datum + risen.surface_temperature(rise, surface_flow)
        span = max(float(np.ptp(new)), LEAST_SPAN * float(np.abs(temperature).max()), float(np.finfo(float).tiny))
        changes.append(float(np.abs(new - unknowns).max()) / span)
        unknowns = new
        if changes[-1] < SETTLED or (rounds == 1 and _is_linear(conductivity, boundaries, radiation)):
            break
    else:
        raise ConvergenceError(
            f"steady field: change {changes[-1]:.1e} of the span after {MAX_ROUNDS} rounds must fall below "
            f"{SETTLED:g}; does a conductivity change too steeply with temperature?",
            residuals=changes,
            field=temperature,
        )
    driving = driving_range(q0, h)
    if source is None and driving is not None and not q0[h <= 0].any():
        refuse_beyond(temperature, *driving, "steady field")
    link_flow, radiant = risen.link_flow(rise), None
    if patches is not None:
        link_flow, surface_flow, radiant = with_radiation(patches, link_flow, surface_flow, unknowns[pieces.count :])
    return Field(
        network=network,
        temperature=temperature,
        link_flow=link_flow,
        surface_flow=surface_flow,
        surface_temperature=face,
        radiant=radiant,
        imbalance=float(surface_flow.sum() + heat.sum()),
        rounding=body.rounding(np.abs(unknowns) + abs(start - datum)),  # of the first guess, too, digits are left
        solver=solver,
        rounds=rounds,
        factorisations=factorisations,
        seconds=time.perf_counter() - begun,
    )


def choose_solver(body: Network | PatchEquations) -> tuple[str, Callable[[Floats], Floats]]:
    """Name and approximate inverse: multigrid of the first-order matrix for large sections, else a factor.

    Patches tie distant pieces, which multigrid on cells does not know; with
    them it is always the factor.
    """
    if isinstance(body, Network) and body.pieces.count > MULTIGRID_ABOVE:
        return "multigrid", multigrid_of(body)
    return "direct factor", factor(body.to_factor)


def linearise(pieces: Pieces, boundaries: Mapping[str, Boundary], face: Floats) -> tuple[Floats, Floats]:
    """(q_0, h) of every surface at its temperature; adiabatic where no law is given."""
    q0, h = np.zeros(face.size), np.zeros(face.size)
    for name, law in boundaries.items():
        on = pieces.boundary_surfaces(name)
        q0[on], h[on] = law.linearise(face[on], pieces.surfaces.r[on], pieces.surfaces.z[on])
    return q0, h


def _is_linear(
    conductivity: Mapping[str, Conductivity], boundaries: Mapping[str, Boundary], radiation: Radiation | None
) -> bool:
    """True when nothing depends on temperature for certain: numbers, linear boundary laws, no radiation."""
    return (
        radiation is None
        and not any(map(callable, conductivity.values()))
        and not any(getattr(law, "depends_on_temperature", False) for law in boundaries.values())
    )
