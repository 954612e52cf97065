"""From what was counted and measured to the activity that the emissions follow from."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers, quotient
from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.diversion.leakage import FACTOR_IDS as LEAKS
from planner.emissions.activity import Activity, Supplies
from planner.program import Program, label_of_date
from planner.tables import PRIOR_SHARES

if TYPE_CHECKING:
    from planner.diversion.measured import Diversion
    from planner.report.year import Year

RESIDUAL, GARDEN, KERBSIDE = (
    PRIOR_SHARES.index(f"prior_{route}_share")
    for route in ("residual_bin", "garden_compost", "kerbside_organics")
)


def activity_of(
    diversion: Diversion, supplies: pl.DataFrame, program: Program, from_date: dt.date
) -> Activity:
    """Arrange a year's estimates by month for the account, with query supplies_by_month."""
    routes = diversion.fed_by_route_kg
    residual = diversion.leakage.kept_out_kg(diversion.fed_kg, routes[:, RESIDUAL], 1.0)
    landfilled = program.landfill.landfilled_share_of_residual_waste
    months = diversion.cohorts.months
    return Activity(
        kept_out_kg=diversion.kept_out_kg,
        fed_kg=diversion.fed_kg,
        treated_kg=residual * (1.0 - landfilled),
        kerbside_kg=routes[:, KERBSIDE],
        garden_compost_kg=routes[:, GARDEN],
        dropped_out_kg=_dropped_out_kg(diversion),
        collected_kg=residual + routes[:, KERBSIDE],
        supplies=arrange_supplies(supplies, program, months),
        year_months=diversion.cohorts.months_from(from_date),
    )


def with_most_leakage(year: Year) -> Activity:
    """Take the year's activity with both leaks, where they are assumed, at their upper ends."""
    leaks, diversion = year.diversion.leakage, year.diversion
    highest = {f.factor_id: f.limits[1] for f in year.feed_factors if f.factor_id in LEAKS}

    def at_most(factor_id: str, share: Numbers) -> Numbers:
        is_stated = getattr(year.program.leakage, factor_id) is not None
        is_assumed = not is_stated and not leaks.is_surveyed(factor_id)
        return np.full_like(share, highest[factor_id]) if is_assumed else share

    most = replace(
        leaks,
        composted_anyway_share=at_most(ANYWAY, leaks.composted_anyway_share),
        thrown_away_share=at_most(THROWN_AWAY, leaks.thrown_away_share),
    )
    kept_out_kg = most.kept_out_kg(
        diversion.fed_kg,
        diversion.from_residual_bin_kg,
        year.program.landfill.landfilled_share_of_residual_waste,
    )
    return replace(year.activity, kept_out_kg=kept_out_kg)


def arrange_supplies(
    supplies: pl.DataFrame, program: Program, months: Sequence[dt.date]
) -> Supplies:
    """Arrange what was given out (query supplies_by_month) by model and reporting year.

    Bins of a model that the program file does not name are counted with the first model.
    Where some model and year have fewer bins than the small-cell threshold, every count is
    raised to a whole multiple of it, with what was given along: from the account nobody can
    then reckon a count that is not shown, and it errs against the program. The `months` are those
    of the account, by their first days, in order.
    """
    models, first_month = program.bin_models, program.council.reporting_year_first_month
    labels = list(dict.fromkeys(label_of_date(month, first_month) for month in months))
    place = {model.model_id: row for row, model in enumerate(models)}
    rows = np.array([place.get(name, 0) for name in supplies["model_id"]], dtype=np.int64)
    columns = np.array(
        [labels.index(label_of_date(month, first_month)) for month in supplies["supply_month"]],
        dtype=np.int64,
    )

    def by_year(values: pl.Series) -> Numbers:
        total = np.zeros((len(models), len(labels)))
        np.add.at(total, (rows, columns), values.to_numpy().astype(np.float64))
        return total

    given = by_year(supplies["bins_given"])
    raised = _raised(given, program.privacy.small_cell_threshold)
    return Supplies(
        bins_given=given * raised,
        bins_made=(given - by_year(supplies["reissued_count"])).clip(0.0) * raised,
        plastic_kg=np.array([model.plastic_kg for model in models]),
        plastic_recycled_share=np.array([model.plastic_recycled_share for model in models]),
        service_life_years=np.array([model.service_life_years for model in models]),
        bedding_kg=(by_year(supplies["bedding_kg"]) * raised).sum(axis=0),
        worms_kg=(by_year(supplies["worms_kg"]) * raised).sum(axis=0),
    )


def _raised(given: Numbers, threshold: int) -> Numbers:
    """By how much counts are raised, 1 where none is small."""
    small = (given > 0.0) & (given < threshold)
    if not small.any():
        return np.ones_like(given)
    whole = np.ceil(given / threshold) * threshold
    return quotient(whole, given, otherwise=1.0)


def _dropped_out_kg(diversion: Diversion) -> Numbers:
    """Scraps that bins out of use would have kept out at the rate of those in use."""
    cohorts = diversion.cohorts
    begun = cohorts.bins_given.sum(axis=(1, 2))
    all_weeks = cohorts.exposure() @ begun * cohorts.weeks
    in_use_weeks = diversion.in_use_bin_weeks
    more = quotient(all_weeks, in_use_weeks, otherwise=1.0)
    return np.asarray(diversion.kept_out_kg * (more - 1.0))
