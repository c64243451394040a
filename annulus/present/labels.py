"""Labels that do not overlap: spreading, thinning, and leader lines.

Goes in: where labels would like to be and how large they are. Comes out: where
they may be; and text with leader lines on the page. Lengths in inches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from annulus.errors import InputError
from annulus.present.sheet import Sheet, line_height
from annulus.present.style import BODY, GREY, HAIR, INK, SMALL

Floats = NDArray[np.float64]


def spread(wanted: Sequence[float], sizes: Sequence[float], low: float, high: float) -> Floats:
    """Centres of labels as near as can be (least squares) to where they are wanted, none overlapping.

    Parameters
    ----------
    wanted : sequence of float
        Wished centres, in any order; the order along the line is kept.
    sizes : sequence of float
        Length of each label along the line, distance to the next included.
    low, high : float
        The line's ends.

    Returns
    -------
    ndarray, shape (n,)

    Raises
    ------
    InputError
        If the labels are longer than the line.
    """
    want, size = np.asarray(wanted, float), np.asarray(sizes, float)
    if want.size == 0:
        return want
    if size.sum() > high - low + 1e-9:
        raise InputError(f"picture: {want.size} labels need {size.sum():.2f} in and have {high - low:.2f} in")
    order = np.argsort(want, kind="stable")
    before = np.cumsum(size[order]) - 0.5 * size[order]  # centres if all labels stood close from 0
    shifts = _isotonic(want[order] - before)
    shifts = np.clip(shifts, low, high - size.sum())
    centres = np.empty(want.size)
    centres[order] = shifts + before
    return centres


def _isotonic(values: Floats) -> Floats:
    """Nearest sequence (least squares) that never decreases, by pooling neighbours that do."""
    means: list[float] = []
    counts: list[int] = []
    for value in values:
        means.append(float(value))
        counts.append(1)
        while len(means) > 1 and means[-2] > means[-1]:
            mean, count = means.pop(), counts.pop()
            means[-1] = (means[-1] * counts[-1] + mean * count) / (counts[-1] + count)
            counts[-1] += count
    return np.repeat(means, counts)


def thin(count: int, apart: float, needed: float) -> list[int]:
    """Which of `count` evenly spaced items to label: all, or the first, the last and round numbers between.

    Parameters
    ----------
    count : int
    apart : float
        Distance of neighbours.
    needed : float
        Distance that labels need.

    Returns
    -------
    list of int
        Indices from 0; items are numbered from 1, so every fifth is 4, 9, ...
    """
    closest = max(1, int(np.ceil(needed / apart - 1e-9)))
    if closest == 1:
        return list(range(count))
    step = next(n for n in (2, 5, 10, 20, 50, 100, 200, 500, 1000) if n >= min(closest, 1000))
    rounds = [n - 1 for n in range(step, count + 1, step) if closest <= n - 1 and count - n >= closest]
    ends = [0, count - 1] if count - 1 >= closest else [count - 1]
    return sorted({*ends, *rounds})


@dataclass(frozen=True)
class Pointer:
    """Words about a place on the page. `free`: the place may move up and down with its words."""

    words: str
    x: float
    y: float
    free: bool = False


def point_from_right(
    sheet: Sheet, pointers: Sequence[Pointer], x: float, low: float, high: float, edge: float, width: float
) -> None:
    """Words in a column at x of a width, each with a leader line to its place; leaders run level up to `edge`."""
    if not pointers:
        return
    blocks = [[line for part in p.words.split("\n") for line in sheet.wrap(part, width, BODY)] for p in pointers]
    heights = [len(lines) * line_height(BODY) + 0.06 for lines in blocks]
    centres = spread([pointer.y for pointer in pointers], heights, low, high)
    for pointer, lines, y in zip(pointers, blocks, centres, strict=True):
        at = float(y) if pointer.free else pointer.y
        first = float(y) + 0.5 * (len(lines) - 1) * line_height(BODY)
        for n, line in enumerate(lines):
            weight = "bold" if n == 0 else "normal"
            sheet.text(x, first - n * line_height(BODY), line, BODY, weight=weight)
        for colour, width, order in (("white", 4 * HAIR, 1), (INK, HAIR, 2)):
            sheet.line([pointer.x, edge, x - 0.05], [at, at, y], color=colour, linewidth=width, zorder=order)
        _dot(sheet, pointer.x, at)


def staircase(sheet: Sheet, pointers: Sequence[Pointer], top: float, right: float, size: float = SMALL) -> float:
    """Words below a picture, one row each, under a leader that comes down from its place.

    The rightmost place gets the uppermost row, so that no leader crosses words. Words that would pass
    `right` end in an ellipsis.

    Returns
    -------
    float
        Right end of the words.
    """
    y, end = top, 0.0
    for pointer in sorted(pointers, key=lambda p: -p.x):
        y -= line_height(size)
        for colour, width, order in (("white", 4 * HAIR, 1), (INK, HAIR, 2)):
            xs, ys = [pointer.x, pointer.x, pointer.x + 0.07], [pointer.y, y, y]
            sheet.line(xs, ys, color=colour, linewidth=width, zorder=order)
        _dot(sheet, pointer.x, pointer.y)
        left = pointer.x + 0.1
        lines = sheet.wrap(pointer.words, right - left, size)
        words = sheet.shorten(lines, 1, right - left, size)[0]
        sheet.text(left, y, words, size)
        end = max(end, left + sheet.measure(words, size)[0])
    return end


def edge_labels(
    sheet: Sheet, places: Sequence[tuple[float, str]], edge: float, reach: float, low: float, high: float
) -> None:
    """Upright words along a horizontal edge, tied to their places by bent leaders.

    Parameters
    ----------
    places : sequence of (x, words)
    edge : float
        y of the edge.
    reach : float
        From the edge to the words; positive upwards.
    low, high : float
        Where along x words may stand.
    """
    if not places:
        return
    centres = spread([x for x, _ in places], [line_height(SMALL)] * len(places), low, high)
    up = 1 if reach > 0 else -1
    for (x, words), centre in zip(places, centres, strict=True):
        ys = [edge, edge + 0.25 * reach, edge + 0.75 * reach, edge + reach]
        sheet.line([x, x, centre, centre], ys, color=GREY, linewidth=HAIR)
        options = {"rotation": 90, "ha": "center", "va": "bottom" if up > 0 else "top"}
        sheet.text(float(centre), edge + reach + 0.03 * up, words, SMALL, **options)


def _dot(sheet: Sheet, x: float, y: float) -> None:
    sheet.line([x], [y], marker="o", markersize=2.4, markeredgewidth=0.4, markeredgecolor="white", zorder=3)
