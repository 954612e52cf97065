"""The Weibull curve of interval-censored ages: its maximum, its laws, its integral."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from planner.errors import EstimateError
from planner.survey.climbing import Problem
from planner.survey.interval_likelihood import Intervals
from planner.survey.retention import active_months
from planner.survey.stopping_season import choose_knots
from planner.survey.weibull import _with_belief, fit_groups
from tests.unit.survey.alone import fit_weibull, shape_and_scale, weibull_curve
from tests.unit.survey.test_turnbull import visited


def mixed(n, seed):
    """Intervals, every tenth age known exactly."""
    seen = visited(n, seed)
    exact = (np.arange(n) % 10 == 0) & np.isfinite(seen.upper)
    age = np.where(exact, (seen.lower + seen.upper) / 2.0, 0.0)
    return Intervals(np.where(exact, age, seen.lower), np.where(exact, age, seen.upper))


def test_each_row_is_the_maximum_of_the_stated_likelihood():
    """Independent formulation: the likelihood in shape and scale, by Nelder and Mead."""
    seen = mixed(200, 1)
    weights = np.random.default_rng(2).gamma(1.0, size=(3, 200))
    found = fit_weibull(seen, weights)

    def loss(parameters, row):
        k, scale = np.exp(parameters)
        with np.errstate(divide="ignore"):
            start, end = (np.exp(-((side / scale) ** k)) for side in (seen.lower, seen.upper))
            age = np.where(seen.is_exact, seen.lower, 1.0)
            density = k / scale * (age / scale) ** (k - 1) * np.exp(-((age / scale) ** k))
            return -row @ np.log(np.where(seen.is_exact, density, start - end))

    for place, row in enumerate(weights):
        best = optimize.minimize(
            loss, [0.0, 3.0], (row,), "Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11}
        )
        ours = np.log(shape_and_scale(found, place))
        assert ours == pytest.approx(best.x, abs=1e-5)


def test_known_curve_is_recovered():
    """Simulated truth: shape 0.8 and scale 30 months; three standard errors."""
    found = fit_weibull(visited(20_000, 3), np.ones((1, 20_000)))
    shape, scale_months = shape_and_scale(found)
    assert shape == pytest.approx(0.8, abs=0.03)
    assert scale_months == pytest.approx(30.0, abs=1.0)


def test_exact_ages_of_an_exponential_with_known_hazard():
    """Closed form at shape 1: total time over events, when the shape comes out as 1."""
    chance = (np.arange(4000) + 0.5) / 4000
    age = -20.0 * np.log(1.0 - chance)
    found = fit_weibull(Intervals(age, age), np.ones((1, 4000)))
    assert shape_and_scale(found) == pytest.approx((1.0, age.mean()), rel=2e-3)


def test_another_unit_of_time_scales_the_curve():
    seen, weights = mixed(150, 4), np.ones((1, 150))
    months = fit_weibull(seen, weights)
    days = fit_weibull(Intervals(30.0 * seen.lower, 30.0 * seen.upper), weights)
    shape, scale_months = shape_and_scale(months)
    assert shape_and_scale(days) == pytest.approx((shape, 30.0 * scale_months), rel=1e-8)


@pytest.mark.parametrize("all_in_use", [True, False])
def test_answers_that_all_agree_need_the_belief(all_in_use):
    age = np.linspace(1.0, 12.0, 60)
    limits = (age, np.full(60, np.inf)) if all_in_use else (np.zeros(60), age)
    seen, weights = Intervals(*limits), np.ones((50, 60))
    with pytest.raises(EstimateError, match="fix no curve"):
        fit_weibull(seen, weights)
    share = fit_weibull(seen, weights, np.random.default_rng(1)).in_use_share(np.array([6.0]))
    assert (share[0, 0] > 0.97) if all_in_use else (share[0, 0] < 0.06)
    assert share[1:].std() > 0.0


def test_belief_weighs_little_against_many_answers():
    seen, weights = mixed(2000, 5), np.ones((1, 2000))
    free = fit_weibull(seen, weights).in_use_share(np.array([12.0]))
    held = fit_weibull(seen, weights, np.random.default_rng(1)).in_use_share(np.array([12.0]))
    assert held == pytest.approx(free, abs=0.002)


def test_active_months_are_the_area_under_the_curve():
    """Published formula; R's integrate gives 18.7130318572 for shape 1.35, scale 34, 24."""
    curve = weibull_curve(np.array([34.0, 12.0]), np.array([1.35, 0.4]))
    found = active_months(curve, np.array([0.0, 24.0, 300.0]))
    assert found[:, 0].tolist() == [0.0, 0.0]
    assert found[0, 1] == pytest.approx(18.7130318572, abs=1e-10)
    for place, horizon in ((1, 24.0), (2, 300.0)):
        area, _ = integrate.quad(
            lambda a: float(curve.in_use_share(np.array([a]))[1, 0]), 0.0, horizon, limit=200
        )
        assert found[1, place] == pytest.approx(area, rel=1e-6)


