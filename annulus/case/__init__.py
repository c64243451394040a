"""One case file to one validated `Case`, and back.

Goes in: TOML in a builder's own units. Comes out: frozen parts in SI and
kelvin, or one `InputError` with a line for every fault in the file.
"""

from annulus.case.deriving import standard_pressure
from annulus.case.parts import (
    FILLER_PAIRS,
    PAIRS,
    Burn,
    Case,
    Chimney,
    Coil,
    Filler,
    Fire,
    Flue,
    InPlaceMaterial,
    Insulation,
    Jacket,
    Log,
    Loop,
    Room,
    Shroud,
    Tank,
    Void,
    Water,
)
from annulus.case.reading import build, load, load_tree, loads
from annulus.case.winding import tube_centre, turn_length
from annulus.case.writing import dump, starter

__all__ = [
    "FILLER_PAIRS",
    "PAIRS",
    "Burn",
    "Case",
    "Chimney",
    "Coil",
    "Filler",
    "Fire",
    "Flue",
    "InPlaceMaterial",
    "Insulation",
    "Jacket",
    "Log",
    "Loop",
    "Room",
    "Shroud",
    "Tank",
    "Void",
    "Water",
    "build",
    "dump",
    "load",
    "load_tree",
    "loads",
    "standard_pressure",
    "starter",
    "tube_centre",
    "turn_length",
]
