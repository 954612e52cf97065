"""What the store counts for one reporting year: the frames that the estimates rest on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

    import polars as pl


@dataclass(frozen=True)
class Counts:
    """Results of the summary queries, up to the end of the reporting year.

    Parameters
    ----------
    from_date, before_date
        First day of the reporting year, first day after it.
    handovers
        Query handovers_by_month.
    areas
        Query bins_by_area.
    frames
        Query wave_frames.
    followup
        Query followup_answers.
    priors
        Query prior_shares.
    diaries
        Query diary_pairs.
    costs
        Query costs_by_category.
    """

    from_date: dt.date
    before_date: dt.date
    handovers: pl.DataFrame
    areas: pl.DataFrame
    frames: pl.DataFrame
    followup: pl.DataFrame
    priors: pl.DataFrame
    diaries: pl.DataFrame
    costs: pl.DataFrame
