"""How long the flue wall stays cold during a burn, and over which height.

Goes in: a `March`. Comes out: times below the water dew point, below the margin above it, and below
where tar settles, for the coldest place and band by band.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from annulus.burn.readings import readings
from annulus.burn.record import March
from annulus.units.celsius import from_celsius

Floats = NDArray[np.float64]

DEW_MARGIN = 10.0  # [K] above the water dew point, below which a wall counts as wet; common practice, no source
TAR_LIMIT = 120.0  # [degC], inner wall while flaming, below which tar settles; common practice, no source


def cold_wall(march: March) -> dict[str, Any]:
    """Times for which the inner face of the flue is cold, over the whole burn.

    Parameters
    ----------
    march : March

    Returns
    -------
    dict
        `wall_below_dew_s`, `wall_near_dew_s` (below the dew point plus `DEW_MARGIN`) and `wall_below_tar_s`
        (below `TAR_LIMIT`) of the coldest place; the first two also `_by_band_s`, of the mean of each
        band, bottom first, with the tops of the bands `band_top_m`. The dew point is that of the gas
        at each instant; between the ends of steps a temperature is a straight line.
    """
    system, moments = march.system, [march.first, *(step.end for step in march.steps)]
    times = np.array([now.time for now in moments])
    n = system.body.n_bands
    coldest = np.array([readings(now)["wall_min"] for now in moments])
    bands = system.room + np.array([now.inputs[:n] for now in moments])
    dew = np.array([now.moment.fire.supply.gas.dew_point for now in moments])
    middles = np.array([turn.z for turn in system.turns])
    tops = [*(0.5 * (middles[1:] + middles[:-1])), system.case.height]
    return {
        "wall_below_dew_s": time_below(times, coldest - dew),
        "wall_near_dew_s": time_below(times, coldest - dew - DEW_MARGIN),
        "wall_below_tar_s": time_below(times, coldest - from_celsius(TAR_LIMIT)),
        "wall_below_dew_by_band_s": [time_below(times, band - dew) for band in bands.T],
        "wall_near_dew_by_band_s": [time_below(times, band - dew - DEW_MARGIN) for band in bands.T],
        "band_top_m": [float(top) for top in tops],
    }


def time_below(times: Floats, values: Floats) -> float:
    """How long a line through points lies below zero. [s]

    Parameters
    ----------
    times, values : ndarray, shape (n,)
        Times increase. [s]
    """
    low = np.minimum(values[1:], values[:-1])
    high = np.maximum(values[1:], values[:-1])
    crossing = (low < 0) & (high > 0)
    share = np.where(crossing, -low / np.where(crossing, high - low, 1.0), (high <= 0) & (low < 0))
    return float((share * np.diff(times)).sum())
