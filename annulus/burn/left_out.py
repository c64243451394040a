"""What a march on ports leaves out: an estimate from the balances of all pieces.

Goes in: a march whose body is a `PortBody`. Comes out: how far its states are off,
with the effect on gas, water and tank in.

The state on ports is put into the equations of all pieces. What does not gather
as it should is a source, and the field that it makes, marched in a few long
steps, is the error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.burn.equations import Heating
from annulus.burn.port_body import PortBody
from annulus.burn.record import March

Floats = NDArray[np.float64]

SAMPLES = 10  # instants of a burn at which its balances are read


@dataclass(frozen=True)
class LeftOut:
    """Errors at some instants.

    Attributes
    ----------
    times : ndarray, shape (n,)
        [s]
    fields : ndarray, shape (n, n_pieces + n_patches)
        True temperature less that on ports. [K]
    tank : ndarray, shape (n,)
        The same of the tank's mean. [K]
    """

    times: Floats
    fields: Floats
    tank: Floats


def left_out(march: March, samples: int = SAMPLES) -> LeftOut:
    """Estimate the error of a march on ports.

    Parameters
    ----------
    march : March
        Of a `PortBody`.
    samples : int

    Returns
    -------
    LeftOut
    """
    reduced = march.system
    body = reduced.body
    assert isinstance(body, PortBody)
    whole = Heating(reduced.case, body.model.section, body.full, reduced.schedule, reduced.circulation)
    ends = np.array([step.end.time for step in march.steps])
    wished = np.linspace(0.0, ends[-1], samples + 1)[1:]
    chosen = np.unique(np.clip(np.searchsorted(ends, wished), 0, ends.size - 1))
    error = np.zeros(whole.size)
    times, fields, tank, before = [], [], [], 0.0
    for n in chosen:
        now = march.steps[n].end
        x, y = reduced.split(now.z)
        mass, storage = reduced.mass(now.z), body.storage(x)
        stores = mass.streams > 0
        of_body, of_streams = reduced.split(now.gathers)
        rate_of_y = np.divide(of_streams, mass.streams, out=np.zeros_like(of_streams), where=stores)
        change = np.concatenate(
            [body.ports.field(np.asarray(np.linalg.solve(storage.matrix, of_body), dtype=np.float64)), rate_of_y]
        )
        z = np.concatenate([body.ports.field(x), y])
        full_mass = whole.mass(z)
        moment = whole.freeze(now.moment.time, z, now.inputs)
        missing = moment.gathers(z) - full_mass @ change
        rate = 1.0 / (now.time - before)
        error = moment.inverse(rate, full_mass)(rate * (full_mass @ error) + missing)
        of_pieces, of_water = whole.split(error)
        times.append(now.time)
        fields.append(of_pieces)
        tank.append(float(whole.parts_of(of_water)[2].mean()))
        before = now.time
    return LeftOut(np.array(times), np.stack(fields), np.array(tank))
