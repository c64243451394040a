"""annulus: heat conduction in a flue wrapped with copper tube. The one page to read before using it from Python.

Any plane or axisymmetric section with round inclusions, steady or in time:

    uniform_grid, graded_faces, Grid     faces in r and z
    Rectangle, Disc, Painted, cut_grid   shapes in painting order, cut into Pieces
    Film, Held, Flux, Radiating          what a boundary does
    solve_steady -> Field                temperatures and conservative heat flows
    march -> History                     the same in time
    temperature_at, heat_across, heat_flux, trace_stripes       readings of a field

The heater:

    load, loads, dump -> Case            a case file with units; SI and kelvin from here on
    lay_out -> Section                   its cut, and what to buy
    solve_heater -> SteadyHeater         section, gas, water and room together
    solve_with_errors, summarise         results by name, with their error bars
    Ports, solve_on_ports, solve_many    the same section under any other fire, flow, water or room; many at once
    run_burn, burn_with_errors           from cold drum to target, read by summarise_burn
    FastBurner                           many burns of one section, about a second each
    find_material                        the library, with sources

Every error is an AnnulusError: InputError, GeometryError, MaterialError, ConvergenceError, BoilingError.
Names load their room on first use, so that `import annulus` costs nothing.

To start from: a steady fire with its error bar, a burn to the target of the tank, and the pitch varied (all tested).

>>> import annulus as an
>>> text = '''
... title = "four turns"
... flue = { material = "black steel", inner_diameter = "150 mm", wall = "2 mm" }
... coil = { tube = "EN 1057 15 x 1", turns = 4, pitch = "30 mm", gap = "0.5 mm" }
... fire = { gas_temperature = "420 degC", gas_flow = "9.8 g/s" }
... water = { flow = "3 L/min", inlet_temperature = "8 degC" }
... room = { temperature = "18 degC" }
... tank = { volume = "5 L", start_temperature = "8 degC", target_temperature = "24 degC" }
... '''
>>> heater, steady = an.solve_with_errors(an.loads(text))
>>> print(f"{steady['heat_to_water_W']:.0f} ± {steady['heat_to_water_error_W']:.0f} W")
163 ± 2 W
>>> run, burn = an.burn_with_errors(an.loads(text))
>>> print(f"{burn['ended']} after {burn['time_to_target_s'] / 60:.0f} min")
target reached after 40 min
>>> for pitch in ("20 mm", "42 mm"):
...     varied = an.loads(text.replace("30 mm", pitch))
...     print(f"{pitch}: {an.summarise(an.solve_heater(varied))['heat_to_water_W']:.0f} W")
20 mm: 141 W
42 mm: 176 W
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from annulus.burn import burn_with_errors, run_burn, summarise_burn
    from annulus.burn.fast import FastBurner
    from annulus.case import Case, dump, load, loads
    from annulus.conduction.boundaries import Film, Flux, Held, Radiating
    from annulus.conduction.grid import Grid, graded_faces, uniform_grid
    from annulus.conduction.pieces import Painted, Pieces, cut_grid
    from annulus.conduction.probe import heat_across, heat_flux, temperature_at
    from annulus.conduction.steady import Field, solve_steady
    from annulus.conduction.stripes import trace_stripes
    from annulus.conduction.transient import History, march
    from annulus.errors import (
        AnnulusError,
        BoilingError,
        ConvergenceError,
        GeometryError,
        InputError,
        MaterialError,
    )
    from annulus.heater import SteadyHeater, solve_heater, solve_with_errors, summarise
    from annulus.heater.port_heater import solve_many, solve_on_ports
    from annulus.heater.ports import Ports
    from annulus.materials import find as find_material
    from annulus.section import Section, lay_out
    from annulus.shapes import Disc, Rectangle

__version__ = "0.1.0"

_ROOMS = {
    "burn": ("burn_with_errors", "run_burn", "summarise_burn"),
    "burn.fast": ("FastBurner",),
    "case": ("Case", "dump", "load", "loads"),
    "conduction.boundaries": ("Film", "Flux", "Held", "Radiating"),
    "conduction.grid": ("Grid", "graded_faces", "uniform_grid"),
    "conduction.pieces": ("Painted", "Pieces", "cut_grid"),
    "conduction.probe": ("heat_across", "heat_flux", "temperature_at"),
    "conduction.steady": ("Field", "solve_steady"),
    "conduction.stripes": ("trace_stripes",),
    "conduction.transient": ("History", "march"),
    "errors": (
        "AnnulusError",
        "BoilingError",
        "ConvergenceError",
        "GeometryError",
        "InputError",
        "MaterialError",
    ),
    "heater": ("SteadyHeater", "solve_heater", "solve_with_errors", "summarise"),
    "heater.port_heater": ("solve_many", "solve_on_ports"),
    "heater.ports": ("Ports",),
    "section": ("Section", "lay_out"),
    "shapes": ("Disc", "Rectangle"),
}
_HOME = {name: (room, name) for room, names in _ROOMS.items() for name in names}
_HOME["find_material"] = ("materials", "find")

__all__ = [
    "AnnulusError",
    "BoilingError",
    "Case",
    "ConvergenceError",
    "Disc",
    "FastBurner",
    "Field",
    "Film",
    "Flux",
    "GeometryError",
    "Grid",
    "Held",
    "History",
    "InputError",
    "MaterialError",
    "Painted",
    "Pieces",
    "Ports",
    "Radiating",
    "Rectangle",
    "Section",
    "SteadyHeater",
    "burn_with_errors",
    "cut_grid",
    "dump",
    "find_material",
    "graded_faces",
    "heat_across",
    "heat_flux",
    "lay_out",
    "load",
    "loads",
    "march",
    "run_burn",
    "solve_heater",
    "solve_many",
    "solve_on_ports",
    "solve_steady",
    "solve_with_errors",
    "summarise",
    "summarise_burn",
    "temperature_at",
    "trace_stripes",
    "uniform_grid",
]


def __getattr__(name: str) -> Any:
    """A public name, its room loaded on first use."""
    if name not in _HOME:
        raise AttributeError(f"module 'annulus' has no public name {name!r}; its docstring lists them")
    room, inside = _HOME[name]
    return getattr(import_module(f"annulus.{room}"), inside)
