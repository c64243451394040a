"""The field of a section for programs that show fields, and as plain arrays.

Goes in: a solved heater. Comes out: VTU, XDMF and NPZ files: temperature, heat
flux, material, part, turn and volume of every piece. Lengths in [m], r along x
and z along y; the unit of an array is the end of its name.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import meshio
import numpy as np
from numpy.typing import NDArray

from annulus.burn import BurnRun, instants
from annulus.conduction.probe import heat_flux
from annulus.heater.model import Model
from annulus.heater.steady import SteadyHeater
from annulus.present.outlines import Outlines, outline
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_INSTANTS = 25  # of a burn, each some 1 MB of text for 50 000 cells
NO_TURN = 0  # in the column of turns, which count from 1 at the bottom


@dataclass(frozen=True)
class Columns:
    """What is known of every piece.

    Attributes
    ----------
    values : dict of ndarray, shape (n_pieces,) or (n_pieces, 3)
        By name, unit last.
    materials, parts : tuple of str
        What the numbers in `values["material"]` and `values["part"]` mean.
    """

    values: dict[str, NDArray[Any]]
    materials: tuple[str, ...]
    parts: tuple[str, ...]


def columns_of(heater: SteadyHeater) -> Columns:
    """Temperature, flux, material, part, turn and volume of every piece of a heater.

    Parameters
    ----------
    heater : SteadyHeater

    Returns
    -------
    Columns
        `temperature_K`, `temperature_C`, `heat_flux_W_m2` (r, z, 0), `volume_m3` (the full ring), `material`,
        `part`, `turn` (0: none), `piece`.
    """
    field = heater.field
    along_r, along_z = heat_flux(field)
    parts = part_columns(heater.model)
    values: dict[str, NDArray[Any]] = {
        "temperature_K": field.temperature,
        "temperature_C": to_celsius(field.temperature),
        "heat_flux_W_m2": np.stack([along_r, along_z, np.zeros(field.pieces.count)], axis=1),
    }
    return replace(parts, values=values | parts.values)


def part_columns(model: Model) -> Columns:
    """What of a model's pieces does not change: volume, material, part, turn, number."""
    pieces, regions = model.pieces, model.section.regions
    labels = [region.material.label if region.material is not None else "water" for region in regions]
    materials = tuple(dict.fromkeys(labels))
    material = np.array([materials.index(label) for label in labels])
    turn = np.array([NO_TURN if region.turn is None else region.turn + 1 for region in regions])
    values: dict[str, NDArray[Any]] = {
        "volume_m3": pieces.volume,
        "material": material[pieces.region].astype(np.int32),
        "part": pieces.region.astype(np.int32),
        "turn": turn[pieces.region].astype(np.int32),
        "piece": np.arange(pieces.count),
    }
    return Columns(values, materials, tuple(region.name for region in regions))


def write_fields(heater: SteadyHeater, folder: Path) -> list[str]:
    """Write `field.vtu`, `field.xdmf` and `field.npz` into a folder.

    Parameters
    ----------
    heater : SteadyHeater
    folder : Path

    Returns
    -------
    list of str
        Names of the files.

    Notes
    -----
    VTU has one polygon per piece (two or more where a piece falls into parts); XDMF has the same cells in
    quadrilaterals and triangles, as meshio knows no polygons there. A cell's `volume_m3` is its share of the piece's
    exact volume, so that sums over cells are sums over pieces. Bores are holes: the water is not a field.
    """
    columns, outlines = columns_of(heater), outline(heater.field.pieces)
    words = about(heater.case.title, columns)
    names = ["field.vtu", "field.xdmf", "field.npz"]
    write_whole(folder / names[0], lambda part: meshio.vtu.write(part, polygons(outlines, columns)), words)
    flat = triangles(outlines, columns)
    write_whole(folder / names[1], lambda part: _write_moments(part, flat, [(0.0, flat.cell_data)]), words)
    write_whole(folder / names[2], lambda part: _write_arrays(part, heater, columns))
    return names


def write_burn(run: BurnRun, folder: Path) -> list[str]:
    """Write the fields of a burn at some instants as `burn.xdmf`, a series over time [s], and `burn.npz`.

    Parameters
    ----------
    run : BurnRun
    folder : Path

    Returns
    -------
    list of str
        Names of the files.
    """
    taken, model = instants(run.march, MOST_INSTANTS), run.model
    parts = part_columns(model)
    flat = triangles(outline(model.pieces), parts)
    owner = flat.cell_data.pop("piece")
    moments = []
    for n, instant in enumerate(taken):
        celsius = to_celsius(instant.temperature).astype(np.float32)
        data: dict[str, list[Any]] = {"temperature_C": [celsius[mine] for mine in owner]}
        if n == 0:
            data |= flat.cell_data  # what does not change is told once
        moments.append((instant.time, data))
    names = ["burn.xdmf", "burn.npz"]
    words = about(run.case.title, parts) + " Times in s after lighting; what does not change stands at the first."
    write_whole(folder / names[0], lambda part: _write_moments(part, flat, moments), words)
    arrays: dict[str, Any] = {
        **_of_grid(model, parts),
        "time_s": np.array([instant.time for instant in taken]),
        "temperature_K": np.stack([instant.temperature for instant in taken]),
        "gas_K": np.stack([instant.gas for instant in taken]),
        "water_K": np.stack([instant.water for instant in taken]),
    }
    write_whole(folder / names[1], lambda part: np.savez_compressed(part, **arrays))
    return names


