"""Pictures: nothing overlaps, nothing is cut off, all is to scale, bytes repeat.

The cases are made by hand and solved on a coarse grid: what is tested here is
the page, not the numbers.
"""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import LineCollection
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.text import Text

from annulus.case import loads
from annulus.conduction.probe import temperature_at
from annulus.conduction.stripes import Stripes, trace_stripes
from annulus.errors import InputError
from annulus.heater import gridding
from annulus.heater.outcome import summarise
from annulus.heater.precision import with_errors
from annulus.heater.steady import SteadyHeater, solve_heater
from annulus.present.bands import say_bypass, sum_up
from annulus.present.compare import draw_compare
from annulus.present.drawing import draw_section
from annulus.present.gap_map import draw_gap_map
from annulus.present.labels import spread, thin
from annulus.present.ledger import draw_ledger, steady_flows
from annulus.present.raster import rasterise
from annulus.present.sheet import HARD_SPACE, Sheet
from annulus.present.stripes import draw_stripes
from annulus.present.style import RADIATION, applied, save
from annulus.present.temperature import draw_temperature
from annulus.studies.gap_map import make_gap_map

TOUCH = 0.5  # dots by which boxes around words may share an edge
LONG = "Heater with a title that goes on and on, as titles of variants do when nobody stops them, " * 3

CASE = """
title = "{title}"
[flue]
material = "black steel"
inner_diameter = "150 mm"
wall = "2 mm"
{flue}
[filler]
material = "{filler}"
{outside}
[fire]
gas_temperature = "420 degC"
gas_flow = "9.8 g/s"
film_coefficient = "30 W/m2K"
[room]
temperature = "18 degC"
film_coefficient = "9 W/m2K"
"""
COIL = """
[coil]
tube_outer_diameter = "15 mm"
tube_wall = "1 mm"
turns = {turns}
pitch = "{pitch}"
gap = "0.5 mm"
[water]
flow = "3 L/min"
inlet_temperature = "8 degC"
film_coefficient = "2000 W/m2K"
"""
SHROUD = """
[shroud]
material = "black steel"
sheet = "1 mm"
clearance = "8 mm"
[insulation]
material = "mineral wool"
thickness = "{thickness}"
[jacket]
material = "aluminium sheet"
thickness = "0.5 mm"
"""

ERRORS = ("heat_to_water_W", "heat_left_in_gas_W", "heat_through_outside_W", "wall_max_C", "outside_max_C")

Solved = tuple[SteadyHeater, Stripes]


