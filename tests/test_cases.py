"""Every case of `cases/` against its expected numbers.

`cases/<name>/expected.toml` holds one table per result, named as in
result.json: value, tolerance and origin. Values without a source say
"regression value"; renew them, and only them, after a change that is meant
to move them, with

    PYTHONPATH=. python tests/test_cases.py --write
"""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from heaters import CASES, FOLDERS, solved_pair

from annulus.case import load
from annulus.heater import solve_with_errors
from annulus.studies.gaps import cost_of_gaps

REGRESSION = "regression value"
REGRESSION_KEYS = (
    *("heat_to_water_W", "heat_to_room_W", "heat_from_gas_W", "gas_above_coil_C", "water_out_C"),
    *("wall_min_C", "wall_max_C", "filler_max_C", "outside_max_C"),
)
LEAST_TOLERANCE = 1e-3  # of a regression value: other versions of the libraries may move it by less
HEAD = """\
# Expected results: one table per name in result.json, heat flows in W, temperatures in degC.
# Regression values have no source; `PYTHONPATH=. python tests/test_cases.py --write` renews them.
# Their tolerance is their own grid error, or 0.1 % where that is less.
"""


# Contact resistances of contact-sweep by their names in its expected.toml. [m2 K/W]
SWEEP = {"0": 0.0, "1e-5": 1e-5, "3e-5": 3e-5, "1e-4": 1e-4, "3e-4": 3e-4, "1e-3": 1e-3, "3e-3": 3e-3, "1e-2": 1e-2}


@cache
def outcome_of(name: str) -> dict[str, Any]:
    """Outcome of a case with its errors; with what the study that it is there for adds."""
    outcome = solved_pair(name)[1]
    if name == "contact-sweep":
        return outcome | swept(outcome)
    if name == "packing-void":
        return outcome | costed(outcome)
    return outcome


def swept(outcome: Mapping[str, Any]) -> dict[str, Any]:
    """Heat to the water by contact resistance, and at a resistance that leaves nothing else to count."""
    case = load(CASES / "contact-sweep")
    slow = {"room": {"film_coefficient": 1e-9}, "fire": {"gas_flow": 0.1}, "water": {"flow": 0.1}}
    # flows of 0.1 kg/s, for the balance of a tenth of a watt drowns in the round-off of a thousand
    closed = case.model_copy(update={part: getattr(case, part).model_copy(update=to) for part, to in slow.items()})
    points = {f"heat_to_water_at_{words}": (case, R) for words, R in SWEEP.items()}
    points["heat_to_water_at_1000_without_room"] = (closed, 1000.0)
    added: dict[str, Any] = {}
    for key, (which, resistance) in points.items():
        contacts = {**which.contacts, "tube-filler": resistance}
        found = solve_with_errors(which.model_copy(update={"contacts": contacts}))[1]
        added |= {f"{key}_W": found["heat_to_water_W"], f"{key}_error_W": found["heat_to_water_error_W"]}
    return added


def costed(outcome: dict[str, Any]) -> dict[str, Any]:
    """Cost of every imperfection of packing-void, the keys of its case file spelt with underscores."""
    costs = cost_of_gaps(load(CASES / "packing-void"), outcome)
    added = {"cost_together_W": costs["together_W"], "cost_together_error_W": costs["together_error_W"]}
    for row in costs["imperfections"]:
        key = re.sub(r"\W", "_", f"cost_of_{row['key']}")
        added |= {f"{key}_W": row["cost_W"], f"{key}_error_W": row["cost_error_W"]}
    return added


def read_expected(name: str) -> dict[str, dict[str, Any]]:
    return tomllib.loads((CASES / name / "expected.toml").read_text(encoding="utf-8"))