def polygons(outlines: Outlines, columns: Columns) -> meshio.Mesh:
    """Cells as quadrilaterals where a piece fills its grid cell, else as polygons."""
    area = np.array([ring_area(outlines.points[loop]) for loop in outlines.loops])
    share = _shares(outlines.loop_piece, area)
    sizes = np.array([len(loop) for loop in outlines.loops])
    blocks: list[tuple[str, Ints]] = [("quad", outlines.whole)]
    owners, shares = [outlines.whole_piece], [np.ones(outlines.whole_piece.size)]
    for size in np.unique(sizes):
        on = np.flatnonzero(sizes == size)
        blocks.append(("polygon", np.array([outlines.loops[n] for n in on])))
        owners.append(outlines.loop_piece[on])
        shares.append(share[on])
    return _mesh(outlines.points, blocks, owners, shares, columns)


def triangles(outlines: Outlines, columns: Columns) -> meshio.Mesh:
    """Cells as quadrilaterals where a piece fills its grid cell, else as triangles."""
    corners, loop = outlines.triangles()
    owner = outlines.loop_piece[loop]
    share = _shares(owner, np.array([ring_area(outlines.points[three]) for three in corners]))
    blocks: list[tuple[str, Ints]] = [("quad", outlines.whole), ("triangle", corners)]
    owners, shares = [outlines.whole_piece, owner], [np.ones(outlines.whole_piece.size), share]
    return _mesh(outlines.points, blocks, owners, shares, columns)


def ring_area(corners: Floats) -> float:
    """Volume of a ring whose cut is a polygon, over 2 pi. [m3]"""
    x, y = corners.T
    x_next, y_next = np.roll(x, -1), np.roll(y, -1)
    return float(((x + x_next) * (x * y_next - x_next * y)).sum()) / 6.0


def _shares(owner: Ints, size: Floats) -> Floats:
    """Share of its owner that each part is, by size; equal shares where all have none."""
    size = np.maximum(size, 0.0) + np.finfo(float).tiny
    return size / np.bincount(owner, size)[owner]


def _mesh(
    points: Floats, blocks: list[tuple[str, Ints]], owners: list[Ints], shares: list[Floats], columns: Columns
) -> meshio.Mesh:
    data = {name: [value[owner] for owner in owners] for name, value in columns.values.items()}
    data["volume_m3"] = [value * share for value, share in zip(data["volume_m3"], shares, strict=True)]
    return meshio.Mesh(np.pad(points, ((0, 0), (0, 1))), blocks, cell_data=data)


def about(title: str, columns: Columns) -> str:
    """Words for the head of a file: units, and what numbers of materials mean."""
    materials = ", ".join(f"{n} {name}" for n, name in enumerate(columns.materials))
    words = (
        f"annulus: {title}. Points in m, r along x, z along y; units end the names of arrays. "
        f"volume_m3 is of the full ring. Materials: {materials}. Turns count from 1 at the bottom, 0: none."
    )
    return words.replace("--", "- -")  # two in a row would end a comment


def write_whole(path: Path, write: Callable[[Path], None], words: str | None = None) -> None:
    """Write a file under a name of its own, say what it is about, then give it its final name."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.stem}.{os.getpid()}.part{path.suffix}")
    try:
        write(part)
        if words is not None:
            text = part.read_text(encoding="utf-8")
            if text.startswith("<?xml"):
                head, _, rest = text.partition("?>")
                text = f"{head}?>\n<!-- {words} -->{rest}"
            else:
                text = f'<?xml version="1.0" encoding="utf-8"?>\n<!-- {words} -->\n{text}'
            part.write_text(text, encoding="utf-8", newline="\n")
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def _write_moments(path: Path, mesh: meshio.Mesh, moments: Sequence[tuple[float, dict[str, list[Any]]]]) -> None:
    """XDMF with the numbers inside the file: cells once, then (time [s], cell data) one after the other."""
    with meshio.xdmf.TimeSeriesWriter(path, data_format="XML") as writer:
        writer.write_points_cells(mesh.points, mesh.cells)
        for time, data in moments:
            writer.write_data(time, cell_data=data)


def _write_arrays(path: Path, heater: SteadyHeater, columns: Columns) -> None:
    arrays = _of_grid(heater.model, columns)
    np.savez_compressed(path, **arrays)


def _of_grid(model: Model, columns: Columns) -> dict[str, Any]:
    """Arrays that tell where pieces are and what they are made of, with the columns."""
    pieces = model.pieces
    return {
        "r_m": pieces.r,
        "z_m": pieces.z,
        "cell": pieces.cell,
        "r_face_m": pieces.grid.r_face,
        "z_face_m": pieces.grid.z_face,
        "material_names": np.array(columns.materials),
        "part_names": np.array(columns.parts),
        **columns.values,
    }
