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
