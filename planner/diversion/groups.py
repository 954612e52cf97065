"""Estimates by dwelling, partially pooled so that dwellings add up to the town."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Flags, Integers, Numbers, numbers_of, places_of, quotient
from planner.errors import NotYetError
from planner.messages import say
from planner.survey.feed import Calibration, reports_of, weekly_feed
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    from planner.diversion.retained import DwellingRetention
    from planner.survey.retention import Retention
    from planner.survey.row_weights import Weights

LEAST_ANSWERS_FOR_FEED = 10
"""With fewer in-use bins whose feed was answered a dwelling's own mean is not looked at."""

BELIEVED_FEED_SPREAD = 0.1
"""Dwellings are taken to differ in feed by a tenth at least, as a standard deviation over the
mean: three of them say little of how far they differ. Common practice, no source."""


@dataclass(frozen=True)
class DwellingEstimates:
    """Retention and feed by dwelling, in the order of tables.DWELLINGS."""

    retained: DwellingRetention  # when bins stopped, by dwelling
    # shape (1 + draws_count, dwellings): feed at the time of the survey rounds [kg/week]
    kg_per_in_use_bin_week: Numbers
    # shape (1 + draws_count,): the same over all answers [kg/week]
    pooled_kg_per_in_use_bin_week: Numbers
    # standard deviation over mean of the feed that in-use households report
    household_feed_cv: float

    @property
    def retention(self) -> tuple[Retention, ...]:
        """A curve for each dwelling, of the town's bins up to the end of the year."""
        return self.retained.of_town

    @property
    def oldest_months(self) -> float:
        """Oldest age known of; beyond it the curves are carried on [months]."""
        return self.retained.curves[0].oldest_months

    def without_households(self) -> DwellingEstimates:
        """Let the replicates of the households behind the curves go."""
        retained = replace(self.retained, weights=self.retained.weights[:1])
        return replace(self, retained=retained)


def dwelling_estimates(
    answers: pl.DataFrame,
    weights: Weights,
    calibration: Calibration,
    retained: DwellingRetention,
    rng: np.random.Generator,
) -> DwellingEstimates:
    """Estimate feed for each dwelling, beside its retention.

    A dwelling's own mean is shrunk towards the town's by how sure it is; together the dwellings
    are the town's mean, see `partially_pooled`.

    Parameters
    ----------
    weights
        Shape (1 + draws_count, answers).

    Raises
    ------
    EstimateError
        No in-use bin has an answer on feed, or all of them are 0, a NotYetError.
    """
    has_feed = reports_of(answers).has_report
    if not has_feed.any():
        raise NotYetError(say("estimate.no_feed_answer"))
    pooled_feed = weekly_feed(answers, weights, calibration).kg_per_in_use_bin_week
    if pooled_feed[0] <= 0.0:
        raise NotYetError(say("estimate.fed_nothing"))
    relative = _relative_feed(answers, weights, calibration, has_feed, pooled_feed, rng)
    return DwellingEstimates(
        retained=retained,
        kg_per_in_use_bin_week=pooled_feed[:, None] * relative,
        pooled_kg_per_in_use_bin_week=pooled_feed,
        household_feed_cv=_feed_cv(answers, weights[0], calibration),
    )


def _relative_feed(
    answers: pl.DataFrame,
    weights: Weights,
    calibration: Calibration,
    has_feed: Flags,
    pooled_feed: Numbers,
    rng: np.random.Generator,
) -> Numbers:
    """Feed of dwellings over the town's mean, partially pooled."""
    members = np.eye(len(DWELLINGS), dtype=bool)[places_of(answers["dwelling"], DWELLINGS)]
    has_own = (members & has_feed[:, None]).sum(axis=0) >= LEAST_ANSWERS_FOR_FEED
    own = np.full((pooled_feed.size, len(DWELLINGS)), np.nan)
    for code in np.flatnonzero(has_own):
        chosen = members[:, code]
        fed = weekly_feed(answers.filter(chosen), weights[:, chosen], calibration)
        # a draw that meets none of the few who feed has no ratio, and needs none
        own[:, code] = quotient(fed.kg_per_in_use_bin_week, pooled_feed, otherwise=1.0)
    variance = linearised_variances(
        calibration.central_kg(reports_of(answers)),
        weights[0] * has_feed,
        members,
        numbers_of(answers["household_id"]),
    )
    counted = weights @ (members * has_feed[:, None])
    return partially_pooled(own, counted, np.where(has_own, variance, np.inf), rng)[0]


