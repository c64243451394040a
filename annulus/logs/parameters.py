"""Parameters of a heater that a log can tell of: their priors, and cases with other values.

Goes in: cases and the names of what is free. Comes out: priors; changed cases. Free are the
inputs that the trade knows badly (`annulus.studies.uncertain`) and what is carried along: the errors
of probes, flow, volume and loss, which a fit must not take for the heater's doing.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from annulus.case import Case
from annulus.errors import InputError
from annulus.logs.freeing import EXAMPLE, REFUSED, prior_of_key, read_asked, refuse, with_key
from annulus.logs.priors import Prior, of_error, of_offset, of_range
from annulus.logs.ranges import Errors
from annulus.studies.keys import read_key
from annulus.studies.uncertain import Uncertain, listed_keys, uncertain_inputs
from annulus.units import Kind

GAS_FLOW, VOLUME, LOSS, WATER_FLOW = "fire.gas_flow", "tank.volume", "tank.loss", "water.flow"
PROBE_BELOW, PROBE_ABOVE, PROBE_TANK, PROBE_OUT = "probe.gas_below", "probe.gas_above", "probe.tank", "probe.water_out"
OFFSETS = {"tank": PROBE_TANK, "water_out": PROBE_OUT, "gas_above": PROBE_ABOVE}
CARRIED_KEYS = (GAS_FLOW, VOLUME, LOSS, WATER_FLOW)  # factors on what the case states under these names


def carried(errors: Errors) -> list[Prior]:
    """What every log depends on besides the heater."""
    source = "errors of the log"
    return [
        of_error(GAS_FLOW, errors.gas_flow, f"x {1 - errors.gas_flow:.2g} to {1 + errors.gas_flow:.2g}", source),
        of_error(VOLUME, errors.volume, f"± {errors.volume:.0%}", source),
        of_error(LOSS, errors.tank_loss, f"± {errors.tank_loss:.0%}", source),
        of_error(WATER_FLOW, errors.flow, f"± {errors.flow:.0%}", source),
        of_offset(PROBE_BELOW, errors.gas_probe, f"± {errors.gas_probe:g} K", source),
        of_offset(PROBE_ABOVE, errors.gas_probe, f"± {errors.gas_probe:g} K", source),
        of_offset(PROBE_TANK, errors.water_probe, f"± {errors.water_probe:g} K over the whole rise", source),
        of_offset(PROBE_OUT, errors.water_probe, f"± {errors.water_probe:g} K", source),
    ]


def priors_of(cases: Sequence[Case], free: Sequence[str], errors: Errors) -> list[Prior]:
    """Priors of what is free, then of what is carried along.

    Parameters
    ----------
    cases : sequence of Case
        A free parameter must count for one of them at least.
    free : sequence of str
        Keys of the trade's list, names of what is carried along, or these and any number of a case with
        a range: "coil.gap = 0.2 mm to 2 mm".
    errors : Errors

    Raises
    ------
    InputError
        If a name is none of these, or a log cannot determine it; the message names the nearest, and what can be freed.
    """
    along = {prior.name: prior for prior in carried(errors)}
    known: dict[str, Uncertain] = {}
    for case in cases:
        for found in uncertain_inputs(case):
            if found.key not in along and found.key not in REFUSED:
                known.setdefault(found.key, found)
    priors = []
    for asked in {one.name: one for one in map(read_asked, free)}.values():
        name = asked.name
        if name in along:
            kind: Kind = "number" if along[name].shape == "ratio" else "temperature_difference"
            along[name] = replace(along[name], is_free=True) if asked.low is None else asked.prior(kind)
        elif name in known:
            found = known[name]
            trade = of_range(name, found.low, found.high, found.words, found.source, True, found.kind)
            priors.append(trade if asked.low is None else asked.prior(found.kind))
        else:
            refuse(name)
            if name in listed_keys():
                raise InputError(f"--free {name}: does not count for what was logged; {_can_be_freed(known, along)}")
            if not _is_key(name):
                hint = _near(name, [*known, *along])
                raise InputError(f"--free {name}: is no key that can be freed; {hint}{_can_be_freed(known, along)}")
            priors.append(prior_of_key(asked, cases))
    return [*priors, *along.values()]


def _near(name: str, names: Sequence[str]) -> str:
    turned = ".".join(reversed(name.split(".")))
    near = [turned] if turned in names else difflib.get_close_matches(name, names, n=1)
    return f"did you mean '{near[0]}'? " if near else ""


def _is_key(name: str) -> bool:
    try:
        read_key(name, "--free")
    except InputError:
        return False
    return True


def _can_be_freed(known: Mapping[str, Uncertain], along: Mapping[str, Prior]) -> str:
    """What can be freed, in words."""
    listed = [f"  {key} ({found.name})" for key, found in known.items()]
    return "\n".join(
        [
            "these have ranges of the trade:",
            *listed,
            f"  {', '.join(along)} (errors of the log)",
            f"any other number of the case file needs a range: {EXAMPLE}",
        ]
    )


def with_values(case: Case, values: Mapping[str, float], fire_is_stated: bool = True) -> Case:
    """A case with other values of its parameters; those that do not count for it are passed over.

    Parameters
    ----------
    case : Case
    values : mapping of str to float
        By name, in what the prior's range is given in.
    fire_is_stated : bool
        False where the fire is a log's: its flow is then changed by whoever made its table.
    """
    for name, value in values.items():
        if name.partition(".")[0] in Case.model_fields and name not in listed_keys() and name not in CARRIED_KEYS:
            case = with_key(case, name, value)
    for found in uncertain_inputs(case):
        if found.key in values and (fire_is_stated or found.key != GAS_FLOW):
            case = found.change(case, values[found.key])
    changes: dict[str, Any] = {}
    if case.tank is not None:
        tank = {"volume": case.tank.volume * values[VOLUME], "loss": case.tank.loss * values[LOSS]}
        changes["tank"] = case.tank.model_copy(update=tank)
    if case.water is not None and case.water.flow is not None:
        changes["water"] = case.water.model_copy(update={"flow": case.water.flow * values[WATER_FLOW]})
    return case.model_copy(update=changes)
