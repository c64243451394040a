"""Air that circulates in a wide cavity: where it does, by how much, and what that costs."""

import math

import numpy as np
import pytest
from heaters import BARE_COIL, NO_COIL, edited, solved

from annulus.conduction.boundaries import STEFAN_BOLTZMANN
from annulus.films import atmospheric_pressure
from annulus.films.properties import air_conductivity
from annulus.films.slot import nusselt_slot, slot_rayleigh
from annulus.heater import model as models
from annulus.heater import solve_heater, summarise
from annulus.heater.model import prepare

AIR = ('material = "quartz sand"\npacking = "vibrated"', 'material = "still air"')
INSULATED_ENDS = ('temperature = "18 degC"', 'temperature = "18 degC"\nends = "insulated"')


def cavity(clearance: str) -> tuple[str, str]:
    return 'clearance = "8 mm"', f'clearance = "{clearance}"'


WIDE = (AIR, cavity("30 mm"))
NO_WOOL = (
    """[insulation]
material = "mineral wool"
thickness = "50 mm"
""",
    "",
)
WIDE_WITHOUT_COIL = (*NO_COIL, AIR, cavity("30 mm"), ('height = "0.12 m"', 'height = "1 m"'), NO_WOOL, INSULATED_ENDS)


@pytest.mark.parametrize(
    "changes", [(), BARE_COIL, (AIR, cavity("0 mm"))], ids=["sand", "open to the room", "shroud on the crowns"]
)
def test_air_circulates_only_in_a_closed_cavity_of_air_beyond_the_tubes(changes):
    assert prepare(edited(*changes), 1).slot is None


def test_the_slot_is_what_the_crowns_leave_open():
    slot = prepare(edited(*WIDE), 1).slot
    assert slot.width == pytest.approx(0.030, rel=1e-9)
    assert slot.height == pytest.approx(0.120)


def test_without_a_coil_the_slot_is_the_whole_cavity():
    slot = prepare(edited(*WIDE_WITHOUT_COIL), 1).slot
    assert slot.width == pytest.approx(0.030, rel=1e-9)
    assert (slot.share == 1.0).all()


@pytest.mark.parametrize("fineness", [1, 2])
def test_shares_of_cells_add_up_to_the_slot(fineness):
    """Widths of the columns of air beside a crown, weighted with their shares, make the clearance."""
    model = prepare(edited(*WIDE), fineness)
    slot, grid = model.slot, model.pieces.grid
    column = model.pieces.cell[slot.air] // grid.shape[1]
    first = np.unique(column, return_index=True)[1]
    width = (np.diff(grid.r_face)[column[first]] * slot.share[first]).sum()
    assert width == pytest.approx(0.030, rel=1e-9)
    assert slot.share.min() == 0.0 and slot.share.max() == 1.0


def test_walls_are_read_at_the_crowns_and_in_the_sheet():
    """From a temperature that is linear in r; the mean over cut cells shifts it by a few per cent of a cell."""
    model = prepare(edited(*WIDE), 2)
    crown = model.section.turns[0].r + model.section.turns[0].outer_radius
    assert model.slot.inner.sum() == pytest.approx(1.0) and model.slot.outer.sum() == pytest.approx(1.0)
    assert model.slot.inner @ model.pieces.r == pytest.approx(crown, abs=0.1e-3)
    assert model.slot.outer @ model.pieces.r == pytest.approx(model.section.cavity_radius + 0.5e-3, abs=0.3e-3)


def test_a_cell_half_in_the_slot_conducts_as_two_halves_in_series():
    slot = prepare(edited(*WIDE), 1).slot
    temperature = np.where(slot.inner > 0, 500.0, 300.0)
    stirred = slot.nusselt(temperature)
    assert stirred > 1.5
    halfway = np.argmin(np.abs(slot.share - 0.5))
    s = slot.share[halfway]
    assert slot.stirring(temperature)[halfway] == pytest.approx(1 / ((1 - s) + s / stirred), rel=1e-12)
    assert slot.stirring(temperature)[slot.share == 1.0] == pytest.approx(stirred, rel=1e-12)
    assert slot.stirring(temperature)[slot.share == 0.0] == pytest.approx(1.0, rel=1e-12)


def test_thin_air_circulates_less():
    low, high = (
        prepare(edited(*WIDE, ('temperature = "18 degC"', f'temperature = "18 degC"\naltitude = "{altitude}"')), 1)
        for altitude in ("0 m", "3000 m")
    )
    temperature = np.where(low.slot.inner > 0, 500.0, 300.0)
    assert high.slot.nusselt(temperature) < 0.95 * low.slot.nusselt(temperature)
    assert high.slot.pressure == atmospheric_pressure(3000.0)


def test_a_tight_shroud_is_not_affected(monkeypatch):
    """Air 8 mm wide stands still, so that the law changes nothing there."""
    with_law = summarise(solved(AIR))
    monkeypatch.setattr(models, "make_slot", lambda *_: None)
    without = summarise(solve_heater(edited(AIR)))
    assert with_law["heat_to_water_W"] == pytest.approx(without["heat_to_water_W"], rel=1e-6)
    assert with_law["heat_through_outside_W"] == pytest.approx(without["heat_through_outside_W"], rel=1e-3)


def test_heat_across_a_wide_cavity_is_nusselt_times_still_air_plus_radiation():
    """By hand from the wall temperatures found: flue, 30 mm of air 1 m high, shroud of black steel; ends insulated.

    Tolerance: one mean temperature for each wall, though the flue cools by a few kelvin upwards,
    and ends that reradiate.
    """
    heater = solved(*WIDE_WITHOUT_COIL)
    slot, temperature = heater.model.slot, heater.field.temperature
    hot, cold = float(slot.inner @ temperature), float(slot.outer @ temperature)
    r_in, r_out = heater.model.section.flue_radius, heater.model.section.cavity_radius

    nusselt = nusselt_slot(slot_rayleigh(hot, cold, 0.030), 1.0 / 0.030)
    assert nusselt > 1.3
    mean_k = np.mean(air_conductivity(np.linspace(cold, hot, 101)))
    stirred = nusselt * 2 * math.pi * mean_k * (hot - cold) / math.log(r_out / r_in)
    shine = heater.case.flue.emissivity
    sheet = heater.case.material(heater.case.shroud.material).emissivity
    grey = 2 * math.pi * r_in / (1 / shine + r_in / r_out * (1 / sheet - 1))
    radiated = grey * STEFAN_BOLTZMANN * (hot**4 - cold**4)
    assert summarise(heater)["heat_through_outside_W"] == pytest.approx((stirred + radiated) * 1.0, rel=0.02)


def test_air_that_circulates_carries_more_heat_to_the_shroud(monkeypatch):
    moving = summarise(solved(*WIDE_WITHOUT_COIL))["heat_through_outside_W"]
    monkeypatch.setattr(models, "make_slot", lambda *_: None)
    still = summarise(solve_heater(edited(*WIDE_WITHOUT_COIL)))["heat_through_outside_W"]
    assert moving > 1.001 * still


@pytest.mark.parametrize("changes", [WIDE, WIDE_WITHOUT_COIL], ids=["coil", "no coil"])
def test_circulation_settles_with_the_rest_and_closes(changes):
    heater = solved(*changes)
    assert heater.balance_error < 1e-9
    assert heater.field.rounds < 30


def test_the_multiplier_hardly_depends_on_the_grid():
    found = [
        heater.model.slot.nusselt(heater.field.temperature)
        for heater in (solved(*WIDE, fineness=1), solved(*WIDE, fineness=4))
    ]
    assert found[0] == pytest.approx(found[1], rel=5e-3)
