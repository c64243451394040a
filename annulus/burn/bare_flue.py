"""What lies below and above the section over a burn: bare flue and chimney, which keep no heat here.

Goes in: a `March`. Comes out: the hottest bare flue, gas and wall at the chimney's top, the least draught.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from annulus.burn.outcome import WARMING
from annulus.burn.record import March, Now
from annulus.heater.chimney import pass_chimney
from annulus.units.celsius import to_celsius

BURNING = 423.15  # [K], gas that enters the flue of a fire that smoulders at least: common practice, no source


def summarise_bare_flue(march: March) -> dict[str, float | None]:
    """Results of a burn outside its section, by name.

    Parameters
    ----------
    march : March

    Returns
    -------
    dict
        `bare_flue_max_C`, the hottest of the burn, None without bare flue. With a chimney `chimney_top_gas_C` and
        `chimney_top_wall_C`, means over time, and `draught_Pa`, the least; all three after the
        first quarter of an hour while gas of `BURNING` or more enters, and None where there is no such time.
    """
    system, hottest = march.system, []
    chimney = system.case.chimney
    lengths, tops = [], []
    for n, step in enumerate(march.steps, start=1):
        now, above = step.end, march.above.row(n)
        below, gas = now.moment.supply_loss, _along(now)
        hottest += [float(wall.max()) for wall in (below.outside, above.outside) if wall.size]
        supply = now.moment.fire.supply
        if chimney is None or now.time < WARMING or supply.temperature < BURNING:
            continue
        lengths.append(step.length)
        tops.append(pass_chimney(system.case, chimney, supply, gas, below, above))
    found: dict[str, float | None] = {"bare_flue_max_C": to_celsius(max(hottest)) if hottest else None}
    if chimney is None:
        return found
    if not tops:
        return found | dict.fromkeys(("chimney_top_gas_C", "chimney_top_wall_C", "draught_Pa"))
    return found | {
        "chimney_top_gas_C": to_celsius(float(np.average([top.gas for top in tops], weights=lengths))),
        "chimney_top_wall_C": to_celsius(float(np.average([top.wall for top in tops], weights=lengths))),
        "draught_Pa": min(top.draught for top in tops),
    }


def _along(now: Now) -> NDArray[np.float64]:
    """Gas along the section, bottom first. [K]"""
    system, gas_in = now.moment.system, now.moment.gas_in
    rises, _, _ = system.parts_of(system.split(now.z)[1])
    return np.concatenate([[gas_in], gas_in + rises])
