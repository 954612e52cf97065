"""Measured diversion: bins in use, kilograms fed and kept out of landfill."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.diversion.area_differences import AreaDifferences, AreaPlaces, area_differences
from planner.diversion.cohorts import AreaEstimates, held_at_most, sums_of_areas
from planner.diversion.reported import ReportedFeed, reported_feed
from planner.diversion.rounds import by_round, prepare_rounds, with_weights
from planner.diversion.town_year import (
    BOUND_ROWS,
    FollowUpEvidence,
    TownYear,
    routes_before,
    spreads_of,
)
from planner.survey.prior_routes import shares_of
from planner.survey.retention import ObservedShares, observed_shares
from planner.survey.weights import weigh_rounds
from planner.tables import PRIOR_SHARES, RESIDUAL_BIN
from planner.units import DAYS_PER_MONTH

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.diversion.counts import Counts
    from planner.diversion.recall import Recall
    from planner.program import Program
    from planner.survey.asked_rounds import AskedRound
    from planner.survey.prior_routes import PriorRoutes
    from planner.survey.row_weights import Weights
    from planner.survey.weights import WaveWeights


LEAST_COMPOSTERS = 10
"""With fewer answers of either kind, households that composted are not told apart."""


@dataclass(frozen=True)
class Composters:
    """Baseline households that put food scraps on a garden compost before, and the others."""

    # shape (1 + draws_count,): share of the households that composted
    household_share: Numbers
    # shape (1 + draws_count,): mean share of the scraps of each kind of household that went to the
    # residual bin
    residual_bin_share: Numbers
    others_residual_bin_share: Numbers
    least_count: int  # answers of the smaller kind


def composters(answers: pl.DataFrame, weights: Weights) -> Composters | None:
    """Compare households that composted before with those that did not.

    Parameters
    ----------
    answers
        Query prior_shares, a row an answer.
    weights
        Shape (1 + draws_count, answers).

    Examples
    --------
    >>> told = {name: [0.0] * 20 for name in PRIOR_SHARES}
    >>> told["prior_residual_bin_share"] = [0.4] * 10 + [1.0] * 10
    >>> told["prior_garden_compost_share"] = [0.6] * 10 + [0.0] * 10
    >>> found = composters(pl.DataFrame(told), np.ones((1, 20)))
    >>> [part.round(2).tolist() for part in (found.household_share, found.residual_bin_share)]
    [[0.5], [0.4]]
    """
    shares = shares_of(answers)
    residual = shares[:, RESIDUAL_BIN]
    composted = shares[:, PRIOR_SHARES.index("prior_garden_compost_share")] > 0.0
    least = int(min(composted.sum(), (~composted).sum()))
    if least < LEAST_COMPOSTERS:
        return None
    kinds = np.stack([composted, ~composted], axis=1).astype(float)
    of_both, sums = np.hsplit(weights @ np.hstack([kinds, residual[:, None] * kinds]), 2)
    means = sums / of_both
    return Composters(of_both[:, 0] / of_both.sum(axis=1), means[:, 0], means[:, 1], least)


@dataclass(frozen=True)
class Diversion(TownYear):
    """Everything measured: the town's year, that of its areas, and what stands behind both."""

    of_areas: AreaEstimates  # the year's sums by area
    observed: ObservedShares  # plain shares in use by age, to set beside the curve
    differences: AreaDifferences
    reported: ReportedFeed
    routes: PriorRoutes
    # the first row of the routes as they were before they leant to who feeds
    routes_before: PriorRoutes
    # shape (1 + draws_count, areas, dwellings): what went to the residual bin before of what an
    # area fed, to be used with the feed of its own; `routes` go with the town's
    residual_share_within_areas: Numbers
    recall: Recall
    composters: Composters | None  # None where they are too few to be told apart
    # with the few replicates that bounds need, since all of them take the most memory
    waves: tuple[WaveWeights, ...]
    asked: tuple[AskedRound, ...]  # the rounds as they were before they were weighed


def measure(
    counts: Counts,
    program: Program,
    factors: Mapping[str, Numbers],
    spreads: Mapping[str, float] | None = None,
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
    factors
        Draws, shape (1 + draws_count,), of the factors named in FACTOR_IDS.
    spreads
        Standard deviations of the beliefs of BELIEF_IDS; those of the draws unless given.

    Raises
    ------
    EstimateError
        A kind of survey round is missing or carries too few answers.
    """
    seed, draws_count = program.method.seed, next(iter(factors.values())).size - 1
    inputs = counts, program, factors, spreads or spreads_of(factors)
    asked = prepare_rounds(counts.frames, counts.households, draws_count, program.method)
    waves = weigh_rounds(asked)
    heard = FollowUpEvidence.of(inputs, waves)
    given, estimates, (answers, weights) = heard.cohorts, heard.estimates, heard.answered
    households, household_weights = heard.households
    differences = area_differences(
        AreaPlaces.of(counts.areas, given.bins_given.sum(axis=0)),
        (households, estimates.retained.stop_intervals, household_weights),
        heard.answered,
        estimates,
        heard.calibration,
        seed,
    )
    routes, recall = routes_before(inputs, waves)
    leant = heard.leant(routes)
    within_areas = _leant_within_areas(routes, leant, heard.fed_of_cells, differences)
    central = replace(
        routes, shares=routes.shares[:1].copy(), recalled_share=routes.recalled_share[:1].copy()
    )
    del routes  # as large as `leant`, which stays
    town, sums = heard.town(leant)
    return Diversion(
        **vars(town),
        of_areas=sums_of_areas(
            given,
            sums,
            within_areas,
            given.months_from(counts.from_date),
            town.leakage,
            program.landfill.landfilled_share_of_residual_waste,
            held_at_most(given, counts.back)[-1],
        ),
        observed=observed_shares(
            answers["age_days"].to_numpy() / DAYS_PER_MONTH,
            answers["is_in_use"].to_numpy(),
            weights,
        ),
        differences=differences,
        reported=reported_feed(
            pl.concat(frame for frame, _ in by_round(counts.followup, waves)),
            *heard.answered,
            heard.calibration,
            heard.reports.changed_count,
        ),
        routes=leant,
        routes_before=central,
        residual_share_within_areas=within_areas,
        recall=recall,
        composters=composters(*with_weights(counts.priors, waves, "baseline")),
        waves=tuple(replace(wave, weights=wave.weights[:BOUND_ROWS]) for wave in waves),
        asked=asked,
    )


def _leant_within_areas(
    routes: PriorRoutes, leant: PriorRoutes, fed_of_cells: Numbers, differences: AreaDifferences
) -> Numbers:
    """Lean residual-bin shares to who feeds more within areas: areas' own feed does the rest."""
    if leant.linked_count:
        fed = fed_of_cells * np.exp(differences.feed.predictor)[:, :, None]
        routes = routes.scaled_to(leant.town_shares(fed_of_cells), fed)
    return routes.shares[..., RESIDUAL_BIN].copy()
