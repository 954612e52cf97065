"""Measured diversion: bins in use, kilograms fed and kept out of landfill."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.diversion.area_differences import AreaDifferences, AreaPlaces, area_differences
from planner.diversion.benchmark import (
    Benchmark,
    RunInFit,
    benchmark,
    fit_run_in,
    rounds_in_year,
)
from planner.diversion.cohorts import (
    Cohorts,
    OfAreas,
    by_month,
    cohorts,
    held_at_most,
    sums_of_areas,
)
from planner.diversion.diaries import DiaryLevel, fit_level, settled_weeks, survey_variance
from planner.diversion.feed_share import FACTOR_IDS as WORM_FACTOR_IDS
from planner.diversion.feed_share import FeedShare, feed_share
from planner.diversion.groups import DwellingEstimates, dwelling_estimates
from planner.diversion.leakage import FACTOR_IDS as LEAKAGE_FACTOR_IDS
from planner.diversion.leakage import Leakage, leakage
from planner.diversion.recall import Recall, fit_recall
from planner.diversion.reported import ReportedFeed, reported_feed, winsorised_reports
from planner.diversion.retained import dwelling_retention
from planner.diversion.rounds import (
    by_round,
    households_with_weights,
    linked,
    pairs_with_weights,
    prepare_rounds,
    with_weights,
)
from planner.diversion.season import fit_season, stated_spread
from planner.survey.composters import Composters, composters
from planner.survey.feed import Calibration, calibrate, reports_of
from planner.survey.prior_routes import PriorRoutes, prior_routes
from planner.survey.streams import random_stream
from planner.survey.weights import weigh_rounds
from planner.tables import RESIDUAL_BIN

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from planner.diversion.counts import Counts
    from planner.program import Program
    from planner.survey.asked_rounds import AskedRound
    from planner.survey.weights import WaveWeights

FACTOR_IDS = (
    "self_report_multiplier",
    "caddy_density_kg_per_litre",
    "year_to_surveyed_weeks_multiplier",
    "recalled_residual_share_difference",
    *WORM_FACTOR_IDS,
    *LEAKAGE_FACTOR_IDS,
)
"""Factors of the feed and worm tables that the estimates rest on."""


SEASON, RECALL = "year_to_surveyed_weeks_multiplier", "recalled_residual_share_difference"
OF_REPORTS = ("self_report_multiplier", "caddy_density_kg_per_litre")
BELIEF_IDS = (SEASON, RECALL, *OF_REPORTS)
"""Factors that records shrink or stand in for: how sure they are decides central values too."""


@dataclass(frozen=True)
class Diversion:
    """Everything measured, by draw, over the town by month and over the year by area."""

    cohorts: Cohorts
    bins_in_use: NDArray[np.float64]  # shape (1 + draws_count, months): when each month ends
    in_use_bin_weeks: NDArray[np.float64]  # shape (1 + draws_count, months)
    fed_kg: NDArray[np.float64]  # shape (1 + draws_count, months): food scraps fed [kg]
    # what of it is kept out of landfill, net of what would have been composted anyway and of what
    # was thrown away after all; same shape [kg]
    kept_out_kg: NDArray[np.float64]
    # scraps fed, shape (1 + draws_count, 5, months): by where they went before, in the order of
    # tables.PRIOR_SHARES, in kilograms
    fed_by_route_kg: NDArray[np.float64]
    of_areas: OfAreas  # the year's sums by area
    leakage: Leakage
    estimates: DwellingEstimates
    differences: AreaDifferences
    calibration: Calibration
    reported: ReportedFeed
    routes: PriorRoutes
    # shape (1 + draws_count, areas, dwellings): what went to the residual bin before of what an
    # area fed, to be used with the feed of its own; `routes` go with the town's
    residual_share_within_areas: NDArray[np.float64]
    # shape (1 + draws_count, 1): share left of the bins in use by the curve when the last month
    # ends, as no more can be in use than households hold
    still_held_share: NDArray[np.float64]
    recall: Recall
    composters: Composters | None  # None where they are too few to be told apart
    benchmark: Benchmark
    diaries: DiaryLevel
    run_in: RunInFit
    # without their replicates, which take the most memory
    waves: tuple[WaveWeights, ...]
    # the rounds as they were before they were weighed; none where weights were given
    asked: tuple[AskedRound, ...] = ()

    @property
    def from_residual_bin_kg(self) -> NDArray[np.float64]:
        """Of what was fed, what went to the residual bin before [kg], by month."""
        return self.fed_by_route_kg[:, RESIDUAL_BIN]


def spreads_of(factors: Mapping[str, NDArray[np.float64]]) -> dict[str, float]:
    """Take the standard deviations of the beliefs that records shrink from their draws."""
    return {name: stated_spread(factors[name]) for name in BELIEF_IDS}


def measure(
    counts: Counts,
    program: Program,
    factors: Mapping[str, NDArray[np.float64]],
    spreads: Mapping[str, float] | None = None,
    waves: tuple[WaveWeights, ...] | None = None,
) -> Diversion:
    """Estimate bins in use, fed and kept out of landfill by month and area.

    ``fed(m) = sum over cohorts of given × exposure × retention(age) × feed share(age, m) ×
    feed of the dwelling × weeks(m) × benchmark(m)``. Of it the prior residual-bin share of
    the area and dwelling would have been landfilled, as far as residual waste is; what
    would have been composted anyway and what was thrown away after all come off that.
    Ages within the hand-over month and at month ends follow from bins being given on even
    days.

    Parameters
    ----------
    counts
        What the store counts up to the end of the reporting year.
    program
        Bin models, climate, landfilled share of residual waste, stated leakage and seed.
    factors
        Draws, shape (1 + draws_count,), of the factors named in FACTOR_IDS.
    spreads
        Standard deviations of the beliefs of BELIEF_IDS; those of the draws unless given,
        as they are where few draws, or none, are taken of a larger set.
    waves
        Weights of the rounds, with as many rows as the factors; made from the counts unless
        given, as they are where the year is measured under other assumptions.

    Raises
    ------
    EstimateError
        A kind of survey round is missing or carries too few answers.
    """
    seed, draws_count = program.method.seed, next(iter(factors.values())).size - 1
    spreads = spreads or spreads_of(factors)
    area_ids = list(counts.areas["area_id"])
    given = cohorts(counts.handovers, area_ids, counts.before_date)
    asked: tuple[AskedRound, ...] = ()
    if waves is None:
        asked = prepare_rounds(counts.frames, counts.households, draws_count, program.method)
        waves = weigh_rounds(asked)
    winsorised = winsorised_reports(counts.followup, counts.diaries)
    answers, weights = with_weights(winsorised.followup, waves, "followup")
    calibration = calibrate(
        pairs_with_weights(winsorised.diaries, waves, draws_count),
        (reports_of(answers), weights),
        factors["self_report_multiplier"],
        factors["caddy_density_kg_per_litre"],
    )
    households, household_weights = households_with_weights(
        counts.use_intervals, waves, counts.frames
    )
    retained = dwelling_retention(
        households, household_weights, random_stream(seed, "retention"), counts.before_date
    )
    estimates = dwelling_estimates(
        answers, weights, calibration, retained, random_stream(seed, "feed of dwellings")
    )
    differences = area_differences(
        AreaPlaces.of(counts.areas, given.bins_given.sum(axis=0)),
        (households, retained.stop_intervals, household_weights),
        (answers, weights),
        estimates,
        calibration,
        seed,
    )
    # routes before feed levels: what was landfilled is weighted by who feeds, not by who has a bin
    baseline = with_weights(counts.priors, waves, "baseline")
    recall = fit_recall(*baseline, factors[RECALL], spreads[RECALL])
    routes = prior_routes(*baseline, counts.areas, random_stream(seed, "areas' prior routes"))
    routes = recall.taken_off(routes)
    fed_of_cells = given.bins_given.sum(axis=0) * estimates.kg_per_in_use_bin_week[:, None, :]
    tilted = routes.tilted_by_feed(
        *linked(answers, weights, counts.priors), calibration, fed_of_cells
    )
    within_areas = _tilted_within_areas(routes, tilted, fed_of_cells, differences)
    del routes  # as large as `tilted`, which stays
    followup_ids = set(answers["wave_id"].unique())
    followup_waves = [wave for wave in waves if wave.wave_id in followup_ids]
    capacity = feed_share(
        counts.handovers,
        program.bin_models,
        program.climate.monthly_mean_temperature_c,
        estimates.pooled_kg_per_in_use_bin_week,
        factors,
    )
    # the run-in first, as it changes the model's shape; the benchmark then takes out its level
    fitted = fit_run_in(answers, followup_waves, calibration, estimates, capacity)
    capacity = fitted.of(capacity)
    levels, diaries = _joined_with_diaries(
        benchmark(answers, followup_waves, calibration, estimates, capacity),
        (counts, program, factors, spreads),
        (winsorised.diaries, calibration),
        estimates,
        capacity,
        given.months[given.months_from(counts.from_date)],
    )
    leaks = leakage(
        answers, weights, calibration, estimates.retention, factors, program, counts.from_date
    )
    landfilled = program.landfill.landfilled_share_of_residual_waste
    held = held_at_most(given, counts.back)
    sums, still_held_share = by_month(
        given, estimates, levels, capacity, tilted.shares, estimates.retention
    ).within(held.sum(axis=1))
    return Diversion(
        cohorts=given,
        bins_in_use=sums.bins_in_use,
        in_use_bin_weeks=sums.in_use_bin_weeks,
        fed_kg=sums.fed_kg,
        kept_out_kg=leaks.kept_out_kg(
            sums.fed_kg, sums.fed_by_route_kg[:, RESIDUAL_BIN], landfilled
        ),
        fed_by_route_kg=sums.fed_by_route_kg,
        of_areas=sums_of_areas(
            given,
            sums,
            within_areas,
            given.months_from(counts.from_date),
            leaks,
            landfilled,
            held[-1],
        ),
        leakage=leaks,
        estimates=estimates,
        differences=differences,
        calibration=calibration,
        reported=reported_feed(
            pl.concat(frame for frame, _ in by_round(counts.followup, waves)),
            answers,
            weights,
            calibration,
            winsorised.changed_count,
        ),
        routes=tilted,
        residual_share_within_areas=within_areas,
        still_held_share=still_held_share,
        recall=recall,
        composters=composters(*baseline),
        benchmark=levels,
        diaries=diaries,
        run_in=fitted,
        waves=tuple(replace(wave, weights=wave.weights[:1]) for wave in waves),
        asked=asked,
    )


def _tilted_within_areas(
    routes: PriorRoutes,
    tilted: PriorRoutes,
    fed_of_cells: NDArray[np.float64],
    differences: AreaDifferences,
) -> NDArray[np.float64]:
    """Lean residual-bin shares to who feeds more within areas: areas' own feed does the rest."""
    if tilted.linked_count:
        fed = fed_of_cells * np.exp(differences.feed.predictor)[:, :, None]
        routes = routes.scaled_to(tilted.town_shares(fed_of_cells), fed)
    return routes.shares[..., RESIDUAL_BIN].copy()


def _joined_with_diaries(
    levels: Benchmark,
    sources: tuple[Counts, Program, Mapping[str, NDArray[np.float64]], Mapping[str, float]],
    calibrated: tuple[pl.DataFrame, Calibration],
    estimates: DwellingEstimates,
    capacity: FeedShare,
    year_months: Sequence[dt.date],
) -> tuple[Benchmark, DiaryLevel]:
    """Give the surveyed levels their season, then join them with the level of diaries."""
    counts, program, factors, spreads = sources
    seed = program.method.seed
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
        survey_variance(*calibrated, levels, published),
        random_stream(seed, "diaries"),
    )
    return replace(levels, ratios=levels.ratios * diaries.factor[:, None]), diaries
