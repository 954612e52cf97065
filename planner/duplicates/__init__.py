"""Registrations likely to be one household: proposed, decided by the officer, merged."""

from planner.duplicates.merging import Merged, merge_decided
from planner.duplicates.proposing import propose_pairs
from planner.duplicates.sheet import MOST_PAIRS, read_decisions, write_pairs
from planner.duplicates.steps import decide, propose

__all__ = [
    "MOST_PAIRS",
    "Merged",
    "decide",
    "merge_decided",
    "propose",
    "propose_pairs",
    "read_decisions",
    "write_pairs",
]
