"""Tables of an order: money and goods in them are those of the plan, by hand and by law."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.ordering.plan import (
    cost_by_quarter,
    cost_by_supplier,
    event_table,
    excess_notes,
    order_lines,
    overall_levels,
)
from planner.ordering.problem import Quarter
from planner.ordering.request import Effort
from planner.ordering.solving import solve
from planner.ordering.spares import enough_probability, overall_probability
from planner.program.ordering import Ordering
from tests.unit.ordering.small import MONDAY, day, offer, problem, slot, stored, supplier

BOTH = [
    offer("bins", "A", [(1, 10.0)], pack=2.0, pallet=4),
    offer("coir", "A", [(1, 3.0)], item="coir", kind="bedding", pack=5.0),
]


@pytest.fixture(scope="module")
def bought():
    """Six bins by day 5 and fourteen by day 12, ten of coir by day 5: store nothing early."""
    given = problem(
        [supplier("A", delivery=7.0, pallet=2.0)],
        BOTH,
        [slot("A", 1, quarter=0), slot("A", 9, quarter=1)],
        stored=[stored("bin", (5, 6), (12, 14)), stored("coir", (5, 10))],
        quarters=(Quarter(MONDAY, day(7), 45.0), Quarter(day(7), day(90), 1e6)),
    )
    return solve(given, Effort(0.0, 10_000))


def plan(solution, **more):
    """Take what tables read of a plan of two days with 8 and 10 bookings."""
    booked = np.array([8, 10])
    days = (day(5), day(12))
    demand = SimpleNamespace(
        events=SimpleNamespace(
            event_ids=("E5", "E12"), event_dates=days, places_names=("", ""), booked_count=booked
        ),
        bins={"bin": SimpleNamespace(bought_count=np.array([9, 17]))},
        model_shares={"bin": 1.0},
        show_ups_count=np.array([7, 9]),
        worms_level=np.array([0.9, 0.8]),
    )
    found = {
        "settings": Ordering(show_up_share=0.75, show_up_likeness=0.0, ready_days_before=0),
        "demand": demand,
        "problem": solution.problem,
        "solution": solution,
        "clashes": None,
        "starter_kg": 0.5,
        "position": SimpleNamespace(bins_in_stock={"bin": 3}),
    }
    return SimpleNamespace(**{**found, **more})


def test_the_lines_of_an_order_cost_what_the_plan_costs(bought):
    lines = order_lines(bought)
    assert lines["goods_amount"].sum() + lines["freight_amount"].sum() == pytest.approx(bought.cost)
    # a delivery is paid once, however many lines it has: 7, and 2 for each begun pallet of 4 packs
    by_slot = lines.group_by("slot").agg(pl.col("freight_amount").sort(descending=True))
    assert sorted(by_slot["freight_amount"].to_list()) == [[9.0], [9.0, 0.0]]
    packs = lines.select(pl.col("packs_count") * pl.col("pack_quantity")).to_series()
    assert packs.to_list() == lines["ordered_quantity"].to_list()
    assert set(lines.filter(item_kind="bins")["ordered_quantity"]) == {6.0, 8.0}


def test_a_delivery_is_ordered_in_time_for_the_slowest_of_its_lines(bought):
    given = bought.problem
    slower = [
        SimpleNamespace(
            **{**vars(one), "order_date": day(-9), "latest_order_date": day(-4)}
            if given.offers[one.offer].offer_id == "coir"
            else vars(one)
        )
        for one in given.lines
    ]
    changed = SimpleNamespace(
        purchases=bought.purchases,
        freight=bought.freight,
        problem=SimpleNamespace(lines=slower, offers=given.offers, slots=given.slots),
    )
    first = order_lines(changed).filter(slot=0)
    assert first.height == 2
    assert set(first["order_date"]) == {day(-9)}
    assert set(first["latest_order_date"]) == {day(-4)}


def test_quarters_and_suppliers_share_out_all_that_is_paid(bought):
    lines = order_lines(bought)
    quarters = cost_by_quarter(plan(bought), lines)
    assert quarters["landed_amount"].sum() == pytest.approx(bought.cost)
    assert quarters["budget"].to_list() == [45.0, 1e6]
    # six bins and ten of coir on day 1: 3 x 10 + 2 x 3 + 9
    assert quarters["landed_amount"].to_list() == [45.0, 49.0]
    (supplier_row,) = cost_by_supplier(lines).iter_rows(named=True)
    assert supplier_row["landed_amount"] == pytest.approx(bought.cost)
    assert supplier_row["deliveries_count"] == 2


def test_days_before_the_first_quarter_have_no_budget(bought):
    lines = order_lines(bought)
    later = SimpleNamespace(quarters=(Quarter(day(8), day(90), 60.0),))
    quarters = cost_by_quarter(plan(bought, problem=later), lines)
    assert quarters.rows() == [(day(8), 49.0, 60.0), (None, 45.0, None)]


def test_each_day_has_what_came_and_what_was_on_order(bought):
    """Nine and seventeen are needed in all; six and fourteen of them are bought."""
    table = event_table(plan(bought), order_lines(bought))
    assert table["bins_bought_count"].to_list() == [9, 17]
    assert table["expected_count"].to_list() == [6.0, 7.5]
    assert table["worms_alive_kg"].to_list() == [3.5, 4.5]
    assert table["worms_level"].to_list() == [0.9, 0.8]
    # three more in store: without likeness show-ups are binomial
    usable = Ordering().usable_share
    pmf = np.array([0.25**8 * 3**k * math.comb(8, k) for k in range(9)])
    assert table["bins_level"][0] == pytest.approx(enough_probability(9, usable, pmf, 3))


def test_bins_on_order_count_where_they_are_more_than_those_still_to_buy(bought):
    asked = plan(bought)
    asked.demand.bins["bin"].bought_count = np.array([20, 28])
    # six and fourteen are bought: fourteen were on order
    assert event_table(asked, order_lines(bought))["bins_bought_count"].to_list() == [20, 28]


def test_bins_that_come_on_the_day_are_late_where_they_must_be_ready_before(bought):
    early = Ordering(show_up_share=0.75, show_up_likeness=0.0, ready_days_before=4)
    table = event_table(plan(bought, settings=early), order_lines(bought))
    # what comes on day 9 is not there on day 8
    assert table["bins_bought_count"].to_list() == [9, 9]


def test_the_chance_of_no_shortage_at_all_is_that_of_worms_times_each_day(bought):
    levels = overall_levels(plan(bought), order_lines(bought))
    assert levels["worms"] == pytest.approx(0.9 * 0.8)
    settings = Ordering()
    expected = overall_probability(
        np.array([9, 17]), settings.usable_share, np.array([8, 10]), 0.75, 0.0, 3
    )
    assert levels["bin"] == pytest.approx(expected)


def test_a_least_order_far_beyond_need_is_named_and_a_pack_on_top_is_not():
    def notes(least, pack):
        given = problem(
            [supplier("A")],
            [offer("bins", "A", [(1, 10.0)], pack=pack, least=least)],
            [slot("A", 1)],
            stored=[stored("bin", (5, 6))],
        )
        solution = solve(given, Effort(0.0, 1_000))
        solution.sent_kg.clear()
        return excess_notes(plan(solution))

    assert notes(1, 8.0) == []
    # ten are bought for six: no more than half too many and a pack
    assert notes(10, 1.0) == []
    (note,) = notes(11, 1.0)
    assert "11" in note
    assert "6" in note
