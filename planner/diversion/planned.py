"""Planned diversion: what bins that are not yet given will take, month by month.

The same cohorts, retention curves and share of the full feed as in the measured estimate; before
a first survey the beliefs behind them are planned too. And what would still go to the residual
bin by then: the council's dated baseline scenarios, by area.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Flags, Numbers
from planner.diversion.cohorts import Cohorts, by_month
from planner.diversion.feed_share import FeedShare, feed_share
from planner.errors import ProgramError
from planner.messages import say
from planner.tables import RESIDUAL_BIN

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping, Sequence

    from planner.diversion.counts import Counts
    from planner.diversion.measured import Diversion
    from planner.program import BinModel, Program
    from planner.survey.retention import Retention


@dataclass(frozen=True)
class OneBin:
    """What one bin does in each month, by the month in which it was handed over."""

    # shape (1 + draws_count, months, hand-overs): weeks in which it is in use
    in_use_weeks: Numbers
    # Same shape: those weeks, each counted by the share of the household's full feed that the worms
    # can take. Times the feed of an in-use bin in kilograms a week, they are what the bin is fed.
    full_feed_weeks: Numbers
    # shape (months, hand-overs): weeks since the hand-over within each month
    weeks_there: Numbers


def planned_capacity(
    model: BinModel,
    monthly_mean_temperature_c: Sequence[float],
    demand_kg_per_week: Numbers,
    worms: Mapping[str, Numbers],
) -> FeedShare:
    """Share of the full feed that bins of one model will take, by age and month.

    They are given with the published starter; the arguments are those of `feed_share`.
    """
    one = pl.DataFrame(
        {"model_id": [model.model_id], "bins_given": [1], "worms_kg": [0.0], "starters_count": [0]}
    )
    return feed_share(one, [model], monthly_mean_temperature_c, demand_kg_per_week, worms)


def one_bin(
    months: Sequence[dt.date],
    handover_months: Sequence[dt.date],
    curve: Retention,
    capacity: FeedShare,
    service_life_months: float = np.inf,
    shown: slice = slice(None),
) -> OneBin:
    """Follow one bin of each month of hand-over through the months, or through those shown.

    Parameters
    ----------
    months
        First days of consecutive months, from the first hand-over on.
    handover_months
        Those of them in which bins are handed over.
    service_life_months
        Age from which a bin is worn out and counts no more [months].

    Notes
    -----
    ``weeks(m) × exposure × S(age) × min(1, R(age) T(m) capacity / F)``: run-in and season
    limit what the stock can take, so they stand inside the minimum (`FeedShare`). A bin
    given on an even day of its month is there for half of it.
    """
    given = Cohorts(tuple(months), (), np.zeros((len(months), 0, 0)))
    columns = [given.months.index(month) for month in handover_months]
    age = given.age_in_month()[shown, columns]
    there = given.exposure()[shown, columns] * (age < service_life_months)
    calendar_month = np.broadcast_to(given.calendar_months[shown, None], age.shape)
    weeks = there * given.weeks[shown, None]
    in_use = curve.in_use_share(age, given.entry_months[columns]) * weeks
    counted = there > 0
    share = np.zeros((capacity.demand_kg_per_week.size, *age.shape))
    share[:, counted] = capacity(age[counted], calendar_month[counted])
    return OneBin(in_use, in_use * share, weeks)


def still_in_residual_bin(
    program: Program, area_ids: Sequence[str], months: Sequence[dt.date]
) -> Numbers:
    """Share of what went to the residual bin that would still go there in months to come.

    Parameters
    ----------
    program
        Its scenarios, which hold together: what one leaves, the next takes its share of.

    Returns
    -------
    ndarray
        Shape (areas, months), 1 where no scenario holds.

    Raises
    ------
    ProgramError
        A scenario names an area that there is not.

    Notes
    -----
    GHG Protocol for Project Accounting (2005), chapter 8, and ISO 14064-2:2019, 6.4: the baseline
    is what would have happened, and changes with what is known to come (from memory).
    """
    stays = np.ones((len(area_ids), len(months)))
    for scenario in program.scenarios:
        unknown = sorted(set(scenario.areas) - set(area_ids))
        if unknown:
            given = {"name": scenario.name, "area": unknown[0], "known": ", ".join(area_ids)}
            raise ProgramError(say("estimate.scenario_area", **given))
        holds = np.array([month >= scenario.begins for month in months], dtype=bool)
        inside = np.array([not scenario.areas or one in scenario.areas for one in area_ids])
        both = inside[:, None] & holds[None, :]
        stays = np.where(both, stays * (1.0 - scenario.leaves_residual_bin_share), stays)
    return stays


def equal_rows(stays: Numbers) -> Iterator[tuple[Flags, Numbers]]:
    """Group rows that are the same over all months: which they are, and their months.

    Parameters
    ----------
    stays
        Shape (rows, months).
    """
    courses, place = np.unique(stays, axis=0, return_inverse=True)
    for number, course in enumerate(courses):
        yield place.ravel() == number, course


def feed_share_ahead(
    diversion: Diversion, counts: Counts, program: Program, factors: Mapping[str, Numbers]
) -> FeedShare:
    """Share of the full feed that worms take in months to come, its run-in as surveyed."""
    published = feed_share(
        counts.handovers,
        program.bin_models,
        program.climate.monthly_mean_temperature_c,
        diversion.estimates.pooled_kg_per_in_use_bin_week,
        factors,
    )
    return diversion.run_in.of(published)


def estimate_more_bins(
    more: Cohorts,
    diversion: Diversion,
    counts: Counts,
    program: Program,
    factors: Mapping[str, Numbers],
) -> tuple[Numbers, ...]:
    """Estimate bins that are not given yet, by the curve and feed of those that were.

    Returns
    -------
    tuple of ndarray
        Bins in use, fed and kept out of landfill, as in `Diversion`.
    """
    stays = still_in_residual_bin(program, more.area_ids, more.months)
    capacity = feed_share_ahead(diversion, counts, program, factors)
    in_use, fed, residual = np.zeros((3, len(diversion.fed_kg), len(more.months)))
    # areas that share a course of scenarios are one sum
    for own, course in equal_rows(stays):
        bins = more.bins_given * own[:, None]
        sums = by_month(
            replace(more, bins_given=bins),
            diversion.estimates,
            diversion.benchmark,
            capacity,
            diversion.routes.shares,
            diversion.estimates.retained.curves,
        )
        in_use += sums.bins_in_use
        fed += sums.fed_kg
        residual += sums.fed_by_route_kg[:, RESIDUAL_BIN] * course
    landfilled = program.landfill.landfilled_share_of_residual_waste
    return in_use, fed, diversion.leakage.kept_out_kg(fed, residual, landfilled)
