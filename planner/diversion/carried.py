"""Months to come: what bins given so far will still take, and as many more given like them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Integers, Numbers
from planner.diversion.cohorts import cohorts, months_between, weeks_of
from planner.diversion.planned import equal_rows, feed_share_ahead, one_bin, still_in_residual_bin
from planner.tables import RESIDUAL_BIN
from planner.units import DAYS_PER_WEEK, DAYS_PER_YEAR, MONTHS_PER_YEAR

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from planner.diversion.counts import Counts
    from planner.diversion.feed_share import FeedShare
    from planner.diversion.measured import Diversion
    from planner.program import Program


WEEKS_PER_YEAR = DAYS_PER_YEAR / DAYS_PER_WEEK


@dataclass(frozen=True)
class Carried:
    """What the bins given so far will do, month by month, nobody given another."""

    # first days of the months after those measured, to the end of the last reporting year in which
    # a bin given so far is still within its service life
    months: tuple[dt.date, ...]
    # shape (1 + draws_count, months): bins in use when each month ends
    bins_in_use: Numbers
    # shape (1 + draws_count, months): scraps fed, of them what went to the residual bin before, and
    # what is kept out of landfill [kg]
    fed_kg: Numbers
    from_residual_bin_kg: Numbers
    kept_out_kg: Numbers


@dataclass(frozen=True)
class _Lives:
    """First bins by how long their model lasts.

    `months` has the service life of each kind; `bins` the shape (kinds, cohorts, areas,
    dwellings).
    """

    months: Integers
    bins: Numbers

    def alive(self, age_months: Numbers) -> Numbers:
        """Share of each kind that still lasts at a mean age, shape (kinds, *ages).

        Bins given on even days of a month wear out on even days of another.
        """
        lives = self.months.reshape(-1, *[1] * age_months.ndim)
        left = lives - age_months[None] + 1.0 / 2.0
        return np.asarray(left.clip(0.0, 1.0), dtype=np.float64)


def carry_forward(
    diversion: Diversion, counts: Counts, program: Program, factors: Mapping[str, Numbers]
) -> Carried:
    """Carry what was measured forward over the lives of the bins given so far.

    ``kept out(m) = sum over cohorts of given × alive(age) × retention(age) × feed share(age,
    m) × feed of the dwelling × weeks(m) × benchmark``, then the same last steps: the measured
    formula with the retention curve carried beyond the last visit, the benchmark of the
    last round, and each bin gone when its model's service life ends.

    Parameters
    ----------
    factors
        Draws, shape (1 + draws_count,), of the worm factors.

    Notes
    -----
    Prior routes stay as surveyed but for the program file's dated scenarios, and nobody
    begins again after stopping.
    """
    given = diversion.cohorts
    lives = _lives(counts.handovers, given.area_ids, counts.before_date, program)
    months = _months_to_come(given.months[0], counts.before_date, int(lives.months.max()), program)
    capacity = feed_share_ahead(diversion, counts, program, factors)
    landfilled = program.landfill.landfilled_share_of_residual_waste
    stays = still_in_residual_bin(program, given.area_ids, months)
    # a year at a time: the draws of all months and cohorts at once would fill the memory
    parts = [
        _of_months(diversion, lives, capacity, months[year], stays[:, year])
        for first in range(0, len(months), MONTHS_PER_YEAR)
        for year in (slice(first, first + MONTHS_PER_YEAR),)
    ]
    in_use, fed, residual = (
        np.concatenate(part, axis=1) * diversion.still_held_share
        for part in zip(*parts, strict=True)
    )
    kept_out = diversion.leakage.kept_out_kg(fed, residual, landfilled)
    return Carried(tuple(months), in_use, fed, residual, kept_out)


def _lives(
    handovers: pl.DataFrame, area_ids: tuple[str, ...], before_date: dt.date, program: Program
) -> _Lives:
    life = {m.model_id: m.service_life_years * MONTHS_PER_YEAR for m in program.bin_models}
    months = handovers["model_id"].replace_strict(life, return_dtype=pl.Int64)
    kinds = months.unique().sort()
    bins = [
        cohorts(
            handovers.with_columns(
                households_begun=pl.when(months == kind).then("households_begun").otherwise(0)
            ),
            area_ids,
            before_date,
        ).bins_given
        for kind in kinds
    ]
    return _Lives(kinds.to_numpy(), np.stack(bins))


def _months_to_come(
    first: dt.date, before: dt.date, life_months: int, program: Program
) -> list[dt.date]:
    """Months from `before` to the end of the reporting year in which the last bin wears out."""
    year_begins = program.council.reporting_year_first_month
    last_given = months_between(first, before)[-1]
    end = last_given.year * MONTHS_PER_YEAR + last_given.month - 1 + life_months + 1
    end += (year_begins - 1 - end) % MONTHS_PER_YEAR
    year, month = divmod(end, MONTHS_PER_YEAR)
    return months_between(before, before.replace(year=year, month=month + 1, day=1))


def _of_months(
    diversion: Diversion, lives: _Lives, capacity: FeedShare, months: list[dt.date], stays: Numbers
) -> tuple[Numbers, Numbers, Numbers]:
    """Bins in use, kilograms fed, and kilograms that would go to the residual bin."""
    given = diversion.cohorts
    since = len(months_between(given.months[0], months[0]))
    months_since = np.arange(len(months))[:, None] - np.arange(len(given.months), dtype=float)
    age = given.age_in_middle(since + months_since)
    calendar = np.broadcast_to(np.array([m.month - 1 for m in months])[:, None], age.shape)
    share = capacity(age.ravel(), calendar.ravel()).reshape(-1, *age.shape)
    scale = diversion.benchmark.by_month(months) * weeks_of(months)
    alive, alive_at_end = lives.alive(age), lives.alive(age + 1.0 / 2.0)
    in_use = fed = residual = np.zeros(scale.shape)
    for code, curve in enumerate(diversion.estimates.retained.curves):
        bins = lives.bins[:, :, :, code]
        still = curve.in_use_share(age, given.entry_months) * share
        feed = diversion.estimates.kg_per_in_use_bin_week[:, code, None] * scale
        from_residual = diversion.routes.shares[:, :, code, RESIDUAL_BIN]
        town = bins.sum(axis=2)
        at_end = curve.in_use_share(age + 1.0 / 2.0, given.entry_months)
        in_use = in_use + np.einsum("dmc,kmc,kc->dm", at_end, alive_at_end, town, optimize=True)
        fed = fed + feed * np.einsum("dmc,kmc,kc->dm", still, alive, town, optimize=True)
        # areas go first: kinds × draws × cohorts is small, kinds × draws × areas × months is not
        for own, course in equal_rows(stays):
            weighed = np.einsum("kca,da->kdc", bins[:, :, own], from_residual[:, own])
            kept = np.einsum("dmc,kmc,kdc->dm", still, alive, weighed)
            residual = residual + feed * kept * course
    return in_use, fed, residual


@dataclass(frozen=True)
class AnotherYear:
    """As many bins as were given in the reporting year, all given in the first month to come."""

    # first days of the months, from the first to come to the end of the longest life
    months: tuple[dt.date, ...]
    # shape (1 + draws_count, months): bins in use, in years of one bin; scraps
    # kept out of landfill [kg]
    in_use_bin_years: Numbers
    kept_out_kg: Numbers


def another_year(
    diversion: Diversion, counts: Counts, program: Program, factors: Mapping[str, Numbers]
) -> AnotherYear | None:
    """Follow as many bins as the reporting year's, by its models, areas and dwellings.

    Retention, feed, season and prior routes are those that were measured, as for the bins
    given so far, and the program file's dated scenarios hold.
    """
    of_year = counts.handovers.filter(pl.col("handover_month") >= counts.from_date)
    if of_year.is_empty() or not of_year["households_begun"].sum():
        return None
    lives = {m.model_id: m.service_life_years for m in program.bin_models}
    first = counts.before_date
    months = tuple(
        months_between(first, first.replace(year=first.year + max(lives.values()), day=1))
    )
    capacity = feed_share_ahead(diversion, counts, program, factors)
    stays = still_in_residual_bin(program, diversion.cohorts.area_ids, months)
    # models part ways in how long they last, and in nothing else that was measured
    parts = [
        _of_model(
            diversion,
            cohorts(given, diversion.cohorts.area_ids, first).bins_given.sum(axis=0),
            (months, stays),
            capacity,
            lives[str(model_id)] * MONTHS_PER_YEAR,
        )
        for (model_id,), given in of_year.group_by("model_id", maintain_order=True)
    ]
    in_use, fed, residual = (np.sum(part, axis=0) for part in zip(*parts, strict=True))
    landfilled = program.landfill.landfilled_share_of_residual_waste
    kept_out = diversion.leakage.kept_out_kg(fed, residual, landfilled)
    return AnotherYear(months, in_use / WEEKS_PER_YEAR, kept_out)


def _of_model(
    diversion: Diversion,
    bins: Numbers,
    ahead: tuple[tuple[dt.date, ...], Numbers],
    capacity: FeedShare,
    life_months: int,
) -> tuple[Numbers, Numbers, Numbers]:
    """Weeks in use, kilograms fed and kilograms that would go to the residual bin, of one model.

    `bins` has the shape (areas, dwellings); `ahead` the months to come and what still goes to
    the residual bin in them, (areas, months). Each result has the shape (1 + draws, months).
    """
    months, stays = ahead
    levels = diversion.benchmark.by_month(list(months))
    in_use, fed, residual = (np.zeros(levels.shape) for _ in range(3))
    for code, curve in enumerate(diversion.estimates.retained.curves):
        one = one_bin(months, months[:1], curve, capacity, life_months)
        feed = diversion.estimates.kg_per_in_use_bin_week[:, code, None] * levels
        kilograms = feed * one.full_feed_weeks[:, :, 0]
        share = diversion.routes.shares[:, :, code, RESIDUAL_BIN] * bins[:, code]
        in_use += one.in_use_weeks[:, :, 0] * bins[:, code].sum()
        fed += kilograms * bins[:, code].sum()
        residual += kilograms * (share @ stays)
    return in_use, fed, residual
