"""Cohorts: bins by month of hand-over, and their age and exposure in each later month."""

from __future__ import annotations

import calendar
import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import EstimateError
from planner.messages import say
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_WEEK, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

FIRST_MONTH_EXPOSURE = 1.0 / 2.0
"""Share of the hand-over month in which bins given on even days of it are there, on average."""

FIRST_MONTH_SQUARE = 1.0 / 3.0
"""Mean of the square of that share."""

FIRST_MONTH_AGE = FIRST_MONTH_SQUARE / (2.0 * FIRST_MONTH_EXPOSURE)
"""Their mean age over that time, in months."""


@dataclass(frozen=True)
class Cohorts:
    """Households that took their first bin, by month, area and dwelling.

    Parameters
    ----------
    months
        First day of each month from the first hand-over to the end of the reporting year.
    area_ids
        Areas, in the order of the second axis.
    bins_given
        Shape (months, areas, dwellings), dwellings in the order of tables.DWELLINGS: first
        bins of households. Questions are put to households: one that holds two bins is in use
        while either is, counts once, and tells of what goes into both.
    left, left_square
        Shape (months,): mean share of the month that was left when its bins were given, and
        mean of its square; hand-over days are not spread evenly over a month. None for bins
        whose days are not known yet.
    """

    months: tuple[dt.date, ...]
    area_ids: tuple[str, ...]
    bins_given: NDArray[np.float64]
    left: NDArray[np.float64] | None = None
    left_square: NDArray[np.float64] | None = None

    @property
    def weeks(self) -> NDArray[np.float64]:
        """Length of each month in weeks, shape (months,)."""
        days = [calendar.monthrange(month.year, month.month)[1] for month in self.months]
        return np.array(days) / DAYS_PER_WEEK

    @property
    def calendar_months(self) -> NDArray[np.int64]:
        """Calendar month of each month, 0 for January, shape (months,)."""
        return np.array([month.month - 1 for month in self.months])

    @property
    def entry_months(self) -> NDArray[np.float64]:
        """Mean day on which each cohort was given its bins [months since 1 January]."""
        return np.asarray(self.calendar_months + 1.0 - self._left)

    def age_at_month_end(self) -> NDArray[np.float64]:
        """Mean age at the end of each month of each cohort, shape (months, cohorts).

        Negative where the cohort is not yet there.
        """
        return np.asarray(self._difference() + self._left)

    def age_in_month(self) -> NDArray[np.float64]:
        """Mean age during each month of each cohort, shape (months, cohorts) [months]."""
        difference = self._difference()
        square = FIRST_MONTH_SQUARE if self.left_square is None else self.left_square
        # of all days on which a cohort is there, those of bins given early are more
        in_first = square / (2.0 * self._left)
        return np.where(difference == 0, in_first, self.age_in_middle(difference))

    def age_in_middle(self, months_since: NDArray[np.float64]) -> NDArray[np.float64]:
        """Mean age in the middle of a month so many months after that of the hand-over."""
        return np.asarray(months_since + self._left - FIRST_MONTH_EXPOSURE)

    def exposure(self) -> NDArray[np.float64]:
        """Share of each month for which each cohort was there, shape (months, cohorts)."""
        difference = self._difference()
        return np.where(difference == 0, self._left, (difference > 0) * 1.0)

    def months_from(self, day: dt.date) -> slice:
        """Slice of the months that begin on or after a day."""
        return slice(sum(month < day for month in self.months), len(self.months))

    @property
    def _left(self) -> NDArray[np.float64]:
        return np.full(len(self.months), FIRST_MONTH_EXPOSURE) if self.left is None else self.left

    def _difference(self) -> NDArray[np.float64]:
        position = np.arange(len(self.months), dtype=float)
        return position[:, None] - position[None, :]


def cohorts(handovers: pl.DataFrame, area_ids: Sequence[str], before_date: dt.date) -> Cohorts:
    """Arrange counted hand-overs as cohorts.

    Parameters
    ----------
    handovers
        Query handovers_by_month.
    area_ids
        Areas to report, in order.
    before_date
        First day after the last month.

    Raises
    ------
    EstimateError
        No bin was handed over before that day.
    """
    if handovers.is_empty():
        raise EstimateError(say("estimate.no_handover", day=f"{before_date:%Y-%m-%d}"))
    first = handovers["handover_month"].min()
    months = months_between(first, before_date)  # type: ignore[arg-type]
    place = handovers.select(
        month=pl.col("handover_month").replace_strict(
            dict(zip(months, range(len(months)), strict=True)), return_dtype=pl.Int64
        ),
        area=pl.col("area_id").replace_strict(
            {name: i for i, name in enumerate(area_ids)}, return_dtype=pl.Int64
        ),
        dwelling=pl.col("dwelling")
        .cast(pl.String)
        .replace_strict({name: i for i, name in enumerate(DWELLINGS)}, return_dtype=pl.Int64),
    ).to_numpy()
    # several bin models share a cell, so rows add up instead of taking each other's place
    given = np.zeros((len(months), len(area_ids), len(DWELLINGS)))
    begun = handovers["households_begun"].to_numpy()
    np.add.at(given, tuple(place.T), begun)
    left, square = (
        _mean_by_month(place[:, 0], handovers[name].to_numpy(), begun, usual, len(months))
        for name, usual in (
            ("month_left", FIRST_MONTH_EXPOSURE),
            ("month_left_square", FIRST_MONTH_SQUARE),
        )
    )
    return Cohorts(tuple(months), tuple(area_ids), given, left, square)


def _mean_by_month(
    month: NDArray[np.int64],
    value: NDArray[np.float64],
    count: NDArray[np.int64],
    usual: float,
    months_count: int,
) -> NDArray[np.float64]:
    """Average over the bins of each month; `usual` where none was given."""
    counted = np.bincount(month, count, months_count)
    summed = np.bincount(month, count * value, months_count)
    return np.where(counted > 0, summed / np.maximum(counted, 1.0), usual)


def months_between(first: dt.date, before: dt.date) -> list[dt.date]:
    """First days of the months from `first` to the last that begins before `before`.

    Examples
    --------
    >>> [f"{m:%Y-%m}" for m in months_between(dt.date(2025, 11, 1), dt.date(2026, 2, 1))]
    ['2025-11', '2025-12', '2026-01']
    """
    start = first.year * MONTHS_PER_YEAR + first.month - 1
    end = before.year * MONTHS_PER_YEAR + before.month - 1
    return [dt.date(n // MONTHS_PER_YEAR, n % MONTHS_PER_YEAR + 1, 1) for n in range(start, end)]
