"""The tank: water in one mixed body or in layers, its drum and its loss.

Goes in: the tank table of a case. Comes out: a `Vessel`: what each layer stores,
and the conductances by which layers lose heat and mix.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.case import Tank
from annulus.films import water

Floats = NDArray[np.float64]

OVERTURN = 30.0  # [s], in which water under colder water exchanges its heat with it


@dataclass(frozen=True)
class Vessel:
    """A tank made ready: layers from the bottom up.

    Attributes
    ----------
    water_mass, drum_mass : float
        In all. [kg]
    layers : int
    """

    tank: Tank
    surroundings: float

    @property
    def layers(self) -> int:
        return self.tank.layers

    @property
    def water_mass(self) -> float:
        """Of the water as filled in. [kg]"""
        return self.tank.volume * float(water.density(self.tank.start_temperature))

    def water_capacity(self, temperature: Floats) -> Floats:
        """Heat capacity of each layer's water. [J/K]"""
        return self.water_mass / self.layers * water.specific_heat(temperature)

    def drum_capacity(self) -> Floats:
        """Heat capacity of each layer's share of the drum, which follows its water. [J/K]"""
        return np.full(self.layers, self.tank.drum_mass * self.tank.drum_heat_capacity / self.layers)

    def loss(self) -> Floats:
        """Conductance of each layer to the surroundings. [W/K]"""
        return np.full(self.layers, self.tank.loss / self.layers)

    def mixing(self, temperature: Floats) -> Floats:
        """Conductance between each layer and the next above: large where the upper one is colder. [W/K]

        Parameters
        ----------
        temperature : ndarray, shape (n_layers,)
            [K]

        Returns
        -------
        ndarray, shape (n_layers - 1,)

        Notes
        -----
        Water that lies under colder water changes places with it at once; here
        both exchange their heat within `OVERTURN`. Layers the right way up
        conduct heat through the water between their middles, which is little
        (0.6 W/mK) and is left out beside the flow through the tank.
        """
        upside_down = np.diff(temperature) < 0
        lowest = self.water_capacity(temperature)[1:]
        return np.where(upside_down, lowest / OVERTURN, 0.0)

    def mean(self, temperature: Floats) -> float:
        """Temperature that the tank would have if it were mixed. [K]"""
        return float(np.mean(temperature))
