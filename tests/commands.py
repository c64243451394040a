"""Running commands in tests: a small case file, and folders read back."""

from pathlib import Path

from heaters import edited_text

TINY = edited_text(("turns = 4", "turns = 2"))


def write(folder: Path, *changes: tuple[str, str], name: str = "mine.toml") -> Path:
    """Write the small case, with changes, to a file."""
    path = folder / name
    path.write_text(edited_text(*changes, text=TINY), encoding="utf-8")
    return path


def contents(folder: Path) -> list[str]:
    """Everything in a folder, by path relative to it."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))
