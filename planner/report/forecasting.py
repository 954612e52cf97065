"""The year that still runs, carried on to its end; what is assumed is said with it.

To date and forecast are two things: nothing here enters a figure of what was done.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.diversion.cohorts import Cohorts
from planner.diversion.planned import estimate_more_bins
from planner.survey.streams import random_stream
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.diversion.carried import Carried
    from planner.diversion.counts import Counts
    from planner.diversion.measured import Diversion
    from planner.program import Program


@dataclass(frozen=True)
class Forecast:
    """A running year to its end, each array of shape (1 + draws_count,)."""

    # of the whole year: to date and to come
    bins_given: Numbers
    fed_t: Numbers
    kept_out_t: Numbers
    bins_in_use: Numbers  # when the year ends
    # hand-over days to come and the places on them
    days_count: int
    places_count: int
    take_up: float  # bins taken for each place on the days so far; 1 where no day was held yet
    days_held: int  # days on which the take-up rests


def forecast_year(
    diversion: Diversion,
    counts: Counts,
    carried: Carried,
    program: Program,
    factors: Mapping[str, Numbers],
    end_date: dt.date,
) -> Forecast:
    """Carry a running year on to its end, the day before `end_date`.

    To date as measured; the bins given so far by the retention curve, the season and the
    feed of the last survey round; the bins of hand-over days to come by the places on them
    and the take-up of the days so far.

    Notes
    -----
    The chance of who comes is drawn from the days held: each draw takes as many of them,
    with replacement, as there are days to come, and their bins over their places.
    """
    months = [month for month in carried.months if month < end_date]
    so_far = diversion.cohorts.months_from(counts.from_date)
    luck = _take_up_draws(counts, program.method.draws_count, program.method.seed)
    more = _more_bins(diversion, counts, months, float(luck[0]))
    in_use, fed, kept_out = estimate_more_bins(more, diversion, counts, program, factors)
    share = luck / luck[0] if luck[0] > 0.0 else np.ones_like(luck)
    places = int(counts.upcoming["places_count"].sum())

    def whole(measured: Numbers, own: Numbers, new: Numbers) -> Numbers:
        to_date = measured[:, so_far].sum(axis=1)
        to_come = own[:, : len(months)].sum(axis=1) + new.sum(axis=1) * share
        return np.asarray((to_date + to_come) / KG_PER_T)

    return Forecast(
        bins_given=float(counts.areas["bins_given_in_year"].sum()) + places * luck,
        fed_t=whole(diversion.fed_kg, carried.fed_kg, fed),
        kept_out_t=whole(diversion.kept_out_kg, carried.kept_out_kg, kept_out),
        bins_in_use=carried.bins_in_use[:, len(months) - 1] + in_use[:, -1] * share,
        days_count=counts.upcoming.height,
        places_count=places,
        take_up=float(luck[0]),
        days_held=counts.take_up.height,
    )


def _take_up_draws(counts: Counts, draws_count: int, seed: int) -> Numbers:
    """Bins for each place on the days to come, shape (1 + draws_count,)."""
    held, days = counts.take_up, counts.upcoming.height
    if held.is_empty() or not days:
        return np.ones(1 + draws_count)
    bins, places = held["bins_given"].to_numpy(), held["places_count"].to_numpy()
    rng = random_stream(seed, "take-up")
    picks = rng.integers(0, held.height, size=(draws_count, days))
    drawn = bins[picks].sum(axis=1) / places[picks].sum(axis=1)
    return np.concatenate([[bins.sum() / places.sum()], drawn])


def _more_bins(
    diversion: Diversion, counts: Counts, months: list[dt.date], take_up: float
) -> Cohorts:
    """First bins of the days to come, shared out as those of the last twelve months were."""
    given = diversion.cohorts
    recent = given.bins_given[-MONTHS_PER_YEAR:].sum(axis=0)
    mix = recent / recent.sum() if recent.sum() > 0.0 else recent
    by_month = dict(
        counts.upcoming.group_by(pl.col("event_date").dt.truncate("1mo"))
        .agg(pl.col("places_count").sum())
        .iter_rows()
    )
    places = np.array([by_month.get(month, 0) for month in months], dtype=float)
    return Cohorts(tuple(months), given.area_ids, places[:, None, None] * take_up * mix[None])
