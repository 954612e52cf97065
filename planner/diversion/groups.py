"""Estimates by dwelling where the answers suffice, pooled where they do not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError
from planner.survey.feed import Calibration, reports_of, weekly_feed
from planner.survey.retention import ObservedShares, observed_shares
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_MONTH

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

    from planner.diversion.retained import DwellingRetention
    from planner.survey.retention import Retention

LEAST_ANSWERS_FOR_FEED = 30
"""A dwelling has its own feed with 30 in-use bins whose feed was answered."""


@dataclass(frozen=True)
class DwellingEstimates:
    """Retention and feed by dwelling, in the order of tables.DWELLINGS.

    Parameters
    ----------
    retained
        When bins stopped, by dwelling.
    observed
        Plain shares in use by age, to set beside the curve.
    kg_per_in_use_bin_week
        Shape (1 + draws_count, dwellings): feed at the time of the survey rounds [kg/week].
    pooled_kg_per_in_use_bin_week
        Shape (1 + draws_count,): the same over all answers [kg/week].
    household_feed_cv
        Standard deviation over mean of the feed that in-use households report.
    own_feed
        Dwellings whose own answers on feed sufficed.
    """

    retained: DwellingRetention
    observed: ObservedShares
    kg_per_in_use_bin_week: NDArray[np.float64]
    pooled_kg_per_in_use_bin_week: NDArray[np.float64]
    household_feed_cv: float
    own_feed: tuple[str, ...]

    @property
    def retention(self) -> tuple[Retention, ...]:
        """A curve for each dwelling."""
        return self.retained.curves

    @property
    def pooled_retention(self) -> Retention:
        """The curve over all households."""
        return self.retained.pooled


def dwelling_estimates(
    answers: pl.DataFrame,
    weights: NDArray[np.float64],
    calibration: Calibration,
    retained: DwellingRetention,
) -> DwellingEstimates:
    """Estimate feed for each dwelling, beside its retention.

    Parameters
    ----------
    answers
        Query followup_answers, all rounds.
    weights
        Shape (1 + draws_count, answers).
    calibration
        What reports weigh.
    retained
        When bins stopped, by dwelling.

    Raises
    ------
    EstimateError
        No in-use bin has an answer on feed.
    """
    age_months = answers["age_days"].to_numpy() / DAYS_PER_MONTH
    in_use = answers["is_in_use"].to_numpy()
    has_feed = (
        in_use
        & (
            answers["fed_kg_last_week"].is_not_null()
            | answers["fed_litres_last_week"].is_not_null()
        ).to_numpy()
    )
    if not has_feed.any():
        message = (
            "no in-use bin has an answer on feed (fed_kg_last_week or fed_litres_last_week); "
            "load a follow-up round that asks for it"
        )
        raise EstimateError(message)
    members = {name: (answers["dwelling"] == name).to_numpy() for name in DWELLINGS}
    own_feed = tuple(
        name for name, chosen in members.items() if has_feed[chosen].sum() >= LEAST_ANSWERS_FOR_FEED
    )
    pooled_feed = weekly_feed(answers, weights, calibration).kg_per_in_use_bin_week
    feeds = [
        weekly_feed(answers.filter(chosen), weights[:, chosen], calibration).kg_per_in_use_bin_week
        if name in own_feed
        else pooled_feed
        for name, chosen in members.items()
    ]
    return DwellingEstimates(
        retained=retained,
        observed=observed_shares(age_months, in_use, weights),
        kg_per_in_use_bin_week=np.stack(feeds, axis=1),
        pooled_kg_per_in_use_bin_week=pooled_feed,
        household_feed_cv=_feed_cv(answers, weights[0], calibration),
        own_feed=own_feed,
    )


def _feed_cv(
    answers: pl.DataFrame, weights: NDArray[np.float64], calibration: Calibration
) -> float:
    fed = calibration.central_kg(reports_of(answers))
    some = fed > 0
    if not some.any():
        return 0.0
    mean = np.average(fed[some], weights=weights[some])
    variance = np.average((fed[some] - mean) ** 2, weights=weights[some])
    return float(np.sqrt(variance) / mean)
