"""Which number matters: what each uncertain input does to the heat to the water and to the time of a burn.

Goes in: a `Case`. Comes out: for every input the change over its range, first
by its slope from one adjoint solve where that knows it, then solved anew where
that is more than next to nothing; and the spread when all of them are drawn at once.

All of it on the coarser grid of the default pair, heats multiplied by what the
finer grid makes of the stated case; some of the drawn designs are solved on the
finer grid too, to see how good that is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial, reduce
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from annulus.burn import run_burn, summarise_burn
from annulus.case import Case
from annulus.errors import AnnulusError, ConvergenceError, InputError
from annulus.heater.sensitivity import HeatSensitivity, heat_sensitivity
from annulus.heater.steady import DEFAULT_FINENESS, SteadyHeater, solve_heater
from annulus.section import Role
from annulus.studies.gap_map import still_air_conductivity
from annulus.studies.uncertain import Uncertain, uncertain_inputs

Floats = NDArray[np.float64]
Tell = Callable[[str], None]
Answer = TypeVar("Answer")

DESIGNS = 256  # drawn at once
SEED = 1  # of the scrambled sequence
BAND = (0.05, 0.95)  # shares of the drawn designs between which the band lies
CHECKED = 4  # drawn designs that are solved on the finer grid too
NEGLIGIBLE = 1e-3  # of the heat: an input whose slope gives less over its whole range is not solved anew


@dataclass(frozen=True)
class Effect:
    """What one input does.

    Attributes
    ----------
    input : Uncertain
    heat : tuple of float
        Heat to the water at the low and the high end of its range. [W]
    by_slope : tuple of float or None
        The same by the slope at the stated value, where the adjoint knows it. [W]
    solved : bool
        False where `heat` is that of the slope, which was next to nothing.
    time : tuple of (float or None), or None
        Time to the target at both ends; None within where it is not reached, None for a case without a tank. [s]
    """

    input: Uncertain
    heat: tuple[float, float]
    by_slope: tuple[float, float] | None
    solved: bool
    time: tuple[float | None, float | None] | None

    def span(self, stated: float) -> float:
        """Largest less smallest heat, the stated one among them. [W]"""
        return max(*self.heat, stated) - min(*self.heat, stated)


@dataclass(frozen=True)
class Spread:
    """Heats to the water of designs in which all inputs are drawn at once, evenly and apart.

    Attributes
    ----------
    drawn : ndarray, shape (n_designs, n_inputs)
        Values of the inputs.
    heat : ndarray, shape (n_solved,)
        Rising. [W]
    failed : list of str
        Why designs gave no heat.
    grid_error : float
        Largest difference from the finer grid among those that were solved there too. [W]
    """

    drawn: Floats
    heat: Floats
    failed: list[str]
    grid_error: float

    @property
    def band(self) -> tuple[float, float]:
        """Heats between which nine in ten lie. [W]"""
        low, high = np.quantile(self.heat, BAND)
        return float(low), float(high)


@dataclass(frozen=True)
class Sensitivity:
    """Outcome of the study; `effects` with the strongest first, `time` of the stated case [s]."""

    case: Case
    heat: float
    time: float | None
    effects: list[Effect]
    spread: Spread


def which_number_matters(
    case: Case, designs: int = DESIGNS, executor: Executor | None = None, tell: Tell | None = None
) -> Sensitivity:
    """Rank the uncertain inputs of a case and draw the spread of its heat to the water.

    Parameters
    ----------
    case : Case
        With a coil; with a tank for times.
    designs : int
        Drawn at once, a power of two.
    executor : Executor, optional
        Computes designs; in turn in this process without one. The outcome does not depend on it.
    tell : callable, optional
        Told in a few words what is going on.

    Returns
    -------
    Sensitivity

    Raises
    ------
    InputError
        If there is no coil or `designs` is not a power of two.
    BoilingError, ConvergenceError
        As `solve_heater`, of the stated case, or if no drawn design gives a heat.
    """
    check_designs(designs)
    say = tell or (lambda words: None)
    inputs = uncertain_inputs(case)
    coarse = solve_heater(case, DEFAULT_FINENESS // 2, tell)
    heat = _heat(solve_heater(case, DEFAULT_FINENESS, tell, near=coarse))
    correction = heat / _heat(coarse)
    slopes = _slopes(coarse, heat_sensitivity(coarse), inputs)
    compute = _Computer(executor, say)
    effects, time = _effects(case, inputs, heat, correction, slopes, compute)
    spread = _spread(case, inputs, designs, correction, compute)
    effects.sort(key=lambda effect: -effect.span(heat))
    return Sensitivity(case, heat, time, effects, spread)


def check_designs(designs: int) -> None:
    """InputError unless it is a power of two."""
    if designs < 2 or designs & (designs - 1):
        raise InputError(f"--designs {designs}: must be a power of two, such as {DESIGNS}, to cover all ranges evenly")


class _Computer:
    """Answers for cases in their order, wherever they are computed."""

    def __init__(self, executor: Executor | None, say: Tell) -> None:
        self.executor, self.say = executor, say

    def __call__(self, words: str, what: Callable[[Case], Answer], cases: Sequence[Case]) -> list[Answer]:
        answers = map(what, cases) if self.executor is None else self.executor.map(what, cases)
        found = []
        for number, answer in enumerate(answers, start=1):
            self.say(f"{words} ({number} of {len(cases)})")
            found.append(answer)
        return found


def heat_or_reason(case: Case, fineness: int = DEFAULT_FINENESS // 2) -> float | str:
    """Heat to the water [W], or why there is none."""
    try:
        return _heat(solve_heater(case, fineness))
    except AnnulusError as fault:
        return str(fault)


def time_to_target(case: Case) -> float | None:
    """Time to the target of the tank [s]; None if it is not reached."""
    found: float | None = summarise_burn(run_burn(case, DEFAULT_FINENESS // 2).march)["time_to_target_s"]
    return found


def _heat(heater: SteadyHeater) -> float:
    return -float(heater.field.surface_flow[heater.model.water_surfaces].sum())


def _effects(
    case: Case,
    inputs: Sequence[Uncertain],
    heat: float,
    correction: float,
    slopes: Sequence[float | None],
    compute: _Computer,
) -> tuple[list[Effect], float | None]:
    """Both ends of every range, those next to nothing by slope alone; and the time of the stated case."""
    by_slope: list[tuple[float, float] | None] = []
    for one, slope in zip(inputs, slopes, strict=True):
        by_slope.append(None)
        if slope is not None and one.stated is not None:
            low, high = (heat + correction * slope * (end - one.stated) for end in (one.low, one.high))
            by_slope[-1] = (low, high)
    solved = [ends is None or max(abs(end - heat) for end in ends) > NEGLIGIBLE * heat for ends in by_slope]
    tried = [
        (number, end)
        for number, (one, wanted) in enumerate(zip(inputs, solved, strict=True))
        for end in (one.low, one.high)
        if wanted and end != one.stated
    ]
    cases = [inputs[number].change(case, end) for number, end in tried]
    heats = dict(zip(tried, compute("solving at the ends of ranges", heat_or_reason, cases), strict=True))
    times: dict[tuple[int, float], float | None] = {}
    time = None
    if case.tank is not None:
        time, *others = compute("burning at the ends of ranges", time_to_target, [case, *cases])
        times = dict(zip(tried, others, strict=True))
    effects = []
    for number, (one, slope_ends, wanted) in enumerate(zip(inputs, by_slope, solved, strict=True)):
        ends = [(number, one.low), (number, one.high)]
        low, high = slope_ends or (heat, heat)
        if wanted:
            low, high = (correction * _number(one, heats[end]) if end in heats else heat for end in ends)
        late = (times.get(ends[0], time), times.get(ends[1], time)) if case.tank is not None and wanted else None
        effects.append(Effect(one, (low, high), slope_ends, wanted, late))
    return effects, time


def _number(one: Uncertain, answer: float | str) -> float:
    if isinstance(answer, float):
        return answer
    raise ConvergenceError(f"{one.name}: gives no heat at an end of its range ({answer})")


def _spread(case: Case, inputs: Sequence[Uncertain], designs: int, correction: float, compute: _Computer) -> Spread:
    """Quasi-random designs, even over every range and over every pair of them."""
    unit = qmc.Sobol(len(inputs), scramble=True, seed=SEED).random_base2(designs.bit_length() - 1)
    low, high = (np.array([getattr(one, end) for one in inputs]) for end in ("low", "high"))
    drawn = low + (high - low) * unit

    def change(values: Floats) -> Case:
        pairs = zip(inputs, values, strict=True)
        return reduce(lambda changed, pair: pair[0].change(changed, float(pair[1])), pairs, case)

    cases = [change(values) for values in drawn]
    answers = compute("solving drawn designs", heat_or_reason, cases)
    heats = {n: correction * answer for n, answer in enumerate(answers) if isinstance(answer, float)}
    if not heats:
        raise ConvergenceError(f"sensitivity: none of {designs} drawn designs gives a heat; the first: {answers[0]}")
    some = list(heats)[: min(CHECKED, designs)]
    finer = compute(
        "checking some of them", partial(heat_or_reason, fineness=DEFAULT_FINENESS), [cases[n] for n in some]
    )
    pairs = zip(some, finer, strict=True)
    apart = [abs(answer - heats[n]) for n, answer in pairs if isinstance(answer, float)]
    return Spread(
        drawn=drawn,
        heat=np.sort(np.array(list(heats.values()))),
        failed=[answer for answer in answers if isinstance(answer, str)],
        grid_error=max(apart, default=float("nan")),
    )


def _slopes(heater: SteadyHeater, found: HeatSensitivity, inputs: Sequence[Uncertain]) -> list[float | None]:
    """Change of the heat per change of each input where the adjoint knows it, else None. [W per its unit]"""
    known = {
        "conductivity.filler": _by_factor(heater, found, "filler"),
        "conductivity.insulation": _by_factor(heater, found, "insulation"),
        "conductivity.tube": _by_factor(heater, found, "tube"),
        "contacts.filler": float(found.by_resistance[_filler_links(heater)].sum()),
    }
    if heater.case.filler.film_at_flue == 0:  # a film that is there is a region of its own
        known["filler.film_at_flue"] = _by_film(heater, found)
    if heater.case.flue.bare_below == 0:  # whose heat the section's adjoint does not know
        soot = heater.case.flue.soot_thickness
        bore = 0.5 * heater.case.flue.inner_diameter
        by_resistance = -float(found.by_gas_film @ heater.gas_film**2)
        known["fire.gas_multiplier"] = float(found.by_gas_film @ heater.gas_film)
        known["flue.soot_thickness"] = by_resistance * bore / (bore - soot) / heater.case.flue.soot_conductivity
    return [known.get(one.key) for one in inputs]


def _by_factor(heater: SteadyHeater, found: HeatSensitivity, role: Role) -> float:
    mine = heater.model.pieces_of(role)
    return float(found.by_conductivity[mine] @ heater.field.network.conductivity[mine])


def _filler_links(heater: SteadyHeater) -> NDArray[np.bool_]:
    """Links between the filler and its walls."""
    pieces, role = heater.model.pieces, np.array([region.role for region in heater.model.section.regions])
    a, b = role[pieces.region[pieces.link_a]], role[pieces.region[pieces.link_b]]
    walls = ("tube", "flue", "shroud")
    return ((a == "filler") & np.isin(b, walls)) | ((b == "filler") & np.isin(a, walls))


def _by_film(heater: SteadyHeater, found: HeatSensitivity) -> float:
    """Per thickness of air in place of filler along the flue. [W/m]"""
    pieces, role = heater.model.pieces, np.array([region.role for region in heater.model.section.regions])
    a, b = role[pieces.region[pieces.link_a]], role[pieces.region[pieces.link_b]]
    along = np.flatnonzero(((a == "filler") & (b == "flue")) | ((b == "filler") & (a == "flue")))
    filler = np.where(a[along] == "filler", pieces.link_a[along], pieces.link_b[along])
    extra = 1 / still_air_conductivity(heater, filler) - 1 / heater.field.network.conductivity[filler]
    return float(found.by_resistance[along] @ extra)
