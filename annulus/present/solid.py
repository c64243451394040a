"""The section turned about the flue's axis, three quarters of the way round: a body to look into.

Goes in: a solved heater. Comes out: a VTU file of the surfaces of all parts and
of the two cut planes, with temperatures and materials. Lengths in [m], the
flue's axis along z.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import meshio
import numpy as np
from numpy.typing import NDArray

from annulus.conduction.probe import face_temperatures
from annulus.heater.steady import SteadyHeater
from annulus.present.fields import Columns, about, columns_of, write_whole
from annulus.present.outlines import Outlines, outline, side
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROUND = 270.0  # how far the section is turned [deg]
STEPS = 27  # of 10 degrees


def write_solid(heater: SteadyHeater, folder: Path) -> str:
    """Write `solid.vtu` into a folder; returns its name.

    A turn is a ring, as it is to the solver: its helix angle is a degree or two.
    """
    columns = columns_of(heater)
    mesh = _turned(heater, outline(heater.field.pieces), columns)
    words = about(heater.case.title, columns) + f" Turned {ROUND:g} degrees about the axis of the flue, along z."
    write_whole(folder / "solid.vtu", lambda part: meshio.vtu.write(part, mesh), words)
    return "solid.vtu"


def _turned(heater: SteadyHeater, outlines: Outlines, columns: Columns) -> meshio.Mesh:
    along, temperature, piece = _skin(heater)
    angles = np.radians(np.linspace(0.0, ROUND, STEPS + 1))
    spin = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    points, quads, owners, values = [], [], [], []
    n = along.shape[0]
    r, z = along[:, :, 0], along[:, :, 1]  # (n, 2): the ends of each strip
    corners = np.empty((n, 2, STEPS + 1, 3))
    corners[..., 0] = r[:, :, None] * spin[:, 0]
    corners[..., 1] = r[:, :, None] * spin[:, 1]
    corners[..., 2] = z[:, :, None]
    number = np.arange(n * 2 * (STEPS + 1)).reshape(n, 2, STEPS + 1)
    ring = np.stack([number[:, 0, :-1], number[:, 0, 1:], number[:, 1, 1:], number[:, 1, :-1]], axis=2)
    points.append(corners.reshape(-1, 3))
    quads.append(ring.reshape(-1, 4))
    owners.append(np.repeat(piece, STEPS))
    values.append(np.repeat(temperature, STEPS))
    three, loop = outlines.triangles()
    planes, first = [], points[0].shape[0]
    for cos, sin in spin[[0, -1]]:
        flat = outlines.points
        points.append(np.stack([flat[:, 0] * cos, flat[:, 0] * sin, flat[:, 1]], axis=1))
        quads.append(first + outlines.whole)
        owners.append(outlines.whole_piece)
        values.append(heater.field.temperature[outlines.whole_piece])
        planes.append(first + three)
        first += flat.shape[0]
    owner_of_three = np.tile(outlines.loop_piece[loop], 2)
    in_quads = np.concatenate(owners)
    kelvin = [np.concatenate(values), heater.field.temperature[owner_of_three]]
    data: dict[str, list[Any]] = {"temperature_C": [to_celsius(one) for one in kelvin]}
    for name in ("material", "part", "turn"):
        data[name] = [columns.values[name][in_quads], columns.values[name][owner_of_three]]
    blocks = [("quad", np.concatenate(quads)), ("triangle", np.concatenate(planes))]
    return meshio.Mesh(np.concatenate(points), blocks, cell_data=data)


def _skin(heater: SteadyHeater) -> tuple[Floats, Floats, Ints]:
    """Strips where parts meet or end: both ends of each (n, 2, 2) [m], its temperature [K], a piece behind it."""
    field, pieces = heater.field, heater.field.pieces
    meet = np.flatnonzero(pieces.region[pieces.link_a] != pieces.region[pieces.link_b])
    of_links, _ = face_temperatures(field)
    ends: list[Floats] = []
    temperatures: list[Floats] = []
    owners: list[Ints] = []
    for contacts, numbers, warmth, piece in (
        (pieces.links, meet, of_links, pieces.link_a),
        (pieces.surfaces, np.arange(pieces.surface_piece.size), field.surface_temperature, pieces.surface_piece),
    ):
        for n in numbers:
            path = side(pieces, contacts, int(n), int(piece[n]))
            ends.append(np.stack([path[:-1], path[1:]], axis=1))
            temperatures.append(np.full(len(path) - 1, warmth[n]))
            owners.append(np.full(len(path) - 1, piece[n]))
    return np.concatenate(ends), np.concatenate(temperatures), np.concatenate(owners)
