"""Files for other programs give back the field, piece for piece, and their cells fill the section."""

from __future__ import annotations

import csv
import math
from collections import Counter

import meshio
import numpy as np
import pytest
from commands import contents
from heaters import BARE_COIL, solved

from annulus.conduction.boundaries import Held
from annulus.conduction.grid import Grid
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.probe import heat_flux
from annulus.conduction.steady import solve_steady
from annulus.heater.outcome import summarise
from annulus.present.csvs import results_csv, turns_csv
from annulus.present.fields import ring_area, write_fields
from annulus.present.outlines import Outlines, outline
from annulus.present.solid import write_solid
from annulus.shapes import Disc, Rectangle


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("fields")
    write_fields(solved(), folder)
    return folder


def read(path) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Points and cell data of a file, all blocks of cells after each other."""
    if path.suffix == ".vtu":
        mesh = meshio.read(path)
        return mesh.points, {name: np.concatenate(parts) for name, parts in mesh.cell_data.items()}
    with meshio.xdmf.TimeSeriesReader(path) as reader:
        points, _ = reader.read_points_cells()
        assert reader.num_steps == 1
        _, _, data = reader.read_data(0)
    return points, {name: np.concatenate(parts) for name, parts in data.items()}


@pytest.mark.parametrize("name", ["field.vtu", "field.xdmf"])
def test_mean_temperature_of_each_material_is_read_back(written, name):
    """Weighted by volume, against the solver's own grouping of pieces by material."""
    heater, (points, data) = solved(), read(written / name)
    pieces = heater.field.pieces
    assert np.ptp(points[:, 0]) == pytest.approx(heater.model.section.r_max - heater.model.section.r_min)
    assert data["volume_m3"].sum() == pytest.approx(pieces.volume.sum(), rel=1e-12)
    for material, mine in heater.model.materials:
        expected = np.average(heater.field.temperature[mine], weights=pieces.volume[mine])
        on = np.isin(data["piece"], mine)
        assert np.unique(data["material"][on]).size == 1, material.name
        mean = np.average(data["temperature_K"][on], weights=data["volume_m3"][on])
        assert mean == pytest.approx(expected, rel=1e-6)


def test_a_file_says_its_units_and_names_its_materials(written):
    for name in ("field.vtu", "field.xdmf"):
        head = (written / name).read_text(encoding="utf-8")[:600]
        assert "Points in m" in head and "copper" in head
    arrays = np.load(written / "field.npz")
    copper = arrays["material_names"].tolist().index("copper")
    tubes = arrays["turn"][arrays["material"] == copper]
    assert set(tubes.tolist()) == {1, 2, 3, 4}
    assert arrays["temperature_C"] == pytest.approx(arrays["temperature_K"] - 273.15)
    assert contents(written) == ["field.npz", "field.vtu", "field.xdmf"]


@pytest.mark.parametrize("changes", [(), BARE_COIL], ids=["packed", "bare"])
def test_outlines_of_neighbours_share_their_points_and_fill_the_section(changes):
    heater = solved(*changes, fineness=1)
    pieces = heater.field.pieces
    made = outline(pieces)
    loops = [*made.whole.tolist(), *made.loops]
    assert set(made.whole_piece) | set(made.loop_piece) == set(range(pieces.count))
    edges = Counter((a, b) for loop in loops for a, b in zip(loop, [*loop[1:], loop[0]], strict=True) if a != b)
    assert max(edges.values()) == 1  # each side is walked once in each direction: anticlockwise, no overlaps
    lonely = [edge for edge in edges if edge[::-1] not in edges]
    ends = made.points[np.array(lonely).ravel()]
    section = heater.model.section
    on_side = np.minimum.reduce(
        [np.abs(ends[:, 0] - r) for r in (section.r_min, section.r_max)]
        + [np.abs(ends[:, 1] - z) for z in (section.z_min, section.z_max)]
    )
    on_bore = np.min([np.abs(np.hypot(*(ends - [t.r, t.z]).T) - t.inner_radius) for t in section.turns], axis=0)
    assert np.minimum(on_side, on_bore).max() < 1e-9

    volume = 2 * math.pi * np.array([ring_area(made.points[loop]) for loop in loops])
    of_piece = np.bincount(np.concatenate([made.whole_piece, made.loop_piece]), volume, pieces.count)
    # a chord of 7.5 degrees leaves 1 - sin(a)/a = 0.3 % of its disc out
    assert of_piece.sum() == pytest.approx(pieces.volume.sum(), rel=3e-3)
    assert of_piece[made.whole_piece] == pytest.approx(pieces.volume[made.whole_piece], rel=1e-9)


