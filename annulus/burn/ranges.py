"""Where a burn leaves the range that a law was published for, and for how long.

Goes in: a `March` and the model of its section. Comes out: sentences, as of a steady heater.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from annulus.burn.equations import LEAST_FLOW
from annulus.burn.readings import readings
from annulus.burn.record import March, Now
from annulus.heater.model import Model
from annulus.heater.ranges import Seen, conductivity_notes, film_notes


def range_notes_of_burn(march: March, model: Model) -> list[str]:
    """Laws used outside their published range over a burn, in words.

    Parameters
    ----------
    march : March
    model : Model
        Of the section that was marched.

    Returns
    -------
    list of str
        Of a film the words of the first instant at which it leaves its range, with the time that it spends outside;
        of a conductivity the range of temperatures over the whole burn.
    """
    spent: defaultdict[str, float] = defaultdict(float)
    words: dict[str, str] = {}
    lowest, highest = np.full(model.pieces.count, np.inf), np.full(model.pieces.count, -np.inf)
    for step in march.steps:
        seen = _seen(step.end, model)
        lowest, highest = np.minimum(lowest, seen.field), np.maximum(highest, seen.field)
        for place, note in film_notes(seen).items():
            words.setdefault(place, note)
            spent[place] += step.length
    whole = march.steps[-1].end.time
    films = [f"{place}, for {spent[place] / 60:.0f} of {whole / 60:.0f} min: {words[place]}" for place in words]
    reached = [
        (material, float(lowest[mine].min()), float(highest[mine].max()))
        for material, mine in model.materials
        if mine.size
    ]
    return films + conductivity_notes(reached)


def _seen(now: Now, model: Model) -> Seen:
    """What the laws of one moment are read at."""
    moment = now.moment
    system, flow = moment.system, moment.streams.flow
    x, y = system.split(now.z)
    rises, coil, tank = system.parts_of(y)
    n, room = system.body.n_bands, system.room
    seen = readings(now)
    into = system.into_coil(flow, coil, tank)
    along = np.concatenate([[into], coil]) if flow.upwards else np.append(coil, into)
    flows = flow.rate >= LEAST_FLOW and system.circulation.wets(now.time)
    return Seen(
        case=system.case,
        model=model,
        supply=moment.fire.supply,
        gas=np.concatenate([[moment.gas_in], moment.gas_in + rises]),
        water=room + along,
        wall=room + now.inputs[:n],
        bore=seen["bore_max"] if flows else None,
        outside=np.array([seen["outside_max"]]) if "outside_max" in seen else np.array([room]),
        field=room + system.body.of_pieces(x),
        water_flow=flow.rate,
    )
