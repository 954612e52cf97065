"""Turnbull's curve: closed forms, laws, and rows side by side against rows on their own."""

import numpy as np
import pytest

from planner.errors import EstimateError
from planner.survey.interval_likelihood import Intervals
from planner.survey.turnbull import fit_turnbull
from tests.unit.survey.alone import log_likelihood, slope_excess

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
    worth = log_likelihood(other, repeated, np.ones((1, times.sum())))
    assert log_likelihood(one, seen, times[None, :]) == pytest.approx(worth, rel=1e-12)


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
    rows = [row[None, :] for row in weights]
    alone = [log_likelihood(fit_turnbull(seen, row), seen, row)[0] for row in rows]
    assert log_likelihood(together, seen, weights) == pytest.approx(alone, abs=300 * 2e-6)
    assert slope_excess(together, seen, weights) < 1e-4
    assert together.mass.sum(axis=1) == pytest.approx(np.ones(12), abs=1e-12)


def test_conditions_of_the_maximum_hold_for_ten_thousand_answers():
    seen = visited(10_000, 11, 1.0 / DAYS_PER_MONTH)
    weights = np.ones((1, 10_000))
    found = fit_turnbull(seen, weights)
    assert slope_excess(found, seen, weights) < 1e-6
    low, high = found.bounds(np.array([12.0]))
    true = np.exp(-((12.0 / 30.0) ** 0.8))
    assert low[0, 0] - 0.03 < true < high[0, 0] + 0.03


def test_no_answer_and_limits_without_a_time_between_are_errors():
    with pytest.raises(EstimateError, match="load a follow-up round"):
        fit_turnbull(Intervals(np.array([]), np.array([])), np.ones((1, 0)))
    with pytest.raises(EstimateError, match="from 5 to 3"):
        Intervals(np.array([5.0]), np.array([3.0]))


@pytest.mark.parametrize(("seed", "count"), [(8, 600), (16, 600), (3, 1200), (14, 1200)])
def test_answers_with_light_weights_settle(seed, count):
    # a candidate that alone meets an answer's interval may not be left out on the way
    rng = np.random.default_rng([seed, count])
    stopped = np.where(
        rng.random(count) < 0.2, rng.exponential(2.0, count), rng.weibull(0.9, count) * 60.0
    )
    oldest = rng.uniform(1.0, 120.0, count).round(2)
    lower, upper = np.zeros(count), np.full(count, np.inf)
    visits = rng.integers(1, 4, count)
    for visit in range(3):
        age, is_made = oldest * (visit + 1) / visits, visit < visits
        lower = np.where(is_made & (age < stopped), np.maximum(lower, age), lower)
        upper = np.where(is_made & (age >= stopped), np.minimum(upper, age), upper)
    told = (rng.random(count) < 0.1) & np.isfinite(upper)
    upper = np.where(told, stopped + 0.5, upper)
    lower = np.minimum(np.where(told, np.maximum(stopped - 0.5, 0.0), lower), upper)
    weights = rng.exponential(1.0, (41, count)) ** 2
    found = fit_turnbull(Intervals(np.floor(lower), np.ceil(upper)), weights)
    assert found.mass.sum(axis=1) == pytest.approx(1.0)
    still = found.mass[0, found.lower >= 24.0].sum()
    truth = 0.2 * np.exp(-24 / 2) + 0.8 * np.exp(-((24 / 60) ** 0.9))
    # four standard errors of a share of as many answers of uneven weight
    assert abs(still - truth) < 4.0 * np.sqrt(truth * (1 - truth) / (count / 6))


def test_only_lower_ends_of_intervals_are_ages_at_which_the_curve_is_known_whatever_the_weights():
    """3 is the age of a stop, known to the day; 0 is when every bin begins."""
    seen = Intervals(np.array([0.0, 3.0, 6.0]), np.array([2.0, 3.0, np.inf]))
    assert fit_turnbull(seen, np.ones((1, 3))).determined_ages().tolist() == [6.0]
