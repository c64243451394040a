"""A field packed for a page: what a browser needs to draw a section and to read it at any place.

Goes in: a solved heater, its stripes. Comes out: dictionaries for JSON. Columns
of numbers travel as base64 of whole numbers; lengths are in [mm], temperatures in
[degC]. Pieces of a grid finer than a page needs are joined, never sampled.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from annulus.burn import BurnRun, instants
from annulus.conduction.probe import heat_flux
from annulus.conduction.stripes import Stripes
from annulus.heater.model import Model
from annulus.heater.steady import SteadyHeater
from annulus.present.bands import colours_of, is_full
from annulus.present.gap_map import SQUARE_MM, bounds_of, class_colours
from annulus.present.style import RADIATION, WATER, fill_of, temperature_colours
from annulus.section import Region, Section
from annulus.shapes import Disc
from annulus.studies.gap_map import GapMap
from annulus.units.celsius import to_celsius

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_PIECES = 80_000  # that a page carries; a case of 30 turns on the default grid has 46 000
MOST_BURN_PIECES, MOST_INSTANTS = 15_000, 32  # of a burn: 32 fields of 15 000 pieces are 1.3 MB of a page
LINE_ERROR = 0.02  # [mm] by which a stripe's line may be straightened
LEAST_STEP = 1e-4  # [degC], below which steps of temperature need not go
COLOURS = 64  # of the scale of temperatures
MATERIAL_WORDS = {"bore": "water"}


@dataclass(frozen=True)
class Joined:
    """Pieces joined over blocks of cells, regions kept apart.

    Attributes
    ----------
    r_face, z_face : ndarray
        Faces of the blocks. [m]
    group : ndarray of int, shape (n_pieces,)
        Where each piece went; groups are sorted by block.
    block, region : ndarray of int, shape (n_groups,)
    volume, r, z : ndarray, shape (n_groups,)
    """

    r_face: Floats
    z_face: Floats
    group: Ints
    block: Ints
    region: Ints
    volume: Floats
    r: Floats
    z: Floats
    _weight: Floats

    def mean(self, of_pieces: Floats) -> Floats:
        """Mean by volume over each group, shape (n_groups,)."""
        return np.bincount(self.group, of_pieces * self._weight, self.volume.size) / self.volume


def join(model: Model, most: int = MOST_PIECES) -> Joined:
    """Join pieces within blocks of cells until there are no more than `most`.

    Parameters
    ----------
    model : Model
    most : int

    Returns
    -------
    Joined
        On a grid of few enough pieces, the pieces themselves. No block crosses a face of the coarsest grid.
    """
    pieces = model.pieces
    nz = pieces.grid.shape[1]
    i, j = np.divmod(pieces.cell, nz)
    side = 1
    while True:
        block = (i // side) * (nz // side) + j // side
        key = block * len(pieces.regions) + pieces.region
        kept, group = np.unique(key, return_inverse=True)
        if kept.size <= most or 2 * side > model.fineness:
            break
        side *= 2
    volume = np.bincount(group, pieces.volume).astype(float)
    return Joined(
        r_face=pieces.grid.r_face[::side],
        z_face=pieces.grid.z_face[::side],
        group=group,
        block=kept // len(pieces.regions),
        region=kept % len(pieces.regions),
        volume=volume,
        r=np.bincount(group, pieces.r * pieces.volume) / volume,
        z=np.bincount(group, pieces.z * pieces.volume) / volume,
        _weight=pieces.volume,
    )


def embed_section(model: Model, joined: Joined) -> dict[str, Any]:
    """Shapes and grid of a heater, the same at every instant."""
    section = model.section
    cells = (joined.r_face.size - 1) * (joined.z_face.size - 1)
    r0, z0 = joined.r_face, joined.z_face
    i, j = np.divmod(joined.block, z0.size - 1)
    return {
        "r": (1e3 * r0).round(5).tolist(),
        "z": (1e3 * z0).round(5).tolist(),
        "regions": [embed_region(section, region) for region in section.regions],
        "turns": len(section.turns),
        "bands": (1e3 * model.band_edges).round(4).tolist(),
        "count": pack(np.bincount(joined.block, minlength=cells), "u1"),
        "region": pack(joined.region, "<u2"),
        "at_r": pack((255 * (joined.r - r0[i]) / (r0[i + 1] - r0[i])).round(), "u1"),
        "at_z": pack((255 * (joined.z - z0[j]) / (z0[j + 1] - z0[j])).round(), "u1"),
        "scale": pack((255 * temperature_colours()(np.linspace(0, 1, COLOURS))[:, :3]).round(), "u1"),
        "water_colour": WATER,
    }


def embed_field(heater: SteadyHeater, joined: Joined) -> dict[str, Any]:
    """Temperatures, their slopes and the heat flux of a heater, by group; temperatures of the streams."""
    field = heater.field
    slope_r, slope_z = (joined.mean(slope @ field.temperature) for slope in field.pieces.gradient)
    along_r, along_z = map(joined.mean, heat_flux(field))
    wet = heater.water[1:] if heater.case.water is None or heater.case.water.direction == "up" else heater.water[:0:-1]
    mid = 0.5 * (heater.gas[1:] + heater.gas[:-1])
    return {
        "temperature": embed_temperature(joined.mean(field.temperature)),
        "slope_r": squared(1e-3 * slope_r),
        "slope_z": squared(1e-3 * slope_z),
        "flux_r": squared(along_r),
        "flux_z": squared(along_z),
        "gas": to_celsius(mid).round(2).tolist(),
        "water": to_celsius(wet).round(2).tolist(),
    }


def embed_burn(run: BurnRun, most: int = MOST_BURN_PIECES) -> dict[str, Any]:
    """Fields at some instants of a burn on a coarser join of its pieces; the span of temperatures over all of them."""
    model = run.model
    joined = join(model, most)
    made: list[dict[str, Any]] = []
    low, high = np.inf, -np.inf
    for instant in instants(run.march, MOST_INSTANTS):
        mean = joined.mean(instant.temperature)
        low, high = min(low, float(mean.min())), max(high, float(mean.max()))
        made.append(
            {
                "time": instant.time,
                "temperature": embed_temperature(mean),
                "gas": to_celsius(instant.gas).round(2).tolist(),
                "water": to_celsius(instant.water).round(2).tolist(),
            }
        )
    return {
        "section": embed_section(model, joined),
        "moments": made,
        "span": [to_celsius(low), to_celsius(high)],
    }


def embed_temperature(kelvin: Floats) -> dict[str, Any]:
    """Temperatures as even steps from the lowest. [degC]"""
    celsius = to_celsius(kelvin)
    low = float(celsius.min())
    step = max(float(np.ptp(celsius)) / 65535, LEAST_STEP)
    return {"low": low, "step": step, "data": pack(((celsius - low) / step).round(), "<u2")}


def squared(values: Floats) -> dict[str, Any]:
    """Numbers of either sign and many sizes: value = most * n * |n| / 32767^2, good to a part in a thousand."""
    most = float(np.abs(values).max()) or 1.0
    return {"most": most, "data": pack((np.sign(values) * np.sqrt(np.abs(values) / most) * 32767).round(), "<i2")}


def pack(values: NDArray[Any], kind: str) -> str:
    """Whole numbers as base64."""
    return base64.b64encode(np.ascontiguousarray(values).astype(kind).tobytes()).decode("ascii")


def embed_region(section: Section, region: Region) -> dict[str, Any]:
    """Shape, words and colour of a region. [mm]"""
    shape = region.shape
    if isinstance(shape, Disc):
        place = {"disc": [round(1e3 * number, 5) for number in (shape.r, shape.z, shape.radius)]}
    else:
        place = {"box": [round(1e3 * number, 5) for number in (shape.r_min, shape.r_max, shape.z_min, shape.z_max)]}
    material = MATERIAL_WORDS[region.role] if region.material is None else region.material.label
    colour = WATER if region.material is None else fill_of(region.material).face
    turn = None if region.turn is None else region.turn + 1
    return {"name": region.name, "role": region.role, "material": material, "turn": turn, "colour": colour, **place}


def embed_stripes(section: Section, stripes: Stripes) -> dict[str, Any]:
    """Bands of equal watts as closed lines, dark and light in turn; sight lines: from, to, full or not. [0.01 mm]"""
    kinds: list[dict[str, Any]] = []
    bands, full = [], stripes.watts
    dark = True
    for band in stripes.bands:
        colours = colours_of(section, band)
        kind = {"hatch": colours.hatch, "ink": colours.ink, "line": colours.dark}
        if not is_full(band.watts, full):
            kind["face"] = colours.pale
        else:
            dark = not dark
            kind["face"] = colours.dark if dark else colours.light
        if kind not in kinds:
            kinds.append(kind)
        around = np.concatenate(
            [straighten(1e3 * band.line_a, LINE_ERROR), straighten(1e3 * band.line_b, LINE_ERROR)[::-1]]
        )
        bands.append([kinds.index(kind), *(100 * around).round().astype(int).ravel().tolist()])
    sight = [
        [*(1e5 * np.concatenate([line.start, line.end])).round().astype(int).tolist(), int(is_full(line.watts, full))]
        for line in (stripes.sight.lines if stripes.sight is not None else ())
    ]
    return {"watts": full, "kinds": kinds, "bands": bands, "sight": sight, "sight_colour": RADIATION}


def embed_gaps(found: GapMap, joined: Joined) -> dict[str, Any]:
    """What a small void costs in every group [W/mm2], classes with colours, regions that are still air already."""
    clear = np.isnan(found.void_cost)
    cost = joined.mean(np.where(clear, 0.0, found.void_cost)) * SQUARE_MM
    return {
        "cost": squared(cost),
        "clear": np.unique(found.heater.model.pieces.region[clear]).tolist(),
        "bounds": bounds_of(found.void_cost * SQUARE_MM),
        "colours": class_colours(),
    }


def straighten(line: Floats, error: float) -> Floats:
    """Fewer points of a line, none of the others farther off than `error`, ends kept."""
    keep = np.zeros(len(line), dtype=bool)
    keep[[0, -1]] = True
    spans = [(0, len(line) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        along = line[last] - line[first]
        apart = line[first + 1 : last] - line[first]
        length = float(np.hypot(*along))
        if length > 0:
            share = np.clip(apart @ along / length**2, 0.0, 1.0)
            apart = apart - share[:, None] * along
        off = np.hypot(apart[:, 0], apart[:, 1])
        if off.max() > error:
            middle = first + 1 + int(np.argmax(off))
            keep[middle] = True
            spans += [(first, middle), (middle, last)]
    return line[keep]