def test_a_time_of_zero_known_exactly_is_an_error():
    with pytest.raises(EstimateError, match="must lie above 0"):
        fit_weibull(Intervals(np.array([0.0, 2.0]), np.array([0.0, 3.0])), np.ones((1, 2)))


def never_early_late(n, seed):
    """Simulate 6% never set up, 22% gone in weeks, the others slowly: no Weibull curve."""
    rng = np.random.default_rng(seed)
    early = 1.8 * np.exp(0.6 * rng.standard_normal(n))
    late = 30.0 * (rng.random(n) ** (-1.0 / 0.5) - 1.0)
    kind = rng.random(n)
    age = np.where(kind < 0.06, 0.02, np.where(kind < 0.28, early, late))
    asked = np.sort(rng.uniform(1.0, 24.0, (n, 2)), axis=1)
    edges = np.c_[np.zeros(n), asked, np.full(n, np.inf)]
    place = (edges[:, 1:] < age[:, None]).sum(axis=1)
    told = (rng.random(n) < 0.6) & (place < 2)
    row = np.arange(n)
    low, high = edges[row, place], edges[row, place + 1]
    return (
        Intervals(np.where(told, np.maximum(age - 1.0, low), low), np.where(told, age + 1.0, high)),
        lambda at: np.array([(age > month).mean() for month in at]),
    )


def test_pieces_follow_early_and_late_dropout_where_one_shape_does_not():
    seen, true_share = never_early_late(6000, 6)
    at = np.array([3.0, 6.0, 12.0, 24.0])
    knots = choose_knots(seen, np.ones(6000))
    belief = np.random.default_rng(1)
    pieces = fit_weibull(seen, np.ones((1, 6000)), belief, knots).in_use_share(at)[0]
    whole = fit_weibull(seen, np.ones((1, 6000))).in_use_share(at)[0]
    assert np.abs(pieces - true_share(at)).max() < 0.02
    assert np.abs(whole - true_share(at)).max() > 0.03


def test_pieces_follow_a_fifth_never_set_up_and_a_share_that_never_stops():
    """Mixture cure by hand, no chance in it: S(a) = 0.8 (0.5 + 0.5 exp(-a / 8)).

    Weights are the exact chances of stopping between eight ages of asking, as of 500 bins, so
    that all distance from the mixture is the curve's: pieces stay within two points, which
    counts as no misfit, and one shape does not.
    """
    asked = np.array([1.0, 3.0, 6.0, 9.0, 12.0, 18.0, 24.0, 36.0])

    def mixture(age):
        return 0.8 * (0.5 + 0.5 * np.exp(-age / 8.0))

    chance = np.diff(np.r_[0.0, 1.0 - mixture(asked), 1.0])
    count = np.round(500 * chance).astype(int)
    row = np.repeat(np.arange(chance.size), count)
    seen = Intervals(np.r_[0.0, asked][row], np.r_[asked, np.inf][row])
    weights = (chance / count)[row][None, :]
    ages = np.arange(1.0, 37.0)
    away = [
        np.abs(fit_weibull(seen, weights, None, knots).in_use_share(ages)[0] - mixture(ages)).max()
        for knots in ((), choose_knots(seen, weights[0]))
    ]
    assert away[0] > 0.03
    assert away[1] < 0.02


def test_knots_stand_at_weighted_thirds_with_thirty_stopped_and_closer_with_more():
    seen = Intervals(np.arange(30.0), np.r_[np.arange(29.0) + 1.0, np.inf])
    assert choose_knots(seen, np.ones(30)) == ()
    seen = Intervals(np.r_[np.arange(30.0), 1.0], np.r_[np.arange(30.0) + 1.0, np.inf])
    assert choose_knots(seen, np.ones(31)) == (9.5, 19.5)
    heavy = np.r_[np.full(10, 4.0), np.ones(21)]
    assert choose_knots(seen, heavy) == (4.5, 9.5)
    seen = Intervals(np.arange(100.0), np.arange(100.0) + 1.0)
    assert choose_knots(seen, np.ones(100)) == (19.5, 39.5, 59.5, 79.5)
    seen = Intervals(np.arange(600.0), np.arange(600.0) + 1.0)
    assert len(choose_knots(seen, np.ones(600))) == 5


