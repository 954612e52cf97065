"""Laws of buying: everything that came is somewhere, and no plan breaks its limits."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.ordering.delivery_days import postpone_deliveries
from planner.ordering.problem import Quarter
from planner.ordering.request import Effort
from planner.ordering.solving import solve
from tests.queries.given import store_with
from tests.unit.ordering.small import MONDAY, day, offer, problem, slot, stored, supplier

START = dt.date(2025, 1, 1)
DAYS = st.integers(0, 90).map(lambda number: START + dt.timedelta(days=number))
GRAMS = st.integers(0, 30_000).map(lambda grams: grams / 1000.0)


@st.composite
def bought(draw):
    """Orders, deliveries, hand-overs, givebacks and counts of one bin model and of worms."""
    kinds = draw(st.lists(st.sampled_from(["bins", "worms"]), min_size=1, max_size=5))
    orders, deliveries = [], []
    for number, kind in enumerate(kinds):
        item = "two_tray" if kind == "bins" else "Eisenia fetida"
        amount = draw(st.integers(1, 40)) if kind == "bins" else draw(GRAMS)
        orders.append(
            {
                "order_line_id": f"P{number}",
                "item_kind": kind,
                "item_id": item,
                "order_date": START,
                "delivery_date": START,
                "ordered_quantity": float(amount),
            }
        )
        for part in range(draw(st.integers(0, 2))):
            came = float(draw(st.integers(0, 30))) if kind == "bins" else draw(GRAMS)
            deliveries.append(
                {
                    "delivery_id": f"D{number}-{part}",
                    "order_line_id": f"P{number}",
                    "delivered_date": draw(DAYS),
                    "received_quantity": came,
                    "unusable_quantity": min(came, float(draw(st.integers(0, 3)))),
                    "short_quantity": float(draw(st.integers(0, 2))),
                }
            )
    handed = [
        {
            "handover_id": f"B{number}",
            "household_id": f"H{number}",
            "handover_date": draw(DAYS),
            "worms_kg": draw(st.integers(0, 900)) / 1000.0,
        }
        for number in range(draw(st.integers(0, 6)))
    ]
    back = [
        {
            "handover_id": one["handover_id"],
            "giveback_date": draw(DAYS),
            "is_reissued": draw(st.booleans()),
        }
        for one in handed[: draw(st.integers(0, 3))]
    ]
    counts = [
        {
            "count_id": f"C{number}",
            "item_kind": kind,
            "item_id": "two_tray" if kind == "bins" else "worms",
            "count_date": when,
            "counted_quantity": float(draw(st.integers(0, 40))),
            "lost_quantity": float(draw(st.integers(0, 4))),
        }
        for number, (kind, when) in enumerate(
            draw(
                st.lists(
                    st.tuples(st.sampled_from(["bins", "worms"]), DAYS), max_size=4, unique=True
                )
            )
        )
    ]
    return {
        "suppliers": [{"supplier_id": "S"}],
        "households": [{"household_id": one["household_id"]} for one in handed],
        "handovers": handed,
        "givebacks": back,
        "orders": orders,
        "deliveries": deliveries,
        "stock_counts": counts,
    }


@settings(max_examples=12)
@given(bought(), DAYS)
def test_what_came_was_handed_over_or_lost_or_is_in_store_to_the_gram(
    tmp_path_factory, records, as_of
):
    with store_with(tmp_path_factory.mktemp("law"), records) as store:
        rows = store.query("stock_reconciled", as_of=as_of)
    into = pl.sum_horizontal(
        "opening_quantity", "received_quantity", "returned_quantity", "unexplained_quantity"
    )
    out = pl.sum_horizontal(
        "unusable_quantity", "handed_quantity", "lost_quantity", "in_stock_quantity"
    )
    assert rows.select((into - out).abs().max()).item() in (None, pytest.approx(0.0, abs=1e-3))
    # what was ordered by the day came, is short or is still to come, by the deliveries alone
    ordered = {"bins": 0.0, "worms": 0.0}
    for line in records["orders"]:
        ordered[line["item_kind"]] += line["ordered_quantity"]
    came = dict.fromkeys(ordered, 0.0)
    kind_of = {line["order_line_id"]: line["item_kind"] for line in records["orders"]}
    for one in records["deliveries"]:
        if one["delivered_date"] <= as_of:
            came[kind_of[one["order_line_id"]]] += one["received_quantity"] + one["short_quantity"]
    for row in rows.iter_rows(named=True):
        settled = row["ordered_quantity"] - row["outstanding_quantity"] + row["over_quantity"]
        assert row["ordered_quantity"] == pytest.approx(ordered[row["item_kind"]])
        assert settled == pytest.approx(came[row["item_kind"]])


@st.composite
def purchase(draw):
    """Purchase problem of two suppliers, three days each, needs on three days."""
    suppliers = [
        supplier(
            code, delivery=float(draw(st.integers(0, 20))), pallet=float(draw(st.integers(0, 9)))
        )
        for code in "AB"
    ]
    offers = []
    for code in "AB":
        price = float(draw(st.integers(5, 12)))
        offers.append(
            offer(
                f"O{code}",
                code,
                [(1, price), (draw(st.integers(4, 20)), price - 1.5)],
                pack=float(draw(st.integers(1, 3))),
                pallet=draw(st.integers(2, 9)),
                least=draw(st.integers(1, 4)),
                weekly=draw(st.one_of(st.none(), st.integers(4, 12))),
                incremental=draw(st.booleans()),
            )
        )
    slots = [slot(code, number, quarter=number // 14) for number in (1, 8, 15) for code in "AB"]
    needs = np.cumsum(draw(st.lists(st.integers(0, 15), min_size=3, max_size=3)))
    need = stored("bin", *zip((5, 12, 19), needs.tolist(), strict=True))
    budgets = [float(draw(st.integers(100, 400))) for _ in range(2)]
    quarters = (Quarter(MONDAY, day(14), budgets[0]), Quarter(day(14), day(99), budgets[1]))
    return problem(suppliers, offers, slots, [need], quarters=quarters)


@settings(max_examples=40)
@given(purchase())
def test_a_plan_keeps_every_limit_and_later_deliveries_cost_the_same(asked):
    found = solve(asked, Effort(0.0, 20_000))
    if found is None:
        return
    moved = postpone_deliveries(asked, found)
    assert moved.cost == found.cost
    for plan in (found, moved):
        spent = [0.0, 0.0]
        came = []
        for one in plan.purchases:
            line = plan.problem.lines[one.line]
            terms, where = plan.problem.offers[line.offer], plan.problem.slots[line.slot]
            assert one.packs_count >= terms.minimum_packs_count
            assert one.packs_count <= (terms.weekly_limit_packs_count or one.packs_count)
            assert one.goods_amount == terms.goods_cost(one.packs_count)
            spent[where.quarter] += one.goods_amount
            came.append((where.delivery_date, one.packs_count * terms.pack_quantity))
        for place in plan.pallets_count:
            spent[plan.problem.slots[place].quarter] += plan.freight(place)
        assert sum(spent) == pytest.approx(plan.cost)
        for amount, quarter in zip(spent, asked.quarters, strict=True):
            assert amount <= quarter.budget + 1e-6
        (need,) = asked.stored
        for ready, quantity in zip(need.ready_dates, need.quantities, strict=True):
            assert sum(amount for when, amount in came if when <= ready) >= quantity
    assert found.bound <= found.cost + 1e-6


@settings(max_examples=15)
@given(purchase(), st.integers(0, 300))
def test_more_budget_never_costs_more(asked, more):

    quarters = tuple(replace(one, budget=one.budget + more) for one in asked.quarters)
    first = solve(asked, Effort(0.0, 20_000))
    second = solve(replace(asked, quarters=quarters), Effort(0.0, 20_000))
    if first is not None:
        assert second is not None
        assert second.cost <= first.cost + 1e-6
