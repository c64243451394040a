"""The material library, or one material with its source."""

from __future__ import annotations

import argparse

from annulus.errors import InputError


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("materials", help="list the materials, or show one with its source")
    command.add_argument("name", nargs="?", metavar="NAME")
    command.add_argument("--packing", metavar="WORD", help="how a filler is packed")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """List the library, or one material with its source."""
    from annulus.materials import find, names, packings
    from annulus.present.tables import material_text, materials_table

    if options.packing and not options.name:
        raise InputError("--packing: goes with the NAME of a material")
    if options.name:
        print(material_text(find(options.name, options.packing)))
        return
    packed: list[tuple[str, str | None]] = [
        (name, packing) for name in names() for packing in (*packings(name),) or (None,)
    ]
    found = [find(name, packing) for name, packing in packed]
    print(materials_table(found))
    print("\nmarks: P+ published and read, P published and quoted from memory, C common practice, calc computed here")
