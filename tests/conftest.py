"""Settings of all tests: random examples are the same on every run and every machine.

This file also puts the folder of tests on the import path, so that
`order.py` serves the tests of every room.
"""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "repeatable", derandomize=True, deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("repeatable")
