"""Limits held against results: condensation, draught, boiling, overheating, touch, moisture.

Goes in: a case, its section and its outcome. Comes out: cautions in three
levels, each with number, limit, source, what to do and whose word counts. The
tool warns; codes and licensed people decide.
"""

from annulus.cautions.judge import ALWAYS, DEFER, judge, judge_with_remedies
from annulus.cautions.judging import Caution
from annulus.cautions.limits import LEVELS, Level, limits
from annulus.cautions.remedies import try_remedies, try_remedies_of_burn

__all__ = [
    "ALWAYS",
    "DEFER",
    "LEVELS",
    "Caution",
    "Level",
    "judge",
    "judge_with_remedies",
    "limits",
    "try_remedies",
    "try_remedies_of_burn",
]
