"""Readings at uneven times: bridged, smoothed by local lines, added up over time.

Goes in: times and readings, NaN where there are none. Comes out: arrays of the
same length.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def bridged(time: Floats, values: Floats) -> Floats:
    """Straight lines over what is missing, the nearest reading at both ends."""
    known = np.isfinite(values)
    return np.interp(time, time[known], values[known])


def local_line(time: Floats, values: Floats, window: float) -> tuple[Floats, Floats]:
    """Value and slope at every time of the least-squares line through its neighbours.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Rising, n >= 2. [s]
    values : ndarray, shape (n,)
        Without NaN.
    window : float
        Neighbours lie within half of it to either side; at least the next ones do. [s]

    Returns
    -------
    value, slope : ndarray, shape (n,)
    """
    n = time.size
    row = np.arange(n)
    low = np.minimum(np.searchsorted(time, time - 0.5 * window, side="left"), np.maximum(row - 1, 0))
    high = np.maximum(np.searchsorted(time, time + 0.5 * window, side="right"), np.minimum(row + 2, n))
    # centred at the middle so that sums of squares keep their digits
    t = time - time.mean()
    level = float(values.mean())
    x = values - level
    sums = [np.concatenate([[0.0], np.cumsum(part)]) for part in (t, x, t * t, t * x)]
    count = high - low
    st, sx, stt, stx = (total[high] - total[low] for total in sums)
    spread = stt - st * st / count
    slope = (stx - st * sx / count) / spread
    return level + sx / count + slope * (t - st / count), slope


def integral(time: Floats, values: Floats, first: float, last: float) -> float:
    """Area under straight lines between two times."""
    inside = (time > first) & (time < last)
    at = np.concatenate([[first], time[inside], [last]])
    y = np.interp(at, time, values)
    return float(np.sum(0.5 * (y[1:] + y[:-1]) * np.diff(at)))


def mean(time: Floats, values: Floats, first: float, last: float) -> float:
    """Mean over time between two times."""
    return integral(time, values, first, last) / (last - first)
