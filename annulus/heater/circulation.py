"""Air that circulates in a wide cavity, as a multiplier on the conductivity of still air.

Goes in: a section, its pieces and its case. Comes out: a `Slot`: the open width
of the cavity (all of it without a coil, what lies beyond the tubes' crowns
with one) and the multiplier at given temperatures.

One number stands for the whole slot, from the law of a tall upright slot with
walls at their mean temperatures. Left out: that heat crosses more at the
bottom of the hot wall and the top of the cold one, the bumps of the tubes,
air that circulates between turns or in a void, and a cavity whose ends are open,
through which air would rise as in a chimney. In a slot of 10 mm the law gives 1
within 1 %, as it should, so that a tight shroud is not affected.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.case import Case
from annulus.conduction.pieces import Pieces
from annulus.films import atmospheric_pressure
from annulus.films.slot import nusselt_slot, slot_rayleigh
from annulus.heater.cavity import is_open
from annulus.section import Section

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_WIDTH = 1e-6  # [m], a clearance below this is none


@dataclass(frozen=True)
class Slot:
    """Where air circulates in a cavity.

    Attributes
    ----------
    width, height : float
        [m]
    pressure : float
        Of the air. [Pa]
    inner, outer : ndarray, shape (n_pieces,)
        Weights with which pieces make the mean temperature of each wall; both sum to 1.
    air : ndarray of int
        Pieces of the cavity's air.
    share : ndarray, shape of `air`
        Share of each piece's width that lies in the slot.
    """

    width: float
    height: float
    pressure: float
    inner: Floats
    outer: Floats
    air: Ints
    share: Floats

    def nusselt(self, temperature: Floats) -> float:
        """How many times still air the slot conducts, at temperatures of pieces [K]."""
        hot, cold = float(self.inner @ temperature), float(self.outer @ temperature)
        rayleigh = slot_rayleigh(hot, cold, self.width, self.pressure)
        return float(nusselt_slot(rayleigh, self.height / self.width))

    def stirring(self, temperature: Floats) -> Floats:
        """Multiplier on the conductivity of each piece of `air`.

        A cell that only partly lies in the slot conducts as its two parts in
        series, so that the crowns need not be a face of the grid.
        """
        return 1.0 / (1.0 - self.share + self.share / self.nusselt(temperature))


def make_slot(case: Case, section: Section, pieces: Pieces) -> Slot | None:
    """The slot of a section; None without a closed cavity of still air, or where tubes fill it."""
    cavity = next((n for n, region in enumerate(section.regions) if region.role == "filler"), None)
    if case.shroud is None or cavity is None or not is_open(section.regions[cavity]):
        return None
    crown = max((turn.r + turn.outer_radius for turn in section.turns), default=section.flue_radius)
    width = section.cavity_radius - crown
    if width < LEAST_WIDTH:
        return None
    r_face = pieces.grid.r_face
    column = pieces.cell // pieces.grid.shape[1]
    behind = int(np.argmin(np.abs(r_face - section.cavity_radius)))  # the sheet's first column
    if section.turns:
        inner = _mean_at(pieces, column, crown)
    else:
        inner = _mean_of(pieces, column, int(np.argmin(np.abs(r_face - crown))) - 1)
    air = np.flatnonzero(pieces.region == cavity)
    low, high = r_face[column[air]], r_face[column[air] + 1]
    return Slot(
        width=width,
        height=section.height,
        pressure=atmospheric_pressure(case.room.altitude),
        inner=inner,
        outer=_mean_of(pieces, column, behind),
        air=air,
        share=np.clip((high - crown) / (high - low), 0.0, 1.0),
    )


def _mean_of(pieces: Pieces, column: Ints, which: int) -> Floats:
    """Weights of the mean over all pieces of one column of cells."""
    weight = np.where(column == which, pieces.volume, 0.0)
    return weight / weight.sum()


def _mean_at(pieces: Pieces, column: Ints, r: float) -> Floats:
    """Weights of the mean over the height at one radius, linear between two columns."""
    middle = 0.5 * (pieces.grid.r_face[1:] + pieces.grid.r_face[:-1])
    after = int(np.clip(np.searchsorted(middle, r), 1, middle.size - 1))
    part = (r - middle[after - 1]) / (middle[after] - middle[after - 1])
    return (1.0 - part) * _mean_of(pieces, column, after - 1) + part * _mean_of(pieces, column, after)
