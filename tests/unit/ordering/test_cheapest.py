"""The plan is the cheapest: as found by trying every plan of small problems."""

from __future__ import annotations

import numpy as np
import pytest

from planner.ordering.problem import BinStore, Quarter
from planner.ordering.request import Effort
from planner.ordering.solving import solve
from tests.unit.ordering.small import (
    MONDAY,
    cheapest_by_trying,
    day,
    live,
    offer,
    problem,
    slot,
    stored,
    supplier,
)

EXACT = Effort(0.0, 20_000)


def random_problem(seed):
    """Two suppliers, breaks of either kind, least orders, pallets, budgets, shares."""
    rng = np.random.default_rng(seed)
    suppliers = [
        supplier(
            code,
            least=float(rng.choice([0.0, 25.0])),
            delivery=float(rng.integers(0, 12)),
            pallet=float(rng.integers(0, 8)),
        )
        for code in ("A", "B")
    ]
    offers = []
    for number, code in enumerate(("A", "B", "B")):
        price = float(rng.integers(6, 12))
        breaks = [(1, price), (int(rng.integers(3, 5)), price - 1.0)]
        offers.append(
            offer(
                f"O{number}",
                code,
                breaks[: int(rng.integers(1, 3))],
                item="bin" if number < 2 else "coir",
                kind="bins" if number < 2 else "bedding",
                pack=float(rng.integers(1, 3)),
                pallet=int(rng.integers(2, 5)),
                least=int(rng.integers(1, 3)),
                weekly=int(rng.integers(3, 6)) if rng.random() < 0.4 else None,
                incremental=bool(rng.random() < 0.5),
            )
        )
    slots = [slot("A", 1, quarter=0), slot("B", 2, quarter=0), slot("A", 9, quarter=1)]
    first, second = int(rng.integers(1, 4)), int(rng.integers(0, 4))
    needs = [stored("bin", (5, first), (12, first + second)), stored("coir", (5, 2))]
    quarters = (
        Quarter(MONDAY, day(7), float(rng.integers(40, 90))),
        Quarter(day(7), day(20), float(rng.integers(20, 90))),
    )
    share = float(rng.choice([1.0, 0.8]))
    return problem(suppliers, offers, slots, needs, quarters=quarters, largest_supplier_share=share)


@pytest.mark.parametrize("seed", range(40))
def test_no_plan_is_cheaper_than_that_found(seed):
    given = random_problem(seed)
    least = cheapest_by_trying(given, most_packs=6)
    found = solve(given, EXACT)
    if found is None:
        assert least == np.inf
    else:
        assert found.cost == pytest.approx(least, abs=1e-6)
        assert found.bound <= found.cost + 1e-6


@pytest.mark.parametrize("seed", range(10))
def test_no_plan_for_worms_is_cheaper_than_that_found(seed):
    rng = np.random.default_rng(seed)
    farms = [supplier(code, delivery=float(rng.integers(0, 30))) for code in ("A", "B")]
    offers = [
        offer("O1", "A", [(1, 30.0), (3, 27.0)], item="worms", kind="worms", weekly=4),
        offer("O2", "B", [(1, 56.0)], item="worms", kind="worms", pack=2.0),
    ]
    slots = [slot("A", 3), slot("B", 4), slot("A", 9)]
    kilos = float(rng.uniform(2.0, 7.0))
    given = problem(
        farms, offers, slots, live=[live(6, kilos, (0, kilos / 0.9, 3), (1, kilos / 0.97, 2))]
    )
    found = solve(given, EXACT)
    assert found is not None
    assert found.cost == pytest.approx(cheapest_by_trying(given, most_packs=8), abs=1e-6)
    assert all(number != 2 for _, number in found.sent_kg)


def test_buying_more_than_is_needed_may_cost_less():
    given = problem(
        [supplier("A")],
        [offer("O", "A", [(1, 10.0), (10, 8.0)])],
        [slot("A", 1)],
        [stored("bin", (2, 9))],
    )
    found = solve(given, EXACT)
    assert found is not None
    assert [(one.packs_count, one.goods_amount) for one in found.purchases] == [(10, 80.0)]


def test_a_full_store_has_bins_come_twice():
    store = BinStore(6.0, 0.0, (day(7), day(14)), np.array([6.0, 6.0]))
    given = problem(
        [supplier("A", delivery=50.0)],
        [offer("O", "A", [(1, 10.0)])],
        [slot("A", 1), slot("A", 9)],
        [stored("bin", (5, 6), (12, 12))],
        store=store,
    )
    found = solve(given, EXACT)
    assert found is not None
    assert [one.packs_count for one in found.purchases] == [6, 6]
    assert found.cost == pytest.approx(220.0)


def test_room_counts_what_has_left_before_the_day():
    store = BinStore(10.0, 4.0, (day(7), day(14)), np.array([3.0, 3.0]))
    rooms = [store.room_on(day(number)) for number in (6, 7, 8, 15)]
    assert rooms == [6.0, 6.0, 9.0, 12.0]
