"""Change scores, their difference and its tests: hand-worked cases, laws, known chances."""

import math

import numpy as np
import polars as pl
import pytest
from scipy import stats

from planner.errors import EstimateError
from planner.survey.audit import (
    ChangeScores,
    change_scores,
    difference,
    difference_draws,
    placebo_scores,
    randomisation_test,
    wild_bootstrap_test,
)

RNG = np.random.default_rng(0)


def visits(*rows):
    columns = ("arm", "cluster_id", "period", "visit_number", "households_count", "food_kg")
    return pl.DataFrame(rows, schema=columns, orient="row").with_columns(area_id=pl.lit("A"))


def test_visits_of_one_side_are_pooled_over_their_households():
    """Before: 30 + 10 kg of 10 + 10 households is 2; after: 9 kg of 6 is 1.5."""
    found = change_scores(
        visits(
            ("given", "1", "before", 1, 10, 30.0),
            ("given", "1", "before", 2, 10, 10.0),
            ("given", "1", "after", 1, 6, 9.0),
            ("comparison", "1", "before", 1, 5, 10.0),
            ("comparison", "1", "after", 1, 5, 15.0),
            ("comparison", "2", "after", 1, 5, 15.0),
        )
    )
    assert found.given.tolist() == [-0.5]
    assert found.comparison.tolist() == [1.0]
    assert found.unmatched_count == 1


def test_placebo_compares_the_last_two_visits_before():
    found = placebo_scores(
        visits(
            ("given", "1", "before", 1, 10, 30.0),
            ("given", "1", "before", 2, 10, 20.0),
            ("given", "1", "before", 3, 10, 90.0),
            ("given", "1", "after", 1, 10, 0.0),
        )
    )
    assert found.given.tolist() == [1.0]


def test_no_earlier_period_gives_no_placebo():
    assert placebo_scores(visits(("given", "1", "before", 1, 10, 30.0))).given.size == 0


def test_two_clusters_an_arm_worked_by_hand():
    """Changes -3, -1 against 0, 2: -3, SE² = 2/2 + 2/2, freedom 1² / (1/4 + 1/4) = 2."""
    found = difference(ChangeScores(np.array([-3.0, -1.0]), np.array([0.0, 2.0]), 0))
    assert found.value == -3.0
    assert found.standard_error == pytest.approx(math.sqrt(2.0))
    assert found.degrees_of_freedom == pytest.approx(2.0)
    reach = 4.302652729911275  # Student's t, 2 degrees of freedom, printed as 4.303
    assert found.low == pytest.approx(-3.0 - reach * math.sqrt(2.0))
    assert found.detectable == pytest.approx((reach + 1.0606601717798212) * math.sqrt(2.0))


def test_equal_arms_give_the_pooled_t_test():
    """With arms of one size standard error and freedom are those of Student's test."""
    rng = np.random.default_rng(4)
    given, comparison = rng.normal(size=8), rng.normal(size=8)
    found = difference(ChangeScores(given, comparison, 0))
    classic = stats.ttest_ind(given, comparison)
    assert found.p_value == pytest.approx(classic.pvalue, rel=1e-10)


def test_units_and_a_common_shift():
    """Grams instead of kilograms scale everything; what both arms gain does not matter."""
    rng = np.random.default_rng(5)
    given, comparison = rng.normal(size=5), rng.normal(size=7)
    one = difference(ChangeScores(given, comparison, 0))
    other = difference(ChangeScores(1000 * (given + 3), 1000 * (comparison + 3), 0))
    assert other.value == pytest.approx(1000 * one.value)
    assert other.standard_error == pytest.approx(1000 * one.standard_error)
    assert other.p_value == pytest.approx(one.p_value)


def test_fewer_than_two_clusters_have_no_interval_and_fewer_than_six_are_few():
    with pytest.raises(EstimateError, match="an interval needs 2 of each"):
        difference(ChangeScores(np.array([1.0]), np.arange(9.0), 0))
    with pytest.raises(EstimateError, match="2 clusters"):
        wild_bootstrap_test(ChangeScores(np.arange(9.0), np.array([1.0]), 0), RNG)
    assert ChangeScores(np.arange(5.0), np.arange(9.0), 0).is_few
    assert not ChangeScores(np.arange(6.0), np.arange(6.0), 0).is_few


