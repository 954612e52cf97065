"""Weights that agree with the register: which counts, met by every row, and cut weights."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from planner.errors import EstimateError
from planner.survey.calibration import Crossed, Margin, rake
from planner.survey.known_counts import (
    LEAST_ANSWERS_IN_CATEGORY,
    _neighbours,
    known_counts,
    weights_that_meet,
)


def told(counts):
    """Make a row an answer, from answers by (area, dwelling)."""
    rows = [cell for cell, count in counts.items() for _ in range(count)]
    return pl.DataFrame(
        {
            "area_id": [area for area, _ in rows],
            "dwelling": [dwelling for _, dwelling in rows],
            "is_settled": [False] * len(rows),
            "has_answered": [True] * len(rows),
            "people": ["1"] * len(rows),
            "cohort": ["2025-01"] * len(rows),
        }
    )


def register(counts):
    return pl.DataFrame(
        {
            "area_id": [area for area, _ in counts],
            "dwelling": [dwelling for _, dwelling in counts],
            "is_settled": [False] * len(counts),
            "people": ["1"] * len(counts),
            "cohort": ["2025-01"] * len(counts),
            "households_count": list(counts.values()),
        }
    )


def test_cells_with_twenty_answers_each_are_post_stratified():
    own = {("N", "house"): 20, ("N", "apartment"): 25, ("S", "house"): 40}
    found = known_counts(told(own), register(dict.fromkeys(own, 100)))
    assert [margin.name for margin in found.with_first(2)[0]] == ["area_id and dwelling"]
    assert found.with_first(2)[0][0].counts.tolist() == [100.0, 100.0, 100.0]
    own[("N", "house")] = 19
    found = known_counts(told(own), register(dict.fromkeys(own, 100)))
    assert [margin.name for margin in found.with_first(2)[0]] == ["area_id", "dwelling"]


def test_small_areas_stand_together_with_the_next_where_they_are_still_few():
    own = {("N", "house"): 60, ("S", "house"): 15, ("W", "house"): 3, ("E", "house"): 0}
    households = {("N", "house"): 500, ("S", "house"): 90, ("W", "house"): 30, ("E", "house"): 10}
    (areas,), _ = known_counts(told(own), register(households)).with_first(2)
    assert dict(zip(areas.labels, areas.counts, strict=True)) == {"N": 500.0, "small ones": 130.0}


def test_sizes_and_quarters_are_met_and_small_ones_join_their_neighbours():
    """By hand: ten of one person, four of two, six of three; the four go with the next."""
    answers = told({("N", "house"): 20}).with_columns(
        people=pl.Series(["1"] * 10 + ["2"] * 4 + ["3"] * 6)
    )
    population = pl.concat(
        register({("N", "house"): count}).with_columns(people=pl.lit(size))
        for size, count in (("1", 50), ("2", 30), ("3", 20))
    )
    found = known_counts(answers, population)
    sizes = found.with_first(2)[0][-1]
    assert dict(zip(sizes.labels, sizes.counts, strict=True)) == {"1": 50.0, "2 to 3": 50.0}
    assert "of people in the household" in found.with_first(2)[1]


def two_margins(n, seed):
    rng = np.random.default_rng(seed)
    area, dwelling = rng.integers(0, 4, n), rng.integers(0, 3, n)
    return [
        Margin("area", area, tuple("abcd"), np.array([50.0, 30.0, 15.0, 5.0])),
        Margin("dwelling", dwelling, tuple("xyz"), np.array([60.0, 25.0, 15.0])),
    ]


def test_every_row_is_what_raking_it_alone_gives():
    """`rake` is checked against R's survey package in tests/reference."""
    margins = two_margins(200, 1)
    weights = np.random.default_rng(2).gamma(2.0, size=(5, 200))
    found = rake(weights, margins)
    for row, alone in zip(found, weights, strict=True):
        assert row == pytest.approx(rake(alone[None, :], margins)[0], rel=1e-8)


def test_an_empty_category_is_named():
    margin = Margin("area", np.zeros(12, dtype=int), ("N", "S"), np.array([5.0, 4.0]))
    with pytest.raises(EstimateError, match="area: S has households and no answer"):
        rake(np.ones((2, 12)), [margin])


