"""Heat stripes: bands of equal watts from where heat enters a body to where it ends.

Goes in: a solved `Field`, the discs in which stripes end, the watts of one
stripe. Comes out: `Stripes`: bands between neighbouring lines of heat flow
and the heat that each source sends to each destination. Lines follow the
conservative flows of the field, so they never cross and no heat is lost
between them; where heat parts, bands are cut at the parting line itself.

Along every boundary, heat is counted with the body on the right hand. Two
lines between which nothing else begins or ends then have one and the same sum
of heat entered before their beginning and heat left before their end; a
change of that sum betrays a parting line between them, however narrow what it
parts, and bisection finds it.

Open space is a body of its own: bands end at the surface of a solid that faces
it, go on in it as far as it conducts, and the rest crosses it as sight lines.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.conduction.kept import Marks, mark, part
from annulus.conduction.legs import join_legs
from annulus.conduction.sight_lines import SightLines, draw_sight_lines, name_patches
from annulus.conduction.steady import Field
from annulus.conduction.stripe_body import Body, bound_body, flows_of, owners
from annulus.errors import InputError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NOTHING = 1e-12  # of all heat: a run with less has no direction
NEGLIGIBLE = 1e-7  # of all heat: narrower sheaves get no band and count as lost
PRECISION = 1e-9  # of all heat: how closely parting lines are found
SAME_SHEAF = 1e-6  # of all heat: change of the sum of two lines' counts that tells a parting line
JOINED = 1e-6  # of the section's extent: a wider gap between two runs ends a stretch of boundary
SAMPLES = 256  # lines with which each source is searched for parting lines, at least
ROUNDS = 60  # bisections, twice what PRECISION asks for
MOST_BANDS = 20_000
LEAK = 1e-3  # of all heat: a body that closes worse stores or releases heat
SLIVER = 1e-6  # of a band: a rest below this joins the band before


@dataclass(frozen=True)
class Band:
    """What flows between two neighbouring lines.

    Attributes
    ----------
    source, destination : str
        Boundary (side of the domain or hole), sink, or `surface_of` a solid that faces open space.
    watts : float
        [W]
    line_a, line_b : ndarray, shape (n, 2)
        (r, z) from source to destination, downstream. Neighbours share a line. [m]
    """

    source: str
    destination: str
    watts: float
    line_a: Floats
    line_b: Floats


@dataclass(frozen=True)
class Stripes:
    """Bands of a field.

    Attributes
    ----------
    bands : tuple of Band
        Source by source and then along its boundary (up r_min, outwards on z_max, down r_max,
        inwards on z_min, anticlockwise on a rim).
    watts : float
        Of a full band. [W]
    totals : dict from (source, destination) to float
        Between boundaries and sinks, by bands and sight lines together; what meets at a
        surface of open space mixes there. [W]
    sight : SightLines or None
        Radiation across open space, where there is some.
    marks : Marks or None
        Heat kept in pieces and given up by them, where the body stores heat.
    lost_watts : float
        Heat in no band: sheaves too narrow to draw, lines that came to no end, and the residual
        by which cells did not close. [W]
    """

    bands: tuple[Band, ...]
    watts: float
    totals: dict[tuple[str, str], float]
    sight: SightLines | None
    marks: Marks | None
    lost_watts: float


@dataclass(frozen=True)
class _Shore:
    """One boundary of the body: its runs in order, the body on the right hand."""

    runs: Ints
    breaks: NDArray[np.bool_]  # the boundary is interrupted behind this run


def trace_stripes(field: Field, sinks: Sequence[str], watts: float) -> Stripes:
    """Trace bands of equal watts through a steady field.

    Parameters
    ----------
    field : Field
        Without heat released inside.
    sinks : sequence of str
        Disc regions (such as the outside of tubes) in which stripes end. Nothing is traced inside
        them; heat that leaves one starts stripes with its name as source.
    watts : float
        Heat of one band. The last band before each parting line gets the rest. [W]

    Returns
    -------
    Stripes

    Raises
    ------
    InputError
        If watts are not positive or make more than `MOST_BANDS` bands, if a sink is unknown
        or no disc, or if the body stores or releases heat.
    """
    body = bound_body(field, sinks, flows_of(field))
    all_heat = _entering(body)
    refuse_watts(watts, all_heat)
    if body.unclosed > LEAK * all_heat:
        raise InputError(
            f"stripes: cells gain or lose {body.unclosed:.3g} W of {all_heat:.3g} W; stripes need a steady "
            "field without heat released inside"
        )
    return _gather(field, sinks, watts, body, None)


def trace_storing_stripes(field: Field, sinks: Sequence[str], watts: float, kinds: Mapping[str, str]) -> Stripes:
    """Trace bands of equal watts through a field whose pieces warm and cool.

    Bands are drawn of the heat that enters the body and leaves it again; what
    is kept in pieces on the way, and what they give up, becomes marks of the
    same watts (`kept.py`).

    Parameters
    ----------
    field, sinks, watts
        As for `trace_stripes`.
    kinds : mapping from region to str
        Regions of one kind are counted together.

    Returns
    -------
    Stripes

    Raises
    ------
    InputError
        If watts are not positive or make more than `MOST_BANDS` bands, or if a sink is unknown
        or no disc.
    """
    stored = part(field, owners(field.pieces, sinks), flows_of(field))
    body = bound_body(field, sinks, stored.through)
    refuse_watts(watts, _entering(body) + stored.kept.sum() + stored.given.sum())
    return _gather(field, sinks, watts, body, mark(field.pieces, stored, watts, kinds))


def _entering(body: Body) -> float:
    return float(np.maximum(-body.out[body.terminal >= 0], 0.0).sum())


def refuse_watts(watts: float, all_heat: float) -> None:
    """InputError for watts of a stripe that are not positive or make too many stripes."""
    if not (math.isfinite(watts) and watts > 0) or all_heat > watts * MOST_BANDS:
        raise InputError(
            f"stripes of {watts} W: must be positive and make no more than {MOST_BANDS} of {all_heat:g} W; "
            "was another unit meant?"
        )


def _gather(field: Field, sinks: Sequence[str], watts: float, body: Body, marks: Marks | None) -> Stripes:
    """Bands of a body, sight lines of the open space, and their sums."""
    shores = [_shore(body, k, field) for k in np.unique(body.terminal[body.terminal >= 0])]
    bands, legs, lost = _Tracing(body, shores, _entering(body)).bands(watts)
    sight = None
    if field.radiant is not None:
        names = name_patches(field.pieces, field.radiant.enclosure, sinks)
        sight = draw_sight_lines(field.pieces, field.radiant, watts, names, sinks)
        for pair, heat in sight.carried.items():
            legs[pair] = legs.get(pair, 0.0) + heat
    for pair, heat in marks.legs.items() if marks is not None else ():
        legs[pair] = legs.get(pair, 0.0) + heat
    return Stripes(bands, watts, join_legs(legs), sight, marks, lost)


def _shore(body: Body, which: int, field: Field) -> _Shore:
    """Put the runs of one boundary in order and find its interruptions."""
    runs = np.flatnonzero(body.terminal == which)
    r, z = body.middle[runs].T
    along = {"r_min": z, "z_max": r, "r_max": -z, "z_min": -r}.get(body.facing[which])
    if along is None:
        along = np.arctan2(z - z.mean(), r - r.mean())
    runs = runs[np.argsort(along, kind="stable")]
    ahead, behind = body.place(runs, np.zeros(runs.size)), body.place(runs, np.ones(runs.size))
    gap = np.abs(ahead - np.roll(behind, -1, axis=0)).max(axis=1)
    grid = field.pieces.grid
    extent = max(np.ptp(grid.r_face), np.ptp(grid.z_face))
    breaks = gap > JOINED * extent
    if breaks.any():
        turn = -1 - int(np.flatnonzero(breaks)[-1])
        runs, breaks = np.roll(runs, turn), np.roll(breaks, turn)
    return _Shore(runs, breaks)


@dataclass(frozen=True)
class _Sheaf:
    """What flows between two parting lines, by counts of heat on its source. [W]"""

    low: float  # where the parting lines are, as well as they are known
    high: float
    first: float  # the outermost lines within, which do not go astray
    last: float
    end: int  # a run where it ends, -1 if lost


class _Tracing:
    """Counts of heat along the shores, and the search for parting lines on them."""

    def __init__(self, body: Body, shores: list[_Shore], all_heat: float) -> None:
        self.body = body
        self.all_heat = all_heat
        self.spans: list[Ints] = []  # runs through which heat enters, one stretch after the other
        self.neglected = 0.0
        self.left_before = np.zeros(body.out.size)  # heat that left on the shore before each run [W]
        self.stretch = np.full(body.out.size, -1)  # which stretch of leaving heat a run belongs to
        self.shore_heat = np.zeros(body.out.size)  # all heat that leaves on the run's shore [W]
        stretches = 0
        for shore in shores:
            runs, spans = self._split(shore)
            self.spans += spans
            starts = np.zeros(runs.size, dtype=bool)
            for span in spans:
                starts |= runs == span[0]
            label = stretches + np.cumsum(starts)
            stretches = int(label[-1]) + 1
            leaving = np.maximum(body.out[runs], 0.0)
            self.left_before[runs] = np.cumsum(leaving) - leaving
            self.stretch[runs] = label
            self.shore_heat[runs] = leaving.sum()
        self.landings = np.empty(0), np.empty(0, dtype=np.int64)
        self._mark_landings()

    def _split(self, shore: _Shore) -> tuple[Ints, list[Ints]]:
        """Stretches of a shore through which heat enters; its runs from the first of them on."""
        runs, breaks = shore.runs, shore.breaks
        out = self.body.out[runs]
        tiny = NOTHING * self.all_heat
        if not breaks.any() and (out > tiny).any():  # a closed shore has no beginning of its own
            turn = -1 - int(np.flatnonzero(out > tiny)[-1])
            runs, out = np.roll(runs, turn), np.roll(out, turn)
            breaks = np.roll(breaks, turn)
        number = np.cumsum(np.concatenate([[False], (out > tiny)[:-1] | breaks[:-1]]))
        spans = []
        for n in np.unique(number[out < -tiny]):
            span = runs[(number == n) & (out < -tiny)]
            heat = -float(self.body.out[span].sum())
            if heat < NEGLIGIBLE * self.all_heat:
                self.neglected += heat
            else:
                spans.append(span)
        if spans and not breaks.any():
            runs = np.roll(runs, -int(np.flatnonzero(runs == spans[0][0])[0]))
        return runs, spans

    def _starts(self, span: Ints, count: Floats) -> tuple[Ints, Floats]:
        """Runs and fractions where lines start that have `count` [W] of the span before them."""
        heat = -self.body.out[span]
        before = np.cumsum(heat) - heat
        n = np.clip(np.searchsorted(before, count, side="right") - 1, 0, span.size - 1)
        return span[n], 1.0 - np.clip((count - before[n]) / heat[n], 0.0, 1.0)

    def _land(self, span: Ints, count: Floats) -> tuple[Ints, Ints, Floats]:
        """End run, stretch (-1 if lost) and sum of the counts at both ends of lines [W]."""
        end, fraction = self.body.ends(*self._starts(span, count))
        left = self.left_before[end] + (1.0 - fraction) * self.body.out[end]
        stretch = np.where(end < 0, -1, self.stretch[end])
        places, shores = self.landings
        if places.size:
            key = 2.0 * self.all_heat * shores + places
            stretch = stretch * (key.size + 1) + np.searchsorted(key, 2.0 * self.all_heat * stretch + left)
            stretch = np.where(end < 0, -1, stretch)
        return end, stretch, np.where(end < 0, 0.0, left + count)

    def _mark_landings(self) -> None:
        """Divide stretches of leaving heat where the outermost lines of each source end."""
        places: list[float] = []
        stretches: list[int] = []
        for span in self.spans:
            heat = -float(self.body.out[span].sum())
            edge = PRECISION * self.all_heat
            end, stretch, total = self._land(span, np.array([edge, heat - edge]))
            for n, count in enumerate((edge, heat - edge)):
                if end[n] >= 0:
                    outwards = edge if n == 0 else -edge
                    places.append(float(total[n] - count + 2.0 * outwards))
                    stretches.append(int(stretch[n]))
        order = np.lexsort((places, stretches))
        self.landings = np.array(places)[order], np.array(stretches, dtype=np.int64)[order]

    def _sheaves(self, span: Ints, lines: int) -> list[_Sheaf]:
        """Divide what enters through one span at its parting lines."""
        heat = -float(self.body.out[span].sum())
        edge = PRECISION * self.all_heat
        count = np.linspace(edge, heat - edge, max(SAMPLES, 2 * lines))
        end, stretch, total = self._land(span, count)
        for _ in range(ROUNDS):
            differs = self._parted(end, stretch, total)
            wide = differs & (np.diff(count) > edge)
            if not wide.any():
                break
            middle = 0.5 * (count[:-1] + count[1:])[wide]
            where = np.flatnonzero(wide) + 1
            found = self._land(span, middle)
            count = np.insert(count, where, middle)
            end, stretch, total = (
                np.insert(old, where, new) for old, new in zip((end, stretch, total), found, strict=True)
            )
        cuts = np.flatnonzero(self._parted(end, stretch, total))
        first = np.concatenate([[0], cuts + 1])
        last = np.concatenate([cuts, [count.size - 1]])
        partings = np.concatenate([[0.0], 0.5 * (count[cuts] + count[cuts + 1]), [heat]])
        return [
            _Sheaf(float(low), float(high), float(count[a]), float(count[b]), int(end[a]))
            for low, high, a, b in zip(partings[:-1], partings[1:], first, last, strict=True)
        ]

    def _parted(self, end: Ints, stretch: Ints, total: Floats) -> NDArray[np.bool_]:
        """Whether a parting line runs between neighbours."""
        change = np.abs(np.diff(total))
        around = self.shore_heat[end][1:]  # a closed shore may count one round more
        slack = SAME_SHEAF * self.all_heat + 2.0 * self.body.unclosed
        return (np.diff(stretch) != 0) | (np.minimum(change, np.abs(change - around)) > slack)

    def bands(self, watts: float) -> tuple[tuple[Band, ...], dict[tuple[str, str], float], float]:
        """Cut every sheaf into bands; bands, their watts by source and destination, and what is lost [W]."""
        body = self.body
        bands: list[Band] = []
        totals: dict[tuple[str, str], float] = {}
        lost = body.unclosed + self.neglected
        for span in self.spans:
            heat = -float(body.out[span].sum())
            counts, plan = [], []
            for sheaf in self._sheaves(span, math.ceil(heat / watts)):
                width = sheaf.high - sheaf.low
                if sheaf.end < 0 or width < NEGLIGIBLE * self.all_heat:
                    lost += width
                    continue
                pieces = max(1, math.ceil(width / watts - SLIVER))
                shares = np.full(pieces, watts)
                shares[-1] = width - (pieces - 1) * watts
                lines = np.append(sheaf.low + watts * np.arange(pieces), sheaf.high)
                counts.append(np.clip(lines, sheaf.first, sheaf.last))
                plan.append((body.names[body.terminal[sheaf.end]], shares))
            if not plan:
                continue
            source = body.names[body.terminal[span[0]]]
            traced = iter(body.lines(*self._starts(span, np.concatenate(counts))))
            for destination, shares in plan:
                line = next(traced)
                for share in shares:
                    neighbour = next(traced)
                    bands.append(Band(source, destination, float(share), line, neighbour))
                    line = neighbour
                key = (source, destination)
                totals[key] = totals.get(key, 0.0) + float(shares.sum())
        return tuple(bands), totals, lost
