"""Weights that cannot be made are refused, and the message names what stands in the way."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from planner.errors import EstimateError
from planner.survey.calibration import Margin, rake
from planner.survey.drawing import cheapest_for_targets, share_out_whole
from planner.survey.sample_size import households_to_invite, margin_of_share

AREA = Margin("area", np.array([0, 0, 1, 1]), ("North", "South"), np.array([30.0, 10.0]))
DWELLING = Margin("dwelling", np.array([0, 1, 0, 1]), ("house", "flat"), np.array([20.0, 20.0]))
ONES = np.ones((1, 4))


def test_a_cell_without_answers_is_named():
    empty = Margin("area", np.array([0, 0, 0, 0]), ("North", "South"), AREA.counts)
    with pytest.raises(EstimateError, match="area: South has households and no answer"):
        rake(ONES, [empty])


def test_a_cell_without_households_is_named():
    none = Margin("area", AREA.cell, ("North", "South"), np.array([40.0, 0.0]))
    with pytest.raises(EstimateError, match="area: South has answers and no household"):
        rake(ONES, [none, DWELLING])


def test_a_margin_of_frames_is_met_cell_by_cell():
    answers = pl.DataFrame({"area_id": ["N", "S", "N"], "dwelling": ["house", "house", "flat"]})
    known = pl.DataFrame(
        {
            "area_id": ["N", "N", "S"],
            "dwelling": ["flat", "house", "house"],
            "households_count": [7, 5, 4],
        }
    )
    both = Margin.of(answers, known, ["area_id", "dwelling"])
    assert rake(np.ones((1, 3)), [both]).tolist() == [[5.0, 4.0, 7.0]]
    area = Margin.of(answers, known, ["area_id"])
    assert rake(np.ones((1, 3)), [area]).tolist() == [[6.0, 4.0, 6.0]]
    with pytest.raises(EstimateError, match="area_id and dwelling: an answer lies in S house"):
        Margin.of(answers, known.head(2), ["area_id", "dwelling"])


def test_sizes_that_do_not_fit_their_bounds_are_refused():
    one, two = np.array([1, 1]), np.array([2, 2])
    with pytest.raises(EstimateError, match="bounds ask 2 to 4"):
        share_out_whole(5, np.ones(2), one, two)


def test_strata_worth_nothing_keep_their_least():
    assert share_out_whole(
        5, np.array([0.0, 1.0]), np.array([1, 1]), np.array([9, 9])
    ).tolist() == [1, 4]


def test_without_any_spread_the_least_is_enough():
    least = np.array([2.0, 3.0])
    sizes = cheapest_for_targets(
        np.array([10.0, 20.0]),
        np.zeros((2, 1)),
        np.array([10.0]),
        np.array([0.05]),
        names=["fed"],
        least=least,
        most=np.array([10.0, 20.0]),
    )
    assert sizes.tolist() == least.tolist()


def test_a_target_without_error_asks_everyone():
    sizes = cheapest_for_targets(
        np.array([10.0, 20.0]),
        np.array([[1.0], [2.0]]),
        np.array([10.0]),
        np.array([0.0]),
        names=["fed"],
        least=np.ones(2),
        most=np.array([10.0, 20.0]),
    )
    assert sizes == pytest.approx([10.0, 20.0], rel=1e-6)


def test_a_response_of_nothing_is_refused():
    with pytest.raises(EstimateError, match="Expected response of 0"):
        households_to_invite(100.0, 0.0)


def test_a_census_leaves_nothing_to_chance_and_no_answer_says_nothing():
    assert margin_of_share(50.0, 50.0) == 0.0
    assert margin_of_share(0.0, 50.0) == 1.0
