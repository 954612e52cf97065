"""Around a plan: the fewest bins for a target and the next tonne, by trying and by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.sizing import frontier
from planner.sizing.allocation import MOST_TONNES, allocate
from planner.sizing.frontier import bins_needed, next_tonne_cost
from tests.unit.sizing.small import every_plan, small_problem


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_the_fewest_bins_for_a_target_are_those_of_every_plan_tried(seed):
    given = small_problem(seed, most=2)
    given = replace(given, limits=given.limits[:1])  # demand alone
    plans = every_plan(given)
    tonnes, counts = plans @ given.choices.tonnes, plans.sum(axis=1)
    for target in (0.0, *np.linspace(0.05, tonnes.max(), 6)):
        expected = counts[tonnes >= target - 1e-9].min()
        found = bins_needed(given, lambda plan: np.full(3, plan.tonnes + 1e-9), target, 0.5)
        assert found.bins_count == expected
        assert found.most_bins_count == counts.max()
    beyond = bins_needed(given, lambda plan: np.full(3, plan.tonnes), tonnes.max() + 0.1, 0.5)
    assert beyond.bins_count is None


def test_the_next_tonne_of_a_small_plan_is_priced_in_small_steps(monkeypatch):
    """Up to 10.5 t a tonne costs 100, from there on 1,000; a step is a fiftieth of the plan."""

    def least_cost(_, tonnes):
        return 100.0 * tonnes + 900.0 * max(0.0, tonnes - 10.5) if tonnes <= 60.0 else np.inf

    monkeypatch.setattr(frontier, "least_cost_of", least_cost)
    assert next_tonne_cost(None, 10.0) == pytest.approx(100.0)
    # of a large plan it is a tonne: half of it at the price from 10.5 t on would be too far
    assert next_tonne_cost(None, 55.0) == pytest.approx(1000.0)
    assert next_tonne_cost(None, 0.0) == pytest.approx(100.0)
    assert next_tonne_cost(None, 60.0) is None


def test_the_frontier_ends_where_more_money_brings_no_more():
    given = small_problem(1, most=2)
    given = replace(given, limits=given.limits[:1])  # demand alone
    plans = every_plan(given)
    tonnes, cost = plans @ given.choices.tonnes, plans @ given.choices.cost
    # whole tonnes alone would end earlier
    assert cost[tonnes >= np.floor(tonnes.max())].min() < cost[tonnes >= tonnes.max()].min()
    plan = allocate(given, MOST_TONNES, 0.0)
    found = frontier.frontier(given, plan, lambda one: (one.tonnes, one.cost), 0.0)
    assert found.tonnes[-1] == pytest.approx(tonnes.max(), rel=1e-5)
    assert found.tonnes[0] == pytest.approx(0.0, abs=1e-9)
    money = np.linspace(0.0, cost[tonnes >= tonnes.max() * (1.0 - 1e-6)].min(), frontier.POINTS)
    for most in money:
        best = tonnes[cost <= most + 1e-6].max()
        assert found.tonnes[found.cost <= most + 1e-6].max() == pytest.approx(best, rel=1e-5)
