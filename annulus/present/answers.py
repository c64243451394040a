"""What builders ask, and the one command that answers each on the demonstration cases.

Goes in: answers.toml. Comes out: `Answer`s, and their text for the terminal.
"""

from __future__ import annotations

import textwrap
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from annulus.errors import InputError

WIDTH = 100


@dataclass(frozen=True)
class Answer:
    """A question and where its answer stands.

    Attributes
    ----------
    question, command, read : str
        What is asked; the command that answers; where in its output to look.
    line : str
        Text that the output holds.
    file : str or None
        Written into the command's --out.
    """

    question: str
    command: str
    read: str
    line: str
    file: str | None = None


@cache
def answers() -> tuple[Answer, ...]:
    """All questions in their order."""
    text = files("annulus.present").joinpath("answers.toml").read_text(encoding="utf-8")
    return tuple(Answer(**row) for row in tomllib.loads(text)["answer"])


def answers_text(numbers: Sequence[int] = ()) -> str:
    """Questions with these numbers (all, if none is given), each with its command and what to read.

    Raises
    ------
    InputError
        For a number that no question has.
    """
    known = answers()
    for number in numbers:
        if not 1 <= number <= len(known):
            raise InputError(f"answers {number}: questions are numbered 1 to {len(known)}")
    blocks = []
    for number in numbers or range(1, len(known) + 1):
        answer = known[number - 1]
        words = textwrap.fill(answer.read, WIDTH, initial_indent="    ", subsequent_indent="    ")
        blocks.append(f"{number:2d}  {answer.question}\n    {answer.command}\n{words}")
    return "\n\n".join(blocks)
