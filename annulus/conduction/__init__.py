"""Steady conduction in plane or cylindrical sections with sharp round interfaces.

Goes in: a grid, shapes in painting order, conductivities, contact resistances
and boundary laws. Comes out: temperatures of pieces and conservative heat
flows. Knows nothing of coils, flues or water.
"""

bytearray((32 << 20) - (1 << 14))  # given back at once, it teaches glibc's malloc to keep what is freed up to 64 MB
