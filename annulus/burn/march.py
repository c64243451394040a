"""A burn marched in time, with an error control and a balance for every step.

Goes in: a `Heating`. Comes out: a `March`: states at the ends of steps, heat
by every way and heat stored in every part, which balance.

The scheme is TR-BDF2 as in `annulus.conduction.transient`: trapezoidal rule and
backward difference in turn, second order, L-stable, which suits unknowns that
store nothing (gas, patches). Laws (films, k(T), T^4, the water's own flow) are
read at states extrapolated to the end of each stage; a stage is done again with the
laws of its own result as long as that moves temperatures by more than a
small part of the tolerance.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from annulus.burn.body import Inverse
from annulus.burn.equations import WAYS, Heating, Mass, Moment
from annulus.burn.flue_above import share_out
from annulus.burn.record import Events, Leaving, March, Now, Step
from annulus.conduction.beyond import refuse_beyond
from annulus.conduction.solvers import Operator, solve_preconditioned
from annulus.conduction.transient import ERROR_WEIGHTS, GAMMA, LAST, WEIGHT
from annulus.errors import ConvergenceError

Floats = NDArray[np.float64]

TOLERANCE = 0.5  # [K], error of a step anywhere
FIRST = 1.0  # [s], the first step, and that after a jump of the fire
LONGEST = 600.0  # [s]
SAFETY, GROWTH, WORTH_IT, SHRINK = 0.8, 3.0, 1.5, 0.2  # as in the march of a field
SMALLEST = 1e-6  # [s]: a step below this has failed
MAX_STEPS = 50_000
MAX_ROUNDS = 12  # of laws within a stage; 3 times the worst seen
SETTLED = 0.002  # of the tolerance: what another round may still move
HALF = 0.5  # of a round's miss of the water's own flow, that is taken first
SHARES = 0.1, 1.2  # least and most of such a miss that a round takes
FIRST_CONTRACTION = 0.5  # of a round's change, that the next one brings, before it is known
REFACTOR_AT = 14  # steps of the linear solver that make a new factor cheaper
RATE_KEPT = 1.6  # a factor serves steps that differ by no more than this factor
RESIDUAL = 2e-11  # of the heat from the gas, that the linear solver leaves
LEAST_HEAT = 1.0  # [W], in place of a heat from the gas below it
CLOSED = 1e-9  # energy balance of a step, of the heat that moved
AFTER_BEND = 30.0  # [s], the longest first step after a bend of the fire
INSTANT = 1e-9  # [s] before or after a jump
NOTABLE = 0.1  # of the case's flow: changes of a slower flow count less, still water must not swing for ever
SETTLING_RATE = 1e9  # [1/s], of storage while gas finds its balance: nothing else moves in a nanosecond
LANDED = 1e-6  # [s], how closely a step is made to end on an event
MAX_LANDINGS = 60  # halving alone would take 30 from the longest step

WATER_PARTS = ("coil_water", "tank_water", "drum")


def march_burn(
    system: Heating,
    duration: float,
    events: Events,
    tolerance: float = TOLERANCE,
    tell: Callable[[str], None] | None = None,
    fixed_step: float | None = None,
) -> March:
    """March a burn until an event ends it or its time is up.

    Parameters
    ----------
    system : Heating
    duration : float
        [s]
    events : mapping from name to reading
        The first whose reading rises to zero ends the burn, at that instant.
    tolerance : float
        Error of a step, anywhere in section and water. [K]
    tell : callable, optional
        Told in a few words what is going on.
    fixed_step : float, optional
        Take steps of this length (the last before a bend is shorter) and control no error. [s]

    Returns
    -------
    March

    Raises
    ------
    ConvergenceError
        If a step shrinks to nothing, laws do not settle, energy does not close, or a temperature leaves the
        range of all that drove it so far: start, room, tank and gas.
    """
    say = tell or (lambda words: None)
    stepper = _Stepper(system, tolerance)
    jumps = {0.0, *system.schedule.jumps, *system.circulation.jumps}
    goals = sorted({time for time in (*jumps, *system.schedule.bends) if 0 < time < duration} | {duration})
    steps: list[Step] = []
    now = first = stepper.begin(0.0, goals[0], system.start(), None)
    event = None
    refused, step = 0, FIRST
    trend = still = np.zeros(now.z.size), np.zeros(now.inputs.size)
    for goal in goals:
        if now.time in jumps and now.time > 0:
            now, trend, step = stepper.begin(now.time, goal, now.z, now.inputs), still, FIRST
        step = min(step, AFTER_BEND)
        while now.time < goal and event is None:
            left = goal - now.time
            length = left if step >= left * (1 - 1e-9) else (step if step < 0.5 * left else 0.5 * left)
            if fixed_step is not None:
                length = left if fixed_step >= left * (1 - 1e-9) else fixed_step
            tried = stepper.take(now, goal, length, trend)
            ratio = 0.0 if fixed_step is not None else tried.error / tolerance
            if ratio > 1.0:
                refused += 1
                step = length * max(SHRINK, SAFETY * ratio ** (-1 / 3))
                if step < SMALLEST or len(steps) + refused > MAX_STEPS:
                    raise ConvergenceError(
                        f"burn: at {now.time:.6g} s the step shrank to {step:.1e} s with an error of "
                        f"{tried.error:.1e} K; does the fire jump without end?",
                        field=now.z,
                    )
                continue
            for name, reading in events.items():
                if reading(tried.end) >= 0:  # of several in one step the last that still has happened was the first
                    tried, event = _land(stepper, reading, now, goal, tried, trend), name
            trend = (tried.end.z - now.z) / tried.length, (tried.end.inputs - now.inputs) / tried.length
            now = tried.end
            stepper.refuse_beyond(now)
            steps.append(tried)
            say(f"burning: {now.time / 60:.1f} min, {len(steps)} steps")
            room = SAFETY * max(ratio, 1e-6) ** (-1 / 3)
            if room > WORTH_IT:
                step = min(max(step, length * min(room, GROWTH)), system.schedule.longest_step, LONGEST)
            elif room < 1.0:
                step = length * room
        if event is not None:
            break
    steps, above = share_out(system.case, first, steps)
    return March(system, first, tuple(steps), above, event, refused, stepper.factorisations)


def _land(stepper: _Stepper, reading: Callable[[Now], float], now: Now, goal: float, tried: Step, trend) -> Step:
    """The step that ends as the event's reading passes zero, by the secant rule kept within a bracket.

    Illinois rule: an end that stays twice counts half. Without it one end stays where it was, and readings that are
    settled to a millionth only keep the other from passing zero.
    """
    low, below = 0.0, reading(now)
    high, above, best = tried.length, reading(tried.end), tried
    was_early: bool | None = None
    for _ in range(MAX_LANDINGS):
        if high - low <= LANDED or above == 0.0:
            return best
        share = below / (below - above)
        length = low + (high - low) * min(max(share, 1e-6), 1 - 1e-6)
        step = stepper.take(now, goal, length, trend)
        value = reading(step.end)
        is_early = value < 0
        if is_early:
            low, below = length, value
            above *= 0.5 if was_early is True else 1.0
        else:
            high, above, best = length, value, step
            below *= 0.5 if was_early is False else 1.0
        was_early = is_early
    raise ConvergenceError(
        f"burn: an event between {now.time + low:.6g} and {now.time + high:.6g} s is not found to {LANDED:g} s",
        field=best.end.z,
    )


class _Stepper:
    """Everything a step needs, and the factor of the steps before."""

    def __init__(self, system: Heating, tolerance: float):
        self.system, self.tolerance = system, tolerance
        self.factorisations = 0
        self._inverse: Inverse | None = None
        self._rate, self._stale = 0.0, True
        self._contraction, self._share = FIRST_CONTRACTION, HALF
        self._usual_flow = NOTABLE * system.usual_flow
        _, coil, tank = system.parts_of(system.split(system.start())[1])
        body = system.body.of_pieces(system.split(system.start())[0])
        given = np.concatenate([[0.0, system.vessel.surroundings - system.room], body, coil, tank])
        self._driving = float(given.min()), float(given.max())  # above the room, so far [K]

    def refuse_beyond(self, now: Now) -> None:
        """Refuse a state that leaves the range of all that drove it so far; a body with a source knows none."""
        system = self.system
        if now.moment.body.drive.any():
            return
        x, y = system.split(now.z)
        gas, coil, tank = system.parts_of(y)
        fire = now.moment.fire.supply.temperature - system.room
        self._driving = min(fire, self._driving[0]), max(fire, self._driving[1])
        seen = np.concatenate([system.body.seen(x), now.moment.gas_in - system.room + gas, coil, tank])
        low, high = (system.room + end for end in self._driving)
        refuse_beyond(system.room + seen, low, high, f"burn at {now.time:.6g} s")

    def begin(self, time: float, goal: float, z: Floats, inputs: Floats | None) -> Now:
        """A state just after the fire or the water's flow jumped; `goal` is the next jump.

        Whatever stores nothing (gas, patches) is in balance with what does.
        """
        system = self.system
        mass = system.mass(z)
        stores = mass.stores
        if inputs is None:
            _, y = system.split(z)
            _, coil, tank = system.parts_of(y)
            flow = system.circulation.flow(time, system.room + coil, system.room + tank, 0.0)
            inputs = np.append(np.zeros(system.body.n_bands), np.append(coil, flow))
        for _ in range(MAX_ROUNDS):
            moment = system.freeze(min(time + INSTANT, goal), z, inputs)
            settled = self._settle(moment, mass, z)
            new = moment.inputs(settled)
            change = max(float(np.abs(settled - z).max()), float(np.abs(new - inputs)[:-1].max()))
            z, inputs = settled, new
            if change < SETTLED * self.tolerance:
                return Now(time, z, inputs, np.where(stores, moment.gathers(z), 0.0), moment.rates(z), moment)
        raise ConvergenceError(
            f"burn: at {time:.6g} s what stores no heat still moves by {change:.1e} K after {MAX_ROUNDS} rounds",
            field=z,
        )

    def _settle(self, moment: Moment, mass: Mass, z: Floats) -> Floats:
        """The state with all that stores nothing in balance, the rest held."""
        free = ~mass.stores
        if not free.any():
            return z
        whole, near = moment.matrix(0.0, mass), moment.inverse(SETTLING_RATE, mass)
        self.factorisations += 1
        held = Operator(lambda d: np.where(free, whole @ (free * d), d), np.where(free, whole.diagonal(), 1.0))
        short = np.where(free, moment.gathers(z), 0.0)
        if not short.any():
            return z
        found = solve_preconditioned(held, short, lambda r: free * near(free * r), np.zeros(z.size))
        return z + found.x

    def take(self, now: Now, goal: float, length: float, trend: tuple[Floats, Floats]) -> Step:
        """Try one step towards the next bend or jump, which it sees from before."""
        system = self.system
        rate = 2.0 / (GAMMA * length)
        drift, input_drift = trend
        mass = system.mass(now.z + 0.5 * length * drift)
        stores = mass.stores
        end = goal if length >= (goal - now.time) * (1 - 1e-9) else now.time + length

        guess, inputs = now.z + GAMMA * length * drift, now.inputs + GAMMA * length * input_drift
        one = self._stage(now.time + GAMMA * length, rate, mass, (now.z, now.gathers), guess, inputs)
        f1 = np.where(stores, one.gathers, 0.0)
        past = (1.0 / (GAMMA * (2.0 - GAMMA)) - 1.0) * rate * (mass @ (one.z - now.z))
        guess, inputs = now.z + length * drift, now.inputs + length * input_drift
        if np.any(drift):  # the first stage corrects the guess
            guess = guess + (one.z - now.z - GAMMA * length * drift) / GAMMA
            inputs = inputs + (one.inputs - now.inputs - GAMMA * length * input_drift) / GAMMA
        else:
            guess, inputs = one.z, one.inputs
        two = self._stage(min(end, goal - INSTANT), rate, mass, (one.z, past), guess, inputs)
        f2 = np.where(stores, two.gathers, 0.0)

        raw = length * np.tensordot(ERROR_WEIGHTS, np.stack([now.gathers, f1, f2]), axes=1)
        assert self._inverse is not None  # made by the stages
        wrong = self._inverse(rate * raw)
        x, y = system.split(wrong)
        error = max(
            float(np.abs(system.body.judged(x)).max()), float(np.abs(np.concatenate(system.parts_of(y)[1:])).max())
        )
        weights = (WEIGHT * length, WEIGHT * length, LAST * length)
        heat = np.tensordot(weights, np.stack([now.rates, one.rates, two.rates]), axes=1)
        reached = Now(end, two.z, two.inputs, f2, two.rates, two.moment)
        return self._account(length, one.leaving, reached, now, mass, heat, error)

    def _stage(self, time, rate, mass, past: tuple[Floats, Floats], guess: Floats, inputs: Floats) -> Now:
        """Solve rate * mass * (z - base) = past + gathers(z), laws included."""
        base, extra = past
        moved: float | None = None
        miss: float | None = None
        for _ in range(MAX_ROUNDS):
            moment = self.system.freeze(time, guess, inputs)
            z = self._solve(moment, rate, mass, extra - rate * (mass @ (guess - base)) + moment.gathers(guess), guess)
            new = moment.inputs(z)
            before, moved = moved, self._moved(z - guess, new - inputs)
            missed, miss = miss, float(new[-1] - inputs[-1])
            if self.system.circulation.drives_itself(time):
                new[-1] = inputs[-1] + self._share_of(miss, missed) * miss
            if before is not None and before > 0:
                self._contraction = min(max(moved / before, 0.02), 0.9)
            guess, inputs = z, new
            if max(self._contraction * moved, self._warms(miss, z)) < SETTLED * self.tolerance:
                return Now(time, z, new, moment.gathers(z), moment.rates(z), moment)
        raise ConvergenceError(
            f"burn: at {time:.6g} s laws still move temperatures by {moved:.1e} K after {MAX_ROUNDS} rounds; "
            "is a flow close to zero?",
            field=guess,
        )

    def _share_of(self, miss: float, missed: float | None) -> float:
        """Share of the miss of a flow that drives itself, to be taken: more of it warms less and drives less.

        By the secant rule from the misses before and after a share was taken, within a stage; one that left a greater
        miss the same way tells nothing.
        """
        if missed is not None and missed * (missed - miss) > 0:
            self._share = min(max(self._share * missed / (missed - miss), SHARES[0]), SHARES[1])
        return self._share

    def _moved(self, change: Floats, inputs: Floats) -> float:
        """Change of temperatures between rounds. [K]"""
        x, y = self.system.split(change)
        walls = inputs[:-1]
        return max(float(np.abs(part).max()) for part in (self.system.body.judged(x), y, walls))

    def _warms(self, miss: float, z: Floats) -> float:
        """What a miss of the flow [kg/s] makes of the rise of the water; not yet in the temperatures. [K]"""
        _, coil, _ = self.system.parts_of(self.system.split(z)[1])
        return abs(miss) / (self._usual_flow + abs(miss)) * float(np.ptp(coil))

    def _solve(self, moment: Moment, rate: float, mass: Mass, short: Floats, guess: Floats) -> Floats:
        if self._inverse is None or self._stale or not 1 / RATE_KEPT < rate / self._rate < RATE_KEPT:
            self._inverse, self._rate, self._stale = moment.inverse(rate, mass), rate, False
            self.factorisations += 1
        _, y = self.system.split(guess)
        heat = max(
            abs(moment.fire.supply.flow * 1000.0 * float(np.abs(y[: self.system.body.n_bands]).max())), LEAST_HEAT
        )
        size = float(np.linalg.norm(short))
        if size == 0.0:
            return guess
        found = solve_preconditioned(
            moment.matrix(rate, mass), short, self._inverse, np.zeros(short.size), min(RESIDUAL * heat / size, 0.5)
        )
        self._stale = found.steps > REFACTOR_AT
        return guess + found.x

    def _account(
        self, length: float, midway: Leaving, end: Now, now: Now, mass: Mass, heat: Floats, error: float
    ) -> Step:
        """Heat stored over the step by part, and the balance."""
        system = self.system
        change = end.z - now.z
        x, y = system.split(change)
        stored = dict(zip(system.body.parts, mass.body.by_part(x).tolist(), strict=True))
        _, coil, tank = system.parts_of(y)
        _, coil_mass, tank_mass = system.parts_of(mass.streams)
        drum = float((system.vessel.drum_capacity() * tank).sum())
        values = (float((coil_mass * coil).sum()), float((tank_mass * tank).sum()) - drum, drum)
        stored |= dict(zip(WATER_PARTS, values, strict=True))
        by = dict(zip(WAYS, heat.tolist(), strict=True))
        gap = by["gas"] - by["outside"] - by["ends"] - by["tank_loss"] - sum(stored.values())
        moved = sum(abs(by[way]) for way in ("gas", "outside", "ends", "tank_loss")) + sum(map(abs, stored.values()))
        imbalance = gap / max(moved, LEAST_HEAT * length)
        if not abs(imbalance) <= CLOSED:
            raise ConvergenceError(
                f"burn: the step to {end.time:.6g} s closes its energy to {imbalance:.1e} of the heat that moved and "
                f"must close to {CLOSED:g}",
                residuals=[gap],
                field=end.z,
            )
        return Step(length, midway, end, error, heat, stored, imbalance)