def make(turns: int, thickness: str = "50 mm", title: str = "Heater", filler: str | None = None) -> Solved:
    """A heater on a coarse grid, and its stripes: about a hundred full ones."""
    filler = filler or ("quartz sand" if thickness else "still air")
    pitch = "16 mm" if turns > 30 else "30 mm"
    text = CASE.format(
        title=title,
        flue="" if turns else 'height = "0.9 m"',
        filler=filler + ('"\nsettled_top = "20 mm' if turns == 8 else ""),
        outside=(SHROUD.format(thickness=thickness) if thickness else "")
        + (COIL.format(turns=turns, pitch=pitch) if turns else ""),
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(gridding, "NEAREST", 1 / 8)
        patch.setattr(gridding, "ACROSS", 1 / 6)
        patch.setattr(gridding, "CELLS_IN_LAYER", 4)
        heater = solve_heater(loads(text, "hand-made"))
    tubes = [region.name for region in heater.model.section.regions if region.role == "tube"]
    heat = float(heater.field.surface_flow[heater.model.gas_surfaces].sum())
    return heater, trace_stripes(heater.field, tubes, float(f"{heat / 100:.1g}"))


@pytest.fixture(scope="module")
def solved() -> dict[str, Solved]:
    return {
        "2 turns": make(2),
        "8 turns, thick": make(8, "250 mm", LONG),
        "30 turns": make(30),
        "60 turns": make(60),
        "bare coil": make(6, ""),
        "no coil": make(0, title="Flue without a coil"),
    }


NAMES = ("2 turns", "8 turns, thick", "30 turns", "60 turns", "bare coil", "no coil")


@pytest.fixture(scope="module")
def figures(solved) -> dict[str, dict[str, Figure]]:
    """The three pictures of each heater."""
    return {
        name: {
            "section": draw_section(heater.model.section, heater.case),
            "temperature": draw_temperature(heater),
            "stripes": draw_stripes(heater, stripes),
        }
        for name, (heater, stripes) in solved.items()
    }


def words_of(figure: Figure) -> list[Text]:
    return [text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip()]


def clashes(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of words that share dots, and words that leave the page."""
    renderer = figure.canvas.get_renderer()
    boxes = [(text.get_text(), text.get_window_extent(renderer)) for text in words_of(figure)]
    page = figure.bbox
    found = [
        (words, "the edge of the page")
        for words, box in boxes
        if box.x0 < 0 or box.y0 < 0 or box.x1 > page.width or box.y1 > page.height
    ]
    for (one, a), (other, b) in combinations(boxes, 2):
        across, up = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
        if across > TOUCH and up > TOUCH:
            found.append((one, other))
    return found


def test_the_checker_sees_words_that_overlap_and_words_off_the_page():
    with applied():
        sheet = Sheet(4.0, 3.0)
        sheet.text(1.0, 1.0, "one")
        sheet.text(1.05, 1.02, "two")
        sheet.text(3.9, 2.0, "too far right")
    assert set(clashes(sheet.figure)) == {("one", "two"), ("too far right", "the edge of the page")}


@pytest.mark.parametrize("picture", ["section", "temperature", "stripes"])
@pytest.mark.parametrize("name", NAMES)
def test_words_do_not_overlap_and_lie_on_the_page(figures, name, picture):
    assert clashes(figures[name][picture]) == []


@pytest.mark.parametrize("name", NAMES)
def test_turns_and_their_watts_are_numbered(solved, figures, name):
    """At least the first and the last turn, each with its heat as the field's own flows give it."""
    heater = solved[name][0]
    model, words = heater.model, [text.get_text() for text in words_of(figures[name]["temperature"])]
    for turn in {0, len(model.section.turns) - 1} if model.section.turns else ():
        heat = -heater.field.surface_flow[model.water_surfaces][model.water_turn == turn].sum()
        assert f"{turn + 1}" in words
        assert f"{heat:.0f}" in words


@pytest.mark.parametrize("name", ["2 turns", "8 turns, thick", "bare coil"])
def test_words_of_the_gap_map_do_not_overlap(solved, name):
    found = make_gap_map(solved[name][0])
    assert clashes(draw_gap_map(found, [0.01] * len(found.worst))) == []


@pytest.mark.parametrize("count", [1, 2, 6])
def test_words_of_the_comparison_do_not_overlap(solved, count):
    cases = [(heater.case.title, summarise(heater), heater, stripes) for heater, stripes in solved.values()][:count]
    assert clashes(draw_compare(cases)) == []


@pytest.mark.parametrize("name", ["2 turns", "no coil"])
def test_errors_stand_beside_what_they_belong_to(solved, name):
    """In the comparison, the ledger and below the temperatures; an error alike for all, made up."""
    heater, stripes = solved[name]
    plain = summarise(heater)
    outcome = with_errors(plain, {**plain, **{key: plain[key] + 3.0 for key in ERRORS if plain[key]}}, touches=False)
    pictures = [
        draw_compare([(heater.case.title, outcome, heater, stripes)]),
        draw_ledger("Heater", "", *steady_flows(outcome)),
        draw_temperature(heater, outcome=outcome),
    ]
    for picture in pictures:
        words = " ".join(text.get_text() for text in words_of(picture)).replace(HARD_SPACE, " ")
        assert f"{plain['heat_left_in_gas_W']:.0f} ± 3" in words or f"{plain['wall_max_C']:.0f} ± 4" in words
        assert clashes(picture) == []


@pytest.mark.parametrize("name", NAMES)
def test_every_view_has_one_scale_both_ways(solved, figures, name):
    """Inches per metre across and up agree in all axes that are in metres, and full height is shown somewhere."""
    for figure in figures[name].values():
        views = [axes for axes in figure.axes if axes.get_aspect() == 1.0]
        assert views
        for axes in views:
            box = axes.get_window_extent()
            across = box.width / np.ptp(axes.get_xlim())
            up = box.height / np.ptp(axes.get_ylim())
            assert across == pytest.approx(up, rel=1e-9)
        assert max(np.ptp(axes.get_ylim()) for axes in views) == pytest.approx(solved[name][0].model.section.height)


@pytest.mark.parametrize("suffix", ["png", "svg"])
def test_the_same_picture_gives_the_same_bytes(solved, tmp_path, suffix):
    heater, stripes = solved["2 turns"]
    for n in (1, 2):  # drawn anew each time; one kind of picture for each kind of file, to be quick
        figure = draw_stripes(heater, stripes) if suffix == "png" else draw_temperature(heater)
        save(figure, tmp_path / f"{n}.{suffix}")
    assert (tmp_path / f"1.{suffix}").read_bytes() == (tmp_path / f"2.{suffix}").read_bytes()
    assert len(list(tmp_path.iterdir())) == 2  # no temporary file is left


def test_another_kind_of_file_is_refused_and_nothing_is_left_behind(tmp_path: Path):
    with pytest.raises(InputError, match=r"\.png or \.svg"):
        save(Figure(), tmp_path / "picture.bmp")
    assert list(tmp_path.iterdir()) == []


def test_settings_of_matplotlib_are_as_they_were():
    import matplotlib

    before = dict(matplotlib.rcParams)
    with applied():
        assert matplotlib.rcParams["svg.hashsalt"] == "annulus"
    assert dict(matplotlib.rcParams) == before


def test_bypass_sentence_counts_the_watts_that_reach_no_tube(solved):
    """Heat from the wall less heat that stripes bring from the wall to tubes, from the totals themselves."""
    heater, stripes = solved["bare coil"]
    section = heater.model.section
    passing = sum(w for (a, b), w in stripes.totals.items() if a == "r_min" and not b.startswith("tube"))
    assert say_bypass(section, stripes)[0].startswith(f"{passing:.0f} W of ")
    assert sum(row.heat for row in sum_up(section, stripes)) == pytest.approx(sum(stripes.totals.values()))


def test_the_legend_counts_the_sight_lines_that_are_drawn(solved, figures):
    """Dashed lines in every view are as many as the legend says, full ones and thin ones."""
    stripes = solved["bare coil"][1]
    words = " ".join(text.get_text() for text in words_of(figures["bare coil"]["stripes"]))
    whole = sum(line.watts > 0.999 * stripes.watts for line in stripes.sight.lines)
    assert whole > 0
    assert f"{whole} dashed lines of" in words
    drawn = [
        len(lines.get_segments())
        for axes in figures["bare coil"]["stripes"].axes
        for lines in axes.collections
        if isinstance(lines, LineCollection) and to_hex(lines.get_colors()[0]) == RADIATION
    ]
    assert len(stripes.sight.lines) in {sum(drawn), sum(drawn) / 2}


def test_image_reads_the_field(solved):
    """Dots agree with readings by the gradient of the nearest piece, to the grid's own error."""
    field = solved["2 turns"][0].field
    r, z = np.linspace(0.0755, 0.15, 24), np.linspace(0.001, 0.059, 20)
    image = rasterise(field, r, z)
    rows, columns = np.nonzero(~np.ma.getmaskarray(image))
    read = temperature_at(field, r[columns], z[rows])
    error = np.abs(image[rows, columns] - read) / np.ptp(field.temperature)
    # regression value: near tubes on this coarse grid the two readings differ by up to 6 %, elsewhere hardly
    assert np.ma.median(error) < 2e-3
    assert error.max() < 0.12
    assert np.ma.getmaskarray(image).any()  # bores are left open


def test_a_number_stays_on_one_line_with_its_unit():
    sheet, words = Sheet(7.0, 3.0), "in the tank's water 0.79 MJ, 12 % and 0.33 ± 0.04 W more"
    wrapped = [sheet.wrap(words, width) for width in np.arange(1.0, 3.0, 0.05)]
    assert any(len(lines) > 2 for lines in wrapped)
    for lines in wrapped:
        assert " ".join(lines).replace("\u00a0", " ") == words
        assert not any(line.startswith(("%", "MJ", "W", "±", "0.04")) for line in lines)
    assert "".join(sheet.wrap("12 %", 0.1)).replace(" ", "") == "12%"  # where they do not fit together they part


def test_spread_labels_keep_their_order_and_distance():
    centres = spread([1.0, 1.05, 3.0, 1.1], [0.4] * 4, 0.0, 4.0)
    assert np.all(np.diff(centres[[0, 1, 3, 2]]) >= 0.4 - 1e-12)
    assert centres[2] == pytest.approx(3.0)
    # three labels wanted around 1.05 stand centred on it: 0.65, 1.05, 1.45
    assert centres[[0, 1, 3]] == pytest.approx([0.65, 1.05, 1.45])


def test_spread_labels_stay_between_the_ends():
    centres = spread([-1.0, 0.0, 9.0], [0.5, 0.5, 0.5], 0.0, 2.0)
    assert centres == pytest.approx([0.25, 0.75, 1.75])


def test_labels_longer_than_their_line_are_an_error():
    with pytest.raises(InputError, match="3 labels need"):
        spread([0.0, 0.0, 0.0], [1.0, 1.0, 1.0], 0.0, 2.0)


def test_thinned_labels_are_first_last_and_round_numbers():
    assert thin(8, 1.0, 1.0) == list(range(8))
    assert [n + 1 for n in thin(30, 1.0, 4.5)] == [1, 10, 15, 20, 25, 30]
    assert [n + 1 for n in thin(60, 1.0, 1.2)][:3] == [1, 4, 6]
    assert thin(3, 1.0, 9.0) == [2]
