"""Cohorts: bins by month of hand-over, their age and exposure, and sums over all of them."""

from __future__ import annotations

import calendar
import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers, places_of, quotient
from planner.errors import NotYetError
from planner.messages import say
from planner.tables import DWELLINGS, RESIDUAL_BIN
from planner.units import DAYS_PER_WEEK, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl

    from planner.diversion.benchmark import Benchmark
    from planner.diversion.feed_share import FeedShare
    from planner.diversion.groups import DwellingEstimates
    from planner.diversion.leakage import Leakage
    from planner.survey.retention import Retention

FIRST_MONTH_EXPOSURE = 1.0 / 2.0
"""Share of the hand-over month in which bins given on even days of it are there, on average."""

FIRST_MONTH_SQUARE = 1.0 / 3.0
"""Mean of the square of that share."""

FIRST_MONTH_AGE = FIRST_MONTH_SQUARE / (2.0 * FIRST_MONTH_EXPOSURE)
"""Their mean age over that time, in months."""


@dataclass(frozen=True)
class Cohorts:
    """Households that took their first bin, by month, area and dwelling."""

    # first day of each month from the first hand-over to the end of the reporting year
    months: tuple[dt.date, ...]
    area_ids: tuple[str, ...]  # areas, in the order of the second axis
    # Shape (months, areas, dwellings), dwellings in the order of tables.DWELLINGS: first bins of
    # households. Questions are put to households: one that holds two bins is in use while either
    # is, counts once, and tells of what goes into both.
    bins_given: Numbers
    # Shape (months,): mean share of the month that was left when its bins were given, and mean of
    # its square; hand-over days are not spread evenly over a month. None for bins whose days are
    # not known yet.
    month_left: Numbers | None = None
    month_left_square: Numbers | None = None

    @property
    def weeks(self) -> Numbers:
        """Length of each month in weeks, shape (months,)."""
        return weeks_of(self.months)

    @property
    def calendar_months(self) -> Integers:
        """Calendar month of each month, 0 for January, shape (months,)."""
        return np.array([month.month - 1 for month in self.months])

    @property
    def entry_months(self) -> Numbers:
        """Mean day on which each cohort was given its bins [months since 1 January]."""
        return np.asarray(self.calendar_months + 1.0 - self._left)

    def age_at_month_end(self) -> Numbers:
        """Mean age at the end of each month of each cohort, shape (months, cohorts).

        Negative where the cohort is not yet there.
        """
        return np.asarray(self._difference() + self._left)

    def age_in_month(self) -> Numbers:
        """Mean age during each month of each cohort, shape (months, cohorts) [months]."""
        difference = self._difference()
        square = FIRST_MONTH_SQUARE if self.month_left_square is None else self.month_left_square
        # of all days on which a cohort is there, those of bins given early are more
        in_first = square / (2.0 * self._left)
        return np.where(difference == 0, in_first, self.age_in_middle(difference))

    def age_in_middle(self, months_since: Numbers) -> Numbers:
        """Mean age in the middle of a month so many months after that of the hand-over."""
        return np.asarray(months_since + self._left - FIRST_MONTH_EXPOSURE)

    def exposure(self) -> Numbers:
        """Share of each month for which each cohort was there, shape (months, cohorts)."""
        difference = self._difference()
        return np.where(difference == 0, self._left, (difference > 0) * 1.0)

    def months_from(self, day: dt.date) -> slice:
        """Slice of the months that begin on or after a day."""
        return slice(sum(month < day for month in self.months), len(self.months))

    @property
    def _left(self) -> Numbers:
        return (
            np.full(len(self.months), FIRST_MONTH_EXPOSURE)
            if self.month_left is None
            else self.month_left
        )

    def _difference(self) -> Numbers:
        position = np.arange(len(self.months), dtype=float)
        return position[:, None] - position[None, :]


