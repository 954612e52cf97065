"""Share of a household's full feed that its bin's worms can take, by age and month."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Integers, Numbers
from planner.worms.run_in import run_in
from planner.worms.temperature import TemperaturePoints, bed_temperature_c, season

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.program import BinModel

FACTOR_IDS = (
    "doubling_days",
    "ceiling_kg_per_m2",
    "feed_kg_per_kg_day",
    "startup_share",
    "starter_kg",
    "bed_above_air_c",
    "least_appetite_share",
    "feeding_lowest_c",
    "feeding_optimum_low_c",
    "feeding_optimum_high_c",
    "feeding_highest_c",
)
"""Factors of the worm tables that the share rests on."""


@dataclass(frozen=True)
class FeedShare:
    """The stock's capacity over what the household would feed, at most 1.

    Run-in and season limit the same thing, what the stock can take, so they multiply the
    capacity and not the feed: a grown stock at half its appetite may still take all.
    """

    starter_kg: Numbers  # shape (1 + draws_count,): mean worms given with a bin [kg]
    tray_area_m2: float  # mean over the bins given [m²]
    # shape (1 + draws_count,): surveyed feed of an in-use bin [kg/week]
    demand_kg_per_week: Numbers
    # draws of the factors named in FACTOR_IDS, each of shape (1 + draws_count,)
    worms: Mapping[str, Numbers]
    # shape (1 + draws_count, 12): share of appetite in each calendar month
    season_share: Numbers
    # bins younger than this take the share times a ratio of shape (1 + draws_count,), where answers
    # have told one; none is scaled otherwise
    young_months: float = 0.0
    young_ratio: Numbers | None = None

    def __call__(self, age_months: Numbers, calendar_month: Integers) -> Numbers:
        """Share for each age [months] and calendar month (0 for January).

        Returns
        -------
        ndarray
            Shape (1 + draws_count, n).
        """
        # cohorts repeat the same ages, and the stock model is by far the slowest part
        ages, place = np.unique(age_months, return_inverse=True)
        share = np.empty((self.demand_kg_per_week.size, age_months.size))
        column = {name: draws[:, None] for name, draws in self.worms.items()}
        for month in np.unique(calendar_month):
            taken = run_in(
                ages[None, :],
                self.starter_kg[:, None],
                self.demand_kg_per_week[:, None],
                self.tray_area_m2,
                column["doubling_days"],
                column["ceiling_kg_per_m2"],
                column["feed_kg_per_kg_day"],
                column["startup_share"],
                appetite_share=self.season_share[:, [month]],
            )
            chosen = calendar_month == month
            share[:, chosen] = taken[:, place[chosen]]
        # a ratio above 1 cannot make a bin take more than its household feeds it
        if self.young_ratio is not None:
            is_young = age_months < self.young_months
            share[:, is_young] = np.minimum(1.0, share[:, is_young] * self.young_ratio[:, None])
        return share


def feed_share(
    handovers: pl.DataFrame,
    bin_models: Sequence[BinModel],
    monthly_mean_temperature_c: Sequence[float],
    demand_kg_per_week: Numbers,
    worms: Mapping[str, Numbers],
) -> FeedShare:
    """Set up the share from the bins given and the council's climate.

    Parameters
    ----------
    handovers
        Query handovers_by_month: model_id, bins_given, worms_kg.
    demand_kg_per_week
        Shape (1 + draws_count,).

    Notes
    -----
    A bin stands sheltered and warms itself, so its bed is bed_above_air_c warmer than the
    air, but no warmer on that account than the lower end of the worms' best range. Nor does
    appetite count as less than least_appetite_share: bins are taken indoors and households
    go on feeding, and a month in which the model saw almost nothing could not be set
    against what a survey round reports. Bins recorded with no worms count as given the
    published starter.
    """
    bins = handovers["bins_given"].to_numpy()
    area = {model.model_id: model.tray_area_m2 for model in bin_models}
    areas = handovers["model_id"].replace_strict(area, return_dtype=pl.Float64).to_numpy()
    air = np.asarray(monthly_mean_temperature_c, dtype=float)[None, :]
    bed = bed_temperature_c(
        air, worms["bed_above_air_c"][:, None], worms["feeding_optimum_low_c"][:, None]
    )
    seasonal = season(bed, TemperaturePoints.of(worms))
    return FeedShare(
        _starter_kg(handovers, worms["starter_kg"]),
        float(np.average(areas, weights=bins)),
        demand_kg_per_week,
        {name: worms[name] for name in FACTOR_IDS},
        np.maximum(seasonal, worms["least_appetite_share"][:, None]),
    )


def _starter_kg(handovers: pl.DataFrame, published: Numbers) -> Numbers:
    """Mean worms of the bins recorded with any; the published starter where none is."""
    count = int(handovers["starters_count"].sum())
    if count == 0:
        return published
    return np.full(published.size, handovers["worms_kg"].sum() / count)
