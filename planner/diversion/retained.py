"""Retention by dwelling, partially pooled so that dwellings add up to the town, and its check."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers, places_of
from planner.messages import paper
from planner.survey.interval_likelihood import Intervals
from planner.survey.retention import TownCurve
from planner.survey.row_weights import VariedWeights
from planner.survey.stopping_season import SeasonBelief, entry_months
from planner.survey.turnbull import Turnbull, fit_turnbull
from planner.survey.use_intervals import KnownHazards, stopping_ages
from planner.survey.weibull import fit_groups
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_MONTH, MONTHS_PER_YEAR

if TYPE_CHECKING:
    import datetime as dt

    from planner.survey.retention import Retention
    from planner.survey.row_weights import Weights


BAND_MONTHS = 6.0
CRITICAL_PERCENT = 95.0
NEGLIGIBLE_GAP = 0.02
"""A gap of two points of the share in use is no misfit, however sure one is of it."""

WIDEST_UNKNOWN = 0.1
"""A band in which the answers leave more than this of the share open is not compared."""


@dataclass(frozen=True)
class CurveCheck:
    """Mean share in use over bands of age: Turnbull's curve against the Weibull curve."""

    # shape (bands,): upper ends of the bands compared, each six months wide [months]
    to_months: Numbers
    # largest distance of the central Weibull share from Turnbull's bounds [share]
    greatest_gap: float
    statistic: float  # largest of these distances over its standard error
    # 95th percentile over the replicates of their own largest distance from the centre
    critical: float
    is_on_clock: bool = False  # whether ages are those on the clock of a season of giving up

    @property
    def is_negligible(self) -> bool:
        """Whether the gap is below two points: no misfit that matters."""
        return self.greatest_gap < NEGLIGIBLE_GAP

    @property
    def is_by_chance(self) -> bool:
        """Whether chance alone may bring the gap."""
        return self.statistic <= self.critical

    @property
    def sentence(self) -> str:
        """Say it in words; a gap of two points or more is never said to be none."""
        say = paper()
        if not self.to_months.size:
            return say.say("why.no_curve_check")
        found = "fits" if self.is_negligible else "by_chance" if self.is_by_chance else "strays"
        said = say.say(
            f"said.curve.{found}",
            points=say.number(100.0 * self.greatest_gap, 1),
            errors=say.number(self.statistic, 1),
            chance=say.number(self.critical, 1),
        )
        return f"{said} {say.say('said.curve.on_clock')}" if self.is_on_clock else said


def check_curve(turnbull: Turnbull, curve: TownCurve) -> CurveCheck:
    """Compare the mean share in use over each half-year of age.

    Means over a band are compared because Turnbull's curve at a single age converges too
    slowly for its replicates to show its error; areas under it do not. The statistic is the
    largest distance over its standard error over replicates. The curve is held to fit
    where that does not exceed the 95th percentile of the replicates' own largest distance
    about their centre, and is said to go through only where the gap is below two points.
    Bands that reach beyond the oldest age known, or that the answers leave open by more than
    ten points, are left out.

    Parameters
    ----------
    turnbull, curve
        Fitted to the same answers with the same rows of weights.

    References
    ----------
    Groeneboom, P. and Wellner, J.A. (1992), Information Bounds and Nonparametric Maximum
    Likelihood Estimation, chapter II.5 (points and areas). Westfall, P.H. and Young, S.S.
    (1993), Resampling-Based Multiple Testing, Wiley, chapter 2 (largest distance). The rules
    of two and ten points: common practice, no source.
    """
    oldest = turnbull.determined_ages().max(initial=0.0)
    ends = np.arange(0.0, oldest + 1e-9, BAND_MONTHS)
    means = [np.stack(turnbull.mean_bounds(float(end))) for end in ends]
    low, high = np.diff(np.stack(means, axis=-1), axis=-1) / BAND_MONTHS
    fitted = np.diff(curve.active_months(ends), axis=1) / BAND_MONTHS
    kept = high[0] - low[0] <= WIDEST_UNKNOWN
    low, high, fitted = low[:, kept], high[:, kept], fitted[:, kept]
    gap = fitted - (low + high) / 2.0
    outside = np.maximum(np.abs(gap[0]) - (high[0] - low[0]) / 2.0, 0.0)
    statistic, critical = _largest(gap, outside)
    return CurveCheck(ends[1:][kept], float(outside.max(initial=0.0)), statistic, critical)


def _largest(gap: Numbers, outside: Numbers) -> tuple[float, float]:
    """Largest distance over its standard error, and what chance brings."""
    away = np.abs(gap[1:] - gap[0])
    error = np.sqrt((away**2).sum(axis=0) / max(1, away.shape[0]))
    sure = error > 0.0
    if not sure.any():
        return 0.0, 0.0
    largest = (away[:, sure] / error[sure]).max(axis=1)
    return (
        float((outside[sure] / error[sure]).max()),
        float(np.percentile(largest, CRITICAL_PERCENT)),
    )


CHECK_ROWS = 1 + 200
"""Replicates of the curve without a formula: its interval is read to a twentieth or so."""


MONTHLY_FROM_COUNT = 1500
"""With more households the curve without a formula takes ages by whole months: to the day
it would carry hundreds of steps, each of them uncertain, and take minutes."""

YEARS_OF_AGE = range(1, 6)

LEAST_SHARE = 1e-12
"""Keeps the logarithm of a share in use finite."""


