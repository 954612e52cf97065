"""Published worked examples of quantity discounts.

S. Nahmias, Production and Operations Analysis (4th ed., 2001), examples 4.4 and 4.5, the
Weighty Trash Bag Company; from memory, the arithmetic done again here. Bags cost 30 cents
for fewer than 500, 29 cents for 500 to 999 and 28 cents from 1,000 on; all-units in the
first example, incremental in the second. D = 600 bags a year, K = $8, I = 0.2.

J. Heizer and B. Render, Operations Management (10th ed., 2011), example 9 of chapter 12,
Wohl's Discount Store; from memory, the arithmetic done again here. D = 5,000 a year,
S = $49, I = 0.2; $5.00 up to 999, $4.80 from 1,000, $4.75 from 2,000, all-units.
"""

from __future__ import annotations

import pytest

from planner.ordering.request import Effort
from planner.ordering.solving import solve
from tests.unit.ordering.small import offer, problem, slot, stored, supplier

EXACT = Effort(0.0, 20_000)
BAGS = [(1, 0.30), (500, 0.29), (1000, 0.28)]
ALL_UNITS = offer("O", "A", BAGS)
# the book's incremental price holds for bags beyond 500: the 501st is the first
INCREMENTAL = offer("O", "A", [(1, 0.30), (501, 0.29), (1001, 0.28)], incremental=True)
WOHL = offer("O", "A", [(1, 5.00), (1000, 4.80), (2000, 4.75)])


def yearly_cost(terms, packs, demand, order_cost, interest):
    """Goods, orders and holding of a year when so many packs are ordered at a time."""
    unit = terms.goods_cost(packs) / packs
    return demand * unit + order_cost * demand / packs + interest * unit * packs / 2.0


def cheapest_lot(terms, demand, order_cost, interest):
    lots = range(1, 2 * demand)
    return min(lots, key=lambda lot: yearly_cost(terms, lot, demand, order_cost, interest))


@pytest.mark.parametrize(
    ("packs", "all_units", "incremental"),
    [
        (400, 120.00, 120.00),  # 0.30 Q
        (500, 145.00, 150.00),  # 5 + 0.29 Q
        (519, 150.51, 155.51),
        (1000, 280.00, 295.00),  # 15 + 0.28 Q
        (1200, 336.00, 351.00),
    ],
)
def test_orders_cost_what_the_published_functions_say(packs, all_units, incremental):
    assert ALL_UNITS.goods_cost(packs) == pytest.approx(all_units)
    assert INCREMENTAL.goods_cost(packs) == pytest.approx(incremental)


def test_on_an_invoice_the_twentieth_pack_of_20_and_more_has_the_new_price():
    terms = offer("O", "A", [(1, 10.0), (20, 8.0)], incremental=True)
    assert terms.goods_cost(19) == pytest.approx(19 * 10.0)
    assert terms.goods_cost(20) == pytest.approx(19 * 10.0 + 8.0)
    given = problem([supplier("A")], [terms], [slot("A", 1)], [stored("bin", (2, 20))])
    found = solve(given, EXACT)
    assert found is not None
    assert found.bound == pytest.approx(198.0)


def test_all_units_the_best_lot_of_trash_bags_is_at_the_first_break():
    assert cheapest_lot(ALL_UNITS, 600, 8.0, 0.2) == 500
    assert yearly_cost(ALL_UNITS, 500, 600, 8.0, 0.2) == pytest.approx(198.10, abs=0.005)
    assert yearly_cost(ALL_UNITS, 400, 600, 8.0, 0.2) == pytest.approx(204.00, abs=0.005)
    assert yearly_cost(ALL_UNITS, 1000, 600, 8.0, 0.2) == pytest.approx(200.80, abs=0.005)


def test_incremental_the_best_lot_of_trash_bags_is_below_the_first_break():
    assert cheapest_lot(INCREMENTAL, 600, 8.0, 0.2) == 400
    assert yearly_cost(INCREMENTAL, 400, 600, 8.0, 0.2) == pytest.approx(204.00, abs=0.005)
    assert yearly_cost(INCREMENTAL, 519, 600, 8.0, 0.2) == pytest.approx(204.58, abs=0.005)


def test_the_best_lot_of_the_discount_store_is_a_thousand():
    assert cheapest_lot(WOHL, 5000, 49.0, 0.2) == 1000
    assert yearly_cost(WOHL, 700, 5000, 49.0, 0.2) == pytest.approx(25_700.00)
    assert yearly_cost(WOHL, 1000, 5000, 49.0, 0.2) == pytest.approx(24_725.00)
    assert yearly_cost(WOHL, 2000, 5000, 49.0, 0.2) == pytest.approx(24_822.50)


@pytest.mark.parametrize(
    ("needed", "terms", "bought", "cost"),
    [
        (400, ALL_UNITS, 400, 120.00),
        (490, ALL_UNITS, 500, 145.00),  # 490 at 30 cents would be $147
        (960, ALL_UNITS, 960, 278.40),
        (970, ALL_UNITS, 1000, 280.00),  # 970 at 29 cents would be $281.30
        (490, INCREMENTAL, 490, 147.00),
        (970, INCREMENTAL, 970, 286.30),
        (1200, INCREMENTAL, 1200, 351.00),
    ],
)
def test_the_plan_pays_the_published_cost_and_buys_up_to_a_break_where_that_is_less(
    needed, terms, bought, cost
):
    given = problem([supplier("A")], [terms], [slot("A", 1)], [stored("bin", (2, needed))])
    found = solve(given, EXACT)
    assert found is not None
    assert [one.packs_count for one in found.purchases] == [bought]
    assert found.cost == pytest.approx(cost)
    assert found.bound == pytest.approx(cost)
