"""The ledger's picture: every end is there, bands are as wide as their heat, words keep apart."""

from __future__ import annotations

import pytest
from heaters import WOOD, solved
from matplotlib.patches import PathPatch
from test_figures import clashes, words_of

from annulus.heater.outcome import summarise
from annulus.present.ledger import Flow, burn_flows, draw_ledger, steady_flows
from annulus.present.style import ENDS, LEFT_IN_GAS, ROOM, TURNS
from annulus.present.tables import megajoules


def bars(figure) -> dict[str, float]:
    """Heights of the bars by their colour. [in]"""
    found: dict[str, float] = {}
    for patch in figure.findobj(PathPatch):
        corners = patch.get_path().vertices
        colour = patch.get_facecolor()
        if len(corners) == 5 and colour[3]:
            height = corners[:, 1].max() - corners[:, 1].min()
            found[str(tuple(round(c, 3) for c in colour))] = (
                found.get(str(tuple(round(c, 3) for c in colour)), 0) + height
            )
    return found


@pytest.mark.parametrize("changes", [(), WOOD], ids=["gas", "wood"])
def test_ends_of_a_steady_fire_add_up_to_its_source(changes):
    outcome = summarise(solved(*changes, fineness=1))
    source, heat, flows = steady_flows(outcome)
    assert sum(flow.heat for flow in flows) == pytest.approx(heat, rel=1e-9)
    assert source == ("the wood" if changes else "the gas, above the room's temperature")
    figure = draw_ledger("Heater", "where the heat goes", source, heat, flows)
    assert clashes(figure) == []
    words = " ".join(text.get_text() for text in words_of(figure))
    for flow in flows:
        assert flow.words.split(",")[0] in words
    assert f"{outcome['heat_to_water_W']:.0f} W" in words


@pytest.mark.parametrize(
    "heats",
    [
        (1376.0, 5.0, 3.0, 205.0, 2688.0),
        (1376.0, -60.0, -40.0, 205.0, 2688.0),
        (0.4, 0.3, 0.2, 0.1, 2000.0),
        (1.0, 9.0, 9.0, 9.0, 9.0),
    ],
    ids=["usual", "warm room", "almost nothing", "even"],
)
def test_words_of_the_ledger_keep_apart_and_bars_are_as_high_as_their_heat(heats):
    names = ("the water", "the room, through the outside", "the room, through the ends", "bare flue", "chimney")
    colours = (TURNS[0], ROOM, ENDS, TURNS[1], LEFT_IN_GAS)
    flows = [Flow(*row) for row in zip(names, heats, colours, strict=True)]
    figure = draw_ledger("", "", "the gas", sum(heats), flows)
    assert clashes(figure) == []
    heights = sorted(bars(figure).values())
    # a bar for each end that is drawn; the source and the chimney share a colour
    drawn = sorted(abs(heat) for heat in heats[:-1] if abs(heat) >= 2e-3 * sum(map(abs, heats)))
    share = [height / heights[-1] for height in heights[:-1]]
    both = sum(heats) + heats[-1]
    assert share == pytest.approx([heat / both for heat in drawn])


def test_ends_of_a_burn_are_told_in_megajoules():
    outcome = {
        "wood_J": 60e6,
        "lost_before_flue_J": 30e6,
        "up_chimney_J": 15e6,
        "from_bare_flue_J": 1e6,
        "through_outside_J": 0.5e6,
        "through_ends_J": 0.1e6,
        "from_tank_J": 0.4e6,
        "stored_J": {"tank_water": 12e6, "filler": 0.8e6, "flue": 0.2e6},
    }
    source, heat, flows = burn_flows(outcome, {"tank_water": "the tank's water", "flue": "flue wall"})
    assert sum(flow.heat for flow in flows) == pytest.approx(heat)
    figure = draw_ledger("", "", source, heat, flows, megajoules)
    assert clashes(figure) == []
    words = " ".join(text.get_text() for text in words_of(figure))
    assert "12.0 MJ, 20 %" in words and "kept in the tank's water" in words.replace("\n", " ")


def test_heat_that_comes_back_is_told_by_where_it_comes_from_and_nothing_is_not_told():
    outcome = {
        "wood_J": 60e6,
        "lost_before_flue_J": 30e6,
        "up_chimney_J": 18.0002e6,
        "from_bare_flue_J": -0.1e6,
        "through_outside_J": -0.0002e6,  # 0.000 MJ
        "through_ends_J": 0.1e6,
        "from_tank_J": -0.05e6,
        "stored_J": {"tank_water": 12.06e6, "filler": -0.01e6},
    }
    source, heat, flows = burn_flows(outcome, {"tank_water": "the tank's water"})
    assert sum(flow.heat for flow in flows) == pytest.approx(heat)
    words = " ".join(text.get_text() for text in words_of(draw_ledger("", "", source, heat, flows, megajoules)))
    words = words.replace("\n", " ").replace("\xa0", " ")
    lesser = words.partition("Too little to draw: ")[2]
    for part in ("room, through bare flue 0.100 MJ", "air around the tank 0.050 MJ", "from filler 0.010 MJ"):
        assert part in lesser
    assert "from lost" not in words and "from kept" not in words and "0.000 MJ" not in words


def test_much_heat_is_told_without_powers_of_ten():
    assert [megajoules(heat) for heat in (1.234e9, 12.3e6, 0.2e3)] == ["1234 MJ", "12.3 MJ", "0.000 MJ"]
