"""Does every named material exist, and may it be where it is?

Goes in: the data of a case file, sound or not. Comes out: faults.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from annulus.case.faults import Fault, Path, table_of
from annulus.case.parts import FILLER_PAIRS, Case, Coil, Filler, InPlaceMaterial
from annulus.errors import MaterialError
from annulus.materials import Material, find, names, refuse_inside

# Families that fit each part.
FITTING: dict[str, tuple[str, ...]] = {
    "flue": ("metal",),
    "coil": ("metal",),
    "filler": ("filler", "insulation", "gas"),
    "shroud": ("metal",),
    "insulation": ("insulation", "filler"),
    "jacket": ("metal",),
}
INSIDE = ("flue", "coil", "shroud")  # parts that zinc must not coat
DEFAULTS = {
    "coil": Coil.model_fields["material"].default,
    "filler": Filler.model_fields["material"].default,
}


def check_materials(data: Mapping[str, Any]) -> Iterator[Fault]:
    """Faults of the materials that a file defines and names.

    Parameters
    ----------
    data : mapping
        Data with derived keys; anything that is not text is passed over, since
        the parts report it.
    """
    own = table_of(data, "materials")
    made: dict[str, Material] = {}
    library = set(names())
    for name, definition in own.items():
        if name in library:
            yield Fault(("materials", name), "is in the library already; give your own material another name")
        try:
            made[name] = InPlaceMaterial.model_validate(definition).make(name)
        except ValidationError:
            continue  # reported with the parts, field by field
        except MaterialError as error:
            yield Fault(("materials", name), str(error))

    for path, name, packing, families in _uses(data):
        if name in own and packing is not None:
            yield Fault((*path[:-1], "packing"), f"belongs to library fillers; '{name}' is defined here", packing)
        if name in own and name not in made:
            continue
        try:
            material = made[name] if name in own else find(name, packing)
            if path[0] in INSIDE:
                refuse_inside(material, str(path[0]))
        except MaterialError as error:
            yield Fault(path, str(error), name)
            continue
        if families and material.family not in families:
            yield Fault(path, f"is of the family '{material.family}'; here goes {' or '.join(families)}", name)
        if path == ("filler", "material"):
            yield from _wall_layers(data, material)


def _wall_layers(data: Mapping[str, Any], filler: Material) -> Iterator[Fault]:
    """Faults of contacts that are to be computed from the filler's grains."""
    for pair in (pair for pair, value in table_of(data, "contacts").items() if value == "computed"):
        if pair not in FILLER_PAIRS:
            yield Fault(("contacts", pair), f"belongs to {', '.join(FILLER_PAIRS)}; state a resistance", "computed")
        elif filler.grain_diameter is None:
            yield Fault(
                ("contacts", pair),
                f"needs the size of the filler's grains, which the library does not know for '{filler.name}'; "
                "state a resistance",
                "computed",
            )


def _uses(data: Mapping[str, Any]) -> Iterator[tuple[Path, str, str | None, tuple[str, ...]]]:
    """Every place that names a material: path, name, packing, families that fit."""
    for part in (name for name in Case.model_fields if name in FITTING and name in data):
        table = table_of(data, part)
        name, packing = table.get("material", DEFAULTS.get(part)), table.get("packing", "none")
        if isinstance(name, str):
            packed = packing if part == "filler" and isinstance(packing, str) and packing != "none" else None
            yield (part, "material"), name, packed, FITTING[part]
        coating = table.get("coating", "none")
        if part == "flue" and isinstance(coating, str) and coating != "none":
            yield (part, "coating"), coating, None, ("coating",)
        voids = table.get("voids", [])
        for index, void in enumerate(voids if part == "filler" and isinstance(voids, list) else []):
            if isinstance(void, dict) and isinstance(void.get("material"), str):
                yield (part, "voids", index, "material"), void["material"], None, ()
