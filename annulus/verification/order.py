"""Order of accuracy: one case on grids of falling cell size, judged by the class of its problem.

Goes in: a function that runs a case at one cell size and returns readings by
name. Comes out: a `Study`, and rows for the table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from annulus.errors import InputError
from annulus.verification.rows import Also, Row, worst

SMOOTH_ERROR, SMOOTH_ORDER = 1e-3, 1.8  # grid-aligned smooth problems, on the finest of three grids
CIRCLE_PARTS = (6, 12, 25, 50)  # cells per radius of the four grids of a problem with circles
CIRCLE_ERRORS, CIRCLE_ORDER = {12: 5e-3, 25: 1e-3}, 1.8  # by cells per radius
LARGEST = "largest error of T"  # the error of the worst piece moves between cut cells of different shapes, so its
LEAST_ORDER_OF_LARGEST = 1.5  # order is erratic; 1.65 to 1.9 were seen, and a first-order scheme has 1


@dataclass(frozen=True)
class Reading:
    """A computed number, what it should be, and what its error is measured by."""

    unit: str
    expected: float
    computed: float
    scale: float

    @property
    def error(self) -> float:
        """Signed, of the scale."""
        return (self.computed - self.expected) / self.scale


def of_value(unit: str, expected: float, computed: float) -> Reading:
    """Reading whose error is a share of the value."""
    return Reading(unit, expected, computed, abs(expected))


def norms(error: NDArray[np.float64], volume: NDArray[np.float64], span: float) -> dict[str, Reading]:
    """Mean square and largest error of all pieces.

    Parameters
    ----------
    error, volume : ndarray, shape (n_pieces,)
        [K], [m3]
    span : float
        Of temperature, by which errors are measured. [K]
    """
    mean_square = float(np.sqrt((volume * error**2).sum() / volume.sum()))
    return {
        "rms error of T": Reading("K", 0.0, mean_square, span),
        LARGEST: Reading("K", 0.0, float(np.abs(error).max()), span),
    }


def observed_order(sizes: Sequence[float], errors: Sequence[float]) -> float:
    """Slope of log |error| over log size, by least squares; nan if an error is exactly zero or not a number."""
    distance = np.abs(np.asarray(errors, dtype=float))
    if not np.all((distance > 0) & np.isfinite(distance)):
        return float("nan")
    return float(np.polyfit(np.log(sizes), np.log(distance), 1)[0])


@dataclass(frozen=True)
class Study:
    """Readings of named quantities on grids of falling cell size."""

    sizes: tuple[float, ...]
    readings: Mapping[str, tuple[Reading, ...]]

    def order(self, name: str) -> float:
        return observed_order(self.sizes, [reading.error for reading in self.readings[name]])

    def at(self, name: str, size: float) -> Reading:
        """Reading at the size nearest to one."""
        return self.readings[name][int(np.argmin(np.abs(np.array(self.sizes) - size)))]

    def without(self, *names: str) -> Study:
        """The same study less some quantities, such as those that are exact on every grid."""
        return Study(self.sizes, {name: row for name, row in self.readings.items() if name not in names})

    def worst(self, name: str) -> float:
        """Largest error of a quantity on any grid, of its scale."""
        return worst(abs(reading.error) for reading in self.readings[name])

    def row(self, name: str, size: float, tolerance: float, order: float | None) -> Row:
        """Row with the reading at one size; an order of None is neither measured nor wanted."""
        reading = self.at(name, size)
        observed = None if order is None else self.order(name)
        return Row(
            name,
            reading.unit,
            reading.expected,
            reading.computed,
            tolerance,
            reading.scale,
            observed,
            order_wanted=order,
        )


def refine(run: Callable[[float], Mapping[str, Reading]], sizes: Sequence[float]) -> Study:
    """Run a case at every size."""
    found = [run(size) for size in sizes]
    return Study(tuple(sizes), {name: tuple(readings[name] for readings in found) for name in found[0]})


def smooth_rows(
    study: Study, error: float = SMOOTH_ERROR, order: float = SMOOTH_ORDER, size: float | None = None
) -> list[Row]:
    """Grid-aligned smooth problems: 0.1 % at one size (the finest if not given), and the order over three or more."""
    if len(study.sizes) < 3:
        raise InputError(f"order: {len(study.sizes)} grids; an order needs three")
    return [study.row(name, size or study.sizes[-1], error, order) for name in study.readings]


def circle_rows(study: Study, radius: float, order: float = CIRCLE_ORDER, note: str = "") -> list[Row]:
    """Circles on a rectangular grid: 0.5 % at radius / 12, 0.1 % at radius / 25, and the order over four grids.

    `note` is put behind the name of every quantity.
    """
    if len(study.sizes) < 4:
        raise InputError(f"order: {len(study.sizes)} grids; the order of a problem with circles needs four")
    (coarse, coarse_error), (fine, fine_error) = CIRCLE_ERRORS.items()
    rows = []
    for name in study.readings:
        row = study.row(name, radius / fine, fine_error, LEAST_ORDER_OF_LARGEST if name == LARGEST else order)
        also = Also(f"{coarse} cells to the radius", study.at(name, radius / coarse).computed, coarse_error)
        rows.append(replace(row, quantity=f"{name}{note}", also=(also,)))
    return rows
