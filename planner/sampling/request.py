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
    """A survey round that is to be drawn.

    Parameters
    ----------
    kind
        baseline, of households without a bin yet; followup, of those that hold one.
    opens_date, closes_date
        First and last day of asking.
    size
        Households to ask; None for as many as the margin needs.
    margin
        Half-width of the 95% interval of a share near one half, of the whole.
    response_share
        Share of those asked who are expected to answer; None for that of the newest round of
        the kind.
    stratify
        What divides the strata.
    rest_months
        Households asked in so many months before are left in peace.
    area_margin
        The same half-width for every area; None asks nothing of areas.
    by_street
        Draw whole streets instead of single households; the strata are areas then.
    likeness
        Correlation of answers within a street.
    silent_of
        Round whose silent households are asked again; None for a round of its own.
    """

    wave_id: str
    kind: Kind
    opens_date: dt.date
    closes_date: dt.date
    size: int | None = None
    margin: float = DEFAULT_MARGIN
    response_share: float | None = 1.0
    stratify: Strata = "area_dwelling"
    rest_months: int = 6
    area_margin: float | None = None
    by_street: bool = False
    likeness: float = DEFAULT_LIKENESS
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
