"""Clashing limits are named, the change mends them, and a limit's worth is what it brings."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from planner.messages import paper
from planner.sizing.allocation import (
    MOST_TONNES,
    Choices,
    NoPlanError,
    Problem,
    allocate,
    allocate_split,
    limit_on,
    share_floor,
    total_row,
)
from planner.sizing.clash import find_clash, is_feasible
from planner.sizing.frontier import binding_limits, worth_of_limits
from planner.sizing.plan import _change_in_words, clash_in_words


def clashing():
    """Ask for 20 bins in flats where 12 want one; budget and stock have room."""
    group = np.array([0, 1])
    one = np.ones(2)
    choices = Choices(
        group, 0 * group, 0 * group, one * 0.2, one * 0.05, one * 0.1, one * 50.0, (2, 1, 1)
    )
    limits = (
        replace(
            limit_on("demand", "12 flats want a bin", total_row(np.array([0.0, 1.0])), high=12.0),
            can_be_relaxed=False,
        ),
        replace(
            limit_on("budget", "the budget is 5,000", total_row(choices.cost), high=5000.0),
            key="budget",
        ),
        replace(
            limit_on(
                "floor", "at least 20 bins are to go to flats", total_row(group * 1.0), low=20.0
            ),
            key="sizing.limits.apartments_least_bins",
        ),
        limit_on("stock", "900 can be had", total_row(one), high=900.0),
    )
    return Problem(choices, np.array([80.0, 90.0]), limits)


def test_the_clash_names_the_floor_and_the_demand_and_nothing_else():
    clash = find_clash(clashing())
    assert {limit.name for limit in clash.limits} == {"demand", "floor"}
    (change,) = clash.changes
    assert (change.limit.name, change.from_value, change.to_value) == ("floor", 20.0, 12.0)
    words = clash_in_words(clash, "Main plan")
    assert "12 flats want a bin" in words
    assert "sizing.limits.apartments_least_bins: 12 instead of 20" in words


def test_leaving_out_either_clashing_limit_leaves_a_plan():
    problem = clashing()
    for name in ("demand", "floor"):
        assert is_feasible(problem.without(name))
    assert not is_feasible(problem.without("budget", "stock"))


def test_the_change_mends_it_and_less_does_not():
    problem = clashing()
    (floor,) = (one for one in problem.limits if one.name == "floor")
    assert is_feasible(problem.with_limits(replace(floor, low=np.array([12.0]))))
    assert not is_feasible(problem.with_limits(replace(floor, low=np.array([12.5]))))


def test_a_share_that_cannot_be_kept_is_lowered_to_the_share_that_can():
    problem = clashing().without("floor")
    wants_flats = share_floor("share", "40% to flats", np.array([False, True]), 0.4, 100.0)
    wants_many = limit_on("many", "at least 60 bins", total_row(np.ones(2)), low=60.0)
    problem = problem.with_limits(
        replace(wants_flats, key="sizing.limits.apartments_least_share"), wants_many
    )
    clash = find_clash(problem)
    assert {limit.name for limit in clash.limits} == {"demand", "share", "many"}
    for change in clash.changes:
        changed = (
            replace(change.limit, low=np.array([np.floor(change.to_value)]))
            if change.limit.name == "many"
            else share_floor("share", "", np.array([False, True]), change.to_value - 1e-6, 1.0)
        )
        problem = problem.with_limits(changed)
    assert is_feasible(problem)


def test_one_more_household_or_bin_is_worth_the_bin_it_lets_in():
    problem = clashing().without("floor")
    # houses keep more out: were both alike, flats might be served up to their demand as well
    problem = replace(problem, choices=replace(problem.choices, tonnes=np.array([0.2, 0.1])))
    problem = problem.with_limits(
        limit_on("stock", "50 can be had", total_row(np.ones(2)), high=50.0)
    )
    plan = allocate(problem, MOST_TONNES, 0.0)
    assert {limit.name for limit in binding_limits(problem, plan)} == {"stock"}
    (worth,) = worth_of_limits(problem, plan, MOST_TONNES)
    assert worth.tonnes == pytest.approx(0.2)
    assert worth.cost == pytest.approx(50.0)


def test_a_limit_with_room_for_one_more_bin_does_not_bind():
    problem = clashing().without("demand", "floor", "budget")
    for bins, binding in ((899, set()), (900, {"stock"})):
        plan = SimpleNamespace(bins=np.array([bins, 0]))
        assert {limit.name for limit in binding_limits(problem, plan)} == binding


def test_one_per_cent_of_a_share_is_worth_what_solving_with_it_brings():
    problem = clashing().without("floor", "budget")
    better = replace(problem.choices, tonnes=np.array([0.3, 0.1]))
    floor = share_floor("share", "", np.array([False, True]), 0.4, 100.0)
    stock = limit_on("stock", "", total_row(np.ones(2)), high=20.0)
    problem = replace(problem, choices=better).with_limits(floor, stock)
    plan = allocate(problem, MOST_TONNES, 0.0)
    worths = {w.limit.name: w.tonnes for w in worth_of_limits(problem, plan, MOST_TONNES)}
    # by hand: 20 bins, 8 of them at 0.1 t; one per cent moves 0.2 bins from 0.1 to 0.3 t
    assert worths["share"] == pytest.approx(0.2 * 0.2)
    assert allocate_split(problem, MOST_TONNES).tonnes == pytest.approx(12 * 0.3 + 8 * 0.1)


def test_a_share_is_lowered_to_three_places_so_that_a_plan_is_there():
    share = SimpleNamespace(share=0.3, key="priority_share", name="share")
    words = _change_in_words(
        SimpleNamespace(limit=share, from_value=0.5, to_value=0.45678), paper()
    )
    assert "0.456" in words
    assert "0.4567" not in words
    assert "0.5" in words
    none = _change_in_words(SimpleNamespace(limit=share, from_value=0.5, to_value=-0.2), paper())
    assert "-" not in none.replace("priority_share", "")


def test_no_bins_are_taken_back_to_pay_for_better_ones():
    """100 buys two bins of 0.2 t; a dear group that keeps little out would free money below 0."""
    group = np.array([0, 1])
    tonnes, cost = np.array([0.2, 0.05]), np.array([50.0, 80.0])
    choices = Choices(group, 0 * group, 0 * group, tonnes, tonnes, tonnes, cost, (2, 1, 1))
    budget = limit_on("budget", "", total_row(cost), high=100.0)
    parts = allocate_split(Problem(choices, np.full(2, 9.0), (budget,)), MOST_TONNES)
    assert parts.tonnes == pytest.approx(0.4)
    assert parts.cost == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("limit", "changed"),
    [
        (limit_on("floor", "", total_row(np.zeros(0)), low=20.0), 0.0),
        (limit_on("budget", "spent already", total_row(np.zeros(0)), high=-40.0), 0.0),
    ],
)
def test_where_no_bin_can_be_given_a_limit_that_asks_for_some_is_told(limit, changed):
    """Nobody wants a bin or none is in stock: a floor of 20, or money overspent by 40, fails."""
    none, count = np.zeros(0), np.zeros(0, dtype=int)
    choices = Choices(count, count, count, none, none, none, none, (2, 1, 1))
    kept = limit_on("stock", "", total_row(none), high=0.0)
    problem = Problem(choices, none, (limit, kept))
    for solve in (allocate, allocate_split):
        with pytest.raises(NoPlanError):
            solve(problem, MOST_TONNES)
    clash = find_clash(problem)
    assert [one.name for one in clash.limits] == [limit.name]
    assert [change.to_value for change in clash.changes] == [changed]
    assert allocate(problem.without(limit.name), MOST_TONNES).bins_count == 0
