"""Given rows and expected rows of the queries of money, worked out by hand."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import Case

D = dt.date
FROM, BEFORE = D(2025, 7, 1), D(2026, 7, 1)

CASES = [
    Case(
        "costs_by_month",
        "a month's receipts are taken off its costs; months without a line have no row",
        {
            "costs": [
                {"cost_id": "1", "cost_date": D(2025, 7, 1), "amount": 100.0},
                {
                    "cost_id": "2",
                    "cost_date": D(2025, 7, 31),
                    "category": "copayments_received",
                    "amount": -40.5,
                },
                {"cost_id": "3", "cost_date": D(2025, 9, 1), "amount": 7.0},
                {"cost_id": "4", "cost_date": BEFORE, "amount": 1000.0},
            ]
        },
        ("cost_month", "amount"),
        [(D(2025, 7, 1), 59.5), (D(2025, 9, 1), 7.0)],
        {"before_date": BEFORE},
    ),
    Case(
        "ledger_lines",
        "lines of the days by day, what households paid left out",
        {
            "costs": [
                {"cost_id": "1", "cost_date": D(2026, 6, 30), "amount": 1.5},
                {"cost_id": "2", "cost_date": FROM, "category": "worms", "amount": 2.0},
                {"cost_id": "3", "cost_date": FROM, "category": "copayments_received"},
                {"cost_id": "4", "cost_date": BEFORE},
                {"cost_id": "5", "cost_date": D(2025, 6, 30)},
            ]
        },
        ("cost_id", "category", "amount"),
        [("2", "worms", 2.0), ("1", "bins", 1.5)],
        {"from_date": FROM, "before_date": BEFORE},
    ),
    Case(
        "copayments_at_handover",
        "an empty cell is a bin for which nothing was paid; the day after the year stays out",
        {
            "handovers": [
                {"handover_id": "1", "handover_date": D(2025, 6, 30), "copayment": 20.0},
                {"handover_id": "2", "handover_date": FROM, "copayment": 20.0},
                {"handover_id": "3", "handover_date": D(2026, 6, 30), "copayment": None},
                {"handover_id": "4", "handover_date": D(2026, 6, 30), "copayment": 12.5},
                {"handover_id": "5", "handover_date": BEFORE, "copayment": 20.0},
            ]
        },
        (
            "paid_in_year",
            "paid_to_date",
            "payers_in_year",
            "payers_to_date",
            "bins_in_year",
            "bins_to_date",
        ),
        [(32.5, 52.5, 2, 3, 3, 4)],
        {"from_date": FROM, "before_date": BEFORE},
    ),
    Case(
        "copayments_at_handover",
        "without a hand-over there is a row of nothing",
        {},
        ("paid_in_year", "paid_to_date", "payers_in_year", "bins_to_date"),
        [(0.0, 0.0, 0, 0)],
        {"from_date": FROM, "before_date": BEFORE},
    ),
    Case(
        "receipt_booked_as_cost",
        "a receipt with a minus and a cost with a plus are as they should be",
        {
            "costs": [
                {"cost_id": "1", "category": "copayments_received", "amount": -20.0},
                {"cost_id": "2", "category": "copayments_received", "amount": 20.0},
                {"cost_id": "3", "category": "bins", "amount": 20.0},
            ]
        },
        ("severity", "table_name", "record_key", "found"),
        [("doubtful", "costs", "2", "co-payment of 20 on 2025-03-10")],
    ),
]