def linearised_variances(
    values: Numbers, weights: Numbers, members: Flags, household: Integers
) -> Numbers:
    """Take sampling variances of groups' means over that of all, without replicates.

    Taken from the answers themselves, so that how far groups are pooled, and with it every
    central value, is the same whatever the seed. Answers of one household go together.

    Parameters
    ----------
    values, weights
        Shape (n,): a weight of 0 for an answer that does not count.
    members
        Shape (n, groups).
    household
        Shape (n,): numbered from 0.

    Returns
    -------
    ndarray
        Shape (groups,); infinite for a group that nobody counts in.

    Notes
    -----
    Taylor's linearisation of ``(sum_g w y / sum_g w) / (sum w y / sum w)``, and
    ``n / (n - 1)`` times the sum of squares over households.

    References
    ----------
    Saerndal, C.-E., Swensson, B. and Wretman, J. (1992), Model Assisted Survey Sampling,
    Springer, sections 5.5 to 5.7 and 5.10.

    Examples
    --------
    >>> y, one = np.array([1.0, 3.0, 2.0, 2.0]), np.ones(4)
    >>> half = np.array([[True, False], [True, False], [False, True], [False, True]])
    >>> linearised_variances(y, one, half, np.arange(4)).round(3).tolist()
    [0.042, 0.042]
    """
    total, of_group = weights.sum(), weights @ members
    mean = weights @ values / total
    with np.errstate(invalid="ignore", divide="ignore"):
        own = (weights * values) @ members / of_group / mean
        pull = members * (values[:, None] / mean - own) / of_group
    pull = weights[:, None] * (pull - own * (values / mean - 1.0)[:, None] / total)
    summed = np.zeros((int(household.max()) + 1, members.shape[1]))
    np.add.at(summed, household, pull)
    count = np.unique(household[weights > 0.0]).size
    variance = (summed**2).sum(axis=0) * count / max(count - 1, 1)
    return np.asarray(np.where(of_group > 0.0, variance, np.inf))


def partially_pooled(
    own: Numbers, counted: Numbers, variance: Numbers, rng: np.random.Generator
) -> tuple[Numbers, float]:
    """Shrink groups' means over that of all towards 1, and let them add up to it.

    Parameters
    ----------
    own
        Shape (1 + draws_count, groups): each group's own mean over that of all; nan without
        one.
    counted
        Shape (1 + draws_count, groups): weight of each group in the mean of all.
    variance
        Shape (groups,): sampling variance of each group's own mean over that of all; see
        `linearised_variances`.

    Returns
    -------
    tuple
        Shrunk means over that of all, shape (1 + draws_count, groups), and the standard
        deviation between groups.

    Notes
    -----
    With sampling variance v and variance t² between groups, ``1 + t² / (t² + v) (own - 1)``;
    t² is the mean of ``(own - 1)² - v`` over groups, at least BELIEVED_FEED_SPREAD². What is
    open of a group after that has the variance ``v t² / (t² + v)``.

    References
    ----------
    Fay, R.E. and Herriot, R.A. (1979), Journal of the American Statistical Association 74,
    269-277. Rao, J.N.K. and Molina, I. (2015), Small Area Estimation, 2nd ed., Wiley, sections
    6.1 and 6.4.6 (adding up to the whole).

    Examples
    --------
    >>> own, rng = np.ones((3, 2)), np.random.default_rng(1)
    >>> partially_pooled(own, own, np.zeros(2), rng)[0].tolist()
    [[1.0, 1.0], [1.0, 1.0], [1.0, 1.0]]
    """
    has_own = np.isfinite(own[0]) & np.isfinite(variance)
    beyond = (own[0, has_own] - 1.0) ** 2 - variance[has_own]
    spread = float(np.sqrt(max(beyond.mean() if beyond.size else 0.0, BELIEVED_FEED_SPREAD**2)))
    kept = spread**2 / (spread**2 + variance)
    finite = np.where(has_own, variance, 0.0)
    # what is left open beyond the spread of the replicates, which shrinks with the mean
    left = np.where(has_own, np.sqrt(kept * (1.0 - kept) * finite), spread)
    shrunk = 1.0 + kept * np.where(has_own, own - 1.0, 0.0)
    shrunk[1:] += rng.normal(size=shrunk[1:].shape) * left
    total = counted.sum(axis=1)
    together = (counted * shrunk).sum(axis=1) / total
    return shrunk / together[:, None], spread


def _feed_cv(answers: pl.DataFrame, weights: Numbers, calibration: Calibration) -> float:
    fed = calibration.central_kg(reports_of(answers))
    some = fed > 0
    if not some.any():
        return 0.0
    mean = np.average(fed[some], weights=weights[some])
    variance = np.average((fed[some] - mean) ** 2, weights=weights[some])
    return float(np.sqrt(variance) / mean)
