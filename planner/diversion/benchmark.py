"""Surveyed over modelled feed: by survey round, and of young bins against settled ones.

The model gives the shape of feed over a bin's life and the seasons, the survey its level.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers, places_of
from planner.diversion.season import RoundFeedRatios, Season
from planner.errors import EstimateError
from planner.messages import say
from planner.survey.feed import reports_of
from planner.survey.row_weights import summed_by
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_MONTH, DAYS_PER_WEEK, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from planner.diversion.feed_share import FeedShare
    from planner.diversion.groups import DwellingEstimates
    from planner.survey.feed import Calibration
    from planner.survey.row_weights import Weights

YOUNG_MONTHS = 3.0
"""Bins younger than this are running in: the start-up weeks and the first growth."""

FIRST_OF_1970 = dt.date(1970, 1, 1).toordinal()

LEAST_ANSWERS = 40
"""Young and settled bins in use of whom so many must have answered what they fed."""


@dataclass(frozen=True)
class Benchmark:
    """Surveyed over modelled weekly feed at each follow-up round."""

    wave_ids: tuple[str, ...]  # follow-up rounds in the order of their answers
    mean_dates: tuple[dt.date, ...]  # mean day of the answers of each
    ratios: Numbers  # shape (1 + draws_count, rounds)
    # shape (rounds,): of the logarithms of the central ratios, by sampling alone
    standard_errors: Numbers
    # feed over the year beside the model; none leaves what rounds say between them
    season: Season | None = None

    @property
    def level(self) -> Numbers:
        """Ratios without what the weeks of each round owe to the season or to chance."""
        if self.season is None:
            return self.ratios
        of_rounds = self.season.log_factor(self.days) + self.season.round_errors
        return self.ratios * np.exp(-of_rounds)

    @property
    def days(self) -> Numbers:
        """Ordinals of the mean days of the rounds."""
        return np.array([day.toordinal() for day in self.mean_dates], dtype=float)

    @property
    def last_level_over_year(self) -> Numbers:
        """Ratio of the last round's level over a whole year, shape (1 + draws_count,)."""
        year = self.days[-1] + (np.arange(MONTHS_PER_YEAR) + 0.5) * DAYS_PER_MONTH
        return np.asarray(self.level[:, -1] * self._seasonal(year).mean(axis=1))

    def by_month(self, months: Sequence[dt.date]) -> Numbers:
        """Ratio in the middle of each month, see `at`, shape (1 + draws_count, months)."""
        return self.at(month_midpoints(months))

    def at(self, days: Numbers) -> Numbers:
        """Ratio on days: the level between the rounds, times the season.

        The level is linear in time between rounds and held flat outside.

        Parameters
        ----------
        days
            Shape (days,): ordinals.

        Returns
        -------
        ndarray
            Shape (1 + draws_count, days).
        """
        return np.asarray(self.level @ self.round_shares(days) * self._seasonal(days))

    def round_shares(self, days: Numbers) -> Numbers:
        """Share of each round in the level of each day, shape (rounds, days)."""
        unit = np.eye(self.days.size)
        return np.stack([np.interp(days, self.days, row) for row in unit])

    def _seasonal(self, days: Numbers) -> Numbers:
        if self.season is None:
            return np.ones((self.ratios.shape[0], days.size))
        return np.exp(self.season.log_factor(days))


def month_midpoints(months: Sequence[dt.date]) -> Numbers:
    """Ordinals of the middles of months, from their first days."""
    return np.array([month.toordinal() + DAYS_PER_MONTH / 2.0 for month in months])


def benchmark(
    answers: pl.DataFrame,
    weights: Weights,
    calibration: Calibration,
    estimates: DwellingEstimates,
    feed_share: FeedShare,
) -> Benchmark:
    """Compare what each round reported with what the model says of the same bins.

    Both sides are weighted sums over the same answers with the same weights, so that most
    of the sampling error cancels. Run-in and season stand in the model only, and the
    ratio takes out whatever level they bring.
    """
    rounds = []
    for wave_id, of_round, own in _by_round(answers, weights):
        reported = reported_kg(of_round, own, calibration, estimates)
        modelled = modelled_kg(of_round, own, estimates, feed_share)
        if modelled.min() <= 0.0:
            raise EstimateError(say("estimate.no_feed_by_model", wave=wave_id))
        # the day at which the ratio holds is that of the households it speaks for
        days = FIRST_OF_1970 + of_round["answer_date"].dt.epoch("d").cast(pl.Float64).to_numpy()
        mean_day = dt.date.fromordinal(round(float(np.average(days, weights=own[0]))))
        error = _standard_error(calibration.central_kg(reports_of(of_round)), own[0])
        rounds.append((mean_day, wave_id, reported / modelled, error))
    rounds.sort(key=lambda entry: (entry[0], entry[1]))
    mean_dates, wave_ids, ratios, errors = zip(*rounds, strict=True)
    return Benchmark(
        wave_ids,
        mean_dates,
        np.stack(ratios, axis=1),
        np.array(errors),
    )


def _by_round(
    answers: pl.DataFrame, weights: Weights
) -> Iterator[tuple[str, pl.DataFrame, Weights]]:
    """Part answers and their weights by round."""
    rows = answers.with_row_index("row").group_by("wave_id", maintain_order=True)
    for (wave_id,), of_round in rows:
        yield str(wave_id), of_round, weights[:, of_round["row"].to_numpy()]


