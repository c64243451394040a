"""Draw the cut to scale and list what to buy."""

from __future__ import annotations

import argparse

from annulus.commands.options import add_case, add_out, save_pictures, say_written


def add(commands) -> None:
    """Add the command and its options to the parser's commands."""
    command = commands.add_parser("section", help="draw the cut to scale and list what to buy")
    add_case(command)
    add_out(command)
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """List the section's parts and draw it."""
    from annulus.case import dump, load
    from annulus.present.files import write_text
    from annulus.present.tables import section_table
    from annulus.section import lay_out

    case = load(options.case)
    section = lay_out(case)
    print(section_table(case, section))
    if options.out:
        from annulus.present.drawing import draw_section

        write_text(options.out / "case.toml", dump(case))
        written = save_pictures(options, {"section": draw_section(section, case)})
        say_written(options.out, (*written, "case.toml"))
