"""An order that cannot be planned says what clashes and what the least change is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.errors import OrderError
from planner.ordering.alternatives import find_alternatives, is_near
from planner.ordering.changes import Change, joined_changes, with_changes
from planner.ordering.clashes import find_clashes
from planner.ordering.problem import BinStore, Line, Quarter
from planner.ordering.request import Effort
from planner.ordering.solving import solve
from planner.report.orders.clash_words import change_words
from planner.report.wording import Wording
from tests.plain_purchase import faults
from tests.unit.ordering.every_day import every_day_problem
from tests.unit.ordering.small import MONDAY, day, live, offer, problem, slot, stored, supplier
from tests.unit.ordering.test_cheapest import random_problem

EXACT = Effort(0.0, 20_000)
ENGLISH = Wording("en_GB", "GBP")


def one_supplier(needed=10, *, terms=None, **limits):
    """Ten bins at £10 from one supplier, to be there on the fifth day."""
    terms = terms or offer("O", "A", [(1, 10.0)])
    slots = limits.pop("slots", [slot("A", 1, quarter=0)])
    return problem(
        limits.pop("suppliers", [supplier("A")]),
        [terms],
        slots,
        limits.pop("stored", [stored("bin", (5, needed))]),
        **limits,
    )


def only_change(given):
    """Least change of a problem that one change mends, as words."""
    assert solve(given, EXACT) is None
    clashes = find_clashes(given, EXACT)
    (change,) = clashes.least
    assert solve(with_changes(given, clashes.least), EXACT) is not None
    return change, change_words(change, given, ENGLISH)


def test_a_budget_too_small_is_raised_by_what_lacks():
    given = one_supplier(quarters=(Quarter(MONDAY, day(90), 75.0),))
    change, words = only_change(given)
    assert change.family == "budget"
    assert change.change == pytest.approx(25.0)
    assert words == "Raise the budget of the quarter from 2 Mar 2026 by £25, from £75."


def test_a_quarter_without_any_budget_is_judged_by_that_of_the_whole_year():
    quarters = (Quarter(MONDAY, day(30), 0.0), Quarter(day(31), day(90), 1_000.0))
    change, _ = only_change(one_supplier(quarters=quarters))
    # a tenth of the year's money is a smaller change than ten bins of ten that do not come
    assert (change.family, change.key) == ("budget", (0,))
    assert change.change == pytest.approx(100.0)


def two_works(price, **limits):
    """One pack of five bins from the first of two works for 10, or from the second for more."""
    offers = [offer(code, code, [(1, one)], pack=5.0) for code, one in (("A", 10.0), ("B", price))]
    works, slots = [supplier("A"), supplier("B")], [slot(code, 1, quarter=0) for code in "AB"]
    return problem(works, offers, slots, [stored("bin", (5, 1))], **limits)


def test_a_plan_of_the_least_change_buys_what_is_kept_to_a_single_pack_and_nothing_else():
    given = two_works(20.0, quarters=(Quarter(MONDAY, day(90), 5.0),))
    assert find_clashes(given, EXACT).enough == {(0, 0)}


def test_each_quarter_pays_for_its_own_deliveries():
    quarters = (Quarter(MONDAY, day(90), 50.0), Quarter(day(90), day(180), 50.0))
    slots = [slot("A", 1, quarter=0), slot("A", 95, quarter=1)]
    found = solve(
        one_supplier(slots=slots, quarters=quarters, stored=[stored("bin", (5, 5), (99, 10))]),
        EXACT,
    )
    assert found is not None
    assert sorted(one.goods_amount for one in found.purchases) == [50.0, 50.0]


def test_a_weekly_limit_is_exceeded_by_what_lacks():
    given = one_supplier(terms=offer("O", "A", [(1, 10.0)], weekly=8))
    change, words = only_change(given)
    assert (change.family, change.limit) == ("weekly_limit", 8.0)
    assert change.change == pytest.approx(2.0)
    assert "2 packs of bin more in the week of 2 Mar 2026" in words


def test_more_in_one_week_is_not_more_in_every_week():
    # eight a week: ten are needed in the first, and ten more by the fourth
    terms = offer("O", "A", [(1, 10.0)], weekly=8)
    slots = [slot("A", 1), slot("A", 8), slot("A", 15)]
    needs = [stored("bin", (5, 10), (20, 20))]
    given = one_supplier(
        terms=terms, slots=slots, stored=needs, suppliers=[supplier("A", delivery=30.0)]
    )
    clashes = find_clashes(given, EXACT)
    assert [(one.family, one.change) for one in clashes.least] == [("weekly_limit", 2.0)]
    changed = with_changes(given, clashes.least)
    found = solve(changed, EXACT)
    assert found is not None
    packs = {found.problem.lines[one.line].slot: one.packs_count for one in found.purchases}
    # one delivery of ten would spare its freight, but nobody agreed to it
    assert packs[0] == 10
    assert max(packs[1], packs[2]) <= 8
    assert faults(changed, found) == []


def test_one_order_below_its_least_does_not_waive_it_for_others():
    worms = offer("O", "A", [(1, 10.0)], item="worms", kind="worms")
    given = problem(
        [supplier("A", least=50.0)],
        [worms],
        [slot("A", 4, quarter=0), slot("A", 11, quarter=0)],
        live=[live(6, 4.0, (0, 4.0, 2)), live(13, 4.0, (1, 4.0, 2))],
        quarters=(Quarter(MONDAY, day(90), 90.0),),
    )
    # 40 each is below the least of 50, and there is no money to buy more for both
    assert solve(given, EXACT) is None
    (change,) = changes = find_clashes(given, EXACT).alone["minimum_order"]
    assert change.change == pytest.approx(10.0)
    changed = with_changes(given, changes)
    found = solve(changed, EXACT)
    assert found is not None
    assert faults(changed, found) == []
    assert found.cost == pytest.approx(40.0 + 50.0)


def test_what_a_day_goes_short_of_is_the_same_share_of_it_at_another_level():
    given = one_supplier(stored=[stored("bin", (5, 10), (20, 20))], slots=[slot("A", 9)])
    change = Change("need", (0, 0), 10.0, 10.0)
    surer = replace(given, stored=(stored("bin", (5, 12), (20, 23)),))
    (left,) = with_changes(surer, (change,)).stored
    assert left.quantities == pytest.approx([0.0, 23.0], abs=0.01)


def test_a_store_too_small_is_told_with_the_bins_that_do_not_fit():
    store = BinStore(6.0, 0.0, (day(7),), np.array([10.0]))
    change, words = only_change(one_supplier(store=store))
    assert change.family == "store"
    assert change.change == pytest.approx(4.0)
    assert "Make room for 4 bins more" in words


def test_room_that_lacks_on_two_days_is_made_once():
    # six fit; ten come by the first day, and twenty less the two that left by the second
    store = BinStore(6.0, 0.0, (day(7), day(14)), np.array([2.0, 2.0]))
    slots, needs = [slot("A", 4), slot("A", 11)], [stored("bin", (5, 10), (12, 20))]
    given = one_supplier(store=store, slots=slots, stored=needs)
    clashes = find_clashes(given, EXACT)
    assert [one.change for one in clashes.least] == pytest.approx([4.0, 12.0])
    changed = with_changes(given, clashes.least)
    assert changed.store.bins_most == pytest.approx(6.0 + 12.0, abs=0.01)
    found = solve(changed, EXACT, clashes.enough)
    assert found is not None
    assert faults(changed, found) == []


def test_a_single_supplier_cannot_keep_to_a_share():
    change, words = only_change(one_supplier(largest_supplier_share=0.6))
    assert change.family == "share"
    # all of £100 spent with it, £60 allowed
    assert change.change == pytest.approx(40.0)
    assert "more than 60%" in words


def test_the_least_change_leaves_a_plan_where_worms_alone_must_reach_a_least_order():
    given = every_day_problem(9024)
    budgets = zip(given.quarters, (0.0, 250.0), strict=True)
    given = replace(given, quarters=tuple(replace(one, budget=most) for one, most in budgets))
    clashes = find_clashes(given)
    named = [(one.family, one.key) for one in clashes.least]
    assert len(named) == len(set(named))
    changed = with_changes(given, clashes.least)
    found = solve(changed, Effort(), clashes.enough)
    assert found is not None
    assert faults(changed, found) == []


def test_what_gives_way_twice_is_named_once_and_gives_way_as_far():
    given = every_day_problem(9024)
    first = (Change("minimum_order", (0,), 0.0, 20.0), Change("live_need", (0,), 1.0, 0.2))
    more = (Change("live_need", (0,), 1.0, 0.5), Change("minimum_order", (0,), 0.0, 15.0))
    joined = joined_changes(first, more)
    assert [one.change for one in joined] == pytest.approx([35.0, 0.6])
    at_once, in_turn = with_changes(given, joined), with_changes(with_changes(given, first), more)
    assert at_once.least_order(0) == pytest.approx(in_turn.least_order(0))
    assert at_once.live[0].needed_kg == pytest.approx(in_turn.live[0].needed_kg, rel=1e-3)


def test_a_larger_share_is_for_the_supplier_that_must_have_it_alone():
    # A alone sells bins; coir from B would reach its share, but C has it for less
    offers = [offer("O1", "A", [(1, 10.0)]), offer("O2", "B", [(1, 3.0)], item="coir"),
              offer("O3", "C", [(1, 1.0)], item="coir")]  # fmt: skip
    slots = [slot(code, 1) for code in "ABC"]
    needs = [stored("bin", (5, 10)), stored("coir", (5, 20))]
    given = problem([supplier(code) for code in "ABC"], offers, slots, needs,
                    largest_supplier_share=0.6)  # fmt: skip
    assert solve(given, EXACT) is not None
    fewer = replace(given, stored=(needs[0], stored("coir", (5, 5))))
    clashes = find_clashes(fewer, EXACT)
    (change,) = clashes.alone["share"]
    assert change.key == ("A",)
    changed = with_changes(fewer, (change,))
    beyond = {code: one.beyond_share_amount for code, one in changed.suppliers.items()}
    assert beyond["A"] == pytest.approx(change.change, rel=1e-3)
    assert (beyond["B"], beyond["C"]) == (0.0, 0.0)
    found = solve(changed, EXACT)
    assert found is not None
    assert faults(changed, found) == []


def test_worms_held_too_long_are_told_with_the_days():
    farms = [supplier("A")]
    worms = offer("O", "A", [(1, 30.0)], item="worms", kind="worms")
    given = problem(farms, [worms], [slot("A", 1)], live=[live(6, 4.0, (0, 4.4, 5))])
    change, words = only_change(given)
    assert change.family == "holding_days"
    assert "for 5 days, from 3 Mar 2026 (holding_days_most is 3)" in words


def test_worms_held_long_for_one_day_are_not_held_long_for_others():
    # the second day has a delivery near it, and one five days before that is cheaper
    worms = [offer(o, "A", [(1, price)], item="worms", kind="worms")
             for o, price in (("O", 30.0), ("P", 20.0))]  # fmt: skip
    slots = [slot("A", 1), slot("A", 8), slot("A", 11)]
    lines = (Line(0, 0, MONDAY), Line(1, 1, MONDAY), Line(0, 2, MONDAY))
    needs = [live(6, 4.0, (0, 4.4, 5)), live(13, 4.0, (1, 4.4, 5), (2, 4.2, 2))]
    given = problem([supplier("A")], worms, slots, live=needs, lines=lines)
    (change,) = find_clashes(given, EXACT).least
    assert (change.family, change.key) == ("holding_days", (0, 0))
    found = solve(with_changes(given, (change,)), EXACT)
    assert found is not None
    assert {found.problem.lines[one.line].slot for one in found.purchases} == {0, 2}


def test_of_two_deliveries_for_a_day_the_one_alone_is_held_longer():
    given = problem(
        [supplier("A")],
        [offer("O", "A", [(1, 30.0)], item="worms", kind="worms")],
        [slot("A", 1), slot("A", 2), slot("A", 3)],
        live=[live(9, 4.0, (0, 4.4, 8), (1, 4.4, 7), (2, 4.3, 6)), live(10, 4.0, (1, 4.4, 8))],
    )
    changed = with_changes(given, (Change("holding_days", (0, 1), 3.0, 4.0),))
    assert [one.held_days.tolist() for one in changed.live] == [[8, 3, 6], [8]]


def test_too_many_worms_at_a_time_are_told_with_the_mass():
    worms = offer("O", "A", [(1, 30.0)], item="worms", kind="worms")
    given = problem(
        [supplier("A")],
        [worms],
        [slot("A", 4)],
        live=[live(6, 20.0, (0, 22.0, 2))],
        holding_kg_most=15.0,
    )
    change, words = only_change(given)
    assert change.family == "holding_kg"
    assert change.change == pytest.approx(7.0)
    assert "22.0 kg of worms from 6 Mar 2026 (holding_kg_most is 15.0 kg)" in words
    # room is made for those worms and for no more
    assert with_changes(given, (change,)).holding_kg_most == pytest.approx(22.0, rel=1e-3)


def locked(given, lock):
    return replace(given, lines=(Line(0, 0, MONDAY, lock),))


def test_bins_that_come_too_late_are_asked_for_sooner():
    change, words = only_change(locked(one_supplier(), "late"))
    assert change.family == "late"
    assert "sooner than its lead time" in words


def test_a_work_that_is_late_is_asked_even_for_the_few_bins_that_another_cannot_send():
    offers = [offer("A", "A", [(1, 10.0)], weekly=6), offer("B", "B", [(1, 10.0)])]
    works, slots = [supplier("A"), supplier("B")], [slot(code, 1, quarter=0) for code in "AB"]
    given = problem(works, offers, slots, [stored("bin", (5, 10))])
    given = replace(given, lines=(given.lines[0], replace(given.lines[1], lock="late")))
    assert solve(given, EXACT) is None
    sooner = find_clashes(given, EXACT).alone["late"]
    assert [change.key for change in sooner] == [(1,)]
    assert solve(with_changes(given, sooner), EXACT).cost == pytest.approx(100.0)


def test_an_offer_that_has_ended_is_asked_to_hold_on():
    change, words = only_change(locked(one_supplier(), "not_offered"))
    assert change.family == "not_offered"
    assert "let its offer of bin hold" in words


def test_of_two_works_that_are_late_only_the_one_that_serves_is_asked():
    given = two_works(20.0, quarters=(Quarter(MONDAY, day(90), 15.0),))
    late = tuple(replace(line, lock="late") for line in given.lines)
    change, _ = only_change(replace(given, lines=late))
    assert (change.family, change.key) == ("late", (0,))


def test_worms_are_not_sent_into_the_heat_rather_an_event_goes_without():
    worms = offer("O", "A", [(1, 30.0)], item="worms", kind="worms")
    given = problem([supplier("A")], [worms], [slot("A", 4)], live=[live(6, 4.0, (0, 4.4, 2))])
    hot = tuple(replace(line, lock="held", held_chance=0.9) for line in given.lines)
    given = replace(given, lines=hot)
    change, words = only_change(given)
    assert change.family == "live_need"
    assert "gets none of the 4.0 kg of live worms" in words
    alone = find_clashes(given, EXACT).alone
    assert set(alone) == {"held", "live_need"}
    assert "held for heat or frost is 90%" in change_words(alone["held"][0], given, ENGLISH)


@pytest.mark.parametrize("seed", range(40))
def test_the_least_change_of_a_random_problem_makes_a_plan_possible(seed):
    given = random_problem(seed)
    if solve(given, EXACT) is not None:
        return
    clashes = find_clashes(given, EXACT)
    assert clashes.least
    assert solve(with_changes(given, clashes.least), EXACT) is not None
    for changes in clashes.alone.values():
        assert solve(with_changes(given, changes), EXACT) is not None


def three_suppliers(dearer):
    """Three suppliers of ten bins, the second and third dearer by these pounds in all."""
    prices = {"A": 10.0, "B": 10.0 + dearer[0] / 10.0, "C": 10.0 + dearer[1] / 10.0}
    return problem(
        [supplier(code) for code in prices],
        [offer(f"O{code}", code, [(1, price)]) for code, price in prices.items()],
        [slot(code, 1) for code in prices],
        [stored("bin", (5, 10))],
    )


def test_every_choice_within_two_per_cent_is_listed_and_what_it_costs():
    given = three_suppliers((1.0, 1.5))
    best = solve(given, EXACT)
    assert best is not None
    found = find_alternatives(given, best, EXACT)
    told = {one.without: one.more_cost for one in found}
    assert told == {("A",): pytest.approx(1.0), ("A", "B"): pytest.approx(1.5)}
    assert all(is_near(one, best.cost) for one in found)


def test_a_supplier_that_nobody_stands_in_for_has_no_alternative():
    given = one_supplier()
    best = solve(given, EXACT)
    assert best is not None
    (found,) = find_alternatives(given, best, EXACT)
    assert (found.without, found.more_cost) == (("A",), None)


def test_a_search_that_ends_early_does_not_say_that_there_is_no_choice(monkeypatch):
    given = one_supplier()
    best = solve(given, EXACT)
    assert best is not None

    def ends_early(*_):
        message = "found no plan"
        raise OrderError(message)

    monkeypatch.setattr("planner.ordering.solving.solve", ends_early)
    (found,) = find_alternatives(given, best, EXACT)
    assert found.more_cost is None
    assert not found.is_decided


def test_a_choice_dearer_than_two_per_cent_is_told_but_followed_no_further():
    given = three_suppliers((5.0, 6.0))
    best = solve(given, EXACT)
    assert best is not None
    (found,) = find_alternatives(given, best, EXACT)
    assert (found.without, found.more_cost) == (("A",), pytest.approx(5.0))
    assert not is_near(found, best.cost)
