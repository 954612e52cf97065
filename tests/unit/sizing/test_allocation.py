"""Allocations against trying every plan, against a dynamic program and against split bins."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from planner.program.sizing import SizingLimits
from planner.sizing.allocation import (
    LEAST_COST,
    MOST_NET_EMISSIONS,
    MOST_TONNES,
    Choices,
    Limit,
    NoPlanError,
    Problem,
    allocate,
    allocate_split,
    least_cost_of,
    limit_on,
    rows_by,
    total_row,
    with_target,
)
from planner.sizing.building import _policy_limits, expected_worths
from planner.tables import DWELLINGS
from planner.whole_programs import least_integer
from tests.unit.sizing.small import every_plan, small_problem, worth_of


@pytest.mark.parametrize("objective", [MOST_TONNES, LEAST_COST, MOST_NET_EMISSIONS])
@pytest.mark.parametrize("seed", range(12))
def test_the_plan_found_is_the_best_of_all_plans(seed, objective):
    problem = small_problem(seed)
    if objective == LEAST_COST:
        problem = with_target(problem, 0.3)
    plans = every_plan(problem)
    if len(plans) == 0:
        with pytest.raises(NoPlanError):
            allocate(problem, objective, 0.0)
        return
    found = allocate(problem, objective, 0.0)
    assert np.isclose(plans, found.bins).all(axis=1).any()
    best = worth_of(problem, plans, objective).max()
    assert worth_of(problem, found.bins[None], objective)[0] == pytest.approx(best, abs=1e-9)


def test_some_of_the_small_problems_have_no_plan_and_most_have():
    has_plan = [len(every_plan(small_problem(seed))) > 0 for seed in range(12)]
    assert 0 < has_plan.count(False) < has_plan.count(True)


def knapsack(tonnes, cost, most, budget):
    """Most tonnes within a whole budget, by a recursion over items and money (Bellman 1957)."""
    best = np.zeros(budget + 1)
    for worth, price, limit in zip(tonnes, cost, most, strict=True):
        for _ in range(limit):
            taken = np.full(budget + 1, -np.inf)
            taken[price:] = best[: budget + 1 - price] + worth
            best = np.maximum(best, taken)
    return best[budget]


@pytest.mark.parametrize("seed", range(5))
def test_a_budget_alone_gives_the_plan_of_the_dynamic_program(seed):
    rng = np.random.default_rng(seed)
    count, budget = 12, 700
    tonnes = rng.uniform(0.05, 0.4, count)
    cost, most = rng.integers(20, 90, count), rng.integers(1, 9, count)
    place = np.arange(count)
    choices = Choices(
        place, 0 * place, 0 * place, tonnes, tonnes, tonnes, cost * 1.0, (count, 1, 1)
    )
    limit = limit_on("budget", "", total_row(choices.cost), high=float(budget))
    found = allocate(Problem(choices, most * 1.0, (limit,)), MOST_TONNES, 0.0)
    assert found.tonnes == pytest.approx(knapsack(tonnes, cost, most, budget), rel=1e-9)
    assert found.cost <= budget


@pytest.mark.parametrize("seed", [0, 1, 4, 5])
def test_split_bins_bring_no_less_and_their_least_cost_is_no_more(seed):
    problem = small_problem(seed)
    assert len(every_plan(problem)) > 0
    whole = allocate(problem, MOST_TONNES, 0.0)
    assert allocate_split(problem, MOST_TONNES).tonnes >= whole.tonnes - 1e-9
    free = problem.without("budget")
    assert least_cost_of(free, whole.tonnes) <= whole.cost + 1e-6


def test_more_than_there_is_has_no_least_cost():
    problem = small_problem(0)
    assert least_cost_of(problem, 1e6) == float("inf")
    with pytest.raises(NoPlanError):
        allocate(with_target(problem, 1e6), LEAST_COST)


def test_without_anything_to_choose_the_plan_is_empty():
    none = np.zeros(0)
    empty = Choices(
        none.astype(int), none.astype(int), none.astype(int), none, none, none, none, (1, 1, 1)
    )
    found = allocate(Problem(empty, none, ()), MOST_TONNES)
    assert (found.bins_count, found.tonnes) == (0, 0.0)
    assert allocate_split(Problem(empty, none, ()), MOST_TONNES).cost == 0.0


def test_a_bin_is_worth_its_fed_weeks_times_what_they_keep_out_in_the_mean_over_draws():
    rng = np.random.default_rng(4)
    draws, months, rounds, dwelling = 3, 30, 2, np.array([0, 2, 0])
    feed, kept, scenario = rng.uniform(0.1, 2.0, (3, 1 + draws, dwelling.size))
    weeks = rng.uniform(0.0, 4.0, (len(DWELLINGS), 1 + draws, months, rounds))
    leaves = np.where(np.arange(months) < 12, 0.0, [[0.0], [0.4], [0.7]])
    avoided, caused = rng.uniform(100.0, 900.0, (2, 1 + draws))
    making = rng.uniform(10.0, 20.0, (1 + draws, 1))
    rates = SimpleNamespace(
        avoided_kg_co2e_per_t=avoided, bin_gases_kg_co2e_per_t=caused, making_kg_co2e=making
    )
    world = SimpleNamespace(
        feed_kg_per_week=feed, kept_out_share=kept, exposed_share=scenario,
        moved_elsewhere_share=leaves, rates=rates,
        bins=[[SimpleNamespace(full_feed_weeks=one)] for one in weeks],
        price=np.full((1 + draws, 1), 60.0), other_cost=np.full((1 + draws, 1), 5.0),
    )  # fmt: skip
    groups = SimpleNamespace(count=dwelling.size, dwelling=dwelling)
    settings = SimpleNamespace(models=["tray"], rounds=["a", "b"], target_year=2)
    kept_out, in_target, avoided_net, cost = expected_worths(
        SimpleNamespace(groups=groups), settings, world
    )
    for group, round_ in np.ndindex(dwelling.size, rounds):
        tonnes, target, net = [], [], []
        for draw in range(1, 1 + draws):
            full = weeks[dwelling[group], draw, :, round_]
            share = kept[draw, group] - scenario[draw, group] * leaves[group]
            by_month = full * feed[draw, group] * share / 1000.0
            tonnes.append(by_month.sum())
            target.append(by_month[12:24].sum())
            fed = (full * feed[draw, group]).sum() / 1000.0
            made = making[1:].mean()
            net.append((by_month.sum() * avoided[draw] - fed * caused[draw] - made) / 1000.0)
        assert kept_out[group, 0, round_] == pytest.approx(np.mean(tonnes))
        assert in_target[group, 0, round_] == pytest.approx(np.mean(target))
        assert avoided_net[group, 0, round_] == pytest.approx(np.mean(net))
    assert np.all(cost == 65.0)


def test_a_few_bins_among_many_choices_are_found_without_a_search_to_the_time_limit(monkeypatch):
    """Of 100 bins one is a hundredth, so that a gap of a two-thousandth asks for the very best."""
    rng, groups = np.random.default_rng(7), 800
    group = np.repeat(np.arange(groups), 2)
    tonnes = rng.uniform(0.05, 0.25, groups)[group] * np.tile([1.0, 0.97], groups)
    cost = np.tile([68.3, 79.8], groups)
    shape = (groups, 2, 1)
    nothing = np.zeros(group.size, dtype=np.int64)
    choices = Choices(
        group, nothing + np.tile([0, 1], groups), nothing, tonnes, tonnes, tonnes, cost, shape
    )
    money = limit_on("budget", "", total_row(cost), high=8000.0)
    wanted = limit_on("demand", "", rows_by(group, np.ones(group.size), groups), high=3.0)
    problem = Problem(choices, np.full(group.size, 3.0), (money, wanted))
    ends = []

    def noted(*given, **options):
        found = least_integer(*given, **options)
        ends.append(found.message)
        return found

    monkeypatch.setattr("planner.sizing.allocation.least_integer", noted)
    found = allocate(problem, MOST_TONNES, 5e-4, time_limit_seconds=10.0)
    assert ends == ["Optimal"]
    assert found.cost <= 8000.0
    assert allocate_split(problem, MOST_TONNES).tonnes - found.tonnes <= tonnes.max()


@pytest.mark.parametrize(("cheapest", "afforded"), [(60.0, 5.0), (1.0, 300.0), (-5.0, 300.0)])
def test_a_share_is_judged_against_the_bins_that_a_budget_of_300_buys(cheapest, afforded):
    """A bin whose co-payment pays for it counts as one of the least money."""
    groups = SimpleNamespace(
        dwelling=np.zeros(1, int), is_priority=np.ones(1, bool), area=np.zeros(1, int),
        area_ids=("A",), households=np.array([50.0]),
    )  # fmt: skip
    choices = SimpleNamespace(count=2, group=np.zeros(2, int), cost=np.array([cheapest, 90.0]))
    settings = SimpleNamespace(budget=300.0, limits=SizingLimits(priority_least_share=0.5))
    (limit,) = _policy_limits(SimpleNamespace(groups=groups), settings, choices)
    assert limit.scale == afforded


@pytest.mark.parametrize(("share", "relaxed"), [(0.3, 0.29), (0.005, 0.0)])
def test_a_floor_on_a_share_gives_way_by_a_point_and_never_below_nothing(share, relaxed):
    chosen = np.array([True, False])
    rows = total_row(chosen.astype(float) - share)
    nothing, open_end = np.zeros(1), np.full(1, np.inf)
    limit = Limit("floor", "", rows, nothing, open_end, 0.01, "point", share=share, chosen=chosen)
    found = limit.relaxed()
    assert found.share == pytest.approx(relaxed)
    # ten bins of which none is of the chosen
    assert found.slack(np.array([0, 10])) == pytest.approx([-10.0 * relaxed])
