"""Radiation across the still air of a heater: which surfaces take part, and what that does to the heat."""

import numpy as np
import pytest
from heaters import BARE_COIL, NO_COIL, after, edited, solved

from annulus.heater import model as models
from annulus.heater import solve_heater, summarise
from annulus.heater.model import prepare

SETTLED = after('packing = "vibrated"', 'settled_top = "12 mm"')
STRIP = after('packing = "vibrated"', 'strip_under_tubes = "2 mm"')
TOUCHING = ('gap = "0.5 mm"', 'gap = "0 mm"')
INSULATED_ENDS = after('temperature = "18 degC"', 'ends = "insulated"')
AIR = ('material = "quartz sand"\npacking = "vibrated"', 'material = "still air"')


def unlit(*changes) -> dict:
    """Outcome with surfaces that do not radiate across air."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(models, "make_radiation", lambda *_: None)
        return summarise(solve_heater(edited(*changes)))


def test_packed_sand_has_nothing_to_radiate_across():
    assert prepare(edited(), 1).radiation is None


def test_a_bare_coil_faces_the_room_at_room_temperature():
    model = prepare(edited(*BARE_COIL), 1)
    region, held = model.radiation.enclosure.region, model.radiation.held
    openings = {side: region == -1 - model.pieces.boundaries.index(side) for side in ("r_max", "z_min", "z_max")}
    for opening in openings.values():
        assert opening.any()
        assert (held[opening] == model.case.room.temperature).all()
    assert np.isnan(held[~np.any(list(openings.values()), axis=0)]).all()


def test_insulated_ends_reradiate():
    model = prepare(edited(*BARE_COIL, INSULATED_ENDS), 1)
    end = model.radiation.enclosure.region == -1 - model.pieces.boundaries.index("z_min")
    assert end.any() and np.isnan(model.radiation.held[end]).all()


@pytest.mark.parametrize(
    "changes",
    [
        (SETTLED,),
        (STRIP,),
        (AIR, TOUCHING),
        (*BARE_COIL, TOUCHING),
        (*NO_COIL, AIR),
        (SETTLED, INSULATED_ENDS),
    ],
    ids=["settled top", "strips", "tubes touch in a shroud", "tubes touch, bare", "no coil", "settled, closed ends"],
)
def test_every_cavity_solves_and_closes(changes):
    heater = solved(*changes)
    assert heater.model.radiation is not None
    assert heater.balance_error < 1e-9
    exchange = heater.model.radiation.enclosure
    np.testing.assert_allclose(exchange.exchange.sum(axis=1), exchange.area, rtol=1e-6)
    field, pieces = heater.field, heater.field.pieces
    net = np.bincount(pieces.surface_piece, field.surface_flow, pieces.count)
    net += np.bincount(pieces.link_b, field.link_flow, pieces.count)
    net -= np.bincount(pieces.link_a, field.link_flow, pieces.count)
    assert np.abs(net).sum() < 1e-8 * np.abs(field.surface_flow).sum()


def test_radiation_across_an_unfilled_cavity_helps_the_water():
    """By little here, for the gas film holds most of the resistance."""
    lit, dark = summarise(solved(AIR))["heat_to_water_W"], unlit(AIR)["heat_to_water_W"]
    assert 1.005 * dark < lit < 1.5 * dark


def test_radiation_across_a_settled_top_recovers_part_of_what_the_void_costs():
    full, void, dark = (
        found["heat_to_water_W"] for found in (summarise(solved()), summarise(solved(SETTLED)), unlit(SETTLED))
    )
    assert dark < void < full


def test_a_bright_flue_sends_less_across_the_air():
    """Without bare lengths, where a bright flue would keep the gas hotter."""
    short = (('bare_below = "0.2 m"\nbare_above = "0.3 m"\n', ""), AIR)
    matt, bright = (
        summarise(solved(*short, *changes))["heat_to_water_W"]
        for changes in ((), (after('material = "black steel"', "emissivity = 0.1"),))
    )
    assert bright < 0.997 * matt
