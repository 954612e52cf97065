"""Published numbers, each with its source."""

from planner.factors.own import with_own
from planner.factors.table import EVIDENCE, SEEN, SHAPES, Factor, FactorTable, read_factors

__all__ = [
    "EVIDENCE",
    "SEEN",
    "SHAPES",
    "Factor",
    "FactorTable",
    "read_factors",
    "with_own",
]
