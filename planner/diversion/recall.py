"""Where scraps went before, remembered after the hand-over: what memory adds, taken off."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Integers, Numbers, numbers_of, quotient
from planner.survey.prior_routes import shares_of
from planner.survey.row_weights import summed_by
from planner.tables import RESIDUAL_BIN

if TYPE_CHECKING:
    from planner.survey.prior_routes import PriorRoutes
    from planner.survey.row_weights import Weights

LEAST_ANSWERS = 10
"""Fewest baseline answers of either kind, before and after the hand-over, that are compared."""


@dataclass(frozen=True)
class Recall:
    """Baseline answers given after the household's own hand-over, against those before it."""

    # shape (1 + draws_count,): residual-bin share remembered after the hand-over, less what the
    # same households would have answered before it
    difference: Numbers
    # answers before and after the household's own hand-over
    before_count: int
    recalled_count: int
    # share of the difference that the answers themselves decide; 0 where too few of either kind
    # compare, and the stated belief stands alone
    data_share: float

    @property
    def recalled_share(self) -> float:
        """Share of the baseline answers that are recall."""
        return self.recalled_count / (self.before_count + self.recalled_count)

    def taken_off(self, routes: PriorRoutes) -> PriorRoutes:
        """Take the difference off the shares, as far as each rests on recall.

        The other routes keep their proportions and make up for it.
        """
        shares = routes.shares
        residual = shares[..., RESIDUAL_BIN]
        difference = self.difference[:, None, None] * routes.recalled_share
        corrected = np.clip(residual - difference, 0.0, 1.0)
        # households that threw everything away have no other proportions to keep
        left = 1.0 - residual
        scale = quotient(1.0 - corrected, left, otherwise=1.0)
        moved = shares * scale[..., None]
        moved[..., RESIDUAL_BIN] = np.where(left > 0.0, corrected, residual)
        return replace(routes, shares=moved)


def fit_recall(answers: pl.DataFrame, weights: Weights, believed: Numbers, spread: float) -> Recall:
    """Compare baseline answers given before and after the household's own hand-over.

    Asked once it has its bin, a household answers from memory and may flatter the change:
    that is another measurement. The difference is that of weighted means within collection
    service and dwelling, shrunk towards the stated belief by how sure it is; where fewer
    than ten of either kind answered, the belief alone widens the interval.

    Parameters
    ----------
    answers
        Query prior_shares, a row an answer.
    weights
        Shape (1 + draws_count, answers).
    believed
        Shape (1 + draws_count,): draws of what recall may add to the share, about 0.
    spread
        Standard deviation of that belief, see `planner.diversion.season.stated_spread`.

    Notes
    -----
    With d the difference found, v its linearised variance and s² that of the belief b,
    ``k d + (1 - k) b``, ``k = s² / (s² + v)``: mean and variance of the normal posterior.
    v comes from the answers and not from draws, so that the seed moves no central value.

    References
    ----------
    Hill, L.G. and Betz, D.L. (2005), Revisiting the retrospective pretest, American Journal
    of Evaluation 26, 501-517, abstract (both kinds of answer may be biased, recall of
    approved behaviour more). Gelman, A. et al. (2013), Bayesian Data Analysis, 3rd ed.,
    section 2.5.
    """
    is_recalled = answers["is_recalled"].to_numpy()
    recalled_count = int(is_recalled.sum())
    before_count = answers.height - recalled_count
    if min(before_count, recalled_count) < LEAST_ANSWERS:
        return Recall(believed, before_count, recalled_count, 0.0)
    residual = shares_of(answers)[:, RESIDUAL_BIN]
    kind = pl.struct(pl.col("kerbside_service", "dwelling").cast(pl.String))
    group = numbers_of(answers.select(kind).to_series())
    found, variance = _within_groups(residual, is_recalled * 1.0, group, weights)
    belief = spread**2
    if not np.isfinite(variance) or belief + variance == 0.0:
        return Recall(believed, before_count, recalled_count, 0.0)
    data_share = belief / (belief + variance)
    difference = data_share * found + (1.0 - data_share) * believed
    return Recall(difference, before_count, recalled_count, data_share)


def _within_groups(
    values: Numbers, is_recalled: Numbers, group: Integers, weights: Weights
) -> tuple[Numbers, float]:
    """Weighted difference between the two kinds within groups, by draw, and its variance."""
    count = int(group.max()) + 1
    total, recalled, of_values, of_both = (
        summed_by(weights * of_each, group, count)
        for of_each in (np.ones(group.size), is_recalled, values, values * is_recalled)
    )
    # a group all of one kind says nothing and drops out of both sums
    above = of_both - recalled * of_values / total
    below = recalled - recalled**2 / total
    difference = above.sum(axis=1) / below.sum(axis=1)
    away = is_recalled - (recalled[0] / total[0])[group]
    left = values - (of_values[0] / total[0])[group] - difference[0] * away
    influence = weights[0] * away * left / below[0].sum()
    return np.asarray(difference), float(influence @ influence)
