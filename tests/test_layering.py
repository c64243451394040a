"""Imports point one way: no room of the package may use a later one.

Reads every file's imports from its syntax tree, also those inside functions,
so that a heavy import made late is judged like any other.
"""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "annulus"

# Rooms by step; a room may import from its own step and earlier ones.
STEPS = [
    {"errors", "units", "shapes", "texts"},
    {"materials", "case"},
    {"section"},
    {"conduction"},
    {"films"},
    {"heater"},
    {"burn"},
    {"studies", "verification", "logs"},
    {"cautions"},
    {"present"},
    {"dryfit"},
    {"commands"},
    {"cli", "__main__"},
    {"__init__"},  # lists the public names of all the others
]
STEP = {room: number for number, rooms in enumerate(STEPS) for room in rooms}

# Rooms that know less than their step would let them.
ONLY = {
    "conduction": {"errors", "units", "shapes"},  # plain arrays and shapes, no coil, no water
    "errors": set(),
    "shapes": {"errors"},
    "texts": {"errors"},
    "units": {"errors"},
}
NEVER = {"films": {"conduction"}, "case": {"section"}}  # laws of films know no grid


def room_of(module: str) -> str:
    """`annulus.films.gas` is in room `films`; `annulus` itself is `__init__`."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "__init__"


def module_of(file: Path, package: Path) -> str:
    parts = [package.name, *file.relative_to(package).with_suffix("").parts]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported_modules(source: str, module: str, is_package: bool) -> set[str]:
    """Full names of the package's modules that a source text imports, relative ones resolved."""
    top = module.split(".")[0]
    here = module.split(".") if is_package else module.split(".")[:-1]
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = here[: len(here) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            # `from annulus import films` names a room in the alias; from deeper stems the stem tells the room;
            # `__version__` is no room and no public name of another
            names = {alias.name for alias in node.names if not alias.name.startswith("__")}
            found |= {f"{stem}.{name}" for name in names} if stem == top else {stem}
    return {name for name in found if name.split(".")[0] == top}


def imports_of_rooms(package: Path) -> dict[tuple[str, str], str]:
    """(room, room it imports) -> the file that does so, over a whole package."""
    rooms = {p.stem for p in package.glob("*.py")} | {p.name for p in package.iterdir() if p.is_dir()}
    arrows = {}
    for file in sorted(package.rglob("*.py")):
        module = module_of(file, package)
        for name in imported_modules(file.read_text(encoding="utf-8"), module, file.stem == "__init__"):
            target = room_of(name)
            target = target if target in rooms or target in STEP else "__init__"  # a public name of the package
            if target != room_of(module):
                arrows[room_of(module), target] = str(file.relative_to(package))
    return arrows


def wrong_arrows(package: Path) -> list[str]:
    """One sentence for every import that breaks the order of rooms."""
    faults = []
    for (room, target), file in imports_of_rooms(package).items():
        if room not in STEP or target not in STEP:
            faults.append(f"{file}: room {room if room not in STEP else target!r} has no step in STEPS")
        elif STEP[target] > STEP[room]:
            faults.append(f"{file}: {room} (step {STEP[room]}) imports {target} (step {STEP[target]})")
        elif room in ONLY and target not in ONLY[room]:
            faults.append(f"{file}: {room} may import only {sorted(ONLY[room])}, not {target}")
        elif target in NEVER.get(room, set()):
            faults.append(f"{file}: {room} must not know {target}")
    return faults


def circles(package: Path) -> list[tuple[str, str]]:
    """Pairs of rooms of one step that import each other."""
    arrows = imports_of_rooms(package)
    return sorted((a, b) for a, b in arrows if (b, a) in arrows and a < b)


def test_no_room_imports_a_later_one():
    assert wrong_arrows(PACKAGE) == []


def test_rooms_of_one_step_do_not_import_each_other_in_a_circle():
    assert circles(PACKAGE) == []


def test_every_room_has_a_step():
    rooms = {p.stem for p in PACKAGE.glob("*.py")} | {p.parent.name for p in PACKAGE.glob("*/__init__.py")}
    assert rooms <= set(STEP)


@pytest.mark.parametrize(
    ("file", "source", "fault"),
    [
        ("films/gas.py", "from annulus.heater import steady", "films (step 4) imports heater (step 5)"),
        ("films/gas.py", "from annulus.conduction.grid import Grid", "films must not know conduction"),
        ("conduction/cut.py", "def f():\n    from annulus import cli", "conduction (step 3) imports cli (step 12)"),
        ("conduction/cut.py", "from ..section import lay_out", "conduction may import only"),
        ("materials/law.py", "import annulus.films.gas as gas", "materials (step 1) imports films (step 4)"),
        ("materials/law.py", "from annulus import lay_out", "materials (step 1) imports __init__ (step 13)"),
        ("errors.py", "from . import units", "errors may import only"),
        ("section.py", "from annulus import wormhole", "section (step 2) imports __init__"),
        ("wormhole.py", "from annulus.errors import InputError", "no step"),
    ],
)
def test_an_arrow_that_points_the_wrong_way_is_found(tmp_path, file, source, fault):
    path = tmp_path / "annulus" / file
    path.parent.mkdir(parents=True)
    path.write_text(source)
    (found,) = wrong_arrows(tmp_path / "annulus")
    assert fault in found


@pytest.mark.parametrize(
    ("file", "source"),
    [
        (
            "heater/steady.py",
            "from annulus.films.gas import FlueGas\nfrom annulus.conduction import grid\nimport numpy",
        ),
        ("films/gas.py", "from .properties import table\nfrom annulus.films import water"),
        ("__init__.py", "from annulus.cli import main\nfrom annulus.section import lay_out"),
        ("cli.py", "from annulus import __version__"),
        ("case/reading.py", "from annulus import units\nfrom annulus.materials import find"),
    ],
)
def test_an_arrow_that_points_the_right_way_is_let_pass(tmp_path, file, source):
    path = tmp_path / "annulus" / file
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(source)
    assert wrong_arrows(tmp_path / "annulus") == []


def test_two_rooms_that_import_each_other_are_found(tmp_path):
    for room, other in (("case", "materials"), ("materials", "case")):
        (tmp_path / "annulus" / room).mkdir(parents=True)
        (tmp_path / "annulus" / room / "__init__.py").write_text(f"from annulus.{other} import x")
    assert circles(tmp_path / "annulus") == [("case", "materials")]