def test_a_disc_inside_one_cell_is_a_hole_in_its_outline():
    grid = Grid(np.array([1.0, 2.0]), np.array([0.0, 1.0]), "plane")
    pieces = cut_grid(grid, [Painted("plate", Rectangle(1, 2, 0, 1)), Painted("pin", Disc(1.5, 0.5, 0.2))])
    made = outline(pieces)
    corners, loop = made.triangles()
    three = made.points[corners]
    (ax, ay), (bx, by) = (three[:, 1] - three[:, 0]).T, (three[:, 2] - three[:, 0]).T
    area = np.bincount(made.loop_piece[loop], 0.5 * (ax * by - ay * bx))
    pin = math.pi * 0.2**2
    assert area == pytest.approx([1 - pin, pin], rel=4e-3)  # chords
    assert area.sum() == pytest.approx(1.0, rel=1e-12)


def test_triangles_of_a_notched_loop_fill_it():
    """An L of three unit squares, by hand."""
    points = np.array([[0, 0], [2, 0], [2, 1], [1, 1], [1, 2], [0, 2]], dtype=float)
    none = np.empty((0, 4), dtype=np.int64)
    made = Outlines(points, none, np.empty(0, dtype=np.int64), ([0, 1, 2, 3, 4, 5],), np.array([0]))
    corners, _ = made.triangles()
    three = points[corners]
    (ax, ay), (bx, by) = (three[:, 1] - three[:, 0]).T, (three[:, 2] - three[:, 0]).T
    area = 0.5 * (ax * by - ay * bx)
    assert len(area) == 4 and (area > 0).all()
    assert area.sum() == pytest.approx(3.0)


def test_flux_through_a_hollow_cylinder_is_its_heat_over_the_ring():
    """Q / (2 pi r L), whose mean over the ring from r1 to r2 is that at (r1 + r2) / 2."""
    faces, height = np.linspace(0.05, 0.1, 11), 0.3
    pieces = cut_grid(Grid(faces, np.linspace(0, height, 4)), [Painted("wall", Rectangle(0.05, 0.1, 0, height))])
    field = solve_steady(pieces, {"wall": 2.0}, {"r_min": Held(400.0), "r_max": Held(300.0)})
    heat = 2 * math.pi * height * 2.0 * 100.0 / math.log(2.0)
    along_r, along_z = heat_flux(field)
    middle = 0.5 * (faces[1:] + faces[:-1])[pieces.cell // 3]
    assert along_r == pytest.approx(heat / (2 * math.pi * middle * height), rel=1e-9)
    assert along_z == pytest.approx(0.0, abs=1e-6)


def test_flux_carries_the_heat_that_crosses_a_tube_filled_section():
    """Over a slice between two radii in the flue wall the mean flux is the heat from the gas over the area."""
    heater = solved()
    pieces, section = heater.field.pieces, heater.model.section
    wall = heater.model.pieces_of("flue")
    along_r, _ = heat_flux(heater.field)
    carried = float((along_r * pieces.volume)[wall].sum()) / (section.flue_radius - section.r_min)
    entered = float(heater.field.surface_flow[heater.model.gas_surfaces].sum())
    assert carried == pytest.approx(entered, rel=2e-3)  # heat that runs along the wall leaves it lower or higher


def test_a_solid_of_revolution_is_three_quarters_of_the_section(tmp_path):
    heater = solved(fineness=1)
    assert write_solid(heater, tmp_path) == "solid.vtu"
    mesh = meshio.read(tmp_path / "solid.vtu")
    assert np.hypot(*mesh.points[:, :2].T).max() == pytest.approx(heater.model.section.r_max)
    skin = mesh.points[mesh.cells_dict["quad"]]
    normal = np.cross(skin[:, 2] - skin[:, 0], skin[:, 3] - skin[:, 1])
    outer = np.hypot(skin[:, :, 0], skin[:, :, 1]).min(axis=1) > heater.model.section.r_max - 1e-9
    area = 0.5 * np.linalg.norm(normal[outer], axis=1).sum()
    whole = 2 * math.pi * heater.model.section.r_max * heater.model.section.height
    assert area == pytest.approx(0.75 * whole, rel=2e-3)  # ten-degree facets: sin(a) / a with a = 5 degrees


def test_tables_for_a_spreadsheet_hold_every_number_with_its_unit():
    outcome = summarise(solved()) | {"heat_to_water_error_W": 0.25}
    rows = {row["result"]: row for row in csv.DictReader(results_csv(outcome).splitlines())}
    assert float(rows["heat_to_water_W"]["value"]) == outcome["heat_to_water_W"]
    assert rows["heat_to_water_W"]["error"] == "0.25" and rows["heat_to_water_W"]["unit"] == "W"
    assert rows["gas_in_C"]["unit"] == "degC" and rows["capture"]["unit"] == ""
    assert "heat_to_water_error_W" not in rows
    turns = list(csv.DictReader(turns_csv(outcome).splitlines()))
    assert [float(turn["heat_to_turn_W"]) for turn in turns] == outcome["heat_to_turn_W"]


def test_command_writes_fields_tables_and_case(run, case_file, tmp_path):
    status, out, _ = run("field", case_file, "--out", tmp_path / "files")
    assert status == 0
    assert contents(tmp_path / "files") == [
        "case.toml",
        "field.npz",
        "field.vtu",
        "field.xdmf",
        "results.csv",
        "turns.csv",
    ]
    assert "field.vtu" in out
