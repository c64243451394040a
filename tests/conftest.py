"""Settings of all tests: random examples are the same on every run and every machine.

This file also puts the folder of tests on the import path, so that
modules such as `commands.py` serve all tests, and holds numpy's linear algebra to
one thread, for there is a test process for each core.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "repeatable", derandomize=True, deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("repeatable")

COMPILER = ("compiling", "compiled")


@pytest.fixture
def case_file(tmp_path):
    """A small case in a folder of its own."""
    from commands import write

    return write(tmp_path)


@pytest.fixture
def run(capsys):
    """Run a command; give its status, stdout, and stderr less what the compiler makes it say."""
    from annulus.cli import main

    def call(*words):
        status = main([str(word) for word in words])
        out, err = capsys.readouterr()
        return status, out, "\n".join(line for line in err.splitlines() if not any(word in line for word in COMPILER))

    return call