@dataclass(frozen=True)
class DwellingRetention:
    """Retention curves by dwelling, in the order of tables.DWELLINGS."""

    # curves of the dwellings, with the share of each among the households; the town's is what they
    # make together
    town: TownCurve
    spread: float  # standard deviation of the log hazard ratios between dwellings
    season: SeasonBelief  # seasons of giving up that the answers leave possible
    stop_intervals: Intervals  # when each household's bin stopped, as far as it is known
    # the same on the clock of the season of the central curve, if it has one
    on_clock: Intervals | None
    weights: VariedWeights  # shape (1 + at most 200, households)
    # how much is known of what happened to the town's bins up to the end of the year
    known: KnownHazards
    # share known of what happens to them up to one, two and more years of age
    known_by_year_of_age: tuple[float, ...]

    @property
    def curves(self) -> tuple[Retention, ...]:
        """A curve for each dwelling, of bins in general: also of those to come."""
        return self.town.curves

    @cached_property
    def of_town(self) -> tuple[Retention, ...]:
        """The same of the town's own bins up to the end of the year, of which part is known."""
        reach = float(np.sqrt(1.0 - self.known.share))
        return tuple(replace(curve, reach=reach) for curve in self.curves)

    def of_town_at(self, ages_months: Numbers) -> tuple[Retention, ...]:
        """Give the same for the town's own bins at these ages, which some have yet to reach."""
        ages = MONTHS_PER_YEAR * np.arange(1.0, 1.0 + len(self.known_by_year_of_age))
        reach = np.sqrt(1.0 - np.interp(ages_months, ages, self.known_by_year_of_age))
        return tuple(replace(curve, reach=reach) for curve in self.curves)

    @cached_property
    def nonparametric(self) -> Turnbull:
        """Turnbull's curve over all households, with at most 200 replicates."""
        return fit_turnbull(_by_month_if_many(self.stop_intervals), self.weights)

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
        return replace(check_curve(free, replace(town, curves=even)), is_on_clock=True)


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
    households: pl.DataFrame,
    weights: Weights,
    rng: np.random.Generator,
    before_date: dt.date,
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
    before_date
        The day after the year's last.

    Raises
    ------
    EstimateError
        There is no household, or all answers are of the day of the hand-over.
    """
    seen = stopping_ages(households)
    varied = _with_chance_of_coming_back(households, weights, rng)
    dwelling = places_of(households["dwelling"], DWELLINGS)
    entry = entry_months(households["entry_date"].dt.ordinal_day().to_numpy())
    fitted = fit_groups(seen, dwelling, len(DWELLINGS), varied, rng, entry)
    central = fitted.season.seasons[fitted.season.central]
    shares = varied.summed_by(dwelling, len(DWELLINGS))
    known = _known_hazards(households, seen, varied[0], fitted.curves, before_date)
    return DwellingRetention(
        town=TownCurve(fitted.curves, shares / shares.sum(axis=1, keepdims=True)),
        spread=fitted.spread,
        season=fitted.season,
        stop_intervals=seen,
        on_clock=central.on_clock(seen, entry) if central.swing else None,
        weights=varied[:CHECK_ROWS],
        known=known[0],
        known_by_year_of_age=tuple(one.share for one in known[1:]),
    )


def _known_hazards(
    households: pl.DataFrame,
    seen: Intervals,
    weights: Numbers,
    curves: tuple[Retention, ...],
    before_date: dt.date,
) -> list[KnownHazards]:
    """Say what is known up to the year's end, then up to each year of age."""
    has_stopped = np.isfinite(seen.upper)
    last = np.where(has_stopped, (seen.lower + seen.upper) / 2.0, seen.lower)
    at_year_end = (pl.lit(before_date) - pl.col("entry_date")).dt.total_days() / DAYS_PER_MONTH
    ends = [
        households.select(at_year_end).to_series().to_numpy(),
        *(np.full(last.size, float(MONTHS_PER_YEAR * year)) for year in YEARS_OF_AGE),
    ]
    known = cumulative_hazard(households, last, curves)
    return [
        KnownHazards(known, cumulative_hazard(households, end, curves), has_stopped, weights)
        for end in ends
    ]


def cumulative_hazard(
    households: pl.DataFrame, age_months: Numbers, curves: tuple[Retention, ...]
) -> Numbers:
    """Cumulative hazard of the central curves at an age of each household's bin.

    Parameters
    ----------
    households
        Rows of query use_intervals.
    age_months
        Shape (households,) [months].
    curves
        By dwelling, in the order of tables.DWELLINGS.
    """
    share = np.ones(households.height)
    dwelling = places_of(households["dwelling"], DWELLINGS)
    entry = entry_months(households["entry_date"].dt.ordinal_day().to_numpy())
    for code, curve in enumerate(curves):
        own = dwelling == code
        share[own] = curve.first(1).in_use_share(age_months[own], entry[own])[0]
    return np.asarray(-np.log(np.maximum(share, LEAST_SHARE)))


def _with_chance_of_coming_back(
    households: pl.DataFrame, weights: Weights, rng: np.random.Generator
) -> VariedWeights:
    """Let replicates of the weights of bins that came back vary, as those of other bins do.

    How many came back is on record, so a round's weights hold it fixed. For the curve, which
    speaks of bins at ages they have not reached and of those given later, it was chance how
    many came back, at what age, and which of them were drawn. Rubin's (1981) Bayesian
    bootstrap, as in `planner.survey.replicates.GammaStrata`, but not divided by the
    mean: their number is free.
    """
    return VariedWeights.draw(weights, households["is_given_back"].to_numpy(), rng)
