"""Losses on the way, a supplier's record, and the starter that scraps ask for."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from planner.factors import read_factors
from planner.worms.run_in import run_in_of_starter, starter_for_scraps_kg
from planner.worms.transit import (
    BAG_CORRELATION,
    allowance_share,
    heat_multiplier,
    loss_law,
    survival_share,
)


def test_without_deliveries_the_allowance_stands():
    law = loss_law(0.02)
    assert law.mean_share == pytest.approx(0.02)
    assert law.deliveries_count == 0


def test_the_allowance_reaches_the_published_upper_end():
    # factor transit_loss_share: 0.02 with a high end of 0.1
    factor = read_factors().find("transit_loss_share")
    law = loss_law(factor.value)
    upper = stats.beta.ppf(0.975, law.alpha, law.beta)
    assert upper == pytest.approx(factor.high, abs=0.015)


def test_single_bags_are_counted_as_a_beta_binomial_does():
    # 1 kg deliveries are bags that have nothing in common: 3 of 30 dead
    law = loss_law(0.02, np.ones(30), np.r_[np.ones(3), np.zeros(27)])
    assert law.mean_share == pytest.approx((40.0 * 0.02 + 3) / (40.0 + 30))


def test_bags_of_one_delivery_tell_less_than_as_many_single_ones():
    together = loss_law(0.02, [30.0], [3.0]).mean_share
    apart = loss_law(0.02, np.ones(30), np.r_[np.ones(3), np.zeros(27)]).mean_share
    effective = 30.0 / (1.0 + 29.0 * BAG_CORRELATION)
    expected = (40.0 * 0.02 + 0.1 * effective) / (40.0 + effective)
    assert together == pytest.approx(expected)
    assert 0.02 < together < apart


def test_a_long_record_outweighs_the_allowance():
    law = loss_law(0.02, np.full(400, 20.0), np.full(400, 1.6))
    assert law.mean_share == pytest.approx(0.08, abs=0.001)


def test_the_nodes_have_the_mean_of_the_law():
    law = loss_law(0.03, [25.0, 30.0], [0.5, 2.0])
    assert law.nodes().mean() == pytest.approx(law.mean_share, rel=1e-9)
    assert np.all(np.diff(law.nodes()) >= 0)


def test_a_supplier_that_cannot_lose_has_no_losses():
    assert loss_law(0.0).nodes().tolist() == [0.0]


def test_days_on_the_way_compound():
    assert 1.0 - allowance_share(0.02, 6.0) == pytest.approx(0.98**2)
    assert allowance_share(0.02, 0.0) == 0.0


def test_survival_falls_with_days_heat_and_holding_and_is_a_share():
    mild = survival_share(0.02, [18.0, 18.0], 0.01, [0, 1, 5])
    hot = survival_share(0.02, [18.0, 27.0], 0.01, [0, 1, 5])
    assert mild == pytest.approx(0.98 * 0.99 ** np.array([0, 1, 5]))
    assert np.all(hot < mild)
    assert np.all((hot > 0.0) & (hot < 1.0))
    assert heat_multiplier([5.0, 20.0, 30.0, 40.0]).tolist() == [1.0, 1.0, 2.0, 4.0]


def test_a_pound_of_worms_takes_three_and_a_half_pounds_a_week():
    # NYC, Indoor Composting with a Worm Bin (2012): 1 lb of worms, 3.5 lb of scraps a week
    assert starter_for_scraps_kg(1.0, 3.5, 1.0, 0.5) == pytest.approx(1.0)


def test_the_starter_for_scraps_takes_its_share_at_the_start():
    factors = read_factors()
    feed, startup = (factors.find(name).value for name in ("feed_kg_per_kg_day", "startup_share"))
    starter = starter_for_scraps_kg(2.4, 0.45, 0.5, feed, startup)
    taken_share = run_in_of_starter(starter, 2.4 * 0.45, 0.16, factors)
    assert taken_share[0] == pytest.approx(0.5)
    assert np.all(np.diff(taken_share) >= 0)
    assert taken_share[-1] == 1.0


def test_the_law_of_a_delivery_spreads_by_both_what_is_unknown_and_what_differs():
    # law of total variance over a beta posterior, whose moments are scipy's
    law = loss_law(0.04, np.ones(25), np.r_[np.ones(2), np.zeros(23)])
    mean = stats.beta(40.0 * 0.04 + 2, 40.0 * 0.96 + 23)
    within = mean.mean() - mean.moment(2)
    spread = stats.beta(law.alpha, law.beta).var()
    assert spread == pytest.approx(mean.var() + BAG_CORRELATION * within, rel=1e-9)
