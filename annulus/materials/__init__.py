"""Materials: laws of temperature, the sourced library, packed beds, banned fillers, tube sizes.

Goes in: names in plain trade English, or numbers in SI. Comes out: frozen
`Material` objects whose properties are functions of temperature in kelvin.
"""

from annulus.materials.banned import cautions_for, refuse_if_banned, refuse_inside
from annulus.materials.bed import bed_conductivity, conductivity_bounds
from annulus.materials.law import FAMILIES, MARKS, PACKINGS, Law, Material
from annulus.materials.library import Joint, Surface, custom, find, joints, names, packings, surfaces
from annulus.materials.tubes import Tube, least_bend_radius, stock_coil, tube_names, tube_size, tubes
from annulus.materials.wall_layer import wall_coefficient

__all__ = [
    "FAMILIES",
    "MARKS",
    "PACKINGS",
    "Joint",
    "Law",
    "Material",
    "Surface",
    "Tube",
    "bed_conductivity",
    "cautions_for",
    "conductivity_bounds",
    "custom",
    "find",
    "joints",
    "least_bend_radius",
    "names",
    "packings",
    "refuse_if_banned",
    "refuse_inside",
    "stock_coil",
    "surfaces",
    "tube_names",
    "tube_size",
    "tubes",
    "wall_coefficient",
]
