"""Sweeps over fire, water and room: designs with one section are told on its ports, as each would be by itself."""

from __future__ import annotations

import json
import tomllib
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from commands import TINY

from annulus.case import loads
from annulus.errors import InputError
from annulus.heater.ports import refuse_other_section, section_parts
from annulus.heater.together import ENOUGH
from annulus.studies import models, sweep
from annulus.studies.designs import compute, compute_together, make_designs
from annulus.studies.finished import LOG
from annulus.studies.models import steady_result
from annulus.studies.sweep import run_sweep
from annulus.studies.vary import read_variation
from annulus.studies.workers import process_pool

OUTSIDE = ("fire.gas_temperature = 250 degC .. 550 degC x 4", "water.flow = 0.5, 1, 2, 4 L/min")
DESIGNS = make_designs(tomllib.loads(TINY), [read_variation(words) for words in OUTSIDE])
SAMPLE = (0, 5, 10, 15)


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """Rows, the log, and how many designs were computed by themselves."""
    alone = []
    with pytest.MonkeyPatch.context() as patch, ThreadPoolExecutor(1) as executor:
        patch.setattr(sweep, "AT_ONCE", 6)
        patch.setattr(models, "solve_with_errors", lambda case: alone.append(case))
        folder = tmp_path_factory.mktemp("together")
        rows = run_sweep(DESIGNS, executor, folder)
    return rows, (folder / LOG).read_bytes(), alone


def test_designs_that_differ_outside_the_section_are_told_on_its_ports(told):
    assert told[2] == [] and all("results" in row for row in told[0])


@pytest.mark.parametrize("n", SAMPLE)
def test_a_design_on_shared_ports_is_what_it_is_by_itself_within_the_stated_share(told, n):
    together, alone = told[0][n]["results"], compute(DESIGNS[n].case, steady_result)["results"]
    assert together.keys() == alone.keys()
    heat, span = alone["heat_from_gas_W"], alone["gas_in_C"] - alone["room_C"]
    for key, value in alone.items():
        if not isinstance(value, float) or key == "balance_error":
            continue
        scale = heat if key.endswith("_W") and not key.endswith("K_W") else span if key.endswith("_C") else abs(value)
        if "_error_" in key:  # a bar is 1 to 2 times a difference of two grids, and wider by the share itself
            assert -4 * ENOUGH * scale < together[key] - value < 5 * ENOUGH * scale, key
        else:
            assert together[key] == pytest.approx(value, abs=max(ENOUGH * scale, 1e-9)), key


@pytest.mark.parametrize("n", SAMPLE)
def test_the_bar_of_a_design_on_shared_ports_holds_what_the_ports_leave_out(told, n):
    together, alone = told[0][n]["results"], compute(DESIGNS[n].case, steady_result)["results"]
    for key in ("heat_to_water_W", "heat_to_room_W", "wall_min_C", "outside_max_C", "gas_out_C"):
        name, _, unit = key.rpartition("_")
        assert abs(together[key] - alone[key]) < together[f"{name}_error_{unit}"], key


def test_a_sweep_that_goes_on_within_a_batch_ends_with_the_same_digits(told, tmp_path, monkeypatch):
    rows, log, _ = told
    monkeypatch.setattr(sweep, "AT_ONCE", 6)
    (tmp_path / LOG).write_bytes(b"".join(log.splitlines(keepends=True)[:9]) + b'{"design": 9, "resu')
    with ThreadPoolExecutor(1) as executor:
        again = run_sweep(DESIGNS, executor, tmp_path, resume=True)
    assert json.dumps(again) == json.dumps(rows)
    assert (tmp_path / LOG).read_bytes() == log


def test_two_processes_tell_the_digits_of_one_thread(tmp_path):
    with ThreadPoolExecutor(1) as executor, process_pool(2) as pool:
        one = run_sweep(DESIGNS[:12], executor, tmp_path / "one")
        assert json.dumps(run_sweep(DESIGNS[:12], pool, tmp_path / "two")) == json.dumps(one)


def test_a_design_that_ports_do_not_answer_says_by_itself_why():
    boiling = loads(TINY.replace('"3 L/min"', '"0.02 L/min"').replace("420 degC", "800 degC"))
    case = loads(TINY)
    good, bad = compute_together((case, boiling), (case,), steady_result)
    assert "results" in good
    assert bad == compute(boiling, steady_result) and "boiling point" in bad["reason"]


def test_designs_whose_ports_cannot_be_made_are_computed_by_themselves():
    boiling = loads(TINY.replace('"3 L/min"', '"0.02 L/min"').replace("420 degC", "800 degC"))
    case = loads(TINY)
    assert compute_together((case,), (boiling,), steady_result) == [compute(case, steady_result)]


def test_every_design_is_in_one_batch_with_its_own_section_only():
    vary = ("fire.gas_flow = 4 g/s .. 12 g/s x 20", "coil.pitch = 20, 25, 30 mm", "room.temperature = 5, 20 degC")
    designs = make_designs(tomllib.loads(TINY), [read_variation(words) for words in vary])
    tasks = sweep._tasks(designs, steady_result)
    assert sorted(number for task in tasks for number in task.numbers) == [design.number for design in designs]
    for task in tasks:
        assert len({case.coil.pitch for case in (*task.cases, *task.spread)}) == 1
        assert len(task.cases) <= sweep.AT_ONCE and len(task.spread) == sweep.SPREAD
    few = make_designs(tomllib.loads(TINY), [read_variation("coil.pitch = 20, 25, 30 mm")])
    assert [len(task.cases) for task in sweep._tasks(few, steady_result)] == [1, 1, 1]


def test_altitude_belongs_to_a_section_only_where_its_air_circulates():
    high = 'altitude = "1500 m"\n'
    packed, packed_high = loads(TINY), loads(TINY.replace("[room]\n", "[room]\n" + high))
    refuse_other_section(section_parts(packed), packed_high)
    airy = TINY[: TINY.index("[filler]")] + TINY[TINY.index("[shroud]") :]
    with pytest.raises(InputError, match=r"room\.altitude"):
        refuse_other_section(section_parts(loads(airy)), loads(airy.replace("[room]\n", "[room]\n" + high)))
    assert section_parts(packed) == section_parts(packed_high)


def test_a_result_without_a_way_to_share_is_computed_one_by_one(tmp_path):
    with ThreadPoolExecutor(1) as executor:
        rows = run_sweep(DESIGNS, executor, tmp_path, height)
    assert np.ptp([row["results"]["height_m"] for row in rows]) == 0


def height(case) -> dict[str, float]:
    """A result that costs nothing."""
    return {"height_m": case.height}
