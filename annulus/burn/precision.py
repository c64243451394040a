"""Error bars of a burn: on another grid, with shorter steps, and what the ports leave out.

Goes in: a `Case` with a tank. Comes out: its burn, and an outcome in which times
and heat stand with their errors.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np

from annulus.burn.bare_flue import summarise_bare_flue
from annulus.burn.fast import FastBurner, Judged
from annulus.burn.march import TOLERANCE
from annulus.burn.outcome import summarise_burn, summarise_upset
from annulus.burn.ranges import range_notes_of_burn
from annulus.burn.record import March
from annulus.burn.run import FINENESS, BurnRun, refuse_without_tank, run_burn
from annulus.burn.upset import Upset, refuse_unreached
from annulus.case import Case

SHARPER = 0.125  # tolerance of the march that shows the error of the steps, over the usual one: steps half as long
STEP_BAR = 2.0  # error over the change to those; 4/3 for errors that fall as the square of the step
GRID_BAR = 0.9  # error over the change from the coarser grid, as for a steady heat flow
LEAST_BAR = 1e-6  # of the value
BARRED = ("time_to_target_s", "time_to_boiling_s", "mean_heat_to_water_W")

Tell = Callable[[str], None] | None
Burnt = Callable[[int, float, tuple[str, ...]], March]  # of a fineness, a tolerance and roles that store no heat


def burn_with_errors(
    case: Case,
    fineness: int = FINENESS,
    tell: Tell = None,
    filler: bool = False,
    full: bool = False,
    upset: Upset | None = None,
) -> tuple[BurnRun, dict[str, Any]]:
    """March a burn, and again on a coarser grid and with shorter steps, for the error of its results.

    Parameters
    ----------
    case : Case
    fineness : int
        Of the result; 2 or more.
    tell : callable, optional
        Told in a few words what is going on.
    filler : bool
        March also a heater whose filler stores no heat.
    full : bool
        March all pieces in place of ports.
    upset : Upset, optional
        What goes wrong; the outcome then holds what `summarise_upset` finds.

    Returns
    -------
    BurnRun
    dict
        Outcome, with an error beside each of `BARRED`, with what `summarise_bare_flue` and `range_notes_of_burn` find,
        with `left_out_by_ports_K` (and its share of the span
        of temperatures) unless all pieces are marched, and with `filler_delay_s` if asked for: how much later the
        target came because the filler had to be warmed.

    Raises
    ------
    InputError
        If the case has no tank, or something goes wrong only when the burn is over (`refuse_unreached`).

    Notes
    -----
    Error = 0.9 times the change from the grid with cells twice as large, plus twice the change when
    steps on that grid are made half as long, plus the time in which the water warms by what the ports leave out.
    """
    refuse_without_tank(case)
    if upset is not None:
        refuse_unreached(case, upset)
    begun = time.perf_counter()
    if full:
        run = run_burn(case, fineness, tell=tell, upset=upset)
        coarse = run_burn(case, fineness // 2, tell=tell, upset=upset).march
        sharp = run_burn(case, fineness // 2, SHARPER * TOLERANCE, tell=tell, upset=upset).march
        missed: dict[str, float] = {}
    else:
        fine, half = (FastBurner(case, n, tell, upset=upset) for n in (fineness, fineness // 2))
        run = BurnRun(fine.body.model, fine.first.march, time.perf_counter() - begun)
        coarse, sharp = half.first.march, half.burn(case, SHARPER * TOLERANCE, tell, upset)
        missed = _left_out(fine.first)
    result = with_errors(summarise_burn(run.march), summarise_burn(coarse), summarise_burn(sharp), missed)
    result |= summarise_bare_flue(run.march)
    result["beyond_published_range"] = range_notes_of_burn(run.march, run.model)
    if upset is not None:
        result |= summarise_upset(run.march, upset)
    if filler:
        if full:
            empty = run_burn(case, fineness // 2, tell=tell, without_heat=("filler",)).march
        else:
            empty = FastBurner(case, fineness // 2, tell, without_heat=("filler",)).first.march
        late, early = (summarise_burn(march)["time_to_target_s"] for march in (coarse, empty))
        result["filler_delay_s"] = None if late is None or early is None else late - early
    return run, result


def with_errors(
    fine: dict[str, Any], coarse: dict[str, Any], sharp: dict[str, Any], missed: dict[str, float]
) -> dict[str, Any]:
    """An outcome with errors beside times and heat; `missed` from `_left_out`, empty if all pieces were marched."""
    result: dict[str, Any] = {}
    for key, value in fine.items():
        result[key] = value
        if key not in BARRED:
            continue
        name, _, unit = key.rpartition("_")
        if None in (value, coarse[key], sharp[key]):
            result[f"{name}_error_{unit}"] = None
            continue
        grid, steps = abs(value - coarse[key]), abs(coarse[key] - sharp[key])
        share = missed.get("left_out_share_of_warming", 0.0)
        result[f"{name}_error_{unit}"] = (LEAST_BAR + share) * abs(value) + GRID_BAR * grid + STEP_BAR * steps
    return result | missed


def _left_out(judged: Judged) -> dict[str, float]:
    """What the ports leave out: of the field [K], of its span, and of the water's warming."""
    system, steps = judged.march.system, judged.march.steps
    last = system.parts_of(system.split(steps[-1].end.z)[1])[2].mean()
    first = system.parts_of(system.split(judged.march.first.z)[1])[2].mean()
    warmed = max(abs(float(last - first)), float(np.finfo(float).tiny))
    return {
        "left_out_by_ports_K": float(np.abs(judged.left_out.fields).max()),
        "left_out_share_of_span": judged.share,
        "left_out_share_of_warming": min(float(np.abs(judged.left_out.tank).max()) / warmed, 1.0),
    }
