"""Names of results known before anything is computed: those that a computed design has."""

from __future__ import annotations

import pytest
from heaters import BARE_COIL, NO_COIL, WOOD, after, edited

from annulus.studies.designs import compute
from annulus.studies.limits import numeric
from annulus.studies.models import burn_result, rough_burn, rough_steady, steady_result
from annulus.studies.result_names import result_names

ROOM = 'temperature = "18 degC"'  # the last line of the case
CHIMNEY = '[chimney]\nheight = "3 m"'
TANK = '[tank]\nvolume = "1 L"\nstart_temperature = "8 degC"\ntarget_temperature = "9 degC"'


def names_of(case, result) -> list[str]:
    row = compute(case, result)
    assert "results" in row, row
    return numeric(row["results"])


@pytest.mark.parametrize(
    ("changes", "results", "burn"),
    [
        ((), (steady_result, rough_steady), False),
        (WOOD, (steady_result, rough_steady), False),
        (NO_COIL, (steady_result, rough_steady), False),
        (BARE_COIL, (steady_result, rough_steady), False),
        ((after(ROOM, CHIMNEY),), (steady_result, rough_steady), False),
        ((after(ROOM, TANK), *WOOD), (burn_result, rough_burn), True),
        ((after(ROOM, f"{CHIMNEY}\n{TANK}"),), (burn_result, rough_burn), True),
    ],
    ids=["as it is", "wood", "no coil", "bare", "chimney", "burn of wood", "burn with chimney"],
)
def test_names_are_those_of_a_computed_design(changes, results, burn):
    """Errors of parts that are not there are the only names too many."""
    case, (fine, rough) = edited(*changes), results
    told, found = result_names([case], burn), names_of(case, fine)
    assert len(told) == len(set(told)) and set(found) <= set(told)
    assert all("_error_" in name for name in set(told) - set(found))
    assert sorted(result_names([case], burn, rough=True)) == sorted(names_of(case, rough))


def test_names_of_several_cases_are_those_of_any():
    plain, high = edited(), edited(after(ROOM, CHIMNEY))
    assert "draught_Pa" not in result_names([plain], burn=False)
    assert set(result_names([plain, high], burn=False)) == set(result_names([high], burn=False))
