"""The plan against a second formulation of the problem over every working day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.ordering import solving
from planner.ordering.delivery_days import (
    postpone_deliveries,
    without_dominated_days,
    without_locked_lines,
)
from planner.ordering.model import build_model
from planner.ordering.problem import Line, Slot
from planner.ordering.request import Effort
from planner.ordering.searching import lower_bound
from planner.ordering.solving import first_plan, improved_plan, solve
from tests.plain_purchase import faults, least_cost
from tests.unit.ordering.every_day import every_day_problem, harsh_problem, odd_problem
from tests.unit.ordering.small import day, live, offer, problem, slot, stored, supplier

EXACT = Effort(0.0, 20_000)


def quick(seeds, count):
    """Leave all but the first few seeds to the thorough tests."""
    left = pytest.mark.thorough
    return [pytest.param(one, marks=[] if n < count else left) for n, one in enumerate(seeds)]


@pytest.mark.parametrize("seed", quick(range(12), 5))
@pytest.mark.parametrize("make", [every_day_problem, harsh_problem])
def test_the_plan_is_right_and_the_cheapest_over_every_day(make, seed):
    given = make(seed)
    found = solve(given, EXACT)
    cost, bound = least_cost(given)
    if found is None:
        assert bound == np.inf
        return
    assert faults(given, found) == []
    assert found.cost == pytest.approx(cost, rel=1e-6)
    assert found.bound == pytest.approx(cost, rel=1e-6)


@pytest.mark.parametrize("seed", quick(range(0, 24, 3), 4))
def test_the_plan_is_the_cheapest_where_a_supplier_s_share_is_limited(seed):
    # the least cost may split deliveries, or buy up to a break, so that others keep their share
    given = replace(every_day_problem(seed), largest_supplier_share=(0.55, 0.75)[seed % 2])
    found, (cost, bound) = solve(given, EXACT), least_cost(given)
    if found is None:
        assert bound == np.inf
        return
    assert faults(given, found) == []
    assert found.cost == pytest.approx(cost, rel=1e-6)
    assert found.bound == pytest.approx(cost, rel=1e-6)


@pytest.mark.parametrize("seed", quick(range(10), 5))
def test_leaving_days_out_leaves_the_least_cost_of_the_second_formulation(seed):
    given = without_locked_lines(every_day_problem(100 + seed))
    fewer = without_dominated_days(given)
    assert len(fewer.lines) < 0.7 * len(given.lines)
    assert least_cost(fewer)[0] == pytest.approx(least_cost(given)[0], rel=1e-6)


# of the first the solver takes the start for cheaper than it is
@pytest.mark.parametrize("seed", quick([1064, *range(8)], 5))
def test_a_plan_to_start_from_keeps_every_limit_and_leaves_the_least_cost(monkeypatch, seed):
    given = without_locked_lines(every_day_problem(seed))
    model = build_model(without_dominated_days(given))
    monkeypatch.setattr(solving, "LARGE", 1)
    start = first_plan(model)
    if start is not None:
        start = improved_plan(model, start, 0.0)
        values = model.program.matrix() @ start
        bounds = model.program.bounds()
        assert (values >= bounds[:, 0] - 1e-5).all()
        assert (values <= bounds[:, 1] + 1e-5).all()
    found, (cost, _) = solve(given, EXACT), least_cost(given)
    assert (found.cost if found else np.inf) == pytest.approx(cost, rel=1e-6)


@pytest.mark.parametrize("seed", quick(range(10), 3))
def test_what_is_proven_below_a_limit_is_the_limit_and_never_more_than_the_least_cost(seed):
    given = without_locked_lines(every_day_problem(seed))
    cost, _ = least_cost(given)
    program = build_model(without_dominated_days(given)).program
    if cost < np.inf:
        assert lower_bound(program, EXACT, 0.98 * cost) == 0.98 * cost
        assert 0.5 * cost < lower_bound(program, EXACT, 1.02 * cost) <= cost * (1.0 + 1e-6)


@pytest.mark.parametrize("block", quick(range(6), 2))
def test_odd_limits_leave_the_plan_that_there_is(block):
    # an officer's search: its plan keeps every limit, and what it proves lies below the least
    for seed in range(10 * block, 10 * block + 10):
        given = odd_problem(seed)
        found = solve(given, Effort())
        cost, _ = least_cost(given)
        if found is None:
            assert cost == np.inf, seed
            continue
        assert faults(given, found) == [], seed
        assert found.bound <= cost * (1.0 + 1e-6), seed
        assert found.cost <= max(cost, found.bound) * (1.0 + 0.0051), seed


def test_a_search_of_more_columns_is_given_fewer_nodes(monkeypatch):
    asked, search, work = [], solving.run_search, 200_000

    def noted(program, effort, *rest):
        asked.append((sum(map(len, program.cost)), effort.nodes_count))
        return search(program, effort, *rest)

    monkeypatch.setattr(solving, "run_search", noted)
    given = every_day_problem(0)
    found = solve(given, replace(EXACT, work=work))
    assert found.cost == pytest.approx(least_cost(given)[0], rel=1e-6)
    columns, nodes = asked[-1]
    assert solving.FEWEST_NODES < nodes == work // columns < EXACT.nodes_count


def every_day(offers, leads, *, supplier_terms=None, days=20, **limits):
    """One supplier that may send on every day; each offer with a lead time of its own."""
    slots = [Slot("A", day(n), day(n + 1), 0) for n in range(days)]
    lines = tuple(
        Line(o, s, day(s), "" if s >= lead else "late")
        for s in range(days)
        for o, lead in enumerate(leads)
    )
    return problem([supplier("A", **supplier_terms or {})], offers, slots, lines=lines, **limits)


def test_offers_with_lead_times_of_their_own_share_a_delivery():
    offers = [offer("bins", "A", [(1, 10.0)]), offer("coir", "A", [(1, 2.0)], item="coir")]
    needs = [stored("bin", (15, 3)), stored("coir", (15, 4))]
    given = every_day(offers, (2, 9), supplier_terms={"delivery": 50.0}, stored=needs)
    found = solve(given, EXACT)
    assert found is not None
    assert found.cost == pytest.approx(3 * 10.0 + 4 * 2.0 + 50.0)
    assert len(found.pallets_count) == 1


def test_bins_reach_the_least_order_for_coir_that_comes_along():
    offers = [offer("bins", "A", [(1, 60.0)]), offer("coir", "A", [(1, 2.0)], item="coir")]
    needs = [stored("bin", (15, 3)), stored("coir", (15, 17.4))]
    given = every_day(offers, (2, 9), supplier_terms={"least": 200.0}, stored=needs)
    found = solve(given, EXACT)
    assert found is not None
    # 18 kg and no more: the bins alone are worth 180 of the 200 of a least order
    assert found.cost == pytest.approx(180.0 + 2.0 * 18)


def test_packs_enough_for_a_least_order_are_counted_at_the_lowest_price():
    # three are needed; a dearer price from the fifth on leaves ten of the first no cheaper
    rising = [offer("bins", "A", [(1, 10.0), (5, 30.0)], incremental=True)]
    needs = [stored("bin", (15, 3))]
    given = every_day(rising, (2,), supplier_terms={"least": 100.0}, stored=needs, days=6)
    found = solve(given, EXACT)
    assert found is not None
    assert found.cost == pytest.approx(4 * 10.0 + 2 * 30.0)
    assert found.cost == pytest.approx(least_cost(given)[0])


def test_a_need_in_the_middle_of_a_week_is_served_on_that_week_s_days():
    # lead time ends on Tuesday the 9th day, the need is on Thursday: no other day will do
    bins = [offer("bins", "A", [(1, 10.0)])]
    given = every_day(bins, (8,), days=11, stored=[stored("bin", (9, 1))])
    found = solve(given, EXACT)
    assert found is not None
    (bought,) = found.purchases
    assert found.problem.slots[found.problem.lines[bought.line].slot].dispatch_date == day(8)


def kept_days(given):
    """Days of sending that are left after dominated ones are gone."""
    fewer = without_dominated_days(without_locked_lines(given))
    return sorted({(fewer.slots[line.slot].dispatch_date - day(0)).days for line in fewer.lines})


def test_one_day_for_each_set_of_offers_is_enough_for_goods_that_keep():
    offers = [offer("bins", "A", [(1, 10.0)]), offer("coir", "A", [(1, 2.0)], item="coir")]
    needs = [stored("bin", (5, 1), (15, 3)), stored("coir", (18, 4))]
    assert kept_days(every_day(offers, (2, 9), stored=needs)) == [2, 9]
    # where nothing is needed before the later day, that day alone will do
    needs = [stored("bin", (15, 3)), stored("coir", (18, 4))]
    assert kept_days(every_day(offers, (2, 9), stored=needs)) == [9]


def test_a_day_of_every_week_is_kept_where_a_weekly_limit_holds():
    offers = [offer("bins", "A", [(1, 10.0)], weekly=2)]
    assert kept_days(every_day(offers, (0,), stored=[stored("bin", (19, 3))])) == [0, 7, 14]


def test_prices_that_rise_keep_every_day():
    offers = [offer("bins", "A", [(1, 10.0), (5, 12.0)])]
    assert kept_days(every_day(offers, (0,), stored=[stored("bin", (6, 3))])) == [*range(6)]


def test_a_later_day_with_more_losses_on_the_way_does_not_stand_in():
    worms = [offer("worms", "A", [(1, 30.0)], item="worms", kind="worms")]
    slots = [slot("A", 3), slot("A", 4), slot("A", 5)]
    mild, mildest, hot = (0, 4.4, 3), (1, 4.3, 2), (2, 4.5, 1)
    given = problem([supplier("A")], worms, slots, live=[live(6, 4.0, mild, mildest, hot)])
    # the middle day needs less than either; the last needs more and is held for less
    assert kept_days(given) == [3, 4]


def test_a_delivery_is_put_off_to_a_day_for_which_a_smaller_order_is_taken():
    later = replace(slot("A", 8, quarter=0), below_least_amount=30.0)
    works, slots = [supplier("A", least=50.0)], [slot("A", 1, quarter=0), later]
    given = problem(works, [offer("bins", "A", [(1, 10.0)])], slots, [stored("bin", (9, 6))])
    early = solve(replace(given, lines=given.lines[:1]), EXACT)
    put_off = postpone_deliveries(given, early)
    assert list(put_off.pallets_count) == [1]
    assert [given.lines[one.line].slot for one in put_off.purchases] == [1]
