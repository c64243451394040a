"""Gas and water of a burn as linear equations: bands of gas, turns of water, layers of the tank.

Goes in: gas at the bottom of the section, the water's flow, temperatures to
read laws at. Comes out: `StreamEquations`. Gas stores nothing; each turn's
water and each layer of the tank store heat, so that a pump that stops leaves
lumps of water which warm until they boil.

Unknowns: rise of the gas over its inlet after each band, then the water after each
turn (bottom first, whichever way it flows) and the layers of the tank (bottom
first), both above the room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.burn.tank import Vessel
from annulus.films import water
from annulus.heater.streams import outlet_weight

Floats = NDArray[np.float64]

LEAST_CAPACITY = 1e-9  # [W/K]: a stream that stands still, without dividing by zero


@dataclass(frozen=True)
class Flow:
    """Water through the coil.

    Attributes
    ----------
    rate : float
        Without sign. [kg/s]
    upwards : bool
        Through the coil.
    from_bottom : bool
        Drawn from the bottom of the tank and returned to its top, else the other way.
    drawn : float
        Share that comes from the tank; the rest comes straight back from the coil's end.
    held : float or None
        Temperature at which a valve that mixes both holds the water into the coil, above the room; None
        where it comes all from the tank or all from the coil. [K]
    """

    rate: float
    upwards: bool
    from_bottom: bool = True
    drawn: float = 1.0
    held: float | None = None


@dataclass(frozen=True)
class StreamEquations:
    """Balances of streams: carried @ y + heat into the body = source, with storage where there is some.

    Attributes
    ----------
    mean : ndarray, shape (n_segments, n_streams)
        Ambient of each segment is mean @ y + fixed.
    fixed : ndarray, shape (n_segments,)
        [K]
    carried : ndarray, shape (n_streams, n_streams)
        [W/K]
    source : ndarray, shape (n_streams,)
        [W]
    flow : Flow
    water_capacity : float
        Heat capacity flow of the water. [W/K]
    """

    mean: Floats
    fixed: Floats
    carried: Floats
    source: Floats
    flow: Flow
    water_capacity: float


def make_streams(
    gas_above_room: float,
    gas_capacity: Floats,
    flow: Flow,
    conductance: Floats,
    vessel: Vessel,
    tank: Floats,
    room: float,
    n_turns: int,
) -> StreamEquations:
    """Equations of gas, coil water and tank for films of one moment.

    Parameters
    ----------
    gas_above_room : float
        Gas at the bottom of the section. [K]
    gas_capacity : ndarray, shape (n_bands,)
        Mass flow times heat capacity by band. [W/K]
    flow : Flow
    conductance : ndarray, shape (n_segments,)
        Of the films of bands and turns, from the body. [W/K]
    vessel : Vessel
    tank : ndarray, shape (n_layers,)
        Temperatures to read heat capacity and mixing at. [K]
    room : float
        [K]
    n_turns : int

    Notes
    -----
    Turn s after turn p in the order of flow: M c dT_s/dt = C (T_p - T_s) - heat into the body, which feels
    T_p + w (T_s - T_p). With flow and without storage that is the steady heater's
    stream; without flow w is 1 and the turn is a lump. Into the first turn flows the tank's water, that of the last
    turn, or water held at a temperature T_v; then the tank gains C (T_last - T_v), whatever the shares are.
    """
    n_bands, layers = gas_capacity.size, vessel.layers
    n_segments = n_bands + n_turns
    size = n_segments + layers
    mean, carried, source = np.zeros((n_segments, size)), np.zeros((size, size)), np.zeros(size)
    fixed = np.zeros(n_segments)

    weight = outlet_weight(conductance[:n_bands] / gas_capacity)
    for b in range(n_bands):
        mean[b, b] = weight[b]
        carried[b, b] = gas_capacity[b]
        if b:
            mean[b, b - 1] = 1.0 - weight[b]
            carried[b, b - 1] = -gas_capacity[b]
    fixed[:n_bands] = gas_above_room

    c = max(flow.rate * float(water.specific_heat(tank.mean())), LEAST_CAPACITY)
    bottom, top = n_segments, size - 1
    drawn, returned = (bottom, top) if flow.from_bottom else (top, bottom)
    order = range(n_turns) if flow.upwards else range(n_turns - 1, -1, -1)
    weight = outlet_weight(conductance[n_bands:] / c)
    last = n_bands + order[-1]
    before = drawn if flow.drawn > 0 else last
    for n, turn in enumerate(order):
        own = n_bands + turn
        mean[own, own] += weight[turn]
        carried[own, own] += c
        if n == 0 and flow.held is not None:
            fixed[own] = (1.0 - weight[turn]) * flow.held
            source[own] += c * flow.held
        else:
            mean[own, before] += 1.0 - weight[turn]
            carried[own, before] -= c
        before = own
    # through the tank against the coil: what returns at one end pushes its layers to the other
    pushed = c * flow.drawn
    carried[returned, returned] += pushed
    if flow.held is None:
        carried[returned, last] -= pushed
    else:
        carried[returned, last] -= c
        source[returned] -= c * flow.held
        carried[returned, drawn] -= pushed
    step = -1 if flow.from_bottom else 1
    for layer in range(returned + step, drawn + step, step):
        carried[layer, layer] += pushed
        carried[layer, layer - step] -= pushed

    loss = vessel.loss()
    own_layers = np.arange(bottom, size)
    carried[own_layers, own_layers] += loss
    source[own_layers] += loss * (vessel.surroundings - room)
    for n, mixed in enumerate(vessel.mixing(tank)):
        low = bottom + n
        carried[low, low] += mixed
        carried[low, low + 1] -= mixed
        carried[low + 1, low + 1] += mixed
        carried[low + 1, low] -= mixed
    return StreamEquations(mean, fixed, carried, source, flow, c)