def test_margins_that_cannot_both_be_met_are_named():
    """All of area a are houses and only they: 60 houses cannot be 50 in a."""
    place = np.repeat([0, 1], 10)
    margins = [
        Margin("area", place, ("a", "b"), np.array([50.0, 50.0])),
        Margin("dwelling", place, ("house", "flat"), np.array([60.0, 40.0])),
    ]
    with pytest.raises(EstimateError, match="cannot be made to agree with area, dwelling"):
        rake(np.ones((1, 20)), margins)


def test_a_very_large_weight_is_cut_its_excess_spread_and_the_counts_met():
    """By hand: 99 of 1 and one of 100; five times the mean, 9.95, is allowed."""
    weights = np.r_[np.ones(99), 100.0][None, :]
    margin = Margin("all", np.zeros(100, dtype=int), ("all",), np.array([199.0]))
    met, cut = weights_that_meet(weights, np.ones((1, 100)), [margin])
    assert cut == 1
    assert met[0, -1] == pytest.approx(9.95, rel=2e-3)
    assert met[0, :99] == pytest.approx(np.full(99, (199.0 - 9.95) / 99), rel=1e-3)
    assert met.sum() == pytest.approx(199.0)


def test_multipliers_of_a_replicate_are_no_large_weights():
    multipliers = np.r_[np.full(99, 93.0 / 99), 7.0][None, :]
    margin = Margin("all", np.zeros(100, dtype=int), ("all",), np.array([100.0]))
    met, cut = weights_that_meet(multipliers.copy(), multipliers, [margin])
    assert cut == 0
    assert met == pytest.approx(multipliers)


def test_weights_rescaled_give_the_same_and_rows_may_change_places():
    margins, rng = two_margins(120, 3), np.random.default_rng(4)
    weights = rng.gamma(2.0, size=(3, 120))
    ones = np.ones_like(weights)
    found = weights_that_meet(weights, ones, margins)[0]
    assert weights_that_meet(7.0 * weights, ones, margins)[0] == pytest.approx(found)
    order = rng.permutation(120)
    moved = [Margin(m.name, m.cell[order], m.labels, m.counts) for m in margins]
    assert weights_that_meet(weights[:, order], ones, moved)[0] == pytest.approx(found[:, order])


def test_what_some_weigh_is_taken_off_the_counts_of_the_others_row_by_row():
    """By hand: 9 and 4 households; the first stands for 2 or 3 of the nine, the last for the 4."""
    margin = Margin("area", np.array([0, 0, 1]), ("N", "S"), np.array([9.0, 4.0]))
    left = Crossed.of([margin]).without([np.array([[2.0, 4.0], [3.0, 4.0]])])
    assert left.first.counts.tolist() == [[7.0, 0.0], [6.0, 0.0]]
    of_others = Crossed.of([replace(margin, cell=np.array([0]))]).without(
        [np.array([[2, 4], [3, 4]])]
    )
    assert rake(np.ones((2, 1)), of_others).tolist() == [[7.0], [6.0]]
    assert rake(np.ones((1, 1)), of_others.of_rows(np.array([1]))).tolist() == [[6.0]]


def test_the_largest_weight_allowed_is_raised_until_the_counts_can_be_met():
    """By hand: nine of ten answers of a share 10 households with others, so the tenth has 90.

    Twice the mean of a's answers, 20, and one raise of a quarter, 25, are both too little.
    """
    area, dwelling = np.repeat([0, 1], [10, 90]), np.zeros(100, dtype=int)
    dwelling[1:21] = 1
    margins = [
        Margin("area", area, ("a", "b"), np.array([100.0, 100.0])),
        Margin("dwelling", dwelling, ("x", "y"), np.array([190.0, 10.0])),
    ]
    met, cut = weights_that_meet(np.ones((1, 100)), np.ones((1, 100)), margins)
    assert cut == 1
    assert met[0, 0] >= 90.0
    assert met[0, :10].sum() == pytest.approx(100.0, rel=1e-4)
    assert met[0, 1:21].sum() == pytest.approx(10.0, rel=1e-4)


def test_neighbours_that_stand_together_are_named_by_the_first_and_the_last_of_them():
    """Of 3, 3 and 4 answers the three have ten together; the fourth category stays alone."""
    counted = pl.DataFrame({"category": ["1", "2", "3", "4"], "count": [3, 3, 4, 40]})
    assert LEAST_ANSWERS_IN_CATEGORY == 10
    assert _neighbours(counted) == dict.fromkeys("123", "1 to 3")
