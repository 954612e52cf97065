"""Demand is bounded by households and grows as they register; learning moves beliefs."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from scipy import stats

from planner.errors import EstimateError, ProgramError
from planner.factors import read_factors
from planner.program import Sizing
from planner.sizing.beliefs import Belief, beta_belief
from planner.sizing.draws import correlation_matrix, draw_beliefs
from planner.sizing.groups import (
    demand_by_round,
    groups_of,
    registered_share,
    response_to_copayment,
    share_by_round,
    take_up_share,
)
from planner.sizing.inputs import no_show_belief
from planner.sizing.learning import as_beta, clustered_size, learn_share, normal_update, priors_of
from planner.tables import DWELLINGS

START = dt.date(2026, 7, 1)
RATIO = {"house": 1.1, "townhouse": 1.0, "apartment": 0.75}


def rows(**columns):
    """Give two groups of one area, and one of another."""
    return pl.DataFrame(
        {
            "area_id": ["A", "A", "B"],
            "area_name": ["North", "North", "South"],
            "kerbside_service": ["residual_only", "residual_only", "food_and_garden_organics"],
            "is_priority": [True, True, False],
            "area_residents_count": [260, 260, 0],
            "dwelling": ["apartment", "house", "house"],
            "households_count": [40, 100, 10],
            "registered_count": [2, 30, 0],
            "registered_in_year_count": [1, 10, 0],
            "served_count": [1, 20, 0],
            "registered_people_count": [3, 90, 0],
            **columns,
        }
    )


def groups():
    return groups_of(rows(), RATIO, 2.5)


def test_residents_of_an_area_add_up_and_unknown_ones_are_the_mean():
    found = groups()
    assert (found.people * found.households)[:2].sum() == pytest.approx(260)
    assert found.people[0] / found.people[1] == pytest.approx(0.75 / 1.1)
    assert found.people[2] == pytest.approx(2.5)
    assert found.has_food_collection.tolist() == [False, False, True]


def test_one_resident_of_one_household_is_one_and_no_household_has_the_mean():
    found = groups_of(
        rows(area_residents_count=[260, 260, 1], households_count=[40, 100, 1]), RATIO, 2.5
    )
    assert found.people[2] == pytest.approx(1.0)
    left = rows(households_count=[40, 100, 0], registered_count=[2, 30, 3])
    assert groups_of(left, RATIO, 2.5).people[2] == 2.5


def test_the_register_tells_the_size_of_households_once_all_dwellings_are_known():
    told = rows(registered_count=[30, 30, 30], registered_people_count=[30, 90, 90])
    found = groups_of(told, RATIO, 2.5)
    assert found.people[0] / found.people[1] == pytest.approx(1.0 / 3.0)


def test_no_area_is_told_in_the_officers_words():
    with pytest.raises(EstimateError, match="sheet areas"):
        groups_of(rows().clear(), RATIO, 2.5)


def test_demand_is_who_waits_and_who_registers_and_never_more_than_the_households():
    found = groups()
    shares = np.array([0.5, 1.0])
    some = demand_by_round(found, np.array([[0.1, 0.1, 0.1]]), np.array([0.2]), shares)
    # A/house: 10 wait and 8 come, 70 have not registered, a tenth does, half by the first round
    assert some[0, 1].tolist() == pytest.approx([8 + 3.5, 8 + 7.0])
    all_of_them = demand_by_round(found, np.full((1, 3), 9.0), np.zeros(1), shares)
    assert all_of_them[0, :, 1].tolist() == pytest.approx([39.0, 80.0, 10.0])
    assert (np.diff(all_of_them, axis=2) >= 0).all()


def test_registrations_follow_the_register_where_there_are_enough():
    counted = pl.DataFrame(
        {
            "registered_month": [dt.date(2025, 7, 1), dt.date(2026, 1, 1)],
            "registered_count": [30, 10],
        }
    )
    shares = registered_share(counted, dt.date(2025, 7, 1), 3.0)
    assert shares[[0, 1, 6, 7, 12]].tolist() == [0.0, 0.75, 0.75, 1.0, 1.0]
    by_round = share_by_round(shares, START, [START, dt.date(2027, 1, 1)])
    assert by_round.tolist() == pytest.approx([0.375, 0.875])


def test_few_registrations_leave_the_stated_halving():
    few = pl.DataFrame({"registered_month": [dt.date(2025, 7, 1)], "registered_count": [29]})
    shares = registered_share(few, dt.date(2025, 7, 1), 3.0)
    # half of what is to come in each three months, all in after twelve
    assert shares[3] == pytest.approx(0.5 / (1 - 2**-4))
    assert shares[-1] == 1.0


def test_a_copayment_of_the_halving_amount_halves_and_a_cheaper_year_brings_more():
    halving = np.array([20.0])
    assert response_to_copayment(0.0, halving)[0] == 1.0
    assert response_to_copayment(40.0, halving)[0] == pytest.approx(0.25)
    assert response_to_copayment(-20.0, halving)[0] == pytest.approx(2.0)


def test_take_up_is_interest_times_doing_until_it_was_learnt():
    draws = {f"interest_share_{name}": np.array([0.2]) for name in DWELLINGS}
    stated = take_up_share({**draws, "doing_over_saying_share": np.array([0.5])})
    assert stated.tolist() == [[0.1, 0.1, 0.1]]
    learnt = {f"take_up_share_{name}": np.array([0.05]) for name in DWELLINGS}
    ratio = {"take_up_next_year_ratio": np.array([0.8])}
    assert take_up_share({**learnt, **ratio})[0].tolist() == pytest.approx([0.04] * 3)


def test_areas_that_differ_are_worth_fewer_households_than_areas_that_agree():
    sizes = np.array([1000.0, 1000.0, 1000.0, 1000.0])
    alike = clustered_size(np.array([50.0, 51.0, 49.0, 50.0]), sizes)
    apart = clustered_size(np.array([10.0, 90.0, 20.0, 80.0]), sizes)
    assert alike == pytest.approx(4000.0)
    # by hand: p = 0.05, sum of squared residuals 5000, times 4/3 over 4000²
    assert apart == pytest.approx(0.05 * 0.95 / (5000 * 4 / 3 / 4000**2))
    assert clustered_size(np.array([5.0]), np.array([100.0])) == 10.0


def test_a_sharper_measurement_pulls_harder():
    vague, _ = normal_update((0.0, 1.0), (1.0, 2.0))
    sharp, _ = normal_update((0.0, 1.0), (1.0, 0.1))
    assert 0.0 < vague < 0.5 < sharp < 1.0


def belief(name, shape="uniform", low=0.0, high=1.0):
    return Belief(name, name, "share", "d", shape, (low + high) / 2, low, high, "")


def test_draws_begin_with_the_central_value_and_fixed_ones_stay():
    drawn = draw_beliefs([belief("a"), belief("b", low=0.3, high=0.3)], {}, 64, 1)
    assert drawn["a"][0] == 0.5
    assert drawn["a"].size == 65
    assert (drawn["b"] == 0.3).all()
    assert (drawn["a"] == draw_beliefs([belief("a")], {}, 64, 1)["a"]).all()


def test_correlations_that_cannot_hold_together_are_refused():
    pairs = {("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9}
    with pytest.raises(ProgramError, match="cannot all hold together"):
        correlation_matrix(["a", "b", "c"], pairs)
    assert correlation_matrix(["a", "b"], pairs).shape == (2, 2)


def test_who_does_not_come_is_learned_from_places_held_at_own_days():
    """Conjugate updating by hand: days alike enough count each place as one answer."""
    stated = priors_of({}, read_factors())["no_show_share"]
    prior = as_beta(stated)
    turnout = pl.DataFrame({"came_count": [45, 40, 44], "absent_count": [5, 10, 6]})
    learned = []
    found = no_show_belief(stated, turnout, Sizing(last_year_weight=1.0), learned)
    # 21 of 150 stayed away; the areas' variance, here the days', is worked out in full
    share, counts, held = 21 / 150, np.array([5.0, 10.0, 6.0]), np.full(3, 50.0)
    between = ((counts - share * held) ** 2).sum() * 3 / 2 / 150**2
    size = min(150.0, share * (1 - share) / between)
    assert found.alpha == pytest.approx(prior.alpha + size * share)
    assert found.beta == pytest.approx(prior.beta + size * (1 - share))
    assert learned[0].measured[0] == pytest.approx(share)
    assert no_show_belief(stated, turnout.clear(), Sizing(), learned) is stated


def test_a_measured_share_is_shown_with_jeffreys_interval_and_updates_the_belief_before_it():
    """Jeffreys: quantiles of a Beta with half a household on each side (Brown et al. 2001)."""
    prior, learned = beta_belief("a", "", "", (2.0, 2.0), ""), []
    found = learn_share(prior, 0.8, 40.0, 0.5, "", learned)
    assert (found.alpha, found.beta) == pytest.approx((2.0 + 16.0, 2.0 + 4.0))
    limits = stats.beta.ppf([0.025, 0.975], 32.5, 8.5)
    assert learned[0].measured == pytest.approx((0.8, *limits))


def test_of_one_area_alone_ten_households_count_as_one_answer():
    assert clustered_size(np.array([5.0]), np.array([25.0])) == 2.5
    assert clustered_size(np.array([5.0, 0.0]), np.array([25.0, 0.0])) == 2.5
