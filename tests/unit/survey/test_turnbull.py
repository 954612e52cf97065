"""Turnbull's curve: closed forms, laws, and rows side by side against rows on their own."""

import numpy as np
import pytest

from planner.errors import EstimateError
from planner.survey.interval_likelihood import Intervals
from planner.survey.turnbull import fit_turnbull

DAYS_PER_MONTH = 30.4375


def visited(n, seed, step=1.0):
    """Ages of stopping seen at up to three visits on a grid."""
    rng = np.random.default_rng(seed)
    age = rng.weibull(0.8, n) * 30.0
    visits = np.sort(np.ceil(rng.uniform(0, 36, (n, 3)) / step) * step, axis=1)
    edges = np.c_[np.zeros(n), visits, np.full(n, np.inf)]
    place = (edges[:, 1:] < age[:, None]).sum(axis=1)
    return Intervals(edges[np.arange(n), place], edges[np.arange(n), place + 1])


def test_exact_and_right_censored_ages_give_the_weighted_product_limit():
    """Closed form: product of 1 - stopped / at risk, both weighted (Kaplan and Meier 1958)."""
    age = np.array([3, 6, 6, 9, 12, 12, 12, 18, 24, 24.0])
    stopped = np.array([1, 1, 0, 1, 1, 0, 1, 0, 1, 0], dtype=bool)
    weights = np.array([[2, 1, 3, 1, 2, 2, 1, 4, 1, 3.0]])
    found = fit_turnbull(Intervals(age, np.where(stopped, age, np.inf)), weights)
    low, high = found.bounds(np.array([3.0, 6.0, 9.0, 12.0, 24.0]))
    expected, share = [], 1.0
    for at in (3.0, 6.0, 9.0, 12.0, 24.0):
        share *= 1 - weights[0, stopped & (age == at)].sum() / weights[0, age >= at].sum()
        expected.append(share)
    assert expected[-1] == pytest.approx(0.455357142857, abs=1e-12)  # R's survfit
    assert low[0] == pytest.approx(expected, abs=1e-9)
    assert high[0] == pytest.approx(expected, abs=1e-9)


def test_current_status_is_pooled_where_shares_do_not_fall():
    """Closed form: pool adjacent violators (Ayer and others 1955).

    1 of 2 out at 1 month, none of 2 at 2 months, 2 of 2 at 3 months: one quarter out at 1
    and 2, all at 3.
    """
    lower, upper = [0, 1, 2, 2, 0, 0], [1, np.inf, np.inf, np.inf, 3, 3]
    found = fit_turnbull(Intervals(np.array(lower, float), np.array(upper, float)), np.ones((1, 6)))
    low, high = found.bounds(np.array([1.0, 2.0, 3.0]))
    assert low[0] == pytest.approx([0.75, 0.75, 0.0], abs=1e-9)
    assert high[0] == pytest.approx([0.75, 0.75, 0.0], abs=1e-9)


def test_inside_an_interval_with_mass_both_step_bounds_are_given():
    found = fit_turnbull(Intervals(np.array([2.0, 6.0]), np.array([6.0, np.inf])), np.ones((1, 2)))
    assert found.undetermined() == ((2.0, 6.0), (6.0, np.inf))
    low, high = found.bounds(np.array([1.0, 2.0, 4.0, 6.0, 9.0]))
    assert low[0] == pytest.approx([1.0, 1.0, 0.5, 0.5, 0.0])
    assert high[0] == pytest.approx([1.0, 1.0, 1.0, 0.5, 0.5])
    assert [bound[0] for bound in found.mean_bounds(10.0)] == pytest.approx([4.0, 8.0])


def test_weights_count_as_repeated_answers():
    seen = visited(80, 4)
    times = np.random.default_rng(5).integers(1, 5, 80)
    repeated = Intervals(np.repeat(seen.lower, times), np.repeat(seen.upper, times))
    one = fit_turnbull(seen, times[None, :].astype(float))
    other = fit_turnbull(repeated, np.ones((1, times.sum())))
    assert one.mass == pytest.approx(other.mass, abs=1e-10)
    assert one.log_likelihood == pytest.approx(other.log_likelihood, rel=1e-12)


def test_order_of_answers_and_scale_of_weights_do_not_matter():
    seen = visited(120, 6)
    weights = np.random.default_rng(7).gamma(1.0, size=(1, 120))
    order = np.random.default_rng(8).permutation(120)
    one = fit_turnbull(seen, weights)
    other = fit_turnbull(Intervals(seen.lower[order], seen.upper[order]), 50 * weights[:, order])
    assert one.mass == pytest.approx(other.mass, abs=1e-9)


@pytest.mark.parametrize("step", [1.0, 1.0 / DAYS_PER_MONTH])
def test_rows_side_by_side_are_as_likely_as_each_on_its_own(step):
    """The masses of near ties may differ; the log likelihood may not."""
    seen = visited(300, 9, step)
    weights = np.random.default_rng(10).gamma(0.8, size=(12, 300))
    weights[3, :40] = 0.0
    together = fit_turnbull(seen, weights)
    alone = [fit_turnbull(seen, row[None, :]).log_likelihood[0] for row in weights]
    assert together.log_likelihood == pytest.approx(alone, abs=300 * 2e-6)
    assert together.kkt_excess.max() < 1e-4
    assert together.mass.sum(axis=1) == pytest.approx(np.ones(12), abs=1e-12)


def test_conditions_of_the_maximum_hold_for_ten_thousand_answers():
    seen = visited(10_000, 11, 1.0 / DAYS_PER_MONTH)
    found = fit_turnbull(seen, np.ones((1, 10_000)))
    assert found.kkt_excess[0] < 1e-6
    low, high = found.bounds(np.array([12.0]))
    true = np.exp(-((12.0 / 30.0) ** 0.8))
    assert low[0, 0] - 0.03 < true < high[0, 0] + 0.03


def test_no_answer_and_limits_without_a_time_between_are_errors():
    with pytest.raises(EstimateError, match="load a follow-up round"):
        fit_turnbull(Intervals(np.array([]), np.array([])), np.ones((1, 0)))
    with pytest.raises(EstimateError, match="from 5 to 3"):
        Intervals(np.array([5.0]), np.array([3.0]))


def test_many_answers_with_light_weights_settle():
    # a candidate that alone meets an answer's interval may not be left out on the way
    rng = np.random.default_rng(1)
    age = np.sort(rng.uniform(1.0, 60.0, (3, 4000)), axis=0)
    stopped = rng.weibull(0.9, 4000) * 40.0
    lower = np.floor(np.where(age < stopped, age, 0.0).max(axis=0))
    upper = np.ceil(np.where(age >= stopped, age, np.inf).min(axis=0))
    weights = rng.exponential(1.0, (41, 4000)) ** 2
    found = fit_turnbull(Intervals(lower, upper), weights)
    assert found.mass.sum(axis=1) == pytest.approx(1.0)
    # the truth at 24 months, exp(-(24 / 40)^0.9), lies within what the replicates spread to
    still = found.mass[:, found.lower >= 24.0].sum(axis=1)
    assert abs(still[0] - np.exp(-((24 / 40) ** 0.9))) < 4 * still[1:].std()
