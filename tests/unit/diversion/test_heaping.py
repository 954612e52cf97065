"""Heaping and extraordinary values: known truths by simulation, limits, laws."""

import numpy as np
import pytest

from planner.diversion.reported import heaping, is_multiple_of, winsorised_once


def test_reports_spread_over_tenths_show_no_heaping():
    """Every tenth once: one in five is a half kilogram, so the index is 1."""
    told = np.round(np.arange(1, 51) * 0.1, 1)
    found = heaping(told, np.ones((2, 50)), 0.5, 0.1)
    assert found.index == pytest.approx([1.0, 1.0])
    assert found.reports_count == 50


def test_all_on_round_numbers_is_five_times_as_many_and_weights_count():
    told = np.r_[np.full(10, 2.5), np.full(10, 2.4)]
    weights = np.array(
        [np.ones(20), np.r_[np.ones(10), np.zeros(10)], np.r_[np.ones(10) * 3, np.ones(10)]]
    )
    found = heaping(told, weights, 0.5, 0.1)
    assert found.index == pytest.approx([2.5, 5.0, 3.75])


def test_five_litres_are_counted_among_whole_litres_alone():
    told = np.r_[np.full(6, 5.0), np.full(6, 7.0), np.full(30, 2.5), np.zeros(5)]
    found = heaping(told, np.ones((1, told.size)), 5.0, 1.0)
    assert (found.reports_count, found.expected_share) == (12, 0.2)
    assert found.index == pytest.approx([2.5])


def test_few_reports_are_not_judged():
    assert heaping(np.r_[np.full(9, 1.0), np.zeros(90)], np.ones((1, 99)), 0.5, 0.1) is None


def test_binary_fractions_do_not_move_a_report_off_its_grid():
    assert is_multiple_of(np.arange(1, 200) * 0.1, 0.1).all()
    assert is_multiple_of(np.array([0.3, 0.1 + 0.2]), 0.1).all()


def test_one_extreme_a_side_moves_to_its_neighbour():
    values = np.r_[50.0, np.arange(1.0, 12.0), 0.0, 0.0]
    found = winsorised_once(values)
    assert found.tolist() == [11.0, 2.0, *np.arange(2.0, 12.0), 0.0, 0.0]
    assert winsorised_once(found[::-1])[::-1].tolist() == found.tolist()


def test_few_values_and_equal_extremes_stay():
    few = np.r_[np.arange(1.0, 10.0), 0.0, 0.0]
    assert winsorised_once(few).tolist() == few.tolist()
    twice = np.r_[30.0, 30.0, np.arange(1.0, 12.0), 1.0]
    assert winsorised_once(twice).tolist() == twice.tolist()


def test_winsorising_lowers_the_squared_error_of_a_skewed_mean():
    """Rivest (1994): for small samples of a long-tailed distribution; here lognormal 1.5."""
    draws = np.random.default_rng(3).lognormal(0.0, 1.5, (4000, 20))
    true = np.exp(1.5**2 / 2)
    plain = ((draws.mean(axis=1) - true) ** 2).mean()
    held = np.mean([(winsorised_once(row).mean() - true) ** 2 for row in draws])
    assert held < 0.8 * plain
