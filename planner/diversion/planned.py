"""Planned diversion: what bins that are not yet given will take, month by month.

The same cohorts, retention curves and share of the full feed as in the measured estimate;
only the counts of bins and the beliefs behind the curves are planned.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.diversion.cohorts import Cohorts
from planner.diversion.feed_share import FeedShare, feed_share

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from planner.program import BinModel
    from planner.survey.retention import Retention


@dataclass(frozen=True)
class OneBin:
    """What one bin does in each month, by the month in which it was handed over.

    Parameters
    ----------
    in_use_weeks
        Shape (1 + draws_count, months, hand-overs): weeks in which it is in use.
    full_feed_weeks
        Same shape: those weeks, each counted by the share of the household's full feed that
        the worms can take. Times the feed of an in-use bin in kilograms a week, they are
        what the bin is fed.
    weeks_there
        Shape (months, hand-overs): weeks since the hand-over within each month.
    """

    in_use_weeks: NDArray[np.float64]
    full_feed_weeks: NDArray[np.float64]
    weeks_there: NDArray[np.float64]


def planned_capacity(
    model: BinModel,
    monthly_mean_temperature_c: Sequence[float],
    demand_kg_per_week: NDArray[np.float64],
    worms: Mapping[str, NDArray[np.float64]],
) -> FeedShare:
    """Share of the full feed that bins of one model will take, by age and month.

    Parameters
    ----------
    model
        Its tray limits the stock of worms.
    monthly_mean_temperature_c
        From the program file, January first [°C].
    demand_kg_per_week
        Shape (1 + draws_count,): full feed of an in-use bin [kg/week].
    worms
        Draws of the factors named in feed_share.FACTOR_IDS, each (1 + draws_count,).

    Returns
    -------
    FeedShare
        That of bins given with the published starter.
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
) -> OneBin:
    """Follow one bin of each month of hand-over through the months.

    Parameters
    ----------
    months
        First days of consecutive months, from the first hand-over on.
    handover_months
        Those of them in which bins are handed over.
    curve
        Retention, by draw.
    capacity
        Share of the full feed, by draw.
    service_life_months
        Age from which a bin is worn out and counts no more [months].

    Returns
    -------
    OneBin

    Notes
    -----
    ``weeks(m) × exposure × S(age) × min(1, R(age) T(m) capacity / F)``: run-in and season
    limit what the stock can take, so they stand inside the minimum (`FeedShare`). A bin
    given on an even day of its month is there for half of it.
    """
    given = Cohorts(tuple(months), (), np.zeros((len(months), 0, 0)))
    columns = [given.months.index(month) for month in handover_months]
    age = given.age_in_month()[:, columns]
    there = given.exposure()[:, columns] * (age < service_life_months)
    calendar_month = np.broadcast_to(given.calendar_months[:, None], age.shape)
    weeks = there * given.weeks[:, None]
    in_use = curve.in_use_share(age, given.entry_months[columns]) * weeks
    counted = there > 0
    share = np.zeros((capacity.demand_kg_per_week.size, *age.shape))
    share[:, counted] = capacity(age[counted], calendar_month[counted])
    return OneBin(in_use, in_use * share, weeks)
