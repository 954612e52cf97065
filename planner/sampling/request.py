"""A survey round that is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from planner.messages import say

if TYPE_CHECKING:
    import datetime as dt

DEFAULT_MARGIN = 0.05

DEFAULT_LIKENESS = 0.05
"""Correlation of answers within a street. Common practice, no source: 0.01 to 0.1 for habits."""

Kind = Literal["baseline", "followup"]
Strata = Literal["area", "dwelling", "area_dwelling"]


@dataclass(frozen=True)
class Round:
    """A survey round that is to be drawn."""

    wave_id: str
    kind: Kind  # baseline, of households without a bin yet; followup, of those that hold one
    # first and last day of asking
    opens_date: dt.date
    closes_date: dt.date
    size: int | None = None  # households to ask; None for as many as the margin needs
    # half-width of the 95% interval of a share near one half, of the whole
    margin: float = DEFAULT_MARGIN
    # share of those asked who are expected to answer; None for that of the newest round of the kind
    response_share: float | None = 1.0
    stratify: Strata = "area_dwelling"  # what divides the strata
    rest_months: int = 6  # households asked in so many months before are left in peace
    # the same half-width for every area; None asks nothing of areas
    area_margin: float | None = None
    # draw whole streets instead of single households; the strata are areas then
    by_street: bool = False
    likeness: float = DEFAULT_LIKENESS  # correlation of answers within a street
    # round whose silent households are asked again; None for a round of its own
    silent_of: str | None = None

    @property
    def answering(self) -> float:
        """Share of those asked who are expected to answer, all where nothing is known."""
        return 1.0 if self.response_share is None else self.response_share

    @property
    def population(self) -> str:
        """Whom the round speaks for, in words."""
        if self.silent_of:
            return say("drawing.population.silent", wave=self.silent_of)
        return say(f"drawing.population.{self.kind}")
