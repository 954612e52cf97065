"""What the store counts for one reporting year: the frames that the estimates rest on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl

DIARY_WINDOW_DAYS = 45
"""A weighed week this near to an answer calibrates what the household reported: near enough
that neither season nor run-in stands between the two. Weeks farther off inform the level and
season of feed instead (common practice, no source)."""


@dataclass(frozen=True)
class Counts:
    """Results of the summary queries, up to the end of the reporting year.

    Parameters
    ----------
    from_date, before_date
        First day of the reporting year, first day after it; while the year runs, after the
        month of the newest record.
    is_running
        The records end before the year does.
    handovers
        Query handovers_by_month.
    areas
        Query bins_by_area.
    frames, households
        Queries wave_frames and households_by_wave.
    followup
        Query followup_answers.
    priors
        Query prior_shares.
    diaries, diary_weeks
        Queries diary_pairs and diary_weeks.
    costs, costs_by_month, copayments
        Queries costs_by_category, costs_by_month and copayments_at_handover.
    use_intervals
        Query use_intervals, over the rounds that carry an estimate.
    audits
        Query audit_changes.
    supplies
        Query supplies_by_month.
    problems
        Query problems_told.
    sites
        Query site_weeks.
    """

    from_date: dt.date
    before_date: dt.date
    is_running: bool
    handovers: pl.DataFrame
    areas: pl.DataFrame
    frames: pl.DataFrame
    households: pl.DataFrame
    followup: pl.DataFrame
    priors: pl.DataFrame
    diaries: pl.DataFrame
    diary_weeks: pl.DataFrame
    costs: pl.DataFrame
    costs_by_month: pl.DataFrame
    copayments: pl.DataFrame
    use_intervals: pl.DataFrame
    audits: pl.DataFrame
    supplies: pl.DataFrame
    problems: pl.DataFrame
    sites: pl.DataFrame

    @property
    def through_date(self) -> str:
        """Last day covered, as 2026-06-30, while the year runs; empty for a whole year."""
        return f"{self.before_date - dt.timedelta(days=1):%Y-%m-%d}" if self.is_running else ""