def _standard_error(fed_kg: Numbers, weights: Numbers) -> float:
    """Relative standard error of a weighted mean of reports; 1 where nothing was fed."""
    total = float(weights @ fed_kg)
    if total <= 0.0:
        return 1.0
    away = weights * (fed_kg - total / weights.sum())
    return float(np.sqrt(away @ away) / total)


def rounds_in_year(levels: Benchmark, months: Sequence[dt.date]) -> RoundFeedRatios:
    """Set out rounds and reporting year for the estimate of the season."""
    middles = month_midpoints(months)
    return RoundFeedRatios(
        levels.days,
        levels.ratios[0],
        levels.standard_errors,
        levels.round_shares(middles).mean(axis=1),
        middles,
    )


def reported_kg(
    answers: pl.DataFrame, weights: Weights, calibration: Calibration, estimates: DwellingEstimates
) -> Numbers:
    """Weighted weekly kilograms reported; no answer counts as the dwelling's mean."""
    reports = reports_of(answers)
    total = calibration.weighed_kg(weights, reports)[:, 0]
    # left out, they would count as bins that take nothing: the model's side has them in
    is_silent = answers["is_in_use"].to_numpy() & ~reports.has_report
    unanswered = is_silent[:, None] * _dwelling_members(answers)
    filled = (weights @ unanswered) * estimates.kg_per_in_use_bin_week
    return np.asarray(total + filled.sum(axis=1))


def modelled_kg(
    answers: pl.DataFrame, weights: Weights, estimates: DwellingEstimates, feed_share: FeedShare
) -> Numbers:
    """Weighted kilograms that the model gives the same bins, in use or not, in the week told of.

    An answer tells of the seven days before it, or of the days since the hand-over where these
    are fewer.
    """
    told_days = pl.min_horizontal("age_days", DAYS_PER_WEEK)
    part_told = answers.select(told_days / DAYS_PER_WEEK).to_series().to_numpy()
    # ages to half a month: the model then runs for some dozens of cells, not for each answer
    cells = answers.select(
        age=((pl.col("age_days") - told_days / 2.0) / DAYS_PER_MONTH * 2.0).round() / 2.0,
        month=pl.col("answer_date").dt.month().cast(pl.Int64) - 1,
    )
    distinct = cells.unique(maintain_order=True).with_row_index("cell")
    cell = cells.join(distinct, on=["age", "month"], maintain_order="left")["cell"].to_numpy()
    age = distinct["age"].to_numpy()
    share = feed_share(age, distinct["month"].to_numpy())
    entry_month = np.mod(distinct["month"].to_numpy() + 0.5 - age, MONTHS_PER_YEAR)
    membership = _dwelling_members(answers)
    total = np.zeros(weights.shape[0])
    for code, curve in enumerate(estimates.retention):
        chosen = np.flatnonzero(membership[:, code])
        told = weights[:, chosen] * part_told[chosen]
        weight = summed_by(told, cell[chosen], age.size)
        feed = estimates.kg_per_in_use_bin_week[:, code]
        total += feed * (weight * curve.in_use_share(age, entry_month) * share).sum(axis=1)
    return total


def _dwelling_members(answers: pl.DataFrame) -> Numbers:
    """Shape (answers, dwellings): 1 where the answer is of that dwelling."""
    return np.eye(len(DWELLINGS))[places_of(answers["dwelling"], DWELLINGS)]


@dataclass(frozen=True)
class RunInFit:
    """Feed of young bins over what the model gives them, set against settled bins."""

    # shape (1 + draws_count,): 1 where the published run-in fits; all 1 where too few answers say
    ratio: Numbers
    # answers that it rests on
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
    weights: Weights,
    calibration: Calibration,
    estimates: DwellingEstimates,
    feed_share: FeedShare,
) -> RunInFit:
    """Compare young with settled bins of the same survey rounds.

    Within a round season and wording are the same for both, so what the settled bins
    report over the model is taken out of what the young ones do. The ratio is that of all
    rounds together in which both answered.

    Notes
    -----
    ``sum_w reported_young,w / sum_w modelled_young,w (reported / modelled)_settled,w``.
    """
    young_total = expected_total = np.zeros(feed_share.demand_kg_per_week.size)
    counts = np.zeros(2, dtype=int)
    for _, of_round, of_answers in _by_round(answers, weights):
        is_young = (of_round["age_days"] / DAYS_PER_MONTH < YOUNG_MONTHS).to_numpy()
        reports = reports_of(of_round).has_report
        found = np.array([(reports & is_young).sum(), (reports & ~is_young).sum()])
        if found.min() == 0:
            continue
        sides = []
        for chosen in (is_young, ~is_young):
            side, own = of_round.filter(chosen), of_answers[:, chosen]
            reported = reported_kg(side, own, calibration, estimates)
            sides.append((reported, modelled_kg(side, own, estimates, feed_share)))
        (young, young_modelled), (settled, settled_modelled) = sides
        if settled_modelled.min() <= 0.0 or young_modelled.min() <= 0.0:
            continue
        # sums over rounds, not a mean of their ratios: a round with few young bins says little
        young_total = young_total + young
        expected_total = expected_total + young_modelled * settled / settled_modelled
        counts += found
    if counts.min() < LEAST_ANSWERS or expected_total.min() <= 0.0:
        return RunInFit(np.ones_like(expected_total), 0, 0)
    return RunInFit(young_total / expected_total, int(counts[0]), int(counts[1]))
