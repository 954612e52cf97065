"""The retention curve itself: pieces without a step, its area, plain shares by age."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate

from planner.survey.retention import Retention, TownCurve, active_months, observed_shares
from planner.survey.stopping_season import StoppingSeason
from tests.unit.survey.alone import weibull_curve

PIECES = Retention(
    np.array([-2.0, -1.5]),
    np.array([[0.4, 0.9, 0.3], [0.7, 0.2, 1.4]]),
    2.0,
    (3.0, 10.0),
    1,
    1,
    9.0,
)


def test_pieces_meet_at_the_knots_and_fall():
    ages = np.array([3.0, 10.0])
    assert PIECES.in_use_share(ages - 1e-9) == pytest.approx(PIECES.in_use_share(ages), abs=1e-8)
    share = PIECES.in_use_share(np.linspace(0.0, 60.0, 400))
    assert np.all(np.diff(share, axis=1) < 0.0)
    assert share[:, 0].tolist() == [1.0, 1.0]


def test_each_piece_is_a_weibull_curve_of_its_shape():
    """log(-log S) against log age is a line whose slope is the shape."""
    for begin, end, place in ((0.5, 2.9, 0), (3.1, 9.9, 1), (10.5, 50.0, 2)):
        height = np.log(-np.log(PIECES.in_use_share(np.array([begin, end]))))
        slope = np.diff(height, axis=1)[:, 0] / np.log(end / begin)
        assert slope == pytest.approx(PIECES.shapes[:, place])


@pytest.mark.parametrize("horizon", [1.0, 3.0, 7.0, 40.0])
def test_months_in_use_are_the_area_under_the_pieces(horizon):
    """SciPy's adaptive quadrature, piece by piece."""
    edges = [0.0, *[knot for knot in PIECES.knots_months if knot < horizon], horizon]
    for place in range(2):
        area = sum(
            integrate.quad(
                lambda a, row=place: float(PIECES.in_use_share(np.array([a]))[row, 0]), low, high
            )[0]
            for low, high in itertools.pairwise(edges)
        )
        assert active_months(PIECES, np.array([horizon]))[place, 0] == pytest.approx(area, rel=1e-6)


def test_shares_of_bands_are_weighted_and_small_bands_are_left_out():
    age = np.r_[np.full(12, 1.0), np.full(9, 4.0), np.full(10, 7.0)]
    in_use = np.r_[np.arange(12) < 9, np.ones(9, bool), np.arange(10) < 5]
    weights = np.r_[np.full(9, 1.0), np.full(3, 2.0), np.ones(19)][None, :]
    found = observed_shares(age, in_use, weights)
    assert found.from_months == (0, 6)
    assert found.in_use_share[0] == pytest.approx([9.0 / 15.0, 0.5])
    assert found.answers_count == (12, 10)


def test_ages_of_a_band_are_weighed_as_its_answers_are():
    """Nine answers of 4 months and one of 5 that stands for eleven: (9 * 4 + 11 * 5) / 20."""
    age, weights = np.array([4.0] * 9 + [5.0]), np.array([[1.0] * 9 + [11.0]])
    found = observed_shares(age, np.array([True] * 9 + [False]), weights)
    assert found.mean_months == pytest.approx((4.55,))
    assert found.in_use_share.tolist() == [[0.45]]
    assert found.from_months == (3,)


@pytest.mark.parametrize("month", [0, 6, 11])
def test_bins_of_one_month_of_the_year_were_given_in_its_middle(month):
    season = StoppingSeason(1.3, 6.5)
    curve = replace(
        weibull_curve(np.array([20.0]), np.array([1.2])),
        seasons=(season,),
        season_of_row=np.array([0]),
        entry_shares=tuple(float(n == month) for n in range(12)),
    )
    ages = np.array([1.0, 4.0, 9.0, 15.0])
    known = curve.in_use_share(ages, np.full(4, month + 0.5))
    assert curve.in_use_share(ages) == pytest.approx(known)


def test_a_town_is_its_groups_by_their_households():
    slow, fast = (weibull_curve(np.array([s, s]), np.ones(2)) for s in (40.0, 5.0))
    town = TownCurve((slow, fast), np.array([[0.9, 0.1], [0.5, 0.5]]))
    ages = np.array([3.0, 12.0])
    parts = [curve.in_use_share(ages) for curve in (slow, fast)]
    shares = np.array([[0.9], [0.5]])
    assert town.in_use_share(ages) == pytest.approx(shares * parts[0] + (1 - shares) * parts[1])
    lives = [active_months(curve, ages) for curve in (slow, fast)]
    assert town.active_months(ages) == pytest.approx(shares * lives[0] + (1 - shares) * lives[1])
