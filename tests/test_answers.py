"""Every question that builders ask is answered by the command that the program names for it."""

import re
import shlex
from pathlib import Path

import pytest

from annulus.present.answers import answers, answers_text

CASES = Path(__file__).parents[1] / "cases"
COMMANDS = sorted({answer.command for answer in answers()})


@pytest.mark.parametrize("command", COMMANDS)
def test_a_named_command_prints_and_writes_what_it_is_named_for(command, tmp_path, monkeypatch, run):
    (tmp_path / "cases").symlink_to(CASES)
    monkeypatch.chdir(tmp_path)
    words = shlex.split(command)
    assert words[0] == "annulus"
    status, out, err = run(*words[1:])
    assert status == 0, err
    for answer in (answer for answer in answers() if answer.command == command):
        assert re.sub(r"\s+", " ", answer.line) in re.sub(r"\s+", " ", out), answer.question
        if answer.file:
            assert (tmp_path / words[words.index("--out") + 1] / answer.file).stat().st_size > 0, answer.question


def test_all_questions_are_listed_and_one_can_be_picked(run):
    assert len(answers()) == 25
    assert all(answer.question in answers_text() for answer in answers())
    status, out, _ = run("answers", "7")
    assert status == 0 and answers()[6].command in out and answers()[7].command not in out


def test_a_number_without_a_question_is_refused(run):
    status, _, err = run("answers", "26")
    assert status == 2 and "1 to 25" in err
