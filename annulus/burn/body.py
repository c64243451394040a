"""What the burn asks of the section that it heats: the seam between the march in time and the conducting body.

Goes in: nothing. Comes out: two protocols. The march knows a body only by
them, so that the whole field of pieces and a reduced model are marched alike.

Unknowns of a body count from the room's temperature, so that the room drives
nothing. Segments are the bands of gas, bottom first, then the turns of water,
bottom first; the march gives each a film and an ambient temperature.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Inverse = Callable[[Floats], Floats]


class Linear(Protocol):
    """Anything that multiplies a vector: ndarray, sparse matrix or operator."""

    def __matmul__(self, x: Floats, /) -> Floats: ...


class Storage(Protocol):
    """Heat that a body's unknowns store.

    Attributes
    ----------
    stores : ndarray of bool, shape (size,)
        False for an unknown without heat capacity.
    """

    @property
    def stores(self) -> NDArray[np.bool_]: ...

    def __matmul__(self, change: Floats, /) -> Floats:
        """Heat that a change of the state stores in each unknown. [J]"""
        ...

    def diagonal(self) -> Floats:
        """Heat capacity of each unknown by itself. [J/K]"""
        ...

    def by_part(self, change: Floats) -> Floats:
        """The same summed by part of the body, shape (n_parts,). [J]"""
        ...


class BodyEquations(Protocol):
    """A body with the films, conductivities and capacities of one moment, linear in its unknowns.

    Attributes
    ----------
    matrix : Linear, shape (size, size)
        Heat that leaves each unknown, films to segments and room included. [W/K]
    drive : ndarray, shape (size,)
        Heat that reaches each unknown while all unknowns and ambients are at zero. [W]
    given : Linear, shape (size, n_segments)
        Heat that a degree of each segment's ambient brings to the unknowns. [W/K]
    felt : Linear, shape (n_segments, size)
        Conductance of each segment's film times the wall it feels. [W/K]
    conductance : ndarray, shape (n_segments,)
        Heat into the body through a segment is conductance * ambient - felt @ x. [W/K]
    """

    @property
    def matrix(self) -> Linear: ...
    @property
    def drive(self) -> Floats: ...
    @property
    def given(self) -> Linear: ...
    @property
    def felt(self) -> Linear: ...
    @property
    def conductance(self) -> Floats: ...

    def walls(self, x: Floats, ambient: Floats) -> Floats:
        """Mean temperature of the face that each segment wets, shape (n_segments,), above the room. [K]"""
        ...

    def room_heat(self, x: Floats) -> tuple[float, float]:
        """Heat that leaves the body to the room: through its outside, and through its ends. [W]"""
        ...

    def inverse(self, rate: float, storage: Any, mean: Floats, own: Floats) -> Inverse:
        """Approximate inverse of the body joined to its streams.

        Parameters
        ----------
        rate : float
            Multiplier on the storage. [1/s]
        storage : Storage
            From the same body.
        mean : ndarray, shape (n_segments, n_streams)
            Ambient of each segment from the streams' unknowns.
        own : ndarray, shape (n_streams, n_streams)
            What the streams' unknowns do to their own balances; the first n_segments rows belong to the
            segments. [W/K]

        Returns
        -------
        callable
            Takes and gives vectors of body unknowns, then stream unknowns: solves, nearly or exactly,
            [[rate * storage + matrix, -given @ mean], [-felt, own]] z = r.
        """
        ...

    def readings(self, x: Floats, ambient: Floats) -> Mapping[str, float]:
        """Temperatures of this moment by name; a part that is absent has no entry. [K]

        `wall_min`, `wall_max` (inner face of the flue), `tube_max`, `filler_max`, `insulation_max`,
        `outside_max`.
        """
        ...


class Body(Protocol):
    """A conducting section that gas and water pass.

    Attributes
    ----------
    size : int
        Unknowns.
    n_bands, n_turns : int
        Segments of gas and of water.
    parts : tuple of str
        Where heat is stored, by role: "flue", "tube", "filler", ...
    """

    @property
    def size(self) -> int: ...
    @property
    def n_bands(self) -> int: ...
    @property
    def n_turns(self) -> int: ...
    @property
    def parts(self) -> tuple[str, ...]: ...

    def uniform(self, temperature: float) -> Floats:
        """State in which the whole body has one temperature, shape (size,). [K]"""
        ...

    def storage(self, x: Floats) -> Storage:
        """What the unknowns store at a state."""
        ...

    def of_pieces(self, x: Floats) -> Floats:
        """Temperatures of all pieces of the section, above the room. [K]"""
        ...

    def judged(self, x: Floats) -> Floats:
        """Temperatures anywhere in the body that a change x of the state makes, for the error of a step. [K]"""
        ...

    def seen(self, x: Floats) -> Floats:
        """Temperatures above the room all over the body, the hottest and coldest places among them. [K]"""
        ...

    def equations(self, x: Floats, gas_film: Floats, water_film: Floats) -> BodyEquations:
        """Equations with films given, and k(T), radiation and the room's film read at a state.

        Parameters
        ----------
        x : ndarray, shape (size,)
            State at which laws are read, near the one that is sought.
        gas_film : ndarray, shape (n_bands,)
            Between gas and the inner face of the flue, soot not included. [W/(m2 K)]
        water_film : ndarray, shape (n_turns,)
            [W/(m2 K)]
        """
        ...
