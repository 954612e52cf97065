"""Households that composted their food scraps before, set against the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.survey.prior_routes import shares_of
from planner.tables import PRIOR_SHARES, RESIDUAL_BIN

if TYPE_CHECKING:
    from planner.survey.row_weights import Weights

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

    Returns
    -------
    Composters or None
        None with fewer than ten of either kind.

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