def cohorts(handovers: pl.DataFrame, area_ids: Sequence[str], before_date: dt.date) -> Cohorts:
    """Arrange counted hand-overs as cohorts.

    Parameters
    ----------
    before_date
        First day after the last month.

    Raises
    ------
    NotYetError
        No bin was handed over before that day.
    """
    if handovers.is_empty():
        raise NotYetError(say("estimate.no_handover", day=before_date))
    first = handovers["handover_month"].min()
    months = months_between(first, before_date)  # type: ignore[arg-type]
    month, area, dwelling = (
        places_of(handovers[name], known)
        for name, known in (
            ("handover_month", months), ("area_id", area_ids), ("dwelling", DWELLINGS)
        )
    )  # fmt: skip
    # several bin models share a cell, so rows add up instead of taking each other's place
    given = np.zeros((len(months), len(area_ids), len(DWELLINGS)))
    begun = handovers["households_begun"].to_numpy()
    np.add.at(given, (month, area, dwelling), begun)
    left, square = (
        _mean_by_month(month, handovers[name].to_numpy(), begun, usual, len(months))
        for name, usual in (
            ("month_left", FIRST_MONTH_EXPOSURE),
            ("month_left_square", FIRST_MONTH_SQUARE),
        )
    )
    return Cohorts(tuple(months), tuple(area_ids), given, left, square)


def held_at_most(given: Cohorts, back: pl.DataFrame) -> Numbers:
    """Count the households that can hold a bin when each month ends, shape (months, areas)."""
    month = places_of(back["back_month"], given.months)
    area = places_of(back["area_id"], given.area_ids)
    left = given.bins_given.sum(axis=2)
    np.subtract.at(left, (month, area), back["households_back"].to_numpy())
    return np.asarray(left.cumsum(axis=0))


def _mean_by_month(
    month: Integers, value: Numbers, count: Integers, usual: float, months_count: int
) -> Numbers:
    """Average over the bins of each month; `usual` where none was given."""
    counted = np.bincount(month, count, months_count)
    summed = np.bincount(month, count * value, months_count)
    return quotient(summed, counted, otherwise=usual)


def weeks_of(months: Sequence[dt.date]) -> Numbers:
    """Length of each month in weeks, shape (months,)."""
    days = [calendar.monthrange(month.year, month.month)[1] for month in months]
    return np.array(days) / DAYS_PER_WEEK


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


@dataclass(frozen=True)
class AreaEstimates:
    """What the town's curves and feed make of each area's bins, shape (1 + draws_count, areas)."""

    bins_in_use: Numbers  # at the end of the last month
    # in the months of the reporting year, each as in `Diversion` [kg]
    fed_kg: Numbers
    kept_out_kg: Numbers
    from_residual_bin_kg: Numbers
    fed_to_date_kg: Numbers  # shape (areas,): central value over all months [kg]
    kept_out_of_town_kg: Numbers  # shape (1 + draws_count,): what areas add up to
    held_at_most: Numbers  # shape (areas,): households that can hold a bin at the end


@dataclass(frozen=True)
class Sums:
    """Sums over areas, as in `Diversion`, and what each bin given does."""

    bins_in_use: Numbers
    in_use_bin_weeks: Numbers
    fed_kg: Numbers
    fed_by_route_kg: Numbers
    # for each dwelling, shape (1 + draws_count, cohorts): when the last month ends
    in_use_per_bin: list[Numbers]
    # for each dwelling, shape (1 + draws_count, months, cohorts): fed [kg]
    kg_per_bin: list[Numbers]

    def within(self, held: Numbers) -> tuple[Sums, Numbers]:
        """Let no more bins be in use than households hold one, whatever the curve expects.

        Of bins that came back after the last round the curve knows nothing, see the query
        use_intervals.

        Parameters
        ----------
        held
            Shape (months,): households that can hold a bin when each month ends.

        Returns
        -------
        Sums, ndarray
            What is left of the sums, and the share of the bins in use that is left when
            the last month ends, shape (1 + draws_count, 1).
        """
        at_end = quotient(held, self.bins_in_use, otherwise=1.0).clip(max=1.0)
        if (at_end == 1.0).all():
            return self, at_end[:, -1:]
        during = (at_end + np.roll(at_end, 1, axis=1)) / 2.0
        during[:, 0] = (1.0 + at_end[:, 0]) / 2.0
        left = Sums(
            self.bins_in_use * at_end,
            self.in_use_bin_weeks * during,
            self.fed_kg * during,
            self.fed_by_route_kg * during[:, None],
            [one * at_end[:, -1:] for one in self.in_use_per_bin],
            [one * during[:, :, None] for one in self.kg_per_bin],
        )
        return left, at_end[:, -1:]