def test_draws_have_the_stated_interval_and_centre():
    found = difference(ChangeScores(np.array([-3.0, -1.0, -2.5]), np.array([0.0, 2.0, 1.0]), 0))
    draws = difference_draws(found, 4000, np.random.default_rng(1))
    assert draws[0] == found.value
    assert np.percentile(draws[1:], [2.5, 97.5]) == pytest.approx([found.low, found.high], rel=5e-3)


def test_complete_separation_is_the_rarest_split():
    """Of 20 splits of six clusters two are as far apart as all low against all high."""
    scores = ChangeScores(np.array([-3.0, -2.0, -1.0]), np.array([1.0, 2.0, 3.0]), 0)
    assert randomisation_test(scores, RNG).p_value == pytest.approx(2 / 20)


def test_drawn_splits_come_near_those_that_are_listed(monkeypatch):
    rng = np.random.default_rng(6)
    scores = ChangeScores(rng.normal(-0.8, 1, 7), rng.normal(0, 1, 7), 0)
    listed = randomisation_test(scores, RNG)
    signs = wild_bootstrap_test(scores, RNG)
    monkeypatch.setattr("planner.survey.audit.MOST_ENUMERATED", 10)
    for exact, drawn in (
        (listed, randomisation_test(scores, np.random.default_rng(7))),
        (signs, wild_bootstrap_test(scores, np.random.default_rng(7))),
    ):
        assert exact.is_enumerated
        assert not drawn.is_enumerated
        spread = math.sqrt(exact.p_value * (1 - exact.p_value) / drawn.count)
        assert abs(drawn.p_value - exact.p_value) < 4 * spread + 1 / drawn.count


def test_a_true_null_is_rejected_once_in_twenty_at_most():
    """Law of an exact test: the chance of p <= 0.05 is at most 0.05; 400 audits of 5 and 5."""
    rng = np.random.default_rng(8)
    found = [
        randomisation_test(ChangeScores(*rng.exponential(size=(2, 5)), 0), RNG).p_value
        for _ in range(400)
    ]
    assert np.mean(np.array(found) <= 0.05) <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 400)
    assert np.mean(np.array(found) <= 0.05) >= 0.01


def test_no_cluster_in_an_arm_compares_nothing():
    with pytest.raises(EstimateError, match="nothing compares"):
        randomisation_test(ChangeScores(np.array([]), np.arange(3.0), 0), RNG)


def test_where_nothing_differs_every_split_is_as_far_listed_or_drawn():
    """705,432 splits of 22 clusters are too many to list; the observed one counts as one more."""
    for size in (3, 11):
        alike = ChangeScores(np.zeros(size), np.zeros(size), 0)
        found = randomisation_test(alike, np.random.default_rng(1))
        assert found.is_enumerated == (size == 3)
        assert found.p_value == 1.0


@pytest.mark.parametrize("unit", [1e-6, 1.0, 1e6])
@pytest.mark.parametrize(
    ("given", "comparison"),
    [((-1.0, -1.0), (1.0, 1.0)), ((-3.0, -2.9, -3.1), (1.0, 1.1, 0.9))],
    ids=["arms without any spread", "arms far apart"],
)
def test_arms_that_never_meet_are_as_far_apart_under_two_vectors_of_signs(given, comparison, unit):
    """As they stand and all turned, whatever the unit; where arms have no spread as well."""
    scores = ChangeScores(unit * np.array(given), unit * np.array(comparison), 0)
    assert wild_bootstrap_test(scores, RNG).p_value == 2 / 2 ** (2 * len(given))


def test_where_nothing_differs_every_vector_of_signs_is_as_far():
    alike = ChangeScores(np.ones(3), np.ones(3), 0)
    assert wild_bootstrap_test(alike, RNG).p_value == 1.0
