"""Heat stripes of a body that warms: what passes, what is kept, what is given up; and several instants of a burn."""

from functools import cache

import numpy as np
import pytest
from test_burn import burning
from test_burn_ports import AIR
from test_figures import clashes, words_of

from annulus.burn.fast import FastBurner
from annulus.burn.run import run_burn
from annulus.burn.whole_field import field_at, moments_at
from annulus.conduction.boundaries import Film
from annulus.conduction.grid import Grid
from annulus.conduction.kept import GIVEN, KEPT, part
from annulus.conduction.pieces import Painted, cut_grid
from annulus.conduction.sight_lines import WORTH_DRAWING
from annulus.conduction.steady import solve_steady
from annulus.conduction.stripe_body import bound_body, flows_of, owners
from annulus.conduction.stripes import trace_storing_stripes, trace_stripes
from annulus.errors import InputError
from annulus.present.instants import draw_instants
from annulus.shapes import Rectangle

TIMES = (20.0, 120.0, 600.0)
KINDS = {"packed": (), "airy": AIR}


def slab(heat: float, columns: int = 20):
    """Heat of `heat` W/m3 released (kept where negative) in a plane slab 0.1 m thick and 1 m high, k = 2 W/(m K)."""
    grid = Grid(np.linspace(0.0, 0.1, columns + 1), np.linspace(0.0, 1.0, 5), "plane")
    pieces = cut_grid(grid, [Painted("slab", Rectangle(0.0, 0.1, 0.0, 1.0))])
    films = {"r_min": Film(1e6, 400.0), "r_max": Film(1e6, 300.0)}
    return solve_steady(pieces, {"slab": 2.0}, films, source=lambda r, z: np.full(r.size, heat))


@cache
def burnt(kind: str):
    return FastBurner(burning(*KINDS[kind]), 1).first.march


@cache
def storing(kind: str):
    """Moments, fields and stripes of a burn at three instants."""
    march = burnt(kind)
    moments = moments_at(march, TIMES)
    fields = [field_at(march, now) for now in moments]
    regions = march.system.body.model.section.regions
    sinks = [region.name for region in regions if region.role == "tube"]
    kinds = {region.name: region.role for region in regions}
    return march, moments, fields, [trace_storing_stripes(field, sinks, 5.0, kinds) for field in fields], sinks


def test_a_slab_that_warms_passes_what_leaves_it_and_keeps_the_rest():
    """Flux k dT / L -+ heat L / 2: 2000 W + 500 W enter, 2000 W - 500 W leave, 1000 W stay (by hand, per metre)."""
    field = slab(-1e4)
    stripes = trace_storing_stripes(field, [], 100.0, {"slab": "slab"})
    assert stripes.totals["r_min", "r_max"] == pytest.approx(1500.0, rel=1e-3)
    assert stripes.totals["r_min", KEPT] == pytest.approx(1000.0, rel=1e-3)
    assert stripes.marks.sums == {("slab", True): pytest.approx(1000.0)}
    assert len(stripes.marks.marks) == 10


def test_a_slab_that_cools_gives_up_what_leaves_it_beyond_what_entered():
    """The same with its sign turned: 1500 W enter, all of them pass, and 1000 W more leave."""
    stripes = trace_storing_stripes(slab(1e4), [], 100.0, {"slab": "slab"})
    assert stripes.totals["r_min", "r_max"] == pytest.approx(1500.0, rel=1e-3)
    assert stripes.totals[GIVEN, "r_max"] == pytest.approx(1000.0, rel=1e-3)
    assert stripes.marks.sums == {("slab", False): pytest.approx(1000.0)}


def test_a_slab_that_takes_heat_from_both_sides_passes_none():
    """Heat of 10 L times what conduction brings is kept: it flows in from both sides and nothing leaves."""
    totals = trace_storing_stripes(slab(-1e5), [], 500.0, {"slab": "slab"}).totals
    assert sum(totals.values()) == pytest.approx(1e4, rel=1e-6)
    assert {end for (_, end), heat in totals.items() if heat > 1e-6} == {KEPT}


def test_a_steady_body_keeps_nothing_and_its_stripes_are_the_steady_ones():
    field = slab(0.0)
    storing = trace_storing_stripes(field, [], 100.0, {"slab": "slab"})
    assert storing.totals["r_min", "r_max"] == pytest.approx(trace_stripes(field, [], 100.0).totals["r_min", "r_max"])
    assert sum(storing.marks.sums.values()) < 1e-6 * 2000.0


