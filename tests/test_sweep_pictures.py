"""Pictures and table of a sweep, from rows made by hand: what is drawn, and that nothing overlaps."""

from __future__ import annotations

import csv
import io
import math
import tomllib
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from commands import TINY
from heaters import CASES
from matplotlib.figure import Figure
from matplotlib.text import Text

from annulus.errors import InputError
from annulus.present.panels import own_scales, say_result, say_variation
from annulus.present.sweep_lines import draw_lines, numeric
from annulus.present.sweep_map import draw_map
from annulus.present.sweep_table import sweep_csv, sweep_table
from annulus.present.trade import draw_trade
from annulus.studies.designs import make_designs
from annulus.studies.limits import read_limit
from annulus.studies.plan import find_plan, make_plan, read_plan
from annulus.studies.reading import Sweep, read_sweep
from annulus.studies.vary import read_variation

TOUCH = 0.5  # dots by which boxes around words may share an edge
PITCH = "coil.pitch = 10 mm .. 40 mm x 4"  # the first overlaps
CLEARANCE = "shroud.clearance = 1, 4, 10, 25 mm"
FILLER = "filler.material = quartz sand, still air"
FIRES = "fire.gas_temperature = 300, 650 degC"
CONTACT = "contacts.tube-filler = 1e-5 .. 1e-2 m2K/W x 4 by ratio"


def made(*vary: str, keep: tuple[str, ...] = (), error: float = 3.0) -> Sweep:
    """A sweep whose heat is a smooth function of the design's number."""
    variations = [read_variation(words) for words in vary]
    designs = make_designs(tomllib.loads(TINY), variations)
    rows = []
    for design in designs:
        n = design.number
        heat = {"heat_to_water_W": 400 + 30 * math.sin(n / 3), "heat_to_water_error_W": error}
        costs = {"tube_length_wound_m": 5.0 + n % 7, "filler_mass_kg": 2.0 + n % 5, "wall_min_C": 50.0 + n % 9}
        row = {"results": {**heat, **costs, "wall_min_error_C": 0.5, "rounds": 9, "capture": None}}
        rows.append(row if design.case is not None else {"reason": design.reason})
    return read_sweep("Small", variations, designs, rows, [read_limit(words) for words in keep])


def pictures(sweep: Sweep) -> dict[str, Figure | None]:
    axes = [variation for variation in sweep.variations if variation.numbers is not None]
    drawn = {"curves": draw_lines(sweep, "heat_to_water_W", axes[0]), "trade": draw_trade(sweep, "heat_to_water_W")}
    if len(axes) > 1:
        drawn["map"] = draw_map(sweep, "heat_to_water_W", axes[0], axes[1])
    return drawn


def boxes(figure: Figure) -> list[tuple[str, object]]:
    """Level words with their boxes in dots; turned words (contour labels) lie on their lines."""
    renderer = figure.canvas.get_renderer()
    figure.draw(renderer)
    hidden = set()  # labels of ticks beyond the ends of an axis, which matplotlib keeps and does not draw
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            beyond = [tick for tick in axis.get_major_ticks() if not low <= tick.get_loc() <= high]
            hidden |= {text for tick in beyond for text in tick.findobj(Text)}
    words = [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible() and t not in hidden]
    return [(text.get_text(), text.get_window_extent(renderer)) for text in words if text.get_rotation() == 0]


SWEEPS = {
    "one variable": ((PITCH,), ()),
    "one word beside a number": ((FILLER, PITCH), ("wall_min_C > 54",)),
    "two variables": ((PITCH, CLEARANCE), ("wall_min_C > 54",)),
    "three variables, one by ratio": ((CONTACT, CLEARANCE, FILLER), ()),
    "two fires": ((FIRES, CONTACT, CLEARANCE), ("wall_min_C > 54",)),
}


@pytest.mark.parametrize("name", SWEEPS)
def test_no_words_of_a_picture_overlap_or_leave_it(name):
    vary, keep = SWEEPS[name]
    for which, figure in pictures(made(*vary, keep=keep)).items():
        found = boxes(figure)
        width, height = figure.get_size_inches() * figure.dpi
        for words, box in found:
            inside = box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height
            assert inside, f"{which}: {words!r} leaves the page"
        for (one, a), (other, b) in combinations(found, 2):
            across = min(a.x1, b.x1) - max(a.x0, b.x0)
            up = min(a.y1, b.y1) - max(a.y0, b.y0)
            assert across <= TOUCH or up <= TOUCH, f"{which}: {one!r} and {other!r} overlap"


def test_error_bars_are_as_long_as_the_errors():
    sweep = made(PITCH, error=7.0)
    figure = draw_lines(sweep, "heat_to_water_W", sweep.variations[0])
    (axes,) = [axes for axes in figure.axes if axes.axison]
    bars = [segment for lines in axes.collections for segment in lines.get_segments() if len(segment)]
    assert [np.ptp(bar[:, 1]) for bar in bars] == pytest.approx([14.0] * 3)  # the first design overlaps


def test_a_map_needs_two_values_both_ways():
    sweep = made("coil.pitch = 20 mm", CLEARANCE)
    with pytest.raises(InputError, match="two values or more"):
        draw_map(sweep, "heat_to_water_W", *sweep.variations)


def test_a_result_that_no_design_has_is_refused():
    sweep = made(PITCH)
    with pytest.raises(InputError, match="capture"):
        draw_lines(sweep, "capture", sweep.variations[0])


