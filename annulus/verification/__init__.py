"""Verification: known answers beside computed ones, for whoever doubts the numbers.

Goes in: nothing, or the names of some cases. Comes out: rows of expected and
computed values with tolerances and orders. One module to a family of cases;
a new case is one `Case` in its module's `CASES`.
"""

from annulus.verification.registry import FAMILIES, Result, cases, choose, run_all, warm_up
from annulus.verification.rows import Also, Case, Family, Row

__all__ = ["FAMILIES", "Also", "Case", "Family", "Result", "Row", "cases", "choose", "run_all", "warm_up"]
