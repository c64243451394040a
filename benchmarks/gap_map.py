"""How far the gap map is from voids that are really there.

Run: python benchmarks/gap_map.py   (some 15 s)

Four turns in sand of 0.35 W/mK, 0.5 mm off the flue. Films of air behind turn 2, over 5 mm, as voids
of the section, as resistances solved anew, and by their slope alone; squares of air beside the flue
against the map's small round void. Air conducts 0.027 W/mK and does not radiate.
"""

from __future__ import annotations

import numpy as np

from annulus.case import loads
from annulus.heater.sensitivity import heat_sensitivity
from annulus.heater.steady import SteadyHeater, solve_heater
from annulus.studies.gap_map import film_resistance, heat_with_film, places, void_cost

CASE = """
title = "Four turns"
[flue]
material = "black steel"
inner_diameter = "150 mm"
wall = "2 mm"
[coil]
tube = "EN 1057 15 x 1"
turns = 4
pitch = "30 mm"
gap = "0.5 mm"
[filler]
material = "test sand"
[[filler.voids]]
material = "{material}"
r_min = "{r_min} mm"
r_max = "{r_max} mm"
z_min = "{z_min} mm"
z_max = "{z_max} mm"
[shroud]
material = "black steel"
sheet = "1 mm"
clearance = "8 mm"
[insulation]
material = "mineral wool"
thickness = "50 mm"
[fire]
gas_temperature = "420 degC"
gas_flow = "9.8 g/s"
[water]
flow = "3 L/min"
inlet_temperature = "8 degC"
[room]
temperature = "18 degC"
[materials."test sand"]
family = "filler"
conductivity = "0.35 W/mK"
density = "1600 kg/m3"
heat_capacity = "800 J/kgK"
emissivity = 0.9
[materials."resting air"]
family = "filler"
conductivity = "0.027 W/mK"
density = "1 kg/m3"
heat_capacity = "1000 J/kgK"
emissivity = 0.9
"""
FILMS = (0.002, 0.02, 0.1, 0.3, 1.0)  # [mm]
SIDES = (1.0, 2.0, 3.0, 5.0)  # [mm]


def solved(material: str, r_min: float, r_max: float, z_min: float, z_max: float, fineness: int) -> SteadyHeater:
    text = CASE.format(material=material, r_min=r_min, r_max=r_max, z_min=z_min, z_max=z_max)
    return solve_heater(loads(text, "benchmark"), fineness)


def heat(heater: SteadyHeater) -> float:
    return -float(heater.field.surface_flow[heater.model.water_surfaces].sum())


def main() -> None:
    print("film / mm   void / W   solved with a film / W   slope / W")
    for film in FILMS:
        sound, torn = (solved(name, 0, film, 42.5, 47.5, 2) for name in ("test sand", "resting air"))
        behind = next(place for place in places(sound) if place.kind == ("flue", 0) and place.turn == 1)
        extra = film_resistance(sound, behind, film / 1000)
        slope = -float(heat_sensitivity(sound).by_resistance[behind.links] @ extra)
        again = heat(sound) - heat_with_film(sound, behind, film / 1000)
        print(f"{film:9g}   {heat(sound) - heat(torn):8.4f}   {again:22.4f}   {slope:9.4f}")
    print("square / mm   void / W   map / W")
    for side in SIDES:
        sound, torn = (solved(name, 3, 3 + side, 58, 58 + side, 3) for name in ("test sand", "resting air"))
        mapped, pieces = void_cost(sound, heat_sensitivity(sound)), sound.model.pieces
        mine = pieces.region == pieces.region_index("void 1")
        cut = pieces.volume[mine] / (2 * np.pi * pieces.r[mine])
        print(f"{side:11g}   {heat(sound) - heat(torn):8.4f}   {float(mapped[mine] @ cut):7.4f}")


if __name__ == "__main__":
    main()
