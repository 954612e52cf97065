"""Retention by dwelling, partially pooled so that dwellings add up to the town, and its check."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from planner.survey.interval_likelihood import Intervals
from planner.survey.retention import TownCurve
from planner.survey.retention_check import CurveCheck, check_curve
from planner.survey.stopping_season import SeasonBelief, entry_months
from planner.survey.turnbull import Turnbull, fit_turnbull
from planner.survey.use_intervals import stopping_ages
from planner.survey.weibull import fit_groups
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

    from planner.survey.retention import Retention

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
    town
        Curves of the dwellings, with the share of each among the households; the town's is
        what they make together.
    spread
        Standard deviation of the log hazard ratios between dwellings.
    season
        Seasons of giving up that the answers leave possible.
    seen
        When each household's bin stopped, as far as it is known.
    on_clock
        The same on the clock of the season of the central curve, if it has one.
    weights
        Shape (1 + at most 200, households).
    """

    town: TownCurve
    spread: float
    season: SeasonBelief
    seen: Intervals
    on_clock: Intervals | None
    weights: NDArray[np.float64]

    @property
    def curves(self) -> tuple[Retention, ...]:
        """A curve for each dwelling."""
        return self.town.curves

    @cached_property
    def nonparametric(self) -> Turnbull:
        """Turnbull's curve over all households, with at most 200 replicates."""
        return fit_turnbull(_by_month_if_many(self.seen), self.weights)

    @cached_property
    def check(self) -> CurveCheck:
        """The town's curve against it, in a season of giving up both on its clock.

        By plain age old bins are those of some months of hand-over alone, and with a season
        these are not like the others.
        """
        town = self.town.first(CHECK_ROWS)
        if self.on_clock is None:
            return check_curve(self.nonparametric, town)
        free = fit_turnbull(_by_month_if_many(_to_tenths(self.on_clock)), self.weights)
        even = tuple(replace(curve, season_of_row=None) for curve in town.curves)
        return check_curve(free, replace(town, curves=even))


def _by_month_if_many(seen: Intervals) -> Intervals:
    """Widen intervals to whole months where there are many: true still, if less exact."""
    if seen.lower.size <= MONTHLY_FROM_COUNT:
        return seen
    return Intervals(np.floor(seen.lower), np.ceil(seen.upper))


def _to_tenths(seen: Intervals) -> Intervals:
    """Widen intervals to tenths of a month, as every bin has ages of its own on a clock."""
    exact = seen.is_exact
    lower = np.where(
        exact, np.maximum(np.round(seen.lower, 1), 0.1), np.floor(seen.lower * 10) / 10
    )
    return Intervals(lower, np.where(exact, lower, np.ceil(seen.upper * 10) / 10))


def dwelling_retention(
    households: pl.DataFrame, weights: NDArray[np.float64], rng: np.random.Generator
) -> DwellingRetention:
    """Fit when bins stopped, for each dwelling, and so for all.

    Dwellings share the shape of the curve and their hazards are partially pooled, see
    `planner.survey.weibull.fit_groups`.

    Parameters
    ----------
    households
        Rows of query use_intervals that have a weight.
    weights
        Shape (1 + draws_count, households).
    rng
        Draws the beliefs of the curves, and what chance there was in which bins came back.

    Raises
    ------
    EstimateError
        There is no household, or all answers are of the day of the hand-over.
    """
    seen = stopping_ages(households)
    weights = _with_chance_of_coming_back(households, weights, rng)
    member = np.stack([(households["dwelling"] == name).to_numpy() for name in DWELLINGS], axis=1)
    entry = entry_months(households["entry_date"].dt.ordinal_day().to_numpy())
    fitted = fit_groups(
        seen,
        member.argmax(axis=1),
        len(DWELLINGS),
        weights,
        rng,
        entry,
    )
    central = fitted.season.seasons[fitted.season.central]
    shares = weights @ member.astype(float)
    return DwellingRetention(
        town=TownCurve(fitted.curves, shares / shares.sum(axis=1, keepdims=True)),
        spread=fitted.spread,
        season=fitted.season,
        seen=seen,
        on_clock=central.on_clock(seen, entry) if central.swing else None,
        weights=weights[:CHECK_ROWS],
    )


def _with_chance_of_coming_back(
    households: pl.DataFrame, weights: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.float64]:
    """Let replicates of the weights of bins that came back vary, as those of other bins do.

    How many came back is on record, so a round's weights hold it fixed. For the curve, which
    speaks of bins at ages they have not reached and of those given later, it was chance how
    many came back, at what age, and which of them were drawn. Rubin's (1981) Bayesian
    bootstrap, as in `planner.survey.replicates.GammaStrata`, but not divided by the
    mean: their number is free.
    """
    back = households["is_given_back"].to_numpy()
    varied = weights.copy()
    varied[1:, back] *= rng.exponential(size=(weights.shape[0] - 1, int(back.sum())))
    return varied
