"""Recall of the time before the bin, against a difference that was put in."""

import numpy as np
import polars as pl
import pytest

from planner.diversion.recall import LEAST_ANSWERS, fit_recall
from planner.survey.prior_routes import PriorRoutes
from planner.tables import PRIOR_SHARES

DRAWS = 400
BELIEVED = np.concatenate([[0.0], np.random.default_rng(3).triangular(-0.15, 0.0, 0.15, DRAWS)])


def answers(count, recalled, added, seed=1):
    """Houses put less into the residual bin than apartments, and recall comes from houses more."""
    rng = np.random.default_rng(seed)
    is_house = rng.random(count) < 0.5
    is_recalled = np.zeros(count, dtype=bool)
    order = np.argsort(rng.random(count) - 0.3 * is_house)
    is_recalled[order[:recalled]] = True
    residual = np.where(is_house, 0.5, 0.8) + rng.uniform(-0.2, 0.2, count) + added * is_recalled
    shares = np.zeros((count, len(PRIOR_SHARES)))
    shares[:, 0], shares[:, 1] = residual, 1.0 - residual
    return pl.DataFrame(
        {
            "kerbside_service": ["residual_only"] * count,
            "dwelling": np.where(is_house, "house", "apartment"),
            "is_recalled": is_recalled,
        }
    ).with_columns(pl.Series(name, shares[:, place]) for place, name in enumerate(PRIOR_SHARES))


def resampled(count, seed=2):
    """Bayesian bootstrap: exponential weights, the first row plain."""
    rng = np.random.default_rng(seed)
    return np.vstack([np.ones(count), rng.exponential(size=(DRAWS, count))])


def fitted(count, recalled, added):
    return fit_recall(answers(count, recalled, added), resampled(count), BELIEVED, 0.061)


def test_a_difference_put_in_comes_back_whatever_dwellings_were_asked_later():
    found = fitted(1200, 700, 0.09)
    low, high = np.percentile(found.difference[1:], [2.5, 97.5])
    assert low < 0.09 < high
    assert high - low < 0.06
    assert found.data_share > 0.9
    assert found.recalled_share == pytest.approx(700 / 1200)


def test_few_answers_say_little_and_the_belief_holds_the_rest():
    """Law: the posterior is no wider than the belief, nor than what the answers say."""
    few, many = fitted(40, 20, 0.05), fitted(1200, 600, 0.05)
    assert 0.0 < few.data_share < many.data_share < 1.0
    assert many.difference[1:].std() < few.difference[1:].std() < BELIEVED[1:].std()


@pytest.mark.parametrize("recalled", [0, LEAST_ANSWERS - 1, 100, 100 - LEAST_ANSWERS + 1])
def test_without_both_kinds_the_belief_stands(recalled):
    found = fitted(100, recalled, 0.05)
    assert found.data_share == 0.0
    assert np.array_equal(found.difference, BELIEVED)


def test_twice_as_wide_a_belief_gives_the_answers_four_times_the_odds():
    """By Bayes' rule for normal beliefs: data over belief weigh as its variance over theirs."""
    told, weights = answers(400, 200, 0.05), np.ones((1 + DRAWS, 400))
    narrow, wide = (
        fit_recall(told, weights, BELIEVED, spread).data_share for spread in (0.01, 0.02)
    )
    assert wide / (1.0 - wide) == pytest.approx(4.0 * narrow / (1.0 - narrow))


def routes(residual, recalled):
    shares = np.zeros((1 + DRAWS, 1, 1, len(PRIOR_SHARES)))
    shares[..., 0], shares[..., 1], shares[..., 2] = residual, 0.75 - residual, 0.25
    return PriorRoutes(
        ("A",), shares, (("landfill", 9, 1.0),), 9, np.full((1 + DRAWS, 1, 1), recalled), 0.3
    )


def test_it_is_taken_off_as_far_as_a_share_rests_on_recall_and_shares_add_up():
    found = fitted(1200, 700, 0.09)
    corrected = found.taken_off(routes(0.5, 0.4)).shares
    assert corrected[:, 0, 0, 0] == pytest.approx(0.5 - 0.4 * found.difference)
    assert corrected.sum(axis=-1) == pytest.approx(1.0)
    # a quarter and a half of the rest stay one to one
    assert corrected[..., 1] == pytest.approx(corrected[..., 2])


def test_a_baseline_asked_in_time_is_left_alone():
    found = fitted(1200, 0, 0.0)
    assert found.taken_off(routes(0.5, 0.0)).shares == pytest.approx(routes(0.5, 0.0).shares)
