"""Households that already composted, by hand."""

import numpy as np
import polars as pl
import pytest

from planner.diversion.measured import composters
from planner.tables import PRIOR_SHARES


def told(compost, residual):
    rows = {name: [0.0] * len(compost) for name in PRIOR_SHARES}
    rows["prior_garden_compost_share"] = compost
    rows["prior_residual_bin_share"] = residual
    rows["prior_other_share"] = [1.0 - a - b for a, b in zip(compost, residual, strict=True)]
    return pl.DataFrame(rows)


def test_the_two_kinds_are_weighted_means_of_their_own():
    """By hand: weights 1 and 3 among composters, (10 x 0.2 + 30 x 0.6) / 40 = 0.5."""
    answers = told([0.5] * 10 + [0.1] * 10 + [0.0] * 10, [0.2] * 10 + [0.6] * 10 + [0.9] * 10)
    weights = np.r_[np.ones(10), np.full(10, 3.0), np.ones(10)][None, :]
    found = composters(answers, weights)
    assert found.household_share == pytest.approx([0.8])
    assert found.residual_bin_share == pytest.approx([0.5])
    assert found.others_residual_bin_share == pytest.approx([0.9])
    assert found.least_count == 10


def test_with_nine_of_a_kind_they_are_not_told_apart():
    answers = told([0.5] * 9 + [0.0] * 30, [0.5] * 9 + [1.0] * 30)
    assert composters(answers, np.ones((1, 39))) is None
