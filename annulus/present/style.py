"""One look for all pictures: type, lines, fills of materials, colours of temperature and stripes; and their files.

Goes in: materials, destinations, a finished figure. Comes out: colours and
hatches that stay apart in grey print and for colour-blind readers (what a hue
says, a lightness or a hatch says too); a file whose bytes repeat.
"""

from __future__ import annotations

import io
import os
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.colors import Colormap, LinearSegmentedColormap
from matplotlib.figure import Figure

from annulus.errors import InputError
from annulus.materials import Material

DPI = 200  # of saved pictures; text is measured at the same resolution

TITLE, HEADING, BODY, SMALL = 13.0, 9.0, 8.0, 7.0  # type sizes [pt]
HAIR, THIN, BOLD = 0.4, 0.7, 1.2  # line widths [pt]

INK, GREY, PALE = "#1d2328", "#6a7178", "#c9cdd1"
WATER = "#d3e7f5"
BAR = "#4f7fa8"
COLDEST, HOTTEST = 0.24, 0.86  # part of the colour map that is used

_SETTINGS: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],  # comes with matplotlib: the same on every machine
    "font.size": BODY,
    "text.color": INK,
    "text.parse_math": False,  # a dollar sign in a title is a dollar sign
    "hatch.linewidth": 0.4,
    "path.simplify": False,
    "svg.hashsalt": "annulus",
    "svg.fonttype": "path",
}


def applied() -> AbstractContextManager[None]:
    """Context in which figures are made and saved: our settings over matplotlib's own defaults."""
    defaults: dict[Any, Any] = dict(matplotlib.rcParamsDefault)
    for key in ("backend", "backend_fallback", "toolbar", "interactive"):
        defaults.pop(key, None)
    return matplotlib.rc_context({**defaults, **_SETTINGS})


@dataclass(frozen=True)
class Fill:
    """How an area is filled."""

    face: str
    hatch: str | None = None
    ink: str = GREY  # of the hatch


_BY_FAMILY = {
    "metal": Fill("#aab3bb"),
    "filler": Fill("#f0e6c8", "...", "#b39b5a"),
    "insulation": Fill("#f3dfe0", "xx", "#d3a9ad"),
    "coating": Fill("#8d8478"),
    "gas": Fill("#fbfcfd"),
}
_COPPER = Fill("#d08a52")


def fill_of(material: Material) -> Fill:
    """Fill of a material: one tint and hatch per family; copper in a tint of its own."""
    return _COPPER if "copper" in material.name else _BY_FAMILY[material.family]


def temperature_colours() -> Colormap:
    """Even steps of lightness from dark (cold) to light (hot); both ends cut, so that black and white lines show."""
    whole = matplotlib.colormaps["magma"]
    return LinearSegmentedColormap.from_list(
        "annulus", whole([COLDEST + (HOTTEST - COLDEST) * n / 255 for n in range(256)])
    )


@dataclass(frozen=True)
class Stripe:
    """Colours of one kind of stripe: two for full ones in turn, one for lesser ones; a hatch over all."""

    dark: str
    light: str
    pale: str
    hatch: str | None = None
    ink: str = INK


TURNS = (  # by turns, so that neighbours differ
    Stripe("#1f5788", "#5f9fd3", "#dcebf7"),
    Stripe("#31407f", "#7f90cf", "#e2e6f5"),
)
ROOM = Stripe("#c96a10", "#f0a95c", "#fdebd5", "////", "#8a4a08")
ENDS = Stripe("#a04a80", "#d993bf", "#f8e6f1", "xxxx", "#6d2553")
FACING_AIR = Stripe("#59636b", "#97a1a8", "#e4e6e8", "..", "#2c3338")
RADIATION = "#8e0f2e"  # of dashed lines, always on a white edge, so that they show on every stripe
KEPT_MARK = "#f6d34b"  # light, with a dark edge: shows on every stripe
DASHES = (3.2, 1.6)  # of the line's width
LEFT_IN_GAS = Stripe("#6a7178", "#a5abb1", "#e4e6e8")


# what matplotlib would write by itself (time, version) is left out
_PACKING: dict[str, dict[str, Any]] = {
    ".png": {"pil_kwargs": {"compress_level": 3}},  # half the time of the default, somewhat more bytes
    ".svg": {},
}
_METADATA: dict[str, dict[str, Any]] = {
    ".png": {"Software": None},
    ".svg": {"Date": None, "Creator": None},
}


def picture(figure: Figure, suffix: str = ".svg", dpi: int = DPI) -> bytes:
    """A figure as the bytes of a file: ".png" or ".svg"."""
    made = io.BytesIO()
    _write(figure, made, suffix, dpi)
    return made.getvalue()


def save(figure: Figure, path: str | os.PathLike[str]) -> Path:
    """Write a figure; an older file is replaced in one step.

    Parameters
    ----------
    figure : Figure
    path : path
        Ends in .png (200 dots per inch) or .svg. Its folder is made if need be.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        For another suffix.
    OSError
        If the folder cannot be written.
    """
    target = Path(path)
    suffix = target.suffix.lower()
    if suffix not in _METADATA:
        raise InputError(f"picture '{target}': name must end in .png or .svg, not '{target.suffix}'")
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        _write(figure, part, suffix, DPI)
        os.replace(part, target)
    except OSError as fault:
        fault.filename = str(target)  # the name that the user knows
        raise
    finally:
        part.unlink(missing_ok=True)
    return target


def _write(figure: Figure, target: Path | io.BytesIO, suffix: str, dpi: int) -> None:
    with applied():
        figure.savefig(target, format=suffix[1:], dpi=dpi, metadata=_METADATA[suffix], **_PACKING[suffix])
