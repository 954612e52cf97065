"""From what was counted and measured to the activity that the emissions follow from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.emissions import Activity, Supplies
from planner.tables import PRIOR_SHARES
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.diversion.measured import Diversion
    from planner.program import BinModel, Program

RESIDUAL, GARDEN, KERBSIDE = (
    PRIOR_SHARES.index(f"prior_{route}_share")
    for route in ("residual_bin", "garden_compost", "kerbside_organics")
)


def activity_of(
    diversion: Diversion, supplies: pl.DataFrame, program: Program, from_date: dt.date
) -> Activity:
    """Arrange a year's estimates by month for the emissions account.

    Parameters
    ----------
    diversion
        Scraps by month, area and route.
    supplies
        Query supplies_by_month.
    program
        Bin models and the landfilled share of residual waste are used.
    from_date
        First day of the reporting year.
    """
    routes = diversion.fed_by_route_kg
    landfilled = program.landfill.landfilled_share_of_residual_waste
    months = diversion.cohorts.months
    return Activity(
        kept_out_kg=diversion.kept_out_kg.sum(axis=1),
        fed_kg=diversion.fed_kg.sum(axis=1),
        treated_kg=routes[:, RESIDUAL] * (1.0 - landfilled),
        kerbside_kg=routes[:, KERBSIDE],
        garden_compost_kg=routes[:, GARDEN],
        dropped_out_kg=_dropped_out_kg(diversion),
        collected_kg=routes[:, RESIDUAL] + routes[:, KERBSIDE],
        landfilled_share_of_residual_waste=landfilled,
        supplies=arrange_supplies(supplies, program.bin_models, months),
        year_months=diversion.cohorts.months_from(from_date),
    )


def arrange_supplies(
    supplies: pl.DataFrame, models: Sequence[BinModel], months: Sequence[dt.date]
) -> Supplies:
    """Arrange what was given out by model and month.

    Bins of a model that the program file does not name are counted with the first model.
    """
    place = {model.model_id: row for row, model in enumerate(models)}
    column = {month: number for number, month in enumerate(months)}
    within = supplies.filter(pl.col("supply_month").is_in(list(months)))
    rows = np.array([place.get(name, 0) for name in within["model_id"]], dtype=np.int64)
    columns = np.array([column[month] for month in within["supply_month"]], dtype=np.int64)

    def by_month(values: pl.Series) -> NDArray[np.float64]:
        total = np.zeros((len(models), len(months)))
        np.add.at(total, (rows, columns), values.to_numpy().astype(np.float64))
        return total

    given = by_month(within["bins_given"])
    return Supplies(
        bins_given=given,
        bins_made=given - by_month(within["reissued_count"]),
        plastic_kg=np.array([model.plastic_kg for model in models]),
        plastic_recycled_share=np.array([model.plastic_recycled_share for model in models]),
        service_life_months=np.array(
            [model.service_life_years * MONTHS_PER_YEAR for model in models]
        ),
        bedding_kg=by_month(within["bedding_kg"]).sum(axis=0),
        worms_kg=by_month(within["worms_kg"]).sum(axis=0),
    )


def _dropped_out_kg(diversion: Diversion) -> NDArray[np.float64]:
    """Scraps that bins out of use would have kept out at the rate of those in use."""
    cohorts = diversion.cohorts
    begun = cohorts.bins_given.sum(axis=(1, 2))
    all_weeks = cohorts.exposure() @ begun * cohorts.weeks
    in_use_weeks = diversion.in_use_bin_weeks.sum(axis=1)
    more = np.divide(
        all_weeks, in_use_weeks, out=np.ones_like(in_use_weeks), where=in_use_weeks > 0.0
    )
    return np.asarray(diversion.kept_out_kg.sum(axis=1) * (more - 1.0))
