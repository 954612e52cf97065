"""Partial pooling against a published example and against councils whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from planner.pooling.contract import DRAWS_COUNT, FEED
from planner.pooling.partial import AMOUNT, SHARE, pool_rate, pool_rates
from planner.survey.small_areas import AreaModel, draw_effects
from tests.unit.pooling.councils import export, rate

IN_USE = "in_use_12_months_share_house"


def test_eight_schools():
    """Rubin (1981); medians of Gelman et al., Bayesian Data Analysis, 3rd ed., table 5.3.

    Effects and standard errors are the published ones; the medians are from memory. There
    the standard deviation between schools has a flat prior; a half-normal one of scale 30 is
    near to flat where the likelihood lies.
    """
    effects = np.array([28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0])
    errors = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])
    model = AreaModel.of(effects, errors**2, np.ones((8, 1)), np.arange(8), 8)
    found = draw_effects(
        model, np.ones((8, 1)), np.arange(8), 30.0, 20_000, np.random.default_rng(4)
    )
    medians = np.median(found.predictor[1:], axis=0)
    assert medians == pytest.approx([10, 8, 7, 8, 5, 6, 10, 8], abs=1.0)


def test_a_weak_survey_is_drawn_further_than_a_strong_one():
    rng = np.random.default_rng(5)
    rates = [rate(2.0, 0.05, rng), rate(2.0, 0.4, rng), *(rate(1.0, 0.05, rng) for _ in range(6))]
    pooled = pool_rate(FEED, rates, np.arange(8), 1)
    strong, weak = pooled.shrunk[0, 0], pooled.shrunk[0, 1]
    middle = pooled.mean[0]
    assert pooled.own_weight[0] > pooled.own_weight[1]
    assert middle < weak < strong < 2.0 + 0.1
    assert (pooled.own_weight >= 0.0).all()
    assert (pooled.own_weight <= 1.0).all()


def test_councils_that_agree_are_told_from_each_other_by_chance_alone():
    rng = np.random.default_rng(6)
    pooled = pool_rate(FEED, [rate(1.3, 0.1, rng) for _ in range(10)], np.arange(10), 1)
    assert pooled.chance_above == pytest.approx(np.full(10, 0.5), abs=0.25)


@pytest.mark.parametrize(("name", "link", "middle"), [(FEED, AMOUNT, 1.5), (IN_USE, SHARE, 0.7)])
def test_intervals_hold_the_truth_of_simulated_councils(name, link, middle):
    """Cover of 95% intervals over 60 states of 12 councils, and of a council that joins."""
    held, joined, narrower = [], [], []
    for state in range(60):
        rng = np.random.default_rng(1000 + state)
        centre = float(link.forward(np.array([middle]))[0])
        truth = rng.normal(centre, 0.6 * link.between_scale, 13)
        errors = rng.uniform(0.05, 0.5, 12)
        seen = link.back(rng.normal(truth[:12], errors))
        rates = [rate(float(y), float(sd), rng, name) for y, sd in zip(seen, errors, strict=True)]
        pooled = pool_rate(name, rates, np.arange(12), state)
        low, high = np.percentile(pooled.shrunk[1:], (2.5, 97.5), axis=0)
        target = link.back(truth)
        held += list((low <= target[:12]) & (target[:12] <= high))
        wide = np.percentile(pooled.measured[1:], 97.5, axis=0) - np.percentile(
            pooled.measured[1:], 2.5, axis=0
        )
        narrower.append(((high - low) / wide).mean())
        low, high = np.percentile(pooled.new_council[1:], (2.5, 97.5))
        joined.append(low <= target[12] <= high)
    assert 0.92 <= np.mean(held) <= 0.98
    assert np.mean(joined) >= 0.88
    assert np.mean(narrower) < 0.9


def test_a_factor_that_all_share_is_no_difference_between_councils():
    """Its error moves all alike: it widens each interval and leaves the spread between."""
    rng = np.random.default_rng(7)
    part = np.concatenate([[0.0], rng.normal(0.0, 0.3, DRAWS_COUNT)])
    plain = pool_rate(FEED, [rate(1.3, 0.05, np.random.default_rng(n)) for n in range(8)],
                      np.arange(8), 1)  # fmt: skip
    tied = pool_rate(FEED, [rate(1.3, 0.05, np.random.default_rng(n), part=part) for n in range(8)],
                     np.arange(8), 1)  # fmt: skip
    assert tied.between_sd == pytest.approx(plain.between_sd)
    assert tied.chance_above == pytest.approx(plain.chance_above)
    assert np.log(tied.mean[1:]).std() == pytest.approx(0.3, rel=0.1)


def test_two_councils_are_not_drawn_to_each_other():
    rng = np.random.default_rng(8)
    exports = [export(f"Council {n}", rates={FEED: rate(1.0, 0.1, rng)}) for n in range(2)]
    assert pool_rates(exports) == {}


def test_three_councils_are_drawn_together_and_two_are_not():
    rng = np.random.default_rng(8)
    states = [export(f"Council {n}", rates={FEED: rate(1.3, 0.1, rng)}) for n in range(3)]
    assert list(pool_rates(states)) == [FEED]
    assert pool_rates(states[:2]) == {}


def test_a_council_far_above_the_others_lies_above_the_middle_for_sure():
    rng = np.random.default_rng(9)
    rates = [rate(3.0, 0.03, rng), *(rate(1.0, 0.03, rng) for _ in range(5)), rate(0.5, 0.03, rng)]
    pooled = pool_rate(FEED, rates, np.arange(7), 1)
    assert pooled.chance_above[0] > 0.99
    assert pooled.chance_above[-1] < 0.01


def test_how_far_councils_may_differ_is_the_stated_judgement():
    """Twice it takes 1 kg to 1.8 or 0.55, and a share of 60% to 80 or to 36%."""
    twice = 2.0 * AMOUNT.between_scale
    assert np.exp([twice, -twice]) == pytest.approx([1.8, 0.55], abs=0.03)
    away = SHARE.forward(np.array([0.6, 0.6])) + 2.0 * SHARE.between_scale * np.array([1.0, -1.0])
    assert SHARE.back(away) == pytest.approx([0.8, 0.36], abs=0.005)
