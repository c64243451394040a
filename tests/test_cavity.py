"""Radiation across the still air of a heater: which surfaces take part, and what that does to the heat."""

import math

import numpy as np
import pytest
from heaters import BARE_COIL, NO_COIL, after, edited, solved

from annulus.conduction.boundaries import STEFAN_BOLTZMANN
from annulus.conduction.probe import face_temperatures
from annulus.heater import model as models
from annulus.heater import solve_heater, summarise
from annulus.heater.model import prepare
from annulus.materials import find

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


def test_film_along_the_flue_costs_what_its_air_and_its_radiation_hold_back():
    """No coil, gas side and outside fixed: layers in series, the film as a ring of air with grey walls beside it."""
    sand = 'family = "filler"\nconductivity = "0.3 W/mK"\ndensity = "1600 kg/m3"\n'
    sand = '[materials."my sand"]\n' + sand + 'heat_capacity = "800 J/kgK"\nemissivity = 0.85\n'
    fixed = (
        ('material = "quartz sand"\npacking = "vibrated"', 'material = "my sand"\nfilm_at_flue = "0.1 mm"'),
        after('gas_flow = "9.8 g/s"', 'film_coefficient = "30 W/m2K"'),
        after('temperature = "18 degC"', 'ends = "insulated"\nfilm_coefficient = "10 W/m2K"\n' + sand),
    )
    heater = solve_heater(edited(*NO_COIL, *fixed), 2)
    pieces, field = heater.model.pieces, heater.field
    film, bed = (pieces.region_index(name) for name in ("film at the flue", "filler"))
    heat = -float(field.surface_flow[heater.model.outside].sum())
    a, b = pieces.region[pieces.link_a], pieces.region[pieces.link_b]
    hot, cold = face_temperatures(field)
    inner_face = hot[(a == pieces.region_index("flue")) & (b == film)].mean()
    outer_face = cold[(a == film) & (b == bed)].mean()
    # one annular film of height 0.12 m: 2 pi k H / ln(r2 / r1) and concentric grey cylinders,
    # Incropera et al., Fundamentals of Heat and Mass Transfer, table 13.3 (from memory)
    r1, r2, height = 0.077, 0.0771, 0.12
    air = float(find("still air").conductivity(0.5 * (inner_face + outer_face)))
    conducted = 2 * math.pi * air * height / math.log(r2 / r1) * (inner_face - outer_face)
    shine = 1 / heater.case.flue.emissivity + r1 / r2 * (1 / 0.85 - 1)
    radiated = 2 * math.pi * r1 * height / shine * STEFAN_BOLTZMANN * (inner_face**4 - outer_face**4)
    assert radiated > 0.01 * conducted
    assert conducted + radiated == pytest.approx(heat, rel=1e-4)


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
