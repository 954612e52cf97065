"""Run-in fitted to the answers: what young bins take against settled ones, where answers say."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.diversion.benchmark import modelled_kg, reported_kg
from planner.units import DAYS_PER_MONTH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.diversion.feed_share import FeedShare
    from planner.diversion.groups import DwellingEstimates
    from planner.survey.feed import Calibration
    from planner.survey.weights import WaveWeights

YOUNG_MONTHS = 3.0
"""Bins younger than this are running in: the start-up weeks and the first growth."""

LEAST_ANSWERS = 40
"""Young and settled bins in use of whom so many must have told what they fed."""


@dataclass(frozen=True)
class RunInFit:
    """Feed of young bins over what the model gives them, set against settled bins.

    Parameters
    ----------
    ratio
        Shape (1 + draws_count,): 1 where the published run-in fits; all 1 where too few
        answers say.
    young_count, settled_count
        Answers that it rests on.
    """

    ratio: NDArray[np.float64]
    young_count: int
    settled_count: int

    @property
    def is_known(self) -> bool:
        """Whether there were answers enough to tell; the model's run-in is then scaled by it."""
        return min(self.young_count, self.settled_count) >= LEAST_ANSWERS

    def of(self, feed_share: FeedShare) -> FeedShare:
        """Scale the share that young bins take, where enough answers say so.

        Whether the ratio differs clearly from 1 is not asked: a rule that looked at that
        would make the interval narrower with fewer answers.
        """
        if not self.is_known:
            return feed_share
        return replace(feed_share, young_months=YOUNG_MONTHS, young_ratio=self.ratio)


def fit_run_in(
    answers: pl.DataFrame,
    waves: Sequence[WaveWeights],
    calibration: Calibration,
    estimates: DwellingEstimates,
    feed_share: FeedShare,
) -> RunInFit:
    """Compare young with settled bins of the same survey rounds.

    Within a round season and wording are the same for both, so what the settled bins
    report over the model is taken out of what the young ones do. The ratio is that of all
    rounds together in which both answered.

    Parameters
    ----------
    answers
        Query followup_answers, all rounds.
    waves
        Weights of each follow-up round.
    calibration, estimates, feed_share
        As for `planner.diversion.benchmark.benchmark`.

    Notes
    -----
    ``sum_w reported_young,w / sum_w modelled_young,w (reported / modelled)_settled,w``.
    """
    above = below = np.zeros(feed_share.demand_kg_per_week.size)
    counts = np.zeros(2, dtype=int)
    for wave in waves:
        own = answers.filter(pl.col("wave_id") == wave.wave_id)
        is_young = (own["age_days"] / DAYS_PER_MONTH < YOUNG_MONTHS).to_numpy()
        told = _told(own)
        if min((told & is_young).sum(), (told & ~is_young).sum()) == 0:
            continue
        pair = []
        for chosen in (is_young, ~is_young):
            part = own.filter(chosen)
            weights = wave.of(part["household_id"])
            reported = reported_kg(part, weights, calibration, estimates)
            pair.append((reported, modelled_kg(part, weights, estimates, feed_share)))
        (young, expected), (settled, modelled) = pair
        if modelled.min() <= 0.0 or expected.min() <= 0.0:
            continue
        above = above + young
        below = below + expected * settled / modelled
        counts += [(told & is_young).sum(), (told & ~is_young).sum()]
    young_count, settled_count = (int(count) for count in counts)
    if counts.min() < LEAST_ANSWERS or below.min() <= 0.0:
        return RunInFit(np.ones_like(below), 0, 0)
    return RunInFit(above / below, young_count, settled_count)


def _told(own: pl.DataFrame) -> NDArray[np.bool_]:
    """Whether each answer tells what a bin in use was fed."""
    told = own.select(
        pl.col("is_in_use").fill_null(value=False)
        & (pl.col("fed_kg_last_week").is_not_null() | pl.col("fed_litres_last_week").is_not_null())
    )
    return told.to_series().to_numpy()