def test_a_piece_fit_is_the_maximum_of_the_stated_likelihood():
    """Independent formulation: cumulative hazards by hand, maximised by Nelder and Mead."""
    seen = mixed(200, 7)
    weights = np.random.default_rng(8).gamma(1.0, size=200)
    knot = 8.0
    found = fit_weibull(seen, weights[None, :], None, (knot,))

    def hazard(age, level, first, second):
        return np.where(
            age <= knot,
            np.exp(level) * (age / knot) ** first,
            np.exp(level) * (age / knot) ** second,
        )

    def loss(parameters):
        level, first, second = parameters[0], *np.exp(parameters[1:])
        with np.errstate(divide="ignore", over="ignore"):
            start, end = (
                np.exp(-hazard(side, level, first, second)) for side in (seen.lower, seen.upper)
            )
        age = np.where(seen.is_exact, seen.lower, 1.0)
        slope = np.where(age <= knot, first, second)
        density = hazard(age, level, first, second) * slope / age
        density = density * np.exp(-hazard(age, level, first, second))
        return -weights @ np.log(np.where(seen.is_exact, density, start - end))

    best = optimize.minimize(
        loss,
        [0.0, 0.0, 0.0],
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000},
    )
    level, first, second = best.x[0], *np.exp(best.x[1:])
    at = np.array([2.0, 8.0, 20.0])
    expected = np.exp(-hazard(at, level, first, second))
    assert found.in_use_share(at)[0] == pytest.approx(expected, abs=1e-6)


def test_use_that_seems_to_rise_with_age_still_settles():
    """A law kept at its edge: the curve goes nearly flat, it never rises."""
    age = np.repeat([2.0, 20.0], 50)
    in_use = np.concatenate([np.arange(50) < 30, np.arange(50) < 45])
    seen = Intervals(np.where(in_use, age, 0.0), np.where(in_use, np.inf, age))
    share = fit_weibull(seen, np.ones((1, 100)), np.random.default_rng(0)).in_use_share(
        np.array([2.0, 20.0])
    )[0]
    assert share[0] >= share[1]
    assert share.mean() == pytest.approx(0.75, abs=0.05)


def test_answers_that_all_agree_leave_an_interval():
    """Jeffreys' 95% interval for 20 of 20 is 0.883 to 1.000 (Beta(20.5, 0.5) quantiles)."""
    seen = Intervals(np.full(20, 6.0), np.full(20, np.inf))
    curve = fit_weibull(seen, np.ones((4001, 20)), np.random.default_rng(3))
    low, high = np.percentile(curve.in_use_share(np.array([6.0]))[1:], [2.5, 97.5])
    assert low == pytest.approx(stats.beta.ppf(0.025, 20.5, 0.5), abs=0.02)
    assert high == pytest.approx(stats.beta.ppf(0.975, 20.5, 0.5), abs=0.01)


def test_no_answer_is_an_error():
    seen = Intervals(np.array([]), np.array([]))
    with pytest.raises(EstimateError, match="follow-up"):
        fit_groups(seen, np.array([], dtype=np.int64), 1, np.ones((1, 0)), np.random.default_rng(1))


def test_both_halves_of_the_belief_are_drawn_apart_around_half_an_answer_each():
    seen, weights = Intervals(np.array([0.0, 12.0]), np.array([12.0, np.inf])), np.ones((4001, 2))
    belief = _with_belief(seen, weights, np.random.default_rng(3))[1][:, 2:]
    assert belief[0].tolist() == [0.5, 0.5]
    assert belief[1:].mean(axis=0) == pytest.approx([0.5, 0.5], abs=0.05)
    assert abs(np.corrcoef(belief[1:].T)[0, 1]) < 0.07


@pytest.mark.parametrize(("level", "is_refused"), [(199.0, False), (201.0, True), (-201.0, True)])
def test_a_fit_that_runs_away_is_refused_on_either_side(level, is_refused):
    problem = SimpleNamespace(slopes=slice(1, 2))
    point = np.array([[0.0, 1.0], [level, 1.0]])
    if not is_refused:
        Problem._refuse_runaway(problem, point)
        return
    with pytest.raises(EstimateError, match="curve"):
        Problem._refuse_runaway(problem, point)
