"""What was ordered before counts: budgets, weekly limits, room, shares, frost and lateness."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from planner.errors import OrderError
from planner.ordering.commitments import (
    WormBatch,
    allot_worms,
    budget_quarters,
    commit,
    overdue_notes,
    position_on,
    worm_batches,
)
from planner.ordering.demand import Events, plan_demand
from planner.ordering.offers import check_offered, too_soon_notes
from planner.ordering.problem import BinStore, Commitments, Line
from planner.ordering.request import Effort
from planner.ordering.shipping_window import DayForecast, Weather
from planner.ordering.slots import Calendar, Lateness, read_lateness
from planner.ordering.solving import solve
from planner.ordering.working_days import WorkingDays
from planner.program.ordering import Ordering, QuarterBudget
from tests.unit.ordering.small import MONDAY, day, live, offer, problem, slot, stored, supplier

D = dt.date
EXACT = Effort(0.0, 20_000)
TODAY = D(2026, 5, 4)
COLUMNS = {
    "order_line_id": pl.String,
    "supplier_id": pl.String,
    "offer_id": pl.String,
    "item_kind": pl.String,
    "item_id": pl.String,
    "stock_item": pl.String,
    "delivery_date": pl.Date,
    "packs_count": pl.Int64,
    "outstanding_quantity": pl.Float64,
    "outstanding_share": pl.Float64,
    "committed_amount": pl.Float64,
    "payments": pl.List(pl.Struct({"paid_date": pl.Date, "amount": pl.Float64})),
    "late_days": pl.Int64,
}
NOTHING_IN_STORE = pl.DataFrame(
    schema={"item_kind": pl.String, "stock_item": pl.String, "in_stock_quantity": pl.Float64}
)


def paid(*pairs):
    return [{"paid_date": day, "amount": amount} for day, amount in pairs]


def orders(*rows):
    """Rows of the query orders_committed; each as given beyond an order of ten bins."""
    usual = {
        "order_line_id": "P",
        "supplier_id": "A",
        "offer_id": "O",
        "item_kind": "bins",
        "item_id": "m",
        "stock_item": "m",
        "delivery_date": D(2026, 5, 11),
        "packs_count": 10,
        "outstanding_quantity": 10.0,
        "outstanding_share": 1.0,
        "committed_amount": 100.0,
        "payments": paid((D(2026, 5, 11), 100.0)),
        "late_days": None,
    }
    return pl.DataFrame([{**usual, **row} for row in rows], schema=COLUMNS)


def position(committed, lateness=None, level=0.95):
    return position_on(TODAY, committed, NOTHING_IN_STORE, lateness or {}, level)


def test_a_store_that_owes_bins_holds_none():
    kept = pl.DataFrame(
        {"item_kind": "bins", "stock_item": ["a", "b"], "in_stock_quantity": [-2, 3]}
    )
    assert position_on(TODAY, orders(), kept, {}, 0.95).bins_in_stock == {"a": 0, "b": 3}


def test_a_delivery_that_came_is_still_paid_from_its_quarter():
    blocks = (
        QuarterBudget(begins=D(2026, 4, 1), budget=12_000.0),
        QuarterBudget(begins=D(2026, 7, 1), budget=500.0),
    )
    # some of it came in each of two quarters, and more than a budget is still to come
    came = {"payments": paid((D(2026, 5, 1), 7_000.0), (D(2026, 7, 2), 100.0))}
    to_come = {"payments": paid((D(2026, 6, 30), 2_000.0), (D(2026, 7, 10), 620.0))}
    first, second = budget_quarters(blocks, orders(came, to_come))
    assert (first.budget, second.budget) == (3_000.0, 0.0)
    assert (first.ends, second.begins) == (D(2026, 7, 1), D(2026, 7, 1))


def test_goods_on_order_are_counted_on_when_they_have_likely_come():
    # without a record two days late or more come in 1 of 20: 0.2 x 0.5 x 0.5
    there = position(orders({}))
    assert there.on_order_by("m", D(2026, 5, 12)) == 0.0
    assert there.on_order_by("m", D(2026, 5, 13)) == 10.0


def test_a_supplier_that_is_always_late_is_waited_for():
    late = read_lateness(orders(*[{"late_days": 7, "outstanding_quantity": 0.0}] * 40))
    there = position(orders({}), late)
    assert there.on_order_by("m", D(2026, 5, 17)) == 0.0
    assert there.on_order_by("m", D(2026, 5, 18)) == 10.0


def test_an_overdue_order_is_named_and_its_wait_begins_today():
    there = position(orders({"delivery_date": D(2026, 4, 20)}))
    assert there.on_order_by("m", TODAY) == 0.0
    assert there.on_order_by("m", TODAY + dt.timedelta(days=2)) == 10.0
    (note,) = overdue_notes(there)
    assert "10 of m due 20 April 2026 have not come" in note


def test_the_buffer_is_the_least_that_keeps_the_level():
    record = Lateness((0,) * 16 + (3,) * 4)
    # (10 x 0.2 x 0.5**d + later) / 30 with 4 of 20 later than 2 days, none later than 3
    assert record.chance_later_than(2) == pytest.approx((10 * 0.05 + 4) / 30)
    assert record.chance_later_than(3) == pytest.approx(10 * 0.025 / 30)
    assert record.buffer_days(0.9) == 3


def calendar(forecasts):
    return Calendar(
        TODAY,
        (D(2026, 5, 16),),
        WorkingDays(),
        Weather((15.0,) * 12, forecasts=forecasts),
        3,
    )


def test_worms_on_order_meet_the_heat_of_a_forecast_like_new_ones():
    worms = {"item_kind": "worms", "item_id": "Eisenia fetida", "stock_item": "worms",
             "delivery_date": D(2026, 5, 14), "outstanding_quantity": 5.0}  # fmt: skip
    there = position(orders(worms))
    mild, warnings = worm_batches(there, calendar({}), {"A": 2})
    assert [one.kilos for one in mild] == [0.0, 5.0]
    assert warnings == []
    hot = {D(2026, 5, 13): DayForecast(15.0, 33.0)}
    left, warnings = worm_batches(there, calendar(hot), {"A": 2})
    assert [one.kilos for one in left] == [0.0]
    assert "agree another day" in warnings[0]
    # heat before they are sent does not matter
    early = {D(2026, 5, 11): DayForecast(15.0, 33.0)}
    assert worm_batches(there, calendar(early), {"A": 2})[1] == []


def two_events(*days):
    names = ("E1", "E2")
    return Events(names, days, ("", ""), np.array([10, 10]))


def test_worms_in_store_serve_the_first_day_that_they_can_be_held_for():
    settings = Ordering(holding_days_most=3, holding_loss_share_per_day=0.1)
    demand = plan_demand(two_events(D(2026, 5, 6), D(2026, 5, 20)), {"m": 1.0}, {}, settings)
    alive, held, left = allot_worms(demand, [WormBatch(TODAY, 2.0)], settings, 0.45)
    assert alive == pytest.approx([2.0 * 0.9**2, 0.0])
    assert held == ((TODAY, D(2026, 5, 6), 2.0),)
    assert left == [0.0]


def test_no_more_worms_are_taken_from_store_than_a_day_needs():
    settings = Ordering(holding_days_most=3, holding_loss_share_per_day=0.0)
    demand = plan_demand(two_events(D(2026, 5, 5), D(2026, 5, 6)), {"m": 1.0}, {}, settings)
    kilos = float(demand.show_ups_count[0]) * 0.5 + 1.0
    alive, _, left = allot_worms(demand, [WormBatch(TODAY, kilos)], settings, 0.5)
    assert alive == pytest.approx([kilos - 1.0, 1.0])
    assert left == pytest.approx([0.0])


def bought(given):
    """Packs bought by day of delivery; None without a plan."""
    found = solve(given, EXACT)
    if found is None:
        return None
    lines = found.problem.lines
    return {
        (found.problem.slots[lines[one.line].slot].delivery_date - MONDAY).days: one.packs_count
        for one in found.purchases
    }


def test_packs_ordered_before_take_of_the_weekly_limit():
    terms = offer("O", "A", [(1, 10.0)], weekly=8)
    slots = [slot("A", 3), slot("A", 10)]
    limits = {"stored": [stored("bin", (12, 10))]}
    free = problem([supplier("A", delivery=5.0)], [terms], slots, **limits)
    taken = Commitments(weekly_packs={(0, day(0)): 6})
    less = problem([supplier("A", delivery=5.0)], [terms], slots, commitments=taken, **limits)
    assert sum(bought(free).values()) == sum(bought(less).values()) == 10
    assert bought(less)[3] <= 2


def test_packs_that_are_overdue_take_of_the_week_in_which_they_can_still_be_sent():
    # six of eight packs, due on Wednesday a fortnight ago, are still owed on Friday the 8th
    owed = {"delivery_date": D(2026, 4, 22), "packs_count": 8, "outstanding_share": 0.75}
    friday = D(2026, 5, 8)
    there = position_on(friday, orders(owed), NOTHING_IN_STORE, {}, 0.95)
    settings = Ordering()
    demand = plan_demand(two_events(D(2026, 6, 6), D(2026, 6, 20)), {"m": 1.0}, {}, settings)
    suppliers = pl.DataFrame({"supplier_id": ["A"], "transit_days": [1]})
    limits = commit(
        there, [offer("O", "A", [(1, 10.0)])], replace(calendar({}), from_date=friday), suppliers,
        demand, settings, 0.45,
    ).limits  # fmt: skip
    assert limits.weekly_packs == {(0, D(2026, 4, 20)): 2, (0, D(2026, 5, 11)): 6}


def test_goods_of_a_supplier_without_a_way_are_sent_on_the_day_they_come():
    # due on Monday the 11th: nothing says that they are a day under way, so not on Friday
    due = {"delivery_date": D(2026, 5, 11), "packs_count": 8, "outstanding_share": 1.0}
    friday = D(2026, 5, 8)
    there = position_on(friday, orders(due), NOTHING_IN_STORE, {}, 0.95)
    settings = Ordering()
    demand = plan_demand(two_events(D(2026, 6, 6), D(2026, 6, 20)), {"m": 1.0}, {}, settings)
    nobody = pl.DataFrame(schema={"supplier_id": pl.String, "transit_days": pl.Int64})
    limits = commit(
        there, [offer("O", "A", [(1, 10.0)])], replace(calendar({}), from_date=friday), nobody,
        demand, settings, 0.45,
    ).limits  # fmt: skip
    assert {week: packs for week, packs in limits.weekly_packs.items() if packs} == {
        (0, D(2026, 5, 11)): 8
    }


def test_worms_held_already_take_of_the_room():
    worms = offer("O", "A", [(1, 30.0)], item="worms", kind="worms")
    needs = [live(6, 4.0, (0, 4.4, 2))]
    terms = {"live": needs, "holding_kg_most": 6.0}
    assert bought(problem([supplier("A")], [worms], [slot("A", 4)], **terms)) == {4: 5}
    held = Commitments(held_kg=((day(4), day(6), 2.0),))
    assert (
        bought(problem([supplier("A")], [worms], [slot("A", 4)], commitments=held, **terms)) is None
    )
    gone = Commitments(held_kg=((day(1), day(4), 2.0),))
    assert bought(problem([supplier("A")], [worms], [slot("A", 4)], commitments=gone, **terms)) == {
        4: 5
    }


def test_bins_on_order_fill_the_store_when_they_come_not_before():
    offers, needs = [offer("O", "A", [(1, 10.0)])], [stored("bin", (3, 6))]
    store = BinStore(6.0, 0.0, (day(4),), np.array([6.0]), (day(8),), (5.0,))
    given = problem([supplier("A")], offers, [slot("A", 1)], needs, store=store)
    assert bought(given) == {1: 6}
    sooner = BinStore(6.0, 0.0, (day(4),), np.array([6.0]), (day(2),), (5.0,))
    assert bought(problem([supplier("A")], offers, [slot("A", 1)], needs, store=sooner)) is None


def test_what_was_spent_with_a_supplier_counts_in_its_share():
    offers = [offer("O1", "A", [(1, 10.0)]), offer("O2", "B", [(1, 12.0)])]
    slots, needs = [slot("A", 1), slot("B", 1)], [stored("bin", (3, 10))]
    pair = [supplier("A"), supplier("B")]
    spent = Commitments(spent={"B": 100.0})
    given = problem(pair, offers, slots, needs, largest_supplier_share=0.5, commitments=spent)
    found = solve(given, EXACT)
    assert found is not None
    # 100 went to B before: all ten may come from A, which is then half of the spending
    assert found.cost == pytest.approx(100.0)
    fresh = solve(problem(pair, offers, slots, needs, largest_supplier_share=0.55), EXACT)
    assert fresh is not None
    assert fresh.cost > 100.0


def test_goods_that_may_come_late_are_bought_for_an_earlier_day():
    late = [replace(slot("A", number), late_days=2) for number in (1, 4)]
    given = problem([supplier("A")], [offer("O", "A", [(1, 10.0)])], late, [stored("bin", (5, 3))])
    assert bought(given) == {1: 3}


def test_what_is_in_store_needs_no_offer():
    covered = problem([supplier("A")], [], [], [stored("bin", (5, 0))], [live(6, 0.0)])
    check_offered(covered, ("Eisenia fetida",))
    # nor any supplier
    check_offered(replace(covered, suppliers={}), ("Eisenia fetida",))
    lacking = problem([supplier("A")], [], [], [stored("bin", (5, 1))], [live(6, 1.0)])
    with pytest.raises(OrderError, match=r"no offer of bin, worms \(Eisenia fetida\)"):
        check_offered(lacking, ("Eisenia fetida",))


def test_without_suppliers_the_sheets_to_load_are_named():
    with pytest.raises(OrderError, match=r"no suppliers\. Load the sheets suppliers and offers"):
        check_offered(problem([], [], [], [stored("bin", (5, 1))]), ("Eisenia fetida",))


def test_a_day_before_the_first_possible_delivery_is_named_with_it():
    slots = [slot("A", 3), slot("A", 9)]
    lines = (Line(0, 0, day(2), "late"), Line(0, 1, day(8)))
    needs = [stored("bin", (5, 1), (12, 2))]
    given = problem([supplier("A")], [offer("O", "A", [(1, 10.0)])], slots, needs, lines=lines)
    (note,) = too_soon_notes(given)
    assert "no bin can be there before 11 March 2026, too late for E5." in note
    in_time = problem([supplier("A")], [offer("O", "A", [(1, 10.0)])], slots, needs)
    assert too_soon_notes(in_time) == []


def test_goods_come_in_time_as_often_as_is_wanted_whatever_the_supplier():
    """Simulated suppliers, each as punctual as the stated prior lets them be, and their records.

    Lines planned ahead by the buffer must come late with no more than the stated chance on
    the mean; one day fewer must miss it, or the buffer is longer than it need be.
    """
    rng = np.random.default_rng(16)
    days = np.arange(40)
    chances = np.append([1.0], 0.2 * 0.5**days)
    base = np.append(chances[:-1] - chances[1:], chances[-1])  # on time, 1 day late, 2, ...
    for lines_count in (0, 5, 40):
        late, sooner = [], []
        for _ in range(400):
            law = rng.dirichlet(10.0 * base)
            record = tuple(rng.choice(len(law), lines_count, p=law).tolist())
            buffer = Lateness(record).buffer_days(0.9)
            beyond = np.cumsum(law[::-1])[::-1]
            late.append(beyond[min(buffer + 1, len(law) - 1)])
            sooner.append(beyond[min(buffer, len(law) - 1)])
        assert np.mean(late) <= 0.1
        assert np.mean(sooner) > 0.1
