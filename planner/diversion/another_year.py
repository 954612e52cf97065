"""Another year of giving like the last: what as many bins, given now, would keep out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.diversion.cohorts import cohorts, months_between
from planner.diversion.measured import feed_share_ahead
from planner.diversion.planned import one_bin, still_in_residual_bin
from planner.diversion.sums import RESIDUAL_BIN
from planner.units import DAYS_PER_WEEK, DAYS_PER_YEAR, MONTHS_PER_YEAR

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from planner.diversion.counts import Counts
    from planner.diversion.feed_share import FeedShare
    from planner.diversion.measured import Diversion
    from planner.program import Program


WEEKS_PER_YEAR = DAYS_PER_YEAR / DAYS_PER_WEEK


@dataclass(frozen=True)
class AnotherYear:
    """As many bins as were given in the reporting year, all given in the first month to come.

    Parameters
    ----------
    months
        First days of the months, from the first to come to the end of the longest life.
    in_use_bin_years, kept_out_kg
        Shape (1 + draws_count, months): bins in use, in years of one bin; scraps kept out of
        landfill [kg].
    """

    months: tuple[dt.date, ...]
    in_use_bin_years: NDArray[np.float64]
    kept_out_kg: NDArray[np.float64]


def another_year(
    diversion: Diversion,
    counts: Counts,
    program: Program,
    factors: Mapping[str, NDArray[np.float64]],
) -> AnotherYear | None:
    """Follow as many bins as the reporting year's, by its models, areas and dwellings.

    Retention, feed, season and prior routes are those that were measured, as for the bins
    given so far, and the program file's dated scenarios hold.

    Parameters
    ----------
    diversion, counts, program, factors
        What was measured, and from what.

    Returns
    -------
    AnotherYear or None
        None where no bin was given in the year.
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
    bins: NDArray[np.float64],
    ahead: tuple[tuple[dt.date, ...], NDArray[np.float64]],
    capacity: FeedShare,
    life_months: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
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
