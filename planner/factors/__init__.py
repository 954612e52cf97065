"""Published numbers, each with its source."""

from planner.factors.own import with_own
from planner.factors.table import Factor, FactorTable, read_factors

__all__ = [
    "Factor",
    "FactorTable",
    "read_factors",
    "with_own",
]