def misses(outcome: Mapping[str, Any], expected: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """A line for every result that is absent or farther from its expected value than its tolerance."""
    lines = []
    for key, rule in expected.items():
        found = outcome.get(key)
        if found is None:
            lines.append(f"{key}: is not in the outcome")
            continue
        off = np.abs(np.asarray(found, dtype=float) - np.asarray(rule["value"], dtype=float)).max()
        if not off <= rule["tolerance"]:
            lines.append(f"{key}: {found} is {off:.3g} from {rule['value']}, allowed {rule['tolerance']}")
    return lines


@pytest.mark.parametrize("name", FOLDERS)
def test_results_are_as_expected(name):
    assert misses(outcome_of(name), read_expected(name)) == []


@pytest.mark.parametrize("name", FOLDERS)
def test_expected_numbers_have_a_tolerance_and_an_origin(name):
    expected = read_expected(name)
    assert len(expected) >= 3
    for key, rule in expected.items():
        assert set(rule) == {"value", "tolerance", "origin"}, key
        assert rule["tolerance"] > 0 and len(rule["origin"]) > len(REGRESSION), key
        assert key.rsplit("_", 1)[-1] in ("W", "C"), key


@pytest.mark.parametrize("name", FOLDERS)
def test_a_case_says_its_purpose_and_that_it_is_invented(name):
    text = (CASES / name / "case.toml").read_text(encoding="utf-8")
    case = load(CASES / name)
    assert "# Purpose:" in text
    assert case.invented
    assert text.startswith("# Demonstration" if not name.startswith("verify-") else "# Verification")


@pytest.mark.parametrize("name", [name for name in FOLDERS if name.startswith("verify-")])
def test_verification_numbers_have_a_source_and_lie_within_their_error_bars(name):
    outcome, expected = solved_pair(name)[1], read_expected(name)
    for key, rule in expected.items():
        assert REGRESSION not in rule["origin"], key
        quantity, unit = key.rsplit("_", 1)
        bar = np.asarray(outcome[f"{quantity}_error_{unit}"])
        off = np.abs(np.asarray(outcome[key]) - np.asarray(rule["value"]))
        # a factor of 1.1 for the reference's own last digit beside bars of some 1e-5 of the heat
        assert (off <= 1.1 * bar).all(), key


# Mean temperature of the flue's bore face less water, per heat to the tubes; finite elements as in expected.toml.
@pytest.mark.parametrize(
    ("name", "resistance"), [("verify-coil-section-k0.3", 0.05501), ("verify-coil-section-k2.0", 0.01345)]
)
def test_resistance_from_bore_face_to_water_meets_the_finite_elements(name, resistance):
    """The strong test: the gas film hides errors of the section in the heat flow."""
    outcome = solved_pair(name)[1]
    computed = outcome["resistance_wall_to_bore_K_W"] + outcome["resistance_water_film_K_W"]
    assert computed == pytest.approx(resistance, rel=0.01)


def test_bath_house_fillers_rank_as_builders_found():
    """Common practice, no source: sand gains much over wool, graphite somewhat more."""
    heat = {
        name: solved_pair(f"bath-house-{name}")[1]["heat_to_water_W"]
        for name in ("bare", "insulated", "sand", "graphite")
    }
    assert heat["bare"] < heat["insulated"] < heat["sand"] < heat["graphite"]


def test_a_result_off_by_more_than_its_tolerance_is_told():
    rule = {"heat_to_water_W": {"value": 100.0, "tolerance": 1.0, "origin": "made up"}}
    assert misses({"heat_to_water_W": 101.0}, rule) == []
    assert len(misses({"heat_to_water_W": 101.1}, rule)) == 1
    assert len(misses({"heat_to_water_W": math.nan}, rule)) == 1
    assert misses({"heat_to_water_W": None}, rule) == ["heat_to_water_W: is not in the outcome"]


def test_a_list_is_held_entry_by_entry():
    rule = {"heat_to_turn_W": {"value": [1.0, 2.0], "tolerance": 0.1, "origin": "made up"}}
    assert misses({"heat_to_turn_W": [1.05, 2.05]}, rule) == []
    assert len(misses({"heat_to_turn_W": [1.0, 2.2]}, rule)) == 1


def test_writing_leaves_numbers_with_a_source_alone():
    outcome = {"heat_to_water_W": 5.0, "heat_to_water_error_W": 0.3, "heat_to_room_W": 7.0, "heat_to_room_error_W": 0.1}
    sourced = {"value": 4.0, "tolerance": 0.5, "origin": "a book"}
    old = {"value": 6.0, "tolerance": 0.5, "origin": f"{REGRESSION}, older"}
    new = renewed(outcome, {"heat_to_water_W": sourced, "heat_to_room_W": old}, "abc")
    assert new["heat_to_water_W"] == sourced
    assert new["heat_to_room_W"]["value"] == 7.0 and "abc" in new["heat_to_room_W"]["origin"]
    assert tomllib.loads(as_toml(new)) == new


def renewed(outcome: Mapping[str, Any], expected: Mapping[str, dict[str, Any]], commit: str) -> dict[str, Any]:
    """Expected numbers with every regression value taken anew from an outcome."""
    origin = f"{REGRESSION} on the default pair of grids, computed after commit {commit}"
    result = {}
    for key, rule in expected.items():
        result[key] = rule
        if REGRESSION in rule["origin"]:
            name, unit = key.rsplit("_", 1)
            tolerance = max(outcome[f"{name}_error_{unit}"], LEAST_TOLERANCE * abs(outcome[key]))
            result[key] = {
                "value": float(f"{outcome[key]:.6g}"),
                "tolerance": float(f"{tolerance:.2g}"),
                "origin": origin,
            }
    return result


def as_toml(expected: Mapping[str, Mapping[str, Any]]) -> str:
    tables = [
        "\n".join([f"[{key}]", *(f"{name} = {json.dumps(value)}" for name, value in rule.items())])
        for key, rule in expected.items()
    ]
    return HEAD + "\n" + "\n\n".join(tables) + "\n"


def write() -> None:
    """Renew the regression values of every case; begin a file where a demonstration has none."""
    here = Path(__file__).parent
    told = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=here, capture_output=True, text=True, check=True)
    for name in FOLDERS:
        path = CASES / name / "expected.toml"
        outcome = outcome_of(name)
        blank = {key: {"origin": REGRESSION} for key in REGRESSION_KEYS if outcome[key] is not None}
        old = read_expected(name) if path.exists() else blank
        if any(REGRESSION in rule["origin"] for rule in old.values()):
            path.write_text(as_toml(renewed(outcome, old, told.stdout.strip())), encoding="utf-8")
            print(f"wrote {path}")


if __name__ == "__main__":
    if sys.argv[1:] != ["--write"]:
        sys.exit("usage: PYTHONPATH=. python tests/test_cases.py --write")
    write()
