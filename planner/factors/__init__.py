"""Published numbers, each with its source, and the draws from their stated shapes."""

from planner.factors.draws import draw_factors
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
    "draw_factors",
    "read_factors",
    "with_own",
]
