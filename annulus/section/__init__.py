"""From a case to shapes in the (r, z) plane, their contacts, and what to buy.

Goes in: a `Case`. Comes out: a frozen `Section`; lengths in metres from the axis
and from the bottom of the coil section.
"""

from annulus.section.bill import Bill
from annulus.section.layout import Region, Role, Section, Turn, lay_out, wall_layer_resistance

__all__ = ["Bill", "Region", "Role", "Section", "Turn", "lay_out", "wall_layer_resistance"]
