"""Sums over cohorts: bins in use, fed and where it went before, by month and by area."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.tables import PRIOR_SHARES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.diversion.benchmark import Benchmark
    from planner.diversion.cohorts import Cohorts
    from planner.diversion.feed_share import FeedShare
    from planner.diversion.groups import DwellingEstimates
    from planner.diversion.leakage import Leakage
    from planner.survey.retention import Retention

RESIDUAL_BIN = PRIOR_SHARES.index("prior_residual_bin_share")


@dataclass(frozen=True)
class OfAreas:
    """What the town's curves and feed make of each area's bins, shape (1 + draws_count, areas).

    Parameters
    ----------
    bins_in_use
        At the end of the last month.
    fed_kg, kept_out_kg, from_residual_bin_kg
        In the months of the reporting year, each as in `Diversion` [kg].
    fed_to_date_kg
        Shape (areas,): central value over all months [kg].
    """

    bins_in_use: NDArray[np.float64]
    fed_kg: NDArray[np.float64]
    kept_out_kg: NDArray[np.float64]
    from_residual_bin_kg: NDArray[np.float64]
    fed_to_date_kg: NDArray[np.float64]


@dataclass(frozen=True)
class Sums:
    """Sums over areas, as in `Diversion`, and what each bin given does.

    Parameters
    ----------
    in_use_per_bin
        For each dwelling, shape (1 + draws_count, cohorts): when the last month ends.
    kg_per_bin
        For each dwelling, shape (1 + draws_count, months, cohorts): fed [kg].
    """

    bins_in_use: NDArray[np.float64]
    in_use_bin_weeks: NDArray[np.float64]
    fed_kg: NDArray[np.float64]
    fed_by_route_kg: NDArray[np.float64]
    in_use_per_bin: list[NDArray[np.float64]]
    kg_per_bin: list[NDArray[np.float64]]


def by_month(
    given: Cohorts,
    estimates: DwellingEstimates,
    levels: Benchmark,
    capacity: FeedShare,
    route_shares: NDArray[np.float64],
    curves: Sequence[Retention],
) -> Sums:
    """Sum bins in use, their weeks, fed and fed by route over areas and dwellings."""
    share = _share_by_cohort(given, capacity, levels.ratios.shape[0])
    scale = levels.by_month(given.months) * given.weeks
    in_use, in_use_weeks, fed = np.zeros((3, *scale.shape))
    by_route = np.zeros((scale.shape[0], route_shares.shape[-1], scale.shape[1]))
    in_use_per_bin, kg_per_bin = [], []
    for code, curve in enumerate(curves):
        bins, end_age = given.bins_given[:, :, code], given.age_at_month_end()
        at_end = curve.in_use_share(end_age, given.entry_months) * (end_age > 0)
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


def sums_of_areas(
    given: Cohorts,
    sums: Sums,
    route_shares: NDArray[np.float64],
    year: slice,
    leaks: Leakage,
    landfilled_share: float,
) -> OfAreas:
    """Sum a year by area over months and dwellings."""
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
        residual += own * route_shares[:, :, code, RESIDUAL_BIN]
        to_date += kilograms[0].sum(axis=0) @ bins
    kept_out = leaks.kept_out_kg(fed, residual, landfilled_share)
    return OfAreas(in_use, fed, kept_out, residual, to_date)


def _share_by_cohort(given: Cohorts, capacity: FeedShare, draws: int) -> NDArray[np.float64]:
    """Share of the full feed in each month of each cohort, shape (draws, months, cohorts)."""
    age = given.age_in_month()
    month = np.broadcast_to(given.calendar_months[:, None], age.shape)
    there = given.exposure() > 0
    share = np.zeros((draws, *age.shape))
    share[:, there] = capacity(age[there], month[there])
    return share
