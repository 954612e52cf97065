"""What was given adds up to the last digit whichever hand-over is summed first."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from tests.queries.given import store_with

UNTIL = {"before_date": dt.date(2026, 1, 1)}
QUERIES = {
    "handovers_by_month": UNTIL,
    "supplies_by_month": UNTIL,
    "copayments_at_handover": {"from_date": dt.date(2025, 1, 1), **UNTIL},
}
# 0.1 + 0.2 + 0.3 and 0.3 + 0.2 + 0.1 are two numbers of double precision
AMOUNTS = (0.1, 0.2, 0.3)


def sums(folder, amounts, query):
    given = [
        {"handover_id": f"B{n}", "household_id": f"H{n}", "handover_date": dt.date(2025, 3, 5 * n)}
        | {"worms_kg": amount, "bedding_kg": amount, "copayment": amount}
        for n, amount in enumerate(amounts, start=1)
    ]
    households = [{"household_id": one["household_id"]} for one in given]
    rows = {"areas": [{"area_id": "A"}], "households": households, "handovers": given}
    folder.mkdir()
    with store_with(folder, rows) as store:
        return store.query(query, **QUERIES[query])


@pytest.mark.parametrize("query", QUERIES)
def test_the_order_of_hand_overs_moves_no_sum(query, tmp_path):
    forth = sums(tmp_path / "forth", AMOUNTS, query)
    back = sums(tmp_path / "back", AMOUNTS[::-1], query)
    assert forth.equals(back)
    of_money_and_mass = forth.select(pl.selectors.matches("worms_kg|bedding_kg|copayment|paid"))
    assert of_money_and_mass.row(0) == (0.6,) * of_money_and_mass.width
