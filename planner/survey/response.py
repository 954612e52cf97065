"""Who answers: the chance of an answer, modelled from all that was known before a round."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import scipy

from planner.arrays import Integers, Numbers, numbers_of, quotient

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

KNOWN_BEFORE: Mapping[str, str] = {
    "area_id": "area",
    "dwelling": "dwelling",
    "people": "people in the household",
    "cohort": "quarter of the first bin",
    "channel": "how it registered",
    "last_state": "state told last",
    "answered_before": "answered earlier rounds",
}
"""Columns of the query wave_frames that may tell who answers, and what to call them."""

GOOD_RESPONSE_SHARE = 0.8
"""Below it, study whether those who did not answer differ.

US Office of Management and Budget, Standards and Guidelines for Statistical Surveys, 2006,
guideline 3.2.9; from memory.
"""

LEAST_ASKED_IN_CATEGORY = 20
"""A category of which fewer were asked is put together with the other small ones."""

SMALL = "small ones together"

PRIOR_SPREAD = 1.0
"""Standard deviation of the belief about a log odds ratio: two in three lie within a factor of
2.7. It keeps a category of which all or none answered finite."""

LEAST_CHANCE = 0.02
"""No household is taken to answer less often: its weight would carry a figure alone."""

MOST_SILENT_ODDS = (1.0 - LEAST_CHANCE) / LEAST_CHANCE

MOST_STEPS = 50
SETTLED = 1e-10


@dataclass(frozen=True)
class ResponseModel:
    """Chance of an answer of each household asked, and what it depends on."""

    terms: pl.DataFrame  # one row a category: covariate, category, asked_count, answered_count
    design: CategoryDesign  # what is known of each household asked
    centre: Numbers  # shape (1 + categories,): most likely log odds
    curvature: Numbers  # shape (1 + categories, 1 + categories), of the likelihood there
    residuals: Numbers  # shape (asked,): answer less its modelled chance
    penalty: Numbers  # shape (1 + categories,): weight of the belief about each log odds
    scale: float  # by what weights are multiplied to add up to the households asked

    def log_odds(self, weights: Numbers) -> Numbers:
        """Log odds of each replicate, shape (rows, 1 + categories), from its weights."""
        # the same columns as `design.sums` of weights times what is left, in one product
        own = self._left @ weights.T
        own[1:] -= np.outer(self.design.means, own[0])
        own -= (self.penalty * self.centre)[:, None]
        return np.asarray(self.centre + scipy.linalg.lu_solve(self._bend, own).T)

    @cached_property
    def _left(self) -> scipy.sparse.csr_array:
        """What is left of each household, in the row of all and of each of its categories."""
        left = scipy.sparse.csr_array((self.scale * self.residuals)[None, :])
        return scipy.sparse.vstack([left, self.design.members.T.multiply(left)]).tocsr()

    @cached_property
    def _bend(self) -> tuple[Numbers, NDArray[np.int32]]:
        """The curvature taken apart, once for all blocks of replicates."""
        return scipy.linalg.lu_factor(self.curvature)  # type: ignore[no-any-return]

    def odds_ratio(self, log_odds: Numbers) -> Numbers:
        """Odds of each category over those of its covariate's average one, all else equal.

        Shape (rows, categories).
        """
        place = numbers_of(self.terms["covariate"])
        own = log_odds[:, 1:]
        if not place.size:
            return np.exp(own)
        member = np.eye(int(place.max()) + 1)[place]
        means = (own @ member) / member.sum(axis=0)
        return np.asarray(np.exp(own - means[:, place]))


def model_response(asked: pl.DataFrame, weights: Numbers) -> ResponseModel:
    """Model who answers by logistic regression on everything known before the round.

    Categories of area, dwelling, household size, quarter of the hand-over, channel, state
    told last and answers to earlier rounds; those of which fewer than twenty were asked are
    put together. A normal belief with a standard deviation of 1 about every log odds ratio
    shrinks what few households say. Replicates move by one step of the score with their own
    weights from the common maximum.

    Parameters
    ----------
    asked
        Rows of the query wave_frames whose answer was awaited: the columns of KNOWN_BEFORE
        and has_answered.
    weights
        Shape (asked,): one over the inclusion probability.

    Notes
    -----
    Weights are scaled to add up to the households asked. With scores x (y - p) and curvature
    ``H = sum w p (1 - p) x x' + diag(1 / sd²)`` a replicate r is at
    ``beta + H⁻¹ (sum w_r x (y - p) - beta / sd²)``.

    References
    ----------
    Little, R.J.A. (1986), Survey nonresponse adjustments for estimates of means,
    International Statistical Review 54, 139-157. Kline, P. and Santos, A. (2012), A score
    based approach to wild bootstrap inference, Journal of Econometric Methods 1, 23-41 (the
    one step). Gelman, A. et al. (2008), Annals of Applied Statistics 2, 1360-1383 (weak
    beliefs in logistic regression). Robins, J.M., Rotnitzky, A. and Zhao, L.P. (1995),
    Journal of the American Statistical Association 90, 106-121 (attrition by the inverse
    of the probability given the history).
    """
    terms, design = categories_of(asked, KNOWN_BEFORE, "has_answered")
    answered = asked["has_answered"].to_numpy().astype(float)
    scale = asked.height / float(weights.sum())
    penalty = np.full(design.width, PRIOR_SPREAD**-2)
    penalty[0] = 0.0  # nothing is believed about how many answer in all
    centre, curvature = _climb(design, answered, scale * weights, penalty)
    left = answered - scipy.special.expit(design.of(centre[None, :])[0])
    return ResponseModel(terms, design, centre, curvature, left, penalty, scale)


@dataclass(frozen=True)
class CategoryDesign:
    """A column of ones, then a centred one for each category, kept as who is in which."""

    members: scipy.sparse.csr_array  # shape (rows, categories): 1 where a row is in it
    means: Numbers  # shape (categories,): share of the rows in each

    @property
    def width(self) -> int:
        """Columns."""
        return 1 + self.means.size

    def sums(self, weights: Numbers) -> Numbers:
        """Weighted sums of each column, shape (weights' rows, width)."""
        total = weights.sum(axis=1, keepdims=True)
        own = (self.members.T @ weights.T).T - total * self.means
        return np.concatenate([total, own], axis=1)

    def among(self, rows: Integers) -> CategoryDesign:
        """Keep some rows, centred as all are."""
        return CategoryDesign(self.members[rows], self.means)

    def of(self, coefficients: Numbers) -> Numbers:
        """Linear predictors, shape (coefficients' rows, rows)."""
        own = coefficients[:, 1:]
        level = coefficients[:, 0] - own @ self.means
        return np.asarray((self.members @ own.T + level).T)

    def squares(self, weights: Numbers) -> Numbers:
        """Weighted sums of products of columns, shape (width, width)."""
        own = self.members.multiply(weights[:, None]).tocsr()
        total, of_each = weights.sum(), np.asarray(own.sum(axis=0)).ravel()
        left = of_each - total * self.means
        found = np.empty((self.width, self.width))
        found[0, 0], found[0, 1:], found[1:, 0] = total, left, left
        found[1:, 1:] = (own.T @ self.members).toarray()
        found[1:, 1:] -= np.outer(self.means, of_each) + np.outer(left, self.means)
        return found


def _climb(
    design: CategoryDesign, answered: Numbers, weights: Numbers, penalty: Numbers
) -> tuple[Numbers, Numbers]:
    """Newton's steps to the maximum of the penalised likelihood, and the curvature there."""
    point = np.zeros(design.width)
    share = np.clip(np.average(answered, weights=weights), LEAST_CHANCE, 1.0 - LEAST_CHANCE)
    point[0] = scipy.special.logit(share)
    for _ in range(MOST_STEPS):
        chance = scipy.special.expit(design.of(point[None, :])[0])
        score = design.sums((weights * (answered - chance))[None, :])[0] - penalty * point
        # where almost all answer the curvature of the whole fades; a hair keeps the step finite
        bend = design.squares(weights * chance * (1.0 - chance)) + np.diag(penalty + SETTLED)
        # where all answered alike nothing tells categories apart, and the level has no end
        if np.ptp(answered) == 0.0:
            break
        step = np.linalg.solve(bend, score)
        point = point + np.clip(step, -1.0, 1.0)
        if np.abs(step).max() < SETTLED:
            break
    return point, bend


def stopping_design(spells: pl.DataFrame, covariates: Iterable[str]) -> Numbers:
    """Lay out categories for a regression of has_stopped as `categories_of` does, in full."""
    _, design = categories_of(spells, covariates, "has_stopped")
    return design.of(np.eye(design.width)).T


def categories_of(
    rows: pl.DataFrame, covariates: Iterable[str], outcome: str
) -> tuple[pl.DataFrame, CategoryDesign]:
    """Lay out categories for a regression: a column of ones, then a centred one for each.

    Categories with few rows are put together; a covariate of one category has no column.

    Parameters
    ----------
    rows
        The covariates and the outcome; where this is null a row counts for no outcome.
    covariates, outcome
        Names of columns; the outcome is true or false.

    Returns
    -------
    tuple
        One row a category: covariate, category, asked_count (rows), answered_count (of them
        with a true outcome); and the design.
    """
    terms = [_NO_TERMS]
    columns: list[Integers] = []
    for name in covariates:
        category = _merged(rows[name].cast(pl.String))
        counted = (
            pl.DataFrame({"category": category, "outcome": rows[outcome]})
            .group_by("category")
            .agg(asked_count=pl.len(), answered_count=pl.col("outcome").sum())
            .sort("category")
        )
        # one category alone tells nothing
        if counted.height < 2:
            continue
        before = sum(one.height for one in terms)
        columns.append(numbers_of(category) + before)
        terms.append(counted.select(pl.lit(name).alias("covariate"), pl.all()))
    listed = pl.concat(terms, how="vertical_relaxed")
    places = np.stack(columns, axis=1) if columns else np.empty((rows.height, 0), np.int64)
    members = scipy.sparse.csr_array(
        (np.ones(places.size), (np.repeat(np.arange(rows.height), len(columns)), places.ravel())),
        shape=(rows.height, listed.height),
    )
    return listed, CategoryDesign(members, np.asarray(members.mean(axis=0)).ravel())


_NO_TERMS = pl.DataFrame(
    schema={
        "covariate": pl.String,
        "category": pl.String,
        "asked_count": pl.UInt32,
        "answered_count": pl.UInt32,
    }
)


def _merged(category: pl.Series) -> pl.Series:
    """Put categories with few households together."""
    counted = category.value_counts(name="asked_count")
    small = counted.filter(pl.col("asked_count") < LEAST_ASKED_IN_CATEGORY)[category.name]
    # one small category has none to go with
    if small.len() < 2:
        return category
    return (
        category.to_frame("one")
        .select(pl.when(pl.col("one").is_in(small.implode())).then(pl.lit(SMALL)).otherwise("one"))
        .to_series()
    )


def silent_odds(design: CategoryDesign, log_odds: Numbers) -> Numbers:
    """Odds of silence of the households of a design, shape (rows, households)."""
    odds = design.of(-log_odds)
    return np.minimum(np.exp(odds, out=odds), MOST_SILENT_ODDS, out=odds)


def inverse_chances(odds: Numbers, weights: Numbers, silent: Numbers) -> Numbers:
    """Find what each answer stands for.

    Parameters
    ----------
    odds
        Shape (rows, answered): odds of silence of those who answered, see `silent_odds`, over
        their odds of answering against others like them; 1 as modelled.
    weights
        Shape (rows, answered): before the adjustment.
    silent
        Shape (rows,): what all that are silent weigh.

    Returns
    -------
    ndarray
        Shape (rows, answered): factors of the weights. Those of all together stand for all who
        were asked, in every row.

    Notes
    -----
    ``1 + c odds(silent) / odds_ratio^user`` with c such that the silent are stood for. Where the
    ratio is 1 that is near 1 / p; c mends what the belief about p, which shrinks it, takes away.

    References
    ----------
    Scharfstein, D.O., Rotnitzky, A. and Robins, J.M. (1999), Adjusting for nonignorable
    drop-out using semiparametric nonresponse models, Journal of the American Statistical
    Association 94, 1096-1120. Kim, J.K. and Yu, C.L. (2011), A semiparametric estimation of
    mean functionals with nonignorable missing data, ibid. 106, 157-165.

    Examples
    --------
    Two of four answered, each as likely as not; the odds of users are three times as large.

    >>> odds = np.array([[1.0 / 3.0, 1.0]])
    >>> inverse_chances(odds, np.ones((1, 2)), np.array([2.0])).round(3).tolist()
    [[1.5, 2.5]]
    """
    stood_for = (weights * odds).sum(axis=1)
    factor = quotient(silent, stood_for)
    return np.asarray(1.0 + factor[:, None] * odds)
