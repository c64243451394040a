"""Heat by first source and last end, from legs that meet at surfaces of open space.

Goes in: watts of each leg by where it begins and ends. Comes out: the same between
boundaries and sinks alone.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from annulus.conduction.stripe_body import is_surface


def join_legs(legs: Mapping[tuple[str, str], float]) -> dict[tuple[str, str], float]:
    """Heat from first sources to last ends, by way of surfaces facing open space, where it mixes.

    Parameters
    ----------
    legs : mapping from (source, destination) to float
        [W]

    Returns
    -------
    dict from (source, destination) to float
        [W]
    """
    nodes = sorted({name for pair in legs for name in pair})
    number = {name: n for n, name in enumerate(nodes)}
    heat = np.zeros((len(nodes),) * 2)
    for (source, end), watts in legs.items():
        heat[number[source], number[end]] += watts
    passed = np.array([is_surface(name) for name in nodes])
    mixed, last = heat[passed], ~passed
    out = mixed.sum(axis=1)
    share = mixed / np.where(out > 0, out, 1.0)[:, None]
    onward = np.linalg.solve(np.eye(out.size) - share[:, passed], share[:, last])
    joined = heat[last][:, last] + heat[last][:, passed] @ onward
    ends = [name for name, keep in zip(nodes, last, strict=True) if keep]
    return {(ends[a], ends[b]): float(joined[a, b]) for a, b in zip(*np.nonzero(joined > 0), strict=True)}
