"""Bare flue above the section over a burn: its heat at all moments at once, since nothing in the section hangs on it.

Goes in: the steps of a march. Comes out: the same with that heat parted from what goes up the chimney.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from annulus.burn.equations import WAYS
from annulus.burn.record import Now, Step
from annulus.case import Case
from annulus.conduction.transient import LAST, WEIGHT
from annulus.heater.gas_path import BareFlues, pass_flue_above

BARE_FLUE, CHIMNEY = WAYS.index("bare_flue"), WAYS.index("chimney")


def share_out(case: Case, first: Now, steps: Sequence[Step]) -> tuple[list[Step], BareFlues]:
    """Part what leaves the top of the section.

    Parameters
    ----------
    case : Case
    first : Now
    steps : sequence of Step
        Whose heat up the chimney holds that of the bare flue above the section.

    Returns
    -------
    list of Step
        With that heat where it belongs, summed over the stages of each step as all other heat is.
    BareFlues
        A row at the start and at the end of each step.
    """
    leaving = [first.leaving, *(gas for step in steps for gas in (step.midway, step.end.leaving))]
    passed = pass_flue_above(case, *zip(*leaving, strict=True))
    shared = []
    for n, step in enumerate(steps):
        given = step.length * float(np.dot((WEIGHT, WEIGHT, LAST), passed.heat[2 * n : 2 * n + 3]))
        heat = step.heat.copy()
        heat[BARE_FLUE] += given
        heat[CHIMNEY] -= given
        shared.append(replace(step, heat=heat))
    at_ends = BareFlues(passed.gas_out[::2], passed.heat[::2], passed.wall[::2], passed.outside[::2])
    return shared, at_ends