def by_month(
    given: Cohorts,
    estimates: DwellingEstimates,
    levels: Benchmark,
    capacity: FeedShare,
    route_shares: Numbers,
    curves: Sequence[Retention],
) -> Sums:
    """Sum bins in use, their weeks, fed and fed by route over areas and dwellings."""
    share = _share_by_cohort(given, capacity, levels.ratios.shape[0])
    scale = levels.by_month(given.months) * given.weeks
    in_use, in_use_weeks, fed = np.zeros((3, *scale.shape))
    by_route = np.zeros((scale.shape[0], route_shares.shape[-1], scale.shape[1]))
    in_use_per_bin, kg_per_bin = [], []
    for code, curve in enumerate(curves):
        bins, at_end = given.bins_given[:, :, code], _at_end(given, curve)
        during = curve.in_use_share(given.age_in_month(), given.entry_months)
        during *= given.exposure()
        feed = estimates.kg_per_in_use_bin_week[:, code, None] * scale
        kilograms = during * share * feed[:, :, None]
        in_use += at_end @ bins.sum(axis=1)
        in_use_weeks += during @ bins.sum(axis=1) * given.weeks
        fed += kilograms @ bins.sum(axis=1)
        # areas go first: draws × areas × months is not small
        of_routes = np.matmul(bins, route_shares[:, :, code])
        by_route += np.matmul(kilograms, of_routes).transpose(0, 2, 1)
        in_use_per_bin.append(at_end[:, -1])
        kg_per_bin.append(kilograms)
    return Sums(in_use, in_use_weeks, fed, by_route, in_use_per_bin, kg_per_bin)


def in_use_at_month_end(given: Cohorts, curves: Sequence[Retention]) -> Numbers:
    """Bins in use when each month ends, shape (1 + draws_count, months), as in `by_month`."""
    by_dwelling = given.bins_given.sum(axis=1).T
    in_use = (_at_end(given, curve) @ bins for curve, bins in zip(curves, by_dwelling, strict=True))
    return np.asarray(sum(in_use))


def _at_end(given: Cohorts, curve: Retention) -> Numbers:
    """Share of each cohort in use when each month ends."""
    age = given.age_at_month_end()
    return curve.in_use_share(age, given.entry_months) * (age > 0)


def sums_of_areas(
    given: Cohorts,
    sums: Sums,
    residual_shares: Numbers,
    year: slice,
    leaks: Leakage,
    landfilled_share: float,
    held: Numbers,
) -> AreaEstimates:
    """Sum a year by area over months and dwellings, with the areas' own residual-bin shares."""
    shape = (len(sums.fed_kg), len(given.area_ids))
    in_use, fed, residual = np.zeros((3, *shape))
    to_date = np.zeros(shape[1])
    for code, (at_end, kilograms) in enumerate(
        zip(sums.in_use_per_bin, sums.kg_per_bin, strict=True)
    ):
        bins = given.bins_given[:, :, code]
        own = kilograms[:, year].sum(axis=1) @ bins
        in_use += at_end @ bins
        fed += own
        residual += own * residual_shares[:, :, code]
        to_date += kilograms[0].sum(axis=0) @ bins
    kept_out = leaks.kept_out_kg(fed, residual, landfilled_share)
    from_bin = sums.fed_by_route_kg[:, RESIDUAL_BIN, year]
    of_town = leaks.kept_out_kg(sums.fed_kg[:, year], from_bin, landfilled_share).sum(axis=1)
    return AreaEstimates(in_use, fed, kept_out, residual, to_date, of_town, held)


def _share_by_cohort(given: Cohorts, capacity: FeedShare, draws: int) -> Numbers:
    """Share of the full feed in each month of each cohort, shape (draws, months, cohorts)."""
    age = given.age_in_month()
    month = np.broadcast_to(given.calendar_months[:, None], age.shape)
    there = given.exposure() > 0
    share = np.zeros((draws, *age.shape))
    share[:, there] = capacity(age[there], month[there])
    return share
