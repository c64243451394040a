"""The whole field at one moment of a burn: all flows, and the heat that gathers in every piece.

Goes in: a `March` and a moment of it. Comes out: a `Field` of the same section,
of which every piece keeps just the heat by which the march warms it.

Ports know temperatures to some hundredths of a degree, too roughly for flows
inside copper and steel. So the field is solved once more, with the gas and the
water of that moment and the march's own rate of warming as given.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from copy import copy
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from annulus.burn.port_body import PortBody
from annulus.burn.record import March, Now
from annulus.burn.section_body import SectionBody, SectionEquations
from annulus.conduction.radiant import with_radiation
from annulus.conduction.solvers import factor, solve_preconditioned
from annulus.conduction.steady import Field
from annulus.errors import InputError

Floats = NDArray[np.float64]


def field_at(march: March, now: Now) -> Field:
    """Field of all pieces at a moment of a burn.

    Parameters
    ----------
    march : March
    now : Now
        One of its moments.

    Returns
    -------
    Field
        Not steady: its pieces keep and give up heat.
    """
    begun = time.perf_counter()
    system = march.system
    x, y = system.split(now.z)
    gathers, _ = system.split(now.gathers)
    body = system.body
    if isinstance(body, PortBody):
        full = body.full
        rate = np.asarray(np.linalg.solve(body.storage(x).matrix, gathers), dtype=np.float64)
        warming = body.ports.field(rate)
        x = body.ports.field(x)
        kept = full.storage(x) @ warming
    else:
        assert isinstance(body, SectionBody)  # the other body there is
        full, kept = body, gathers
    whole = copy(system)
    whole.body = full
    moment = whole.freeze(now.moment.time, np.concatenate([x, y]), now.inputs)
    equations, ambient = moment.body, moment.ambient(y)
    assert isinstance(equations, SectionEquations)  # as `full` makes them
    network, patches = equations.network, equations.patches
    drive = equations.drive + equations.given @ ambient - kept
    above = solve_preconditioned(equations.matrix, drive, factor((patches or network).to_factor), x).x
    of_pieces, of_patches = np.split(above, [full.model.pieces.count])
    around = np.zeros(network.surface_conductance.size)
    around[full.wet] = ambient[full.segment]
    driven = replace(network, surface_drive=network.surface_conductance * around)
    link_flow, surface_flow, radiant = driven.link_flow(of_pieces), driven.surface_flow(of_pieces), None
    face = driven.surface_temperature(of_pieces, surface_flow)
    if patches is not None:
        link_flow, surface_flow, radiant = with_radiation(patches, link_flow, surface_flow, of_patches)
    room = system.room
    return Field(
        network=replace(network, surface_drive=network.surface_conductance * (room + around)),
        temperature=room + of_pieces,
        link_flow=link_flow,
        surface_flow=surface_flow,
        surface_temperature=room + face,
        radiant=radiant,
        imbalance=float(surface_flow.sum() - kept.sum()),
        rounding=(patches or network).rounding(above),
        solver="direct factor",
        rounds=1,
        factorisations=1,
        seconds=time.perf_counter() - begun,
    )


def moments_at(march: March, times: Sequence[float]) -> list[Now]:
    """The moments of a march that are nearest to given times, each once.

    Parameters
    ----------
    march : March
    times : sequence of float
        After lighting. [s]

    Raises
    ------
    InputError
        If a time is before the first moment or after the last.
    """
    moments = [march.first, *(step.end for step in march.steps)]
    last = moments[-1].time
    for time_wished in times:
        if not moments[0].time <= time_wished <= last:
            raise InputError(
                f"stripes: {time_wished / 60:g} min must lie within the burn, which ends after {last / 60:.1f} min"
            )
    nearest = [min(range(len(moments)), key=lambda n: abs(moments[n].time - wished)) for wished in times]
    return [moments[n] for n in sorted(set(nearest))]
