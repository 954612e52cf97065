"""Days, weeks, months and reporting years of a simulation."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl

DAYS_AFTER_LAST_YEAR = 63
"""The simulation runs on so that diaries begun in the last round can be finished."""

MONTHS_A_YEAR = 12


@dataclass(frozen=True)
class Calendar:
    """Days counted from the first day of the first reporting year.

    Attributes
    ----------
    origin
        First day of the first reporting year.
    year_edges
        Day numbers at which reporting years begin, and the first day after the last.
    month_edges
        Day numbers at which months begin, to the end of the last reporting year and on.
    piece_edges
        Every week's and every month's first day: pieces tile weeks and months alike.
    """

    origin: dt.date
    year_edges: np.ndarray
    month_edges: np.ndarray
    piece_edges: np.ndarray

    @property
    def end_day(self) -> int:
        """First day after the last reporting year."""
        return int(self.year_edges[-1])

    @property
    def piece_days(self) -> np.ndarray:
        """Length of every piece [days]."""
        return np.diff(self.piece_edges)

    @property
    def piece_week(self) -> np.ndarray:
        """Week in which each piece lies."""
        return self.piece_edges[:-1] // 7

    @property
    def piece_month(self) -> np.ndarray:
        """Month in which each piece lies."""
        return np.searchsorted(self.month_edges, self.piece_edges[:-1], side="right") - 1

    @property
    def piece_year(self) -> np.ndarray:
        """Reporting year in which each piece lies; the count of years beyond the last."""
        return np.searchsorted(self.year_edges, self.piece_edges[:-1], side="right") - 1

    def day(self, year: int, month: int, day_of_month: int = 1) -> int:
        """Day number of a day in the month that many months after the year's start."""
        index = year * MONTHS_A_YEAR + month
        return int(self.month_edges[index]) + day_of_month - 1

    def date(self, day: int) -> dt.date:
        """Calendar date of a day number."""
        return self.origin + dt.timedelta(days=int(day))

    def dates(self, days: np.ndarray) -> pl.Series:
        """Calendar dates of day numbers; a negative day gives null."""
        shift = (self.origin - dt.date(1970, 1, 1)).days
        numbers = pl.Series(np.asarray(days, dtype=np.int32))
        shifted = pl.select(pl.when(numbers >= 0).then(numbers + shift)).to_series()
        return shifted.cast(pl.Int32).cast(pl.Date)


def open_calendar(first_year: int, first_month: int, years_count: int) -> Calendar:
    """Lay out the days of `years_count` reporting years.

    Examples
    --------
    >>> open_calendar(2024, 1, 2).year_edges.tolist()
    [0, 366, 731]
    """
    origin = dt.date(first_year, first_month, 1)
    months = np.arange(years_count * MONTHS_A_YEAR + 4) + (first_month - 1)
    starts = [dt.date(first_year + int(m) // 12, int(m) % 12 + 1, 1) for m in months]
    month_edges = np.array([(start - origin).days for start in starts])
    year_edges = month_edges[: years_count * MONTHS_A_YEAR + 1 : MONTHS_A_YEAR]
    horizon = int(year_edges[-1]) + DAYS_AFTER_LAST_YEAR
    weeks = np.arange(0, horizon + 1, 7)
    inside = month_edges[month_edges <= weeks[-1]]
    return Calendar(origin, year_edges, month_edges, np.union1d(weeks, inside))
