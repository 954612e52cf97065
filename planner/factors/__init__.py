"""Published numbers, each with its source, and the draws from their stated shapes."""

from planner.factors.draws import draw_factors
from planner.factors.factor import EVIDENCE, SEEN, SHAPES, Factor, Source
from planner.factors.table import FactorTable, read_factors

__all__ = [
    "EVIDENCE",
    "SEEN",
    "SHAPES",
    "Factor",
    "FactorTable",
    "Source",
    "draw_factors",
    "read_factors",
]
