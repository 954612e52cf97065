"""Retention by dwelling where the answers suffice, pooled where they do not, and its check."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from planner.survey.interval_likelihood import Intervals
from planner.survey.retention_check import CurveCheck, check_curve
from planner.survey.turnbull import Turnbull, fit_turnbull
from planner.survey.use_intervals import stopping_ages
from planner.survey.weibull import choose_knots, fit_weibull
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

    from planner.survey.retention import Retention

LEAST_ANSWERS_FOR_RETENTION = 50
LEAST_OF_EACH_STATE = 5
"""A dwelling has its own retention with 50 answers, five in use and five out of use."""

CHECK_ROWS = 1 + 200
"""Replicates of the curve without a formula: its interval is read to a twentieth or so."""


MONTHLY_FROM_COUNT = 1500
"""With more households the curve without a formula takes ages by whole months: to the day
it would carry hundreds of steps, each of them uncertain, and take minutes."""


@dataclass(frozen=True)
class DwellingRetention:
    """Retention curves by dwelling, in the order of tables.DWELLINGS.

    Parameters
    ----------
    curves
        A curve for each dwelling; the pooled one where its answers do not suffice.
    pooled
        The curve over all households.
    own
        Dwellings whose own answers sufficed.
    seen
        When each household's bin stopped, as far as it is known.
    weights
        Shape (1 + at most 200, households).
    """

    curves: tuple[Retention, ...]
    pooled: Retention
    own: tuple[str, ...]
    seen: Intervals
    weights: NDArray[np.float64]

    @cached_property
    def nonparametric(self) -> Turnbull:
        """Turnbull's curve over all households, with at most 200 replicates."""
        return fit_turnbull(_by_month_if_many(self.seen), self.weights)

    @cached_property
    def check(self) -> CurveCheck:
        """The pooled curve against it."""
        return check_curve(self.nonparametric, self.pooled.first(CHECK_ROWS))


def _by_month_if_many(seen: Intervals) -> Intervals:
    """Widen intervals to whole months where there are many: true still, if less exact."""
    if seen.lower.size <= MONTHLY_FROM_COUNT:
        return seen
    return Intervals(np.floor(seen.lower), np.ceil(seen.upper))


def dwelling_retention(
    households: pl.DataFrame, weights: NDArray[np.float64], rng: np.random.Generator
) -> DwellingRetention:
    """Fit when bins stopped, for each dwelling and for all.

    Parameters
    ----------
    households
        Rows of query use_intervals that have a weight.
    weights
        Shape (1 + draws_count, households).
    rng
        Draws the belief of the curves.

    Raises
    ------
    EstimateError
        There is no household, or all answers are of the day of the hand-over.
    """
    seen = stopping_ages(households)
    members = {name: (households["dwelling"] == name).to_numpy() for name in DWELLINGS}
    own = tuple(name for name, chosen in members.items() if _suffices(seen.of(chosen)))
    pooled = _curve(seen, weights, rng)
    return DwellingRetention(
        curves=tuple(
            _curve(seen.of(chosen), weights[:, chosen], rng) if name in own else pooled
            for name, chosen in members.items()
        ),
        pooled=pooled,
        own=own,
        seen=seen,
        weights=weights[:CHECK_ROWS],
    )


def _curve(seen: Intervals, weights: NDArray[np.float64], rng: np.random.Generator) -> Retention:
    return fit_weibull(seen, weights, rng, choose_knots(seen, weights[0]))


def _suffices(seen: Intervals) -> bool:
    stopped = int(np.isfinite(seen.upper).sum())
    count = seen.upper.size
    return (
        count >= LEAST_ANSWERS_FOR_RETENTION
        and min(stopped, count - stopped) >= LEAST_OF_EACH_STATE
    )
