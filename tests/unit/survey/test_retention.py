"""The retention curve itself: pieces without a step, its area, plain shares by age."""

import itertools

import numpy as np
import pytest
from scipy import integrate

from planner.survey.retention import Retention, active_months, observed_shares

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
