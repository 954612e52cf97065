"""The town's year: what its headline figures rest on, whatever is assumed of the silent."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers, quotient
from planner.diversion.benchmark import Benchmark, RunInFit, benchmark, fit_run_in, rounds_in_year
from planner.diversion.cohorts import (
    Cohorts,
    Sums,
    by_month,
    cohorts,
    held_at_most,
    in_use_at_month_end,
)
from planner.diversion.diaries import DiaryLevel, fit_level, settled_weeks, survey_variance
from planner.diversion.feed_share import FACTOR_IDS as WORM_FACTOR_IDS
from planner.diversion.feed_share import FeedShare, feed_share
from planner.diversion.groups import DwellingEstimates, dwelling_estimates
from planner.diversion.leakage import FACTOR_IDS as LEAKAGE_FACTOR_IDS
from planner.diversion.leakage import Leakage, leakage
from planner.diversion.recall import Recall, fit_recall
from planner.diversion.reported import WinsorisedReports, winsorised_reports
from planner.diversion.retained import DwellingRetention, dwelling_retention
from planner.diversion.rounds import (
    households_with_weights,
    linked,
    pairs_with_weights,
    prepare_rounds,
    with_weights,
)
from planner.diversion.season import fit_season, stated_spread
from planner.survey.feed import Calibration, calibrate, reports_of
from planner.survey.prior_routes import PriorRoutes, prior_routes
from planner.survey.streams import random_stream
from planner.survey.weights import weigh_rounds
from planner.tables import RESIDUAL_BIN

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars as pl

    from planner.diversion.counts import Counts
    from planner.diversion.rounds import Weighted
    from planner.program import Program
    from planner.survey.weights import WaveWeights

    Levels = tuple[Benchmark, DiaryLevel, RunInFit, FeedShare]
    Inputs = tuple[Counts, Program, Mapping[str, Numbers], Mapping[str, float]]

FACTOR_IDS = (
    "self_report_multiplier",
    "caddy_density_kg_per_litre",
    "year_to_surveyed_weeks_multiplier",
    "recalled_residual_share_difference",
    *WORM_FACTOR_IDS,
    *LEAKAGE_FACTOR_IDS,
)
"""Factors of the feed and worm tables that the estimates rest on."""


BOUND_ROWS = 1 + 200
"""Replicates of a bound: enough for the ends of its own interval."""

SEASON, RECALL = "year_to_surveyed_weeks_multiplier", "recalled_residual_share_difference"
OF_REPORTS = ("self_report_multiplier", "caddy_density_kg_per_litre")
BELIEF_IDS = (SEASON, RECALL, *OF_REPORTS)
"""Factors that records shrink or stand in for: how sure they are decides central values too."""


@dataclass(frozen=True)
class InUse:
    """Bins in use alone, where nobody was asked what they are fed or where scraps went before."""

    cohorts: Cohorts
    bins_in_use: Numbers  # shape (1 + draws_count, months): when each month ends
    retained: DwellingRetention
    waves: tuple[WaveWeights, ...]


def measure_in_use(counts: Counts, program: Program) -> InUse:
    """Estimate bins in use by month, as `planner.diversion.measured.measure` does.

    Raises
    ------
    EstimateError
        No follow-up round carries an estimate.
    """
    method = program.method
    asked = prepare_rounds(counts.frames, counts.households, method.draws_count, method)
    waves = weigh_rounds(asked)
    with_weights(counts.followup, waves, "followup")
    given = cohorts(counts.handovers, list(counts.areas["area_id"]), counts.before_date)
    households = households_with_weights(counts.use_intervals, waves, counts.frames)
    retained = _retained(households, counts, program)
    in_use = in_use_at_month_end(given, retained.of_town)
    share = quotient(held_at_most(given, counts.back).sum(axis=1), in_use, otherwise=1.0)
    return InUse(given, in_use * share.clip(max=1.0), retained, waves)


@dataclass(frozen=True)
class TownYear:
    """What was measured of the whole town, by draw and month."""

    cohorts: Cohorts
    bins_in_use: Numbers  # shape (1 + draws_count, months): when each month ends
    in_use_bin_weeks: Numbers  # shape (1 + draws_count, months)
    fed_kg: Numbers  # shape (1 + draws_count, months): food scraps fed [kg]
    # what of it is kept out of landfill, net of what would have been composted anyway and of what
    # was thrown away after all; same shape [kg]
    kept_out_kg: Numbers
    # scraps fed, shape (1 + draws_count, 5, months): by where they went before, in the order of
    # tables.PRIOR_SHARES, in kilograms
    fed_by_route_kg: Numbers
    # shape (1 + draws_count, 1): share left of the bins in use by the curve when the last month
    # ends, as no more can be in use than households hold
    still_held_share: Numbers
    leakage: Leakage
    estimates: DwellingEstimates
    calibration: Calibration
    benchmark: Benchmark
    diaries: DiaryLevel
    run_in: RunInFit

    @property
    def retained(self) -> DwellingRetention:
        """When bins stopped, by dwelling."""
        return self.estimates.retained

    @property
    def from_residual_bin_kg(self) -> Numbers:
        """Of what was fed, what went to the residual bin before [kg], by month."""
        return self.fed_by_route_kg[:, RESIDUAL_BIN]


def spreads_of(factors: Mapping[str, Numbers]) -> dict[str, float]:
    """Take the standard deviations of the beliefs that records shrink from their draws."""
    return {name: stated_spread(factors[name]) for name in BELIEF_IDS}


def measure_town(
    inputs: Inputs, waves: tuple[WaveWeights, ...], routes: PriorRoutes | None = None
) -> TownYear:
    """Measure the town's year alone, as it would be under other assumptions.

    Parameters
    ----------
    waves
        Weights of the rounds, with as many rows as the factors.
    routes
        What `routes_before` finds, where the assumptions leave it as it was.
    """
    heard = FollowUpEvidence.of(inputs, waves)
    return heard.town(heard.leant(routes or routes_before(inputs, waves)[0]))[0]


def routes_before(inputs: Inputs, waves: tuple[WaveWeights, ...]) -> tuple[PriorRoutes, Recall]:
    """Estimate where scraps went before, with what memory adds taken off."""
    counts, program, factors, spreads = inputs
    baseline = with_weights(counts.priors, waves, "baseline")
    beliefs = factors[RECALL], spreads[RECALL]
    return without_recall(baseline, counts.areas, beliefs, program.method.seed)


def without_recall(
    baseline: Weighted, areas: pl.DataFrame, beliefs: tuple[Numbers, float], seed: int
) -> tuple[PriorRoutes, Recall]:
    """Estimate prior routes from baseline answers, and take off what `fit_recall` finds."""
    recall = fit_recall(*baseline, *beliefs)
    routes = prior_routes(*baseline, areas, random_stream(seed, "areas' prior routes"))
    return recall.taken_off(routes), recall


def _retained(households: Weighted, counts: Counts, program: Program) -> DwellingRetention:
    stream = random_stream(program.method.seed, "retention")
    return dwelling_retention(*households, stream, counts.before_date)


@dataclass(frozen=True)
class FollowUpEvidence:
    """What the follow-ups tell: who keeps the bin, and what it is fed."""

    inputs: Inputs
    cohorts: Cohorts
    reports: WinsorisedReports
    answered: Weighted  # follow-up answers in the order of their rounds, with their weights
    households: Weighted  # rows of query use_intervals that have a weight
    calibration: Calibration
    estimates: DwellingEstimates

    @classmethod
    def of(cls, inputs: Inputs, waves: tuple[WaveWeights, ...]) -> FollowUpEvidence:
        """Read the answers with their weights, and estimate retention and feed by dwelling."""
        counts, program, factors, _ = inputs
        seed, draws_count = program.method.seed, next(iter(factors.values())).size - 1
        given = cohorts(counts.handovers, list(counts.areas["area_id"]), counts.before_date)
        winsorised = winsorised_reports(counts.followup, counts.diaries)
        answered = with_weights(winsorised.followup, waves, "followup")
        calibration = calibrate(
            pairs_with_weights(winsorised.diaries, waves, draws_count),
            (reports_of(answered[0]), answered[1]),
            *(factors[name] for name in OF_REPORTS),
        )
        households = households_with_weights(counts.use_intervals, waves, counts.frames)
        retained = _retained(households, counts, program)
        stream = random_stream(seed, "feed of dwellings")
        estimates = dwelling_estimates(*answered, calibration, retained, stream)
        return cls(inputs, given, winsorised, answered, households, calibration, estimates)

    def keeping(self, counts: Counts, waves: tuple[WaveWeights, ...]) -> FollowUpEvidence:
        """Hear the same of feed, and who keeps the bin from other counts and their weights."""
        households = households_with_weights(counts.use_intervals, waves, counts.frames)
        retained = _retained(households, *self.inputs[:2])
        return replace(
            self, households=households, estimates=replace(self.estimates, retained=retained)
        )

    @property
    def fed_of_cells(self) -> Numbers:
        """What areas' dwellings feed in relation to each other, by draw."""
        feed = self.estimates.kg_per_in_use_bin_week
        return np.asarray(self.cohorts.bins_given.sum(axis=0) * feed[:, None, :])

    def leant(self, routes: PriorRoutes) -> PriorRoutes:
        """Lean the routes to those who feed: who has a bin tells less of what was landfilled."""
        both = linked(*self.answered, self.inputs[0].priors)
        return routes.tilted_by_feed(*both, self.calibration, self.fed_of_cells)

    def town(self, leant: PriorRoutes, levels: Levels | None = None) -> tuple[TownYear, Sums]:
        """Measure the town's year, and what each bin given does in it.

        Parameters
        ----------
        leant
            What `leant` gives.
        levels
            What `levels` gives of other curves; of its own unless given.
        """
        counts, program, factors, _ = self.inputs
        benchmarked, diaries, fitted, capacity = levels or self.levels()
        given, estimates, calibration = self.cohorts, self.estimates, self.calibration
        curves = estimates.retention
        leaks = leakage(*self.answered, calibration, curves, factors, program, counts.from_date)
        sums = by_month(given, estimates, benchmarked, capacity, leant.shares, curves)
        sums, still_held_share = sums.within(held_at_most(given, counts.back).sum(axis=1))
        fed, by_route = sums.fed_kg, sums.fed_by_route_kg
        landfilled = program.landfill.landfilled_share_of_residual_waste
        kept_out = leaks.kept_out_kg(fed, by_route[:, RESIDUAL_BIN], landfilled)
        figures = sums.bins_in_use, sums.in_use_bin_weeks, fed, kept_out, by_route, still_held_share
        behind = leaks, estimates, calibration, benchmarked, diaries, fitted
        return TownYear(given, *figures, *behind), sums

    def levels(self) -> Levels:
        """Set the model's feed against what the rounds reported."""
        counts, program, factors, _ = self.inputs
        capacity = feed_share(
            counts.handovers,
            program.bin_models,
            program.climate.monthly_mean_temperature_c,
            self.estimates.pooled_kg_per_in_use_bin_week,
            factors,
        )
        sides = self.calibration, self.estimates
        # the run-in first, as it changes the model's shape; the benchmark then takes out its level
        fitted = fit_run_in(*self.answered, *sides, capacity)
        capacity = fitted.of(capacity)
        levels = benchmark(*self.answered, *sides, capacity)
        return *self._joined_with_diaries(levels, capacity), fitted, capacity

    def _joined_with_diaries(
        self, levels: Benchmark, capacity: FeedShare
    ) -> tuple[Benchmark, DiaryLevel]:
        """Give the surveyed levels their season, then join them with the level of diaries."""
        counts, program, factors, spreads = self.inputs
        seed, estimates = program.method.seed, self.estimates
        year_months = self.cohorts.months[self.cohorts.months_from(counts.from_date)]
        season = fit_season(
            settled_weeks(counts.diary_weeks, estimates, capacity),
            rounds_in_year(levels, year_months),
            program.climate.monthly_mean_temperature_c,
            factors[SEASON],
            spreads[SEASON],
            random_stream(seed, "season"),
        )
        # the season first: weeks far from any round compare only once it is taken out
        levels = replace(levels, season=season)
        published = [spreads[name] / float(factors[name][0]) for name in OF_REPORTS]
        diaries = fit_level(
            counts.diary_weeks,
            estimates,
            capacity,
            levels,
            survey_variance(self.reports.diaries, self.calibration, levels, published),
            random_stream(seed, "diaries"),
        )
        return replace(levels, ratios=levels.ratios * diaries.factor[:, None]), diaries
