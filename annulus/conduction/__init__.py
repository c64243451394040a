"""Steady conduction in plane or cylindrical sections with sharp round interfaces.

Goes in: a grid, shapes in painting order, conductivities, contact resistances
and boundary laws. Comes out: temperatures of pieces and conservative heat
flows. Knows nothing of coils, flues or water.
"""
