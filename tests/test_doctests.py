"""The examples in docstrings run and give what they say."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "annulus"
SHOWN = [
    ".".join(["annulus", *path.relative_to(PACKAGE).with_suffix("").parts]).removesuffix(".__init__")
    for path in sorted(PACKAGE.rglob("*.py"))
    if ">>> " in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("module", SHOWN)
def test_examples_of_a_module_hold(module):
    found = doctest.testmod(import_module(module))
    assert found.attempted > 0 and found.failed == 0


def test_some_module_shows_an_example():
    assert SHOWN
