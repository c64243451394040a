"""Named sizes of soft copper tube.

Goes in: a size with its standard, as printed on the coil. Comes out: outer
diameter and wall in metres. Water tube in the inch world is named by a nominal
bore, refrigeration tube by its outside, so a bare "1/2 in" is two different
tubes and is sent back with the question which.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache

from annulus.errors import MaterialError, quoted
from annulus.materials.rows import read_data
from annulus.units import parse

INCH = parse("1 in", "length")  # [m]
METRIC_COILS = (("25 m", 25.0), ("50 m", 50.0))  # lengths soft coils are sold in, common practice, no source
INCH_COILS = tuple((f"{feet} ft", parse(f"{feet} ft", "length")) for feet in (50, 60, 100))  # the same of ASTM tube
SMALL_TUBE = 18e-3  # outer diameter up to which the tighter bend holds, common practice [m]
BEND_SMALL, BEND_LARGE = 4.0, 6.0  # least bend radius by hand in outer diameters, common practice [-]

TO_METRES: dict[str, Callable[[float], float]] = {"mm": lambda x: x / 1000.0, "in": lambda x: x * INCH}
STANDARDS = ("EN 1057", "ASTM B88 L", "ASTM B280")


@dataclass(frozen=True)
class Tube:
    """One listed size: standard, size as printed, outer diameter and wall [m], source and mark."""

    standard: str
    size: str
    outer_diameter: float
    wall: float
    source: str
    mark: str

    @property
    def name(self) -> str:
        """Full name as `tube_size` reads it."""
        return f"{self.standard} {self.size}"


@lru_cache(maxsize=1)
def tubes() -> tuple[Tube, ...]:
    """All listed tubes, in the order of the data file."""
    listed = []
    for group in read_data()["tube"]:
        metres = TO_METRES[group["unit"]]
        for size, outer, wall in group["sizes"]:
            listed.append(Tube(group["standard"], size, metres(outer), metres(wall), group["source"], group["mark"]))
    return tuple(listed)


def tube_names() -> list[str]:
    """Full names of all listed tubes."""
    return [tube.name for tube in tubes()]


def tube_size(text: str) -> tuple[float, float]:
    """Outer diameter and wall of a named tube.

    Parameters
    ----------
    text : str
        Standard and size: "EN 1057 15 x 1", "ASTM B88 L 1/2", "ASTM B280 1/2".
        The wall may be left out where a standard lists one wall only.

    Returns
    -------
    outer_diameter, wall : float
        [m]

    Raises
    ------
    MaterialError
        If the standard is missing, or the size is not listed or fits several.

    References
    ----------
    EN 1057 (soft, R220), ASTM B88 type L, ASTM B280; rows quoted from memory,
    the outer diameters of B88 seen in public text.
    """
    for standard in STANDARDS:
        spelled = r"\s*".join(map(re.escape, standard.split()))
        match = re.match(rf"\s*{spelled}\b", text, re.IGNORECASE)
        if match:
            return _pick(text, standard, _squeeze(text[match.end() :]))

    fitting = [tube.name for tube in tubes() if _fits(tube, _bare(_squeeze(text)))]
    if fitting:
        raise MaterialError(
            f"tube {quoted(text)}: which standard? A size alone names different tubes (water tube goes by its "
            f"nominal bore, refrigeration tube by its outside). Write one of: {_quoted(fitting)}"
        )
    raise MaterialError(
        f"tube {quoted(text)} is not listed; start with one of {_quoted(STANDARDS)}, as in 'EN 1057 15 x 1', "
        f"or give tube_outer_diameter and tube_wall instead"
    )


def stock_coil(length: float, tube: str | None) -> str | None:
    """Shortest coil sold that is long enough, in the words of its trade: "25 m", "60 ft".

    Parameters
    ----------
    length : float
        [m]
    tube : str or None
        Name of the tube; one without a name is taken for metric.

    Returns
    -------
    str or None
        None if no single coil is that long.
    """
    in_feet = tube is not None and tube.upper().lstrip().startswith("ASTM")
    return next((words for words, sold in (INCH_COILS if in_feet else METRIC_COILS) if length <= sold), None)


def least_bend_radius(outer_diameter: float) -> float:
    """Smallest radius to which soft copper tube is bent by hand [m].

    Four outer diameters up to 18 mm, six above; common practice, no source.
    """
    return outer_diameter * (BEND_SMALL if outer_diameter <= SMALL_TUBE else BEND_LARGE)


def _pick(text: str, standard: str, size: str) -> tuple[float, float]:
    of_standard = [tube for tube in tubes() if tube.standard == standard]
    exact = [tube for tube in of_standard if _squeeze(tube.size) == _bare(size)]
    fitting = exact or [tube for tube in of_standard if _fits(tube, _bare(size))]
    if len(fitting) == 1:
        return fitting[0].outer_diameter, fitting[0].wall
    if fitting:
        raise MaterialError(
            f"tube {quoted(text)} comes with several walls; write one of: {_quoted(t.name for t in fitting)}"
        )
    by_squeezed = {_squeeze(tube.name): tube.name for tube in of_standard}
    near = difflib.get_close_matches(_squeeze(text), by_squeezed, n=3, cutoff=0.6)
    nearest = [by_squeezed[name] for name in near] or [tube.name for tube in of_standard]
    raise MaterialError(
        f"tube {quoted(text)}: {standard} lists no such size here; nearest: {_quoted(nearest)}; "
        f"any other size: give tube_outer_diameter and tube_wall"
    )


def _fits(tube: Tube, size: str) -> bool:
    """Whether a squeezed size text is the tube's size or its part before the wall."""
    return size in (_squeeze(tube.size), _squeeze(tube.size.split(" x ")[0]))


def _squeeze(text: str) -> str:
    """Lower case, no blanks, one sign for 'by'."""
    return re.sub(r"\s+", "", text.lower().replace("\N{MULTIPLICATION SIGN}", "x"))


def _bare(size: str) -> str:
    """A squeezed size without a trailing unit."""
    return re.sub(r'(?:mm|inch(?:es)?|in|")\.?$', "", size)


def _quoted(names: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)
