"""Who answers: the chance of an answer, modelled from all that was known before a round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import special

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

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

LEAST_ASKED_IN_CATEGORY = 20
"""A category of which fewer were asked is put together with the other small ones."""

SMALL = "small ones together"

PRIOR_SPREAD = 1.0
"""Standard deviation of the belief about a log odds ratio: two in three lie within a factor of
2.7. It keeps a category of which all or none answered finite."""

LEAST_CHANCE = 0.02
"""No household is taken to answer less often: its weight would carry a figure alone."""

MOST_STEPS = 50
SETTLED = 1e-10


@dataclass(frozen=True)
class ResponseModel:
    """Chance of an answer of each household asked, and what it depends on.

    Parameters
    ----------
    chance
        Shape (1 + draws_count, asked).
    terms
        One row a category: covariate, category, asked_count, answered_count.
    odds_ratio
        Shape (1 + draws_count, categories): odds of an answer of each category over those of
        the average category of its covariate, all else equal.
    """

    chance: Numbers
    terms: pl.DataFrame
    odds_ratio: Numbers


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
        Shape (1 + draws_count, asked): one over the inclusion probability, times replicate
        multipliers.

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
    terms, design = category_design(asked, KNOWN_BEFORE, "has_answered")
    answered = asked["has_answered"].to_numpy().astype(float)
    scaled = weights * (asked.height / weights[0].sum())
    penalty = np.full(design.shape[1], PRIOR_SPREAD**-2)
    penalty[0] = 0.0  # nothing is believed about how many answer in all
    centre, curvature = _climb(design, answered, scaled[0], penalty)
    left = answered - special.expit(design @ centre)
    score = (scaled * left) @ design - penalty * centre
    rows = centre + np.linalg.solve(curvature, score.T).T
    chance = np.clip(special.expit(rows @ design.T), LEAST_CHANCE, 1.0)
    return ResponseModel(chance, terms, _over_average(terms, rows[:, 1:]))


def _over_average(terms: pl.DataFrame, log_odds: Numbers) -> Numbers:
    """Odds of each category over the mean log odds of its covariate's categories."""
    place = terms["covariate"].rank("dense").cast(pl.Int64).to_numpy() - 1
    if not place.size:
        return np.exp(log_odds)
    member = np.eye(int(place.max()) + 1)[place]
    means = (log_odds @ member) / member.sum(axis=0)
    return np.asarray(np.exp(log_odds - means[:, place]))


def _climb(
    design: Numbers, answered: Numbers, weights: Numbers, penalty: Numbers
) -> tuple[Numbers, Numbers]:
    """Newton's steps to the maximum of the penalised likelihood, and the curvature there."""
    point = np.zeros(design.shape[1])
    share = np.clip(np.average(answered, weights=weights), LEAST_CHANCE, 1.0 - LEAST_CHANCE)
    point[0] = special.logit(share)
    for _ in range(MOST_STEPS):
        chance = special.expit(design @ point)
        score = design.T @ (weights * (answered - chance)) - penalty * point
        bend = (design * (weights * chance * (1.0 - chance))[:, None]).T @ design
        # where everyone answers the curvature of the whole fades; a hair keeps the step finite
        bend += np.diag(penalty + SETTLED)
        step = np.linalg.solve(bend, score)
        point = point + np.clip(step, -1.0, 1.0)
        if np.abs(step).max() < SETTLED:
            break
    return point, bend


def category_design(
    rows: pl.DataFrame, covariates: Iterable[str], outcome: str
) -> tuple[pl.DataFrame, Numbers]:
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
        with a true outcome); and the design, shape (rows, 1 + categories).
    """
    parts, columns = [], [np.ones((rows.height, 1))]
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
        member = np.stack([(category == one).to_numpy() for one in counted["category"]], axis=1)
        columns.append(member - member.mean(axis=0))
        parts.append(counted.select(pl.lit(name).alias("covariate"), pl.all()))
    empty = pl.DataFrame(
        schema={
            "covariate": pl.String,
            "category": pl.String,
            "asked_count": pl.UInt32,
            "answered_count": pl.UInt32,
        }
    )
    return pl.concat([empty, *parts], how="vertical_relaxed"), np.concatenate(columns, axis=1)


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


def inverse_chances(
    chance: Numbers,
    weights: Numbers,
    answered: NDArray[np.bool_],
    users: Numbers,
    odds_ratio: float,
) -> Numbers:
    """Find what each answer stands for where users answer likelier than others like them.

    Parameters
    ----------
    chance
        Shape (rows, asked): modelled chance of an answer.
    weights
        Shape (rows, asked): before the adjustment.
    answered
        Shape (asked,).
    users
        Shape (asked,): 1 where a household that answered uses its bin.
    odds_ratio
        Odds of answering of users over those of others, all else equal; 1 as modelled.

    Returns
    -------
    ndarray
        Shape (rows, asked): factors of the weights of those who answered. Those of all
        together stand for all who were asked, in every row.

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
    >>> half, one = np.full((1, 4), 0.5), np.ones((1, 4))
    >>> answered, users = np.array([True, True, False, False]), np.array([1.0, 0.0, 0.0, 0.0])
    >>> inverse_chances(half, one, answered, users, 3.0).round(3).tolist()[0][:2]
    [1.5, 2.5]
    """
    silent_odds = (1.0 - chance) / chance * odds_ratio**-users
    stood_for = (weights * silent_odds)[:, answered].sum(axis=1)
    silent = weights[:, ~answered].sum(axis=1)
    factor = np.divide(silent, stood_for, out=np.zeros_like(silent), where=stood_for > 0.0)
    return np.asarray(1.0 + factor[:, None] * silent_odds)
