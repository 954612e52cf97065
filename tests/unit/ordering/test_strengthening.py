"""Bounds told to the search beforehand are true and leave the cheapest plan where it was."""

from __future__ import annotations

import numpy as np
import pytest

from planner.ordering.model import build_model
from planner.ordering.request import Effort
from planner.ordering.searching import run_search
from planner.ordering.strengthening import parts, strengthen
from tests.unit.ordering.small import live, offer, problem, slot, stored, supplier

EXACT = Effort(0.0, 20_000)


def worms(seed):
    """Three weeks of worms from two farms, the second of which sells coir too."""
    rng = np.random.default_rng(seed)
    farms = [
        supplier(code, delivery=float(rng.integers(5, 40)), least=float(rng.choice([0, 60])))
        for code in ("A", "B")
    ]
    offers = [
        offer("O1", "A", [(1, 30.0), (6, 27.0)], item="worms", kind="worms", weekly=12),
        offer("O2", "B", [(1, 150.0)], item="worms", kind="worms", pack=5.0),
        offer("O3", "B", [(1, 9.0)], item="coir", kind="bedding", pack=5.0),
    ]
    slots = [slot(code, 7 * week + 3) for week in range(3) for code in ("A", "B")]
    needs = []
    for week in range(3):
        kilos = float(rng.uniform(3.0, 11.0))
        sources = [(2 * week, kilos / 0.96, 2), (2 * week + 1, kilos / 0.93, 2)]
        needs.append(live(7 * week + 5, kilos, *sources))
    return problem(farms, offers, slots, [stored("coir", (6, 12), (20, 30))], needs)


def goods(seed):
    """Bins and coir from two works with price breaks, least orders, pallets and freight."""
    rng = np.random.default_rng(seed)
    works = [
        supplier(code, delivery=float(rng.integers(5, 60)), least=float(rng.choice([0, 300])),
                 pallet=float(rng.choice([0, 45])))
        for code in ("A", "B")
    ]  # fmt: skip
    offers = [
        offer("O1", "A", [(1, 60.0), (12, 55.0)], pallet=10, least=3),
        offer("O2", "B", [(1, 330.0), (4, 300.0)], pack=6.0, pallet=4, incremental=True),
        offer("O3", "A", [(1, 9.0)], item="coir", kind="bedding", pack=5.0, pallet=30),
        offer("O4", "B", [(1, 8.0), (9, 6.5)], item="coir", kind="bedding", pack=5.0, pallet=30),
    ]
    slots = [slot(code, 7 * week + 3, quarter=week // 2) for week in range(4) for code in "AB"]
    counts = np.cumsum(rng.integers(2, 14, 3))
    needs = [stored("bin", *zip((8, 15, 29), counts.tolist(), strict=True)),
             stored("coir", (8, 15), (29, float(rng.integers(16, 90))))]  # fmt: skip
    share = float(rng.choice([1.0, 0.7]))
    return problem(works, offers, slots, needs, largest_supplier_share=share)


@pytest.mark.parametrize("given", [*map(worms, range(12)), *map(goods, range(12))])
def test_the_cheapest_plan_stays_and_the_relaxed_cost_rises(given):
    plain, told = build_model(given), build_model(given)
    strengthen(told)
    before, after = (run_search(model.program, EXACT) for model in (plain, told))
    assert after.objective == pytest.approx(before.objective, rel=1e-6)
    for model in (plain, told):
        model.program.is_integer[:] = [np.zeros_like(one) for one in model.program.is_integer]
    loose, tight = (run_search(model.program, EXACT).objective for model in (plain, told))
    assert loose - 1e-6 <= tight <= before.objective + 1e-6


def test_a_single_hand_over_costs_whole_packs_even_where_packs_are_broken():
    given = problem(
        [supplier("A", delivery=20.0)],
        [offer("O", "A", [(1, 150.0)], item="worms", kind="worms", pack=5.0)],
        [slot("A", 1)],
        live=[live(3, 5.9, (0, 6.0, 2))],
    )
    # a pack and a fifth, and the delivery, would be 200
    assert strengthen(build_model(given)) == pytest.approx(320.0, rel=1e-4)


def test_hand_overs_that_share_no_delivery_are_parts_of_their_own():
    given = problem(
        [supplier("A")],
        [offer("O", "A", [(1, 30.0)], item="worms", kind="worms")],
        [slot("A", 1), slot("A", 3), slot("A", 20)],
        live=[
            live(4, 1.0, (0, 1.1, 3)),
            live(22, 1.0, (2, 1.1, 2)),
            live(5, 1.0, (0, 1.1, 4), (1, 1.1, 2)),
            live(6, 0.0, (1, 1.1, 3)),
        ],
    )
    assert sorted(parts(given)) == [(0, 2), (1,)]


def test_a_delivery_that_must_come_pays_for_a_whole_pallet_even_where_pallets_are_broken():
    given = problem(
        [supplier("A", pallet=50.0)],
        [offer("O", "A", [(1, 10.0)], pallet=100)],
        [slot("A", 1)],
        [stored("bin", (5, 1))],
    )
    program = build_model(given).program
    program.is_integer[:] = [np.zeros_like(one) for one in program.is_integer]
    # a bin for 10; its part of the pallet would be 50 pence
    assert run_search(program, EXACT).objective == pytest.approx(60.0)
