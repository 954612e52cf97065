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
    """Results of the summary queries, up to the end of the reporting year."""

    # first day of the reporting year, first day after it; while the year runs, after the month of
    # the newest record
    from_date: dt.date
    before_date: dt.date
    is_running: bool  # the records end before the year does
    handovers: pl.DataFrame  # query handovers_by_month
    back: pl.DataFrame  # query households_back_by_month
    areas: pl.DataFrame  # query bins_by_area
    # queries wave_frames and households_by_wave
    frames: pl.DataFrame
    households: pl.DataFrame
    followup: pl.DataFrame  # query followup_answers
    priors: pl.DataFrame  # query prior_shares
    # queries diary_pairs and diary_weeks
    diaries: pl.DataFrame
    diary_weeks: pl.DataFrame
    # queries costs_by_category, costs_by_month and copayments_at_handover
    costs: pl.DataFrame
    costs_by_month: pl.DataFrame
    copayments: pl.DataFrame
    use_intervals: pl.DataFrame  # query use_intervals, over the rounds that carry an estimate
    audits: pl.DataFrame  # query audit_changes
    supplies: pl.DataFrame  # query supplies_by_month
    problems: pl.DataFrame  # query problems_told
    sites: pl.DataFrame  # query site_weeks
    loads: pl.DataFrame  # query loads: the files behind the records
    # queries upcoming_events, from the first day not counted to the year's end, and event_take_up
    upcoming: pl.DataFrame
    take_up: pl.DataFrame
    # day up to which everything is said to be recorded; None where the newest record tells
    as_of: dt.date | None = None

    @property
    def through_date(self) -> str:
        """Last day covered, as 2026-06-30, while the year runs; empty for a whole year."""
        return f"{self.before_date - dt.timedelta(days=1):%Y-%m-%d}" if self.is_running else ""