def test_plots_get_scales_of_their_own_only_where_one_would_be_flat():
    assert own_scales([(0, 10), (0, 1)])
    assert not own_scales([(0, 10), (3, 8)])


def test_names_on_axes_read_as_words_with_a_unit():
    assert say_result("heat_to_water_W") == "heat to the water / W"
    assert say_result("tube_length_wound_m") == "tube length wound / m"
    joined = read_variation("contacts.tube-filler and contacts.flue-filler = 1e-3 m2K/W")
    assert say_variation(joined) == "contacts tube-filler and flue-filler / m²K/W"


# --- the table


def test_every_number_of_the_table_reads_back_exactly():
    sweep = made(PITCH, CLEARANCE)
    rows = list(csv.DictReader(io.StringIO(sweep_csv(sweep))))
    for row, reading in zip(rows, sweep.readings, strict=True):
        for name, value in reading.results.items():
            assert row[name] == "" if value is None else float(row[name]) == value
    assert list(rows[0])[:4] == ["design", "coil.pitch [mm]", "shroud.clearance [mm]", "reason"]


def test_the_table_says_which_designs_keep_the_limits():
    rows = list(csv.DictReader(io.StringIO(sweep_csv(made(PITCH, CLEARANCE, keep=("wall_min_C > 54",))))))
    assert {row["kept"] for row in rows} == {"", "yes", "no", "too close"}
    assert all((float(row["wall_min_C"]) > 54.5) == (row["kept"] == "yes") for row in rows if row["kept"])


def test_a_single_value_is_no_axis():
    sweep = made("coil.pitch = 20 mm", CLEARANCE, "filler.material = still air, quartz sand")
    assert [variation.name for variation in numeric(sweep)] == ["shroud.clearance"]


def test_one_design_is_told_as_one():
    assert sweep_table(made("coil.pitch = 20 mm"), "heat_to_water_W").startswith("1 design of Small: 1 computed")


def test_the_best_designs_are_those_that_keep_the_limits():
    text = sweep_table(made(PITCH, CLEARANCE, keep=("heat_to_water_W < 420",)), "heat_to_water_W")
    best = text.split("Most heat_to_water_W\n")[1].splitlines()[1]
    assert float(best.split()[5]) < 420 - 3
    assert "4 without a result" in text and "overlap" in text


def test_table_and_pictures_say_that_a_case_is_invented():
    sweep = replace(made(PITCH, CLEARANCE), invented=True)
    assert "[invented example]" in sweep_table(sweep, "heat_to_water_W").splitlines()[0]
    for figure in pictures(sweep).values():
        assert any("(an invented example)" in text.get_text() for text in figure.findobj(Text))
    assert "invented" not in sweep_table(made(PITCH, CLEARANCE), "heat_to_water_W")


def test_designs_are_rivals_only_under_one_fire():
    """A low fire heats less behind any design: that says nothing of the design."""
    sweep = made(FIRES, CLEARANCE, PITCH)
    low, high = sweep.apart()
    assert (low[0], high[0]) == ("300 degC", "650 degC")
    for name, part in (low, high):
        assert [reading.settings[0].name for reading in part.readings] == [name] * 16
    text = sweep_table(sweep, "heat_to_water_W")
    for name, part in (low, high):
        best = text.split(f"Most heat_to_water_W, {name}\n")[1].splitlines()[1]
        assert int(best.split()[0]) == part.best("heat_to_water_W")[0].number


def test_fires_alone_are_one_list_and_many_of_them_fit_on_a_page():
    assert [name for name, _ in made(FIRES).apart()] == [""]
    many = made("fire.gas_temperature = 300 degC .. 650 degC x 9", CLEARANCE)
    assert len([axes for axes in draw_trade(many, "heat_to_water_W").axes if axes.axison]) == 12


# --- plans

STUDIES = sorted(path.parent.name for path in CASES.glob("*/sweep.toml"))


@pytest.mark.parametrize("name", STUDIES)
def test_every_design_of_a_ready_study_makes_a_case(name):
    tree = tomllib.loads((CASES / name / "case.toml").read_text(encoding="utf-8"))
    plan = read_plan(find_plan(CASES / name))
    designs = make_designs(tree, plan.variations)
    assert [design.reason for design in designs if design.case is None] == []
    assert 20 <= len(designs) <= 200


def test_there_is_a_study_for_each_question():
    assert STUDIES == ["study-clearance", "study-contact", "study-gap", "study-spacing"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("vary = 3", ["'vary'", "list of texts"]),
        ('show = ["a"]\nvary = ["coil.pitch = 20 mm"]', ["'show'", "quotes"]),
        ('vari = ["coil.pitch = 20 mm"]', ["'vari'", "vary"]),
        ("vary = []", ["nothing is varied"]),
        ('vary = ["coil.pich = 20 mm"]', ["coil.pich", "pitch"]),
        ("vary = [", ["TOML"]),
    ],
)
def test_a_plan_that_cannot_be_meant_is_refused_by_file_and_key(tmp_path, text, said):
    path = tmp_path / "sweep.toml"
    path.write_text(text)
    with pytest.raises(InputError) as fault:
        read_plan(path)
    for part in (str(path), *said):
        assert part in str(fault.value)


def test_words_and_a_plan_mean_the_same(tmp_path):
    path = tmp_path / "sweep.toml"
    path.write_text(f'vary = ["{PITCH}"]\nkeep = ["wall_min_C > 60"]\nshow = "heat_to_room_W"\n')
    assert read_plan(path) == make_plan([PITCH], None, ["wall_min_C > 60"], "heat_to_room_W")
