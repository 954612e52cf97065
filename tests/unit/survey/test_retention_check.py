"""The check of the Weibull curve against Turnbull's: it passes a true curve, not a wrong one."""

import numpy as np
import pytest

from planner.diversion.retained import CurveCheck, _largest, check_curve
from planner.survey.interval_likelihood import Intervals
from planner.survey.retention import TownCurve
from planner.survey.turnbull import fit_turnbull
from tests.unit.survey.alone import fit_weibull, weibull_curve
from tests.unit.survey.test_turnbull import visited


def town(curve):
    return TownCurve((curve,), np.ones((curve.level.size, 1)))


def checked(seen, seed=1):
    rng = np.random.default_rng(seed)
    weights = np.r_[np.ones((1, seen.lower.size)), rng.gamma(1.0, size=(200, seen.lower.size))]
    return check_curve(fit_turnbull(seen, weights), town(fit_weibull(seen, weights, rng)))


def test_answers_from_a_weibull_agree_with_it():
    found = [checked(visited(400, seed)) for seed in range(10, 20)]
    assert sum(one.is_negligible or one.is_by_chance for one in found) >= 9


def test_a_fifth_never_set_up_is_seen_in_a_town_sized_sample():
    """Power: one Weibull shape cannot follow a fifth that stops at once, the rest lognormal."""
    for seed in range(8):
        rng = np.random.default_rng(seed)
        age = np.where(rng.random(900) < 0.2, 0.1, rng.lognormal(np.log(30.0), 0.6, 900))
        asked = np.sort(rng.integers(1, 30, (900, 3)).astype(float), axis=1)
        edges = np.c_[np.zeros(900), asked, np.full(900, np.inf)]
        place, row = (edges[:, 1:] < age[:, None]).sum(axis=1), np.arange(900)
        found = checked(Intervals(edges[row, place], edges[row, place + 1]), seed)
        assert not found.is_negligible
        assert not found.is_by_chance


def test_bins_that_all_stop_within_a_season_do_not_agree():
    """Half stop between 11 and 13 months, half never: no Weibull curve falls in one step."""
    rng = np.random.default_rng(2)
    age = np.where(rng.random(600) < 0.5, rng.uniform(11, 13, 600), 1e6)
    asked = np.sort(np.ceil(rng.uniform(1, 36, (600, 3))), axis=1)
    edges = np.c_[np.zeros(600), asked, np.full(600, np.inf)]
    place = (edges[:, 1:] < age[:, None]).sum(axis=1)
    row = np.arange(600)
    found = checked(Intervals(edges[row, place], edges[row, place + 1]))
    assert not found.is_negligible
    assert not found.is_by_chance
    assert found.greatest_gap > 0.1
    assert "does not go" in found.sentence


def test_bands_end_at_every_sixth_month_up_to_the_oldest_visit():
    found = checked(visited(600, 3))
    assert found.to_months.tolist() == [6.0, 12.0, 18.0, 24.0, 30.0, 36.0]


def test_the_gap_is_the_distance_from_what_the_answers_leave_open():
    """In use to 5.5 months, out by 6: the share in use in that half-year is 5.5/6 to 1."""
    seen = Intervals(np.array([5.5, 6.0]), np.array([6.0, np.inf]))
    free = fit_turnbull(seen, np.tile([1.0, 1e-12], (3, 1)))
    curve = weibull_curve(np.full(3, 6.0), np.ones(3))
    found = check_curve(free, town(curve))
    assert found.to_months.tolist() == [6.0]
    assert found.greatest_gap == pytest.approx(5.5 / 6.0 - (1.0 - np.exp(-1.0)))


def test_where_no_age_is_determined_the_check_says_so():
    seen = Intervals(np.zeros(3), np.array([4.0, 5.0, np.inf]))
    curve = weibull_curve(np.full(2, 3.0), np.ones(2))
    assert "no age" in check_curve(fit_turnbull(seen, np.ones((2, 3))), town(curve)).sentence


@pytest.mark.parametrize(
    ("gap", "statistic", "words"),
    [
        (0.015, 4.0, "goes through"),
        (0.03, 4.0, "does not go through"),
        (0.03, 2.0, "more answers would tell"),
    ],
)
def test_a_gap_of_two_points_is_never_said_to_be_none(gap, statistic, words):
    found = CurveCheck(np.array([6.0]), gap, statistic, 2.8)
    assert words in found.sentence
    assert ("goes through" in found.sentence) == (gap < 0.02)


def test_a_distance_is_told_in_standard_errors_of_all_its_replicates():
    """Replicates miss by 3 and 4, so the error is the root of 25 / 2; a distance of 10 is 2.83."""
    gap, outside = np.array([[0.0], [3.0], [-4.0]]), np.array([10.0])
    statistic, critical = _largest(gap, outside)
    error = np.sqrt(12.5)
    assert statistic == pytest.approx(10.0 / error)
    assert 3.0 / error < critical <= 4.0 / error
    assert _largest(np.zeros((3, 1)), outside) == (0.0, 0.0)


class Bounded:
    """Turnbull's bounds on months in use: sure for half a year, then open by 5% or by 15%."""

    def __init__(self, width):
        self.width = width

    @staticmethod
    def determined_ages():
        return np.array([12.0])

    def mean_bounds(self, age):
        low = 0.8 * age
        return np.full(3, low), np.full(3, low + self.width * max(0.0, age - 6.0))


@pytest.mark.parametrize(("width", "compared"), [(0.05, [6.0, 12.0]), (0.15, [6.0])])
def test_a_half_year_that_the_answers_leave_open_by_more_than_a_tenth_is_not_compared(
    width, compared
):
    flat = town(weibull_curve(np.full(3, 1e9), np.ones(3)))
    assert check_curve(Bounded(width), flat).to_months.tolist() == compared
