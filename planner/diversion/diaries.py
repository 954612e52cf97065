"""Weighed weeks: those that calibrate reports, and those that tell feed level and season."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers, numbers_of, places_of
from planner.diversion.benchmark import YOUNG_MONTHS
from planner.diversion.season import WeighedWeeks
from planner.survey.feed import reports_of
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_MONTH, DAYS_PER_WEEK

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.diversion.benchmark import Benchmark
    from planner.diversion.feed_share import FeedShare
    from planner.diversion.groups import DwellingEstimates
    from planner.survey.feed import Calibration

LEAST_HOUSEHOLDS = 10
"""Fewest diary households without a nearby answer from which a level is taken."""

SELECTION_SPREAD = 0.1
"""Households that weigh but do not answer may feed more or less than others in use: standard
deviation over mean (assumed, no source)."""


@dataclass(frozen=True)
class DiaryLevel:
    """Feed of diary households without a nearby answer, beside what the survey says of them."""

    # shape (1 + draws_count,): weighed over surveyed feed of these households; all 1 where they are
    # fewer than ten
    ratio: Numbers
    # shape (1 + draws_count,): what the surveyed level is multiplied by
    factor: Numbers
    weight: float  # share of the level that these households decide, in logarithms
    # these households, and their weeks
    households_count: int
    weeks_count: int
    # weeks near an answer, which calibrate reports; weeks of settled bins of households with two or
    # more, which inform the season
    calibrating_weeks_count: int
    season_weeks_count: int


def settled_weeks(
    weeks: pl.DataFrame, estimates: DwellingEstimates, feed_share: FeedShare
) -> WeighedWeeks:
    """Take the weeks of settled bins, beside what the model gives a bin in use in them.

    Young bins are left out: an error of the run-in would look like a season.
    """
    settled = weeks.filter(pl.col("age_days") / DAYS_PER_MONTH >= YOUNG_MONTHS)
    return WeighedWeeks(
        household=numbers_of(settled["household_id"]),
        days=_middles(settled),
        weighed_kg=settled["fed_kg"].to_numpy(),
        modelled_kg=_modelled_kg(settled, estimates, feed_share)[0],
    )


def fit_level(
    weeks: pl.DataFrame,
    estimates: DwellingEstimates,
    feed_share: FeedShare,
    levels: Benchmark,
    survey_variance: float,
    rng: np.random.Generator,
) -> DiaryLevel:
    """Join the level of weighed households that no answer is near with the surveyed level.

    Two estimates of one level: reports calibrated on the weeks near them, and the weighed
    weeks of other households in use, each over what the model and the surveyed level say
    of that household in that week. They are joined by the inverse of their variances; that
    of the second holds a stated spread for who weighs, and where the two lie farther apart
    than chance puts them, both take on what lies between.

    Parameters
    ----------
    estimates, feed_share, levels
        The survey's model: feed, share taken, and the level of each day.
    survey_variance
        Of the logarithm of the surveyed level, see `survey_variance`.

    References
    ----------
    Cochran, W.G. (1977), Sampling Techniques, 3rd ed., section 12.11 (joining two samples
    by variance). DerSimonian, R. and Laird, N. (1986), Controlled Clinical Trials 7,
    177-188 (variance between). Rubin, D.B. (1981), Annals of Statistics 9, 130-134
    (Bayesian bootstrap).
    """
    others = weeks.filter(~pl.col("is_calibrating").any().over("household_id"))
    household = numbers_of(others["household_id"])
    count = int(household.max()) + 1 if household.size else 0
    rows = levels.ratios.shape[0]
    counts = (count, others.height, int(weeks["is_calibrating"].sum()), _season_count(weeks))
    if count < LEAST_HOUSEHOLDS or others["fed_kg"].sum() <= 0.0:
        return DiaryLevel(np.ones(rows), np.ones(rows), 0.0, *counts)
    modelled = _modelled_kg(others, estimates, feed_share) * levels.at(_middles(others))
    # a mean a household: those with many weeks are not more households
    mean = np.eye(count)[household] / np.bincount(household)[household][:, None]
    drawn = np.vstack([np.ones(count), rng.exponential(size=(rows - 1, count))])
    surveyed = modelled @ mean
    weighed = drawn @ (others["fed_kg"].to_numpy() @ mean)
    apart = np.log(weighed / (drawn * surveyed).sum(axis=1))
    left = (others["fed_kg"].to_numpy() @ mean) / surveyed[0].sum()
    left = left - np.exp(apart[0]) * surveyed[0] / surveyed[0].sum()
    of_diaries = float(left @ left) / np.exp(2.0 * apart[0]) + SELECTION_SPREAD**2
    between = max(0.0, (float(apart[0]) ** 2 - survey_variance - of_diaries) / 2.0)
    weight = float((survey_variance + between) / (survey_variance + of_diaries + 2.0 * between))
    spread = weight**2 * (SELECTION_SPREAD**2 + between) + (1.0 - weight) ** 2 * between
    noise = np.sqrt(spread) * np.concatenate([[0.0], rng.standard_normal(rows - 1)])
    return DiaryLevel(np.exp(apart), np.exp(weight * apart + noise), weight, *counts)


def survey_variance(
    pairs: pl.DataFrame,
    calibration: Calibration,
    levels: Benchmark,
    published: Sequence[float],
) -> float:
    """Variance of the logarithm of the surveyed level, from records and not from draws.

    That of the rounds together, and that of what reports weigh: the residuals of the diary
    pairs, or the stated spread of the published factors where these stand in.

    Parameters
    ----------
    calibration, levels
        What reports weigh; the rounds with their standard errors.
    published
        Relative spreads of the factors that stand in for pairs.
    """
    of_rounds = 1.0 / float((1.0 / levels.standard_errors**2).sum())
    if "own weighings" in (calibration.of_kg.basis, calibration.of_litres.basis):
        expected = calibration.central_kg(reports_of(pairs.with_columns(is_in_use=pl.lit(True))))
        left = pairs["weighed_kg_per_week"].to_numpy() - expected
        return of_rounds + float(left @ left) / float(expected.sum()) ** 2
    return of_rounds + sum(spread**2 for spread in published)


def _season_count(weeks: pl.DataFrame) -> int:
    """Weeks of settled bins of households that weighed two or more."""
    settled = weeks.filter(pl.col("age_days") / DAYS_PER_MONTH >= YOUNG_MONTHS)
    return settled.filter(pl.len().over("household_id") > 1).height


def _middles(weeks: pl.DataFrame) -> Numbers:
    """Ordinals of the middles of weeks."""
    starts = [day.toordinal() for day in weeks["week_start_date"]]
    return np.array(starts, dtype=float) + DAYS_PER_WEEK / 2.0


def _modelled_kg(
    weeks: pl.DataFrame, estimates: DwellingEstimates, feed_share: FeedShare
) -> Numbers:
    """Kilograms that the model gives a bin in use in each week, shape (draws, weeks)."""
    # ages to half a month, as in the benchmark: the stock model runs once a cell
    cells = weeks.select(
        age=((pl.col("age_days") + DAYS_PER_WEEK / 2.0) / DAYS_PER_MONTH * 2.0).round() / 2.0,
        month=pl.col("week_start_date").dt.month().cast(pl.Int64) - 1,
    )
    feed = estimates.kg_per_in_use_bin_week[:, places_of(weeks["dwelling"], DWELLINGS)]
    return feed * feed_share(cells["age"].to_numpy(), cells["month"].to_numpy())