@pytest.mark.parametrize("kind", KINDS)
def test_what_passes_gathers_in_no_cell(kind):
    _, _, fields, _, sinks = storing(kind)
    for field in fields:
        parted = part(field, owners(field.pieces, sinks), flows_of(field))
        body = bound_body(field, sinks, parted.through)
        assert body.unclosed < 1e-7 * np.abs(field.surface_flow).sum()


@pytest.mark.parametrize("kind", KINDS)
def test_a_piece_keeps_what_the_march_warms_it_by(kind):
    """Sum over the section: heat from gas less water and room is what gathers; the field is the march's own."""
    march, moments, fields, _, _ = storing(kind)
    model = march.system.body.model
    for now, field in zip(moments, fields, strict=True):
        ways = now.rates  # in the order of WAYS
        gas, water = field.surface_flow[model.gas_surfaces].sum(), -field.surface_flow[model.water_surfaces].sum()
        assert abs(field.imbalance) < 1e-6 * gas
        assert gas == pytest.approx(ways[7], rel=5e-3)  # what ports leave out of the laws
        assert water == pytest.approx(ways[8], rel=5e-3)


@pytest.mark.parametrize("kind", KINDS)
def test_ends_of_a_burn_add_up_to_its_ledger(kind):
    """Bands, sight lines, heat kept and given up: by sides of the section, and by marks."""
    march, _, fields, traced, sinks = storing(kind)
    model = march.system.body.model
    for field, stripes in zip(fields, traced, strict=True):
        totals, marks = stripes.totals, stripes.marks

        def net(*places, totals=totals):
            return sum(w for (_, to), w in totals.items() if to in places) - sum(
                w for (source, _), w in totals.items() if source in places
            )

        gas = field.surface_flow[model.gas_surfaces].sum()
        kept = sum(heat if is_kept else -heat for (_, is_kept), heat in marks.sums.items())
        assert -net("r_min") == pytest.approx(gas, rel=1e-5)
        assert net(KEPT) + net(GIVEN) == pytest.approx(kept, abs=1e-5 * gas)
        assert net("r_max") == pytest.approx(-field.heat_into("r_max"), abs=1e-5 * gas)
        assert net(*sinks) == pytest.approx(gas - kept - net("r_max") - net("z_min", "z_max"), abs=1e-5 * gas)
        drawn = sum(mark.watts for mark in marks.marks)
        assert drawn + marks.small_watts == pytest.approx(sum(marks.sums.values()), rel=1e-9)
        assert all(WORTH_DRAWING * 5.0 <= mark.watts <= 5.0 * (1 + 1e-5) for mark in marks.marks)


def test_ports_keep_heat_where_all_pieces_do():
    """By role, ten minutes after lighting; ports smooth the first seconds of the insulation more than this."""
    _, moments, _, traced, sinks = storing("packed")
    march = run_burn(burning(), 1).march
    model = march.system.body.model
    [now] = moments_at(march, [moments[-1].time])
    kinds = {region.name: region.role for region in model.section.regions}
    full = trace_storing_stripes(field_at(march, now), sinks, 5.0, kinds)
    gas = now.rates[7]
    for role in ("flue", "filler", "insulation"):
        found, wanted = (
            each.marks.sums.get((role, True), 0.0) - each.marks.sums.get((role, False), 0.0)
            for each in (traced[-1], full)
        )
        assert found == pytest.approx(wanted, abs=0.01 * gas)


@pytest.mark.parametrize("kind", KINDS)
def test_words_of_the_instants_do_not_overlap_and_tell_what_is_kept(kind):
    march, moments, _, traced, _ = storing(kind)
    section = march.system.body.model.section
    figure = draw_instants("Small", section, [(now.time, each) for now, each in zip(moments, traced, strict=True)])
    assert clashes(figure) == []
    words = [text.get_text() for text in words_of(figure)]
    assert words.count("kept in the flue wall") == len(moments)


def test_instants_outside_the_burn_or_too_many_are_refused():
    march = burnt("packed")
    with pytest.raises(InputError, match="must lie within the burn"):
        moments_at(march, [1e6])
    with pytest.raises(InputError, match="1 to 4"):
        draw_instants("Small", march.system.body.model.section, [])


@pytest.mark.parametrize(
    "words, complaint",
    [
        (("--stripes", "1 min"), "--out"),
        (("--stripes", "1 min, soon", "--out", "{out}"), "soon"),
        (("--stripes", "1 s, 2 s, 3 s, 4 s, 5 s", "--out", "{out}"), "more than the 4"),
    ],
)
def test_instants_that_cannot_be_drawn_are_refused_before_anything_is_computed(
    run, case_file, tmp_path, words, complaint
):
    status, _, err = run("burn", case_file, *(word.format(out=tmp_path / "out") for word in words))
    assert status != 0
    assert complaint in err
    assert not (tmp_path / "out").exists()
