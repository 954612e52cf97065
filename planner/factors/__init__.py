"""Published numbers, each with its source."""

from planner.factors.factor import EVIDENCE, OWN, SEEN, SHAPES, Factor, Source
from planner.factors.own import CROSSCHECKS, with_own
from planner.factors.table import FactorTable, read_factors

__all__ = [
    "CROSSCHECKS",
    "EVIDENCE",
    "OWN",
    "SEEN",
    "SHAPES",
    "Factor",
    "FactorTable",
    "Source",
    "read_factors",
    "with_own",
]
