"""Files written whole or not at all.

Goes in: text, or a dictionary. Comes out: a file under its final name only
once every byte is there.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any


def write_text(path: Path, text: str) -> None:
    """Write text as UTF-8 with plain line ends; an older file is replaced in one step."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_text(text, encoding="utf-8", newline="\n")
        os.replace(part, path)
    except OSError as fault:
        fault.filename = str(path)  # the name that the user knows
        raise
    finally:
        part.unlink(missing_ok=True)


def write_json(path: Path, content: Mapping[str, Any]) -> None:
    """Write a dictionary as JSON; a number that is not finite is an error."""
    write_text(path, json.dumps(content, indent=1, allow_nan=False, ensure_ascii=False) + "\n")
