"""Cases of the queries of buying: orders, deliveries, counts of stock, and their balance."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import Case

D = dt.date
SUPPLIER = [{"supplier_id": "S"}, {"supplier_id": "W"}]
FOUND = ("severity", "table_name", "record_key", "found")
BALANCE = (
    "stock_item",
    "ordered_quantity",
    "short_quantity",
    "outstanding_quantity",
    "over_quantity",
    "opening_quantity",
    "received_quantity",
    "unusable_quantity",
    "handed_quantity",
    "returned_quantity",
    "lost_quantity",
    "unexplained_quantity",
    "in_stock_quantity",
)


def paid(day, amount):
    return {"paid_date": day, "amount": amount}


ORDERS = [
    {"order_line_id": "P1", "ordered_quantity": 20.0},
    {
        "order_line_id": "P2",
        "supplier_id": "W",
        "item_kind": "worms",
        "item_id": "Eisenia fetida",
        "order_date": D(2025, 3, 3),
        "ordered_quantity": 10.0,
    },
    {
        "order_line_id": "P3",
        "order_date": D(2025, 4, 1),
        "delivery_date": D(2025, 4, 20),
        "ordered_quantity": 5.0,
    },
]
INVOICES = [
    {
        "invoice_line_id": "I1",
        "order_line_id": "P1",
        "invoiced_quantity": 12.0,
        "goods_amount": 720.0,
    },
    {
        "invoice_line_id": "I2",
        "order_line_id": "P1",
        "invoiced_quantity": 4.0,
        "goods_amount": 240.0,
        "freight_amount": 0.0,
    },
    {"invoice_line_id": "I3"},
    {"invoice_line_id": "I4", "order_line_id": "P1", "invoice_date": D(2025, 4, 1)},
]
CHARGED = {"goods_amount": 110.0, "freight_amount": 22.0, "tax_amount": 12.0}
ONE_OF_P1 = {"order_line_id": "P1", "invoiced_quantity": 1.0}
DELIVERIES = [
    {
        "delivery_id": "D1",
        "order_line_id": "P1",
        "delivered_date": D(2025, 3, 5),
        "received_quantity": 12.0,
        "unusable_quantity": 2.0,
    },
    {
        "delivery_id": "D2",
        "order_line_id": "P1",
        "delivered_date": D(2025, 3, 20),
        "received_quantity": 5.0,
        "short_quantity": 1.0,
    },
    {
        "delivery_id": "D3",
        "order_line_id": "P2",
        "sent_date": D(2025, 3, 5),
        "delivered_date": D(2025, 3, 7),
        "received_quantity": 10.0,
        "unusable_quantity": 0.5,
    },
]
HANDED = [
    {"handover_id": "1", "household_id": "H1", "handover_date": D(2025, 3, 4)},
    {"handover_id": "2", "household_id": "H2", "handover_date": D(2025, 3, 10)},
    {"handover_id": "3", "household_id": "H3", "handover_date": D(2025, 3, 10)},
]
HOMES = [{"household_id": f"H{number}"} for number in (1, 2, 3)]
EVERYTHING = {
    "households": HOMES,
    "handovers": HANDED,
    "suppliers": SUPPLIER,
    "orders": ORDERS,
    "deliveries": DELIVERIES,
}

OF_STAGE = [
    Case(
        "stage_orders",
        "worms of any species are stored as worms, bins by their model; freight is landed",
        {"suppliers": SUPPLIER, "orders": ORDERS[:2]},
        ("order_line_id", "stock_item", "ordered_quantity", "landed_amount"),
        [("P1", "two_tray", 20.0, 620.0), ("P2", "worms", 10.0, 620.0)],
    ),
    Case(
        "stage_deliveries",
        "a delivery has the supplier and the item of its order",
        {"suppliers": SUPPLIER, "orders": ORDERS, "deliveries": DELIVERIES[1:]},
        ("delivery_id", "supplier_id", "stock_item", "received_quantity", "short_quantity"),
        [("D2", "S", "two_tray", 5.0, 1.0), ("D3", "W", "worms", 10.0, 0.0)],
    ),
    Case(
        "stage_invoices",
        "a line of an invoice may name no line of an order",
        {"suppliers": SUPPLIER, "orders": ORDERS[:1], "invoices": INVOICES},
        ("invoice_line_id", "order_line_id", "invoiced_quantity"),
        [("I1", "P1", 12.0), ("I2", "P1", 4.0), ("I3", None, 10.0), ("I4", "P1", 10.0)],
    ),
    Case(
        "stage_invoices",
        "of a supplier whose prices include it, tax is taken off goods and freight in proportion",
        {
            "suppliers": [{**SUPPLIER[0], "prices_include_tax": True}, SUPPLIER[1]],
            "invoices": [
                {"invoice_line_id": "I1", **CHARGED},
                {"invoice_line_id": "I2", "supplier_id": "W", **CHARGED},
                {"invoice_line_id": "I3", **CHARGED, "goods_amount": 0.0, "freight_amount": 0.0},
            ],
        },
        ("invoice_line_id", "goods_amount", "freight_amount", "tax_amount"),
        [("I1", 100.0, 20.0, 12.0), ("I2", 110.0, 22.0, 12.0), ("I3", 0.0, 0.0, 12.0)],
    ),
    Case(
        "stage_invoices",
        "goods that come nearer to the price ordered as they stand were written without tax",
        {
            "suppliers": [{**SUPPLIER[0], "prices_include_tax": True}],
            "orders": [{"order_line_id": "P1", "ordered_quantity": 10.0, "goods_amount": 1000.0}],
            "invoices": [
                {
                    "invoice_line_id": "I1",
                    "order_line_id": "P1",
                    "invoiced_quantity": 1.0,
                    **CHARGED,
                },
                {
                    "invoice_line_id": "I2",
                    "order_line_id": "P1",
                    "invoiced_quantity": 1.0,
                    "goods_amount": 102.0,
                    "freight_amount": 20.0,
                    "tax_amount": 12.2,
                },
            ],
        },
        ("invoice_line_id", "goods_amount", "freight_amount"),
        [("I1", 100.0, 20.0), ("I2", 102.0, 20.0)],
    ),
    Case(
        "stage_stock_counts",
        "worms counted in two beds on one day are one count",
        {
            "stock_counts": [
                {
                    "count_id": "1",
                    "item_kind": "worms",
                    "item_id": "bed A",
                    "counted_quantity": 2.0,
                },
                {
                    "count_id": "2",
                    "item_kind": "worms",
                    "item_id": "B",
                    "counted_quantity": 1.5,
                    "lost_quantity": 0.5,
                },
                {"count_id": "3", "counted_quantity": 9.0},
            ]
        },
        ("stock_item", "counted_quantity", "lost_quantity"),
        [("two_tray", 9.0, 0.0), ("worms", 3.5, 0.5)],
    ),
    Case(
        "stage_stock_handed",
        "a bin takes worms and bedding along; one that is given again comes back alone",
        {
            "households": HOMES,
            "handovers": HANDED[1:],
            "givebacks": [
                {"handover_id": "2", "giveback_date": D(2025, 3, 12), "is_reissued": True},
                {"handover_id": "3", "giveback_date": D(2025, 3, 12), "is_reissued": False},
            ],
        },
        ("stock_item", "moved_date", "handed_quantity", "returned_quantity"),
        [
            ("bedding", D(2025, 3, 10), 2.0, 0.0),
            ("two_tray", D(2025, 3, 10), 2.0, 0.0),
            ("two_tray", D(2025, 3, 12), 0.0, 1.0),
            ("worms", D(2025, 3, 10), 1.0, 0.0),
        ],
    ),
]

OF_SUMMARY = [
    Case(
        "three_way_match",
        "orders, what came and what was charged up to a day; a charge without an order is apart",
        {
            "suppliers": SUPPLIER,
            "orders": ORDERS[:2],
            "deliveries": DELIVERIES[:2],
            "invoices": INVOICES,
        },
        (
            "line_id",
            "is_ordered",
            "ordered_quantity",
            "received_quantity",
            "unusable_quantity",
            "invoices_count",
            "invoiced_quantity",
            "invoiced_goods_amount",
        ),
        [
            ("I3", False, 0.0, 0.0, 0.0, 1, 10.0, 600.0),
            ("P1", True, 20.0, 17.0, 2.0, 2, 16.0, 960.0),
            ("P2", True, 10.0, 0.0, 0.0, 0, 0.0, 0.0),
        ],
        {"as_of": D(2025, 3, 31)},
    ),
    Case(
        "upcoming_events",
        "days from the first on and before the last, with the name of their area",
        {
            "areas": [{"area_id": "A"}],
            "events": [
                {"event_id": "E1", "event_date": D(2025, 3, 1), "places_count": 5},
                {"event_id": "E2", "event_date": D(2025, 3, 2), "places_count": 6, "venue": "Hall"},
                {"event_id": "E3", "event_date": D(2025, 3, 3), "places_count": 7, "area_id": "A"},
                {"event_id": "E4", "event_date": D(2025, 3, 4), "places_count": 8},
                {"event_id": "E5", "event_date": D(2025, 3, 3), "event_status": "cancelled"},
            ],
        },
        ("event_id", "places_count", "area_name", "venue"),
        [("E2", 6, "", "Hall"), ("E3", 7, "North", "")],
        {"from_date": D(2025, 3, 2), "before_date": D(2025, 3, 4)},
    ),
    Case(
        "registered_people",
        "people of all registered households",
        {"households": [{"household_id": "H1", "people_count": 3}, {"household_id": "H2"}]},
        ("households_count", "people_count"),
        [(2, 5)],
    ),
    Case(
        "live_deliveries",
        "deliveries of worms before the day, none of bins",
        {"suppliers": SUPPLIER, "orders": ORDERS, "deliveries": DELIVERIES},
        ("delivery_id", "supplier_id", "received_kg", "dead_kg"),
        [("D3", "W", 10.0, 0.5)],
        {"before_date": D(2025, 3, 8)},
    ),
    Case(
        "orders_committed",
        "what is short is neither to come nor paid; what came after the day is still to come",
        {"suppliers": SUPPLIER, "orders": ORDERS, "deliveries": DELIVERIES},
        ("order_line_id", "outstanding_quantity", "committed_amount", "payments", "late_days"),
        [
            # 620 landed, 600 of it goods: a twentieth is short; agreed for 1 March, of 20 came 12
            # on 5 March and 5 on 20 March, when with the one short nine tenths were settled
            # paid as they came usable, 10 and 5, and on the day for the two to come, 30 each
            (
                "P1",
                2.0,
                590.0,
                [
                    paid(D(2025, 3, 5), 530.0 * 10 / 15),
                    paid(D(2025, 3, 20), 530.0 * 5 / 15),
                    paid(D(2025, 4, 1), 60.0),
                ],
                19,
            ),
            ("P2", 0.0, 620.0, [paid(D(2025, 3, 7), 620.0)], 6),
            ("P3", 5.0, 620.0, [paid(D(2025, 4, 20), 620.0)], None),
        ],
        {"as_of": D(2025, 4, 1)},
    ),
    Case(
        "orders_committed",
        "an order that is overdue is late by the days since, and paid from the day on",
        {"suppliers": SUPPLIER, "orders": ORDERS[2:]},
        ("order_line_id", "outstanding_quantity", "committed_amount", "payments", "late_days"),
        [("P3", 5.0, 620.0, [paid(D(2025, 4, 25), 620.0)], 5)],
        {"as_of": D(2025, 4, 25)},
    ),
    Case(
        "orders_committed",
        "a delivery of which nothing comes costs no freight, one of which a line comes does",
        {
            "suppliers": SUPPLIER,
            "orders": [
                ORDERS[0],
                {"order_line_id": "P4", "ordered_quantity": 10.0},
                ORDERS[1],
            ],
            "deliveries": [
                {
                    "delivery_id": "D1",
                    "order_line_id": "P1",
                    "received_quantity": 0.0,
                    "short_quantity": 20.0,
                },
                {
                    "delivery_id": "D2",
                    "order_line_id": "P2",
                    "received_quantity": 0.0,
                    "short_quantity": 10.0,
                },
            ],
        },
        ("order_line_id", "committed_amount"),
        [("P1", 20.0), ("P2", 0.0), ("P4", 620.0)],
        {"as_of": D(2025, 4, 1)},
    ),
    Case(
        "orders_committed",
        "what was charged takes the place of the price ordered, the rest stays at that price",
        {
            "suppliers": SUPPLIER,
            "orders": ORDERS,
            "deliveries": DELIVERIES,
            "invoices": [
                # ten of the twenty bins of P1, dearer than the 30 a bin agreed
                {
                    "invoice_line_id": "I1",
                    "order_line_id": "P1",
                    "invoice_date": D(2025, 3, 8),
                    "invoiced_quantity": 10.0,
                    "goods_amount": 310.0,
                    "freight_amount": 20.0,
                },
                {
                    "invoice_line_id": "I2",
                    "order_line_id": "P2",
                    "invoice_date": D(2025, 3, 9),
                    "invoiced_quantity": 9.5,
                    "goods_amount": 570.0,
                    "freight_amount": 15.0,
                },
                {
                    "invoice_line_id": "I3",
                    "order_line_id": "P3",
                    "invoice_date": D(2025, 5, 1),
                    "invoiced_quantity": 5.0,
                    "goods_amount": 1.0,
                    "freight_amount": 0.0,
                },
            ],
        },
        ("order_line_id", "committed_amount"),
        [
            # 310 + 20 charged; 17 - 2 usable and 2 to come, less the 10 charged, at 30
            ("P1", 310.0 + 20.0 + 7 * 30.0),
            # all came, half a kilogram dead: only what was charged is owed
            ("P2", 585.0),
            ("P3", 620.0),
        ],
        {"as_of": D(2025, 4, 1)},
    ),
    Case(
        "stock_reconciled",
        "without a count an item is followed from its first delivery",
        EVERYTHING,
        BALANCE,
        [
            # bins: 12 + 5 came, 2 broken, 2 given since 5 March
            ("two_tray", 20.0, 1.0, 2.0, 0.0, 0.0, 17.0, 2.0, 2.0, 0.0, 0.0, 0.0, 13.0),
            # worms: 10 came, half a kilogram dead, 2 x 0.5 given since 7 March
            ("worms", 10.0, 0.0, 0.0, 0.0, 0.0, 10.0, 0.5, 1.0, 0.0, 0.0, 0.0, 8.5),
        ],
        {"as_of": D(2025, 3, 31)},
    ),
    Case(
        "stock_reconciled",
        "a count before the first delivery opens the books, a later one tells what is missing",
        {
            **EVERYTHING,
            "stock_counts": [
                {"count_id": "1", "count_date": D(2025, 3, 1), "counted_quantity": 4.0},
                {
                    "count_id": "2",
                    "count_date": D(2025, 3, 15),
                    "counted_quantity": 9.0,
                    "lost_quantity": 1.0,
                },
            ],
        },
        BALANCE,
        [
            # by 15 March: 4 + 12 - 2 - 3 - 1 = 10, counted 9: one is missing; then 5 more came
            ("two_tray", 20.0, 1.0, 2.0, 0.0, 4.0, 17.0, 2.0, 3.0, 0.0, 1.0, -1.0, 14.0),
            ("worms", 10.0, 0.0, 0.0, 0.0, 0.0, 10.0, 0.5, 1.0, 0.0, 0.0, 0.0, 8.5),
        ],
        {"as_of": D(2025, 3, 31)},
    ),
]

OF_CHECKS = [
    Case(
        "stock_does_not_balance",
        "a count one bin below the books is named, one that agrees is not",
        {
            **EVERYTHING,
            "stock_counts": [
                {"count_id": "1", "count_date": D(2025, 3, 1), "counted_quantity": 4.0},
                {"count_id": "2", "count_date": D(2025, 3, 6), "counted_quantity": 13.0},
                {"count_id": "3", "count_date": D(2025, 3, 15), "counted_quantity": 10.0},
            ],
        },
        FOUND,
        [
            (
                "doubtful",
                "stock_counts",
                "two_tray, 2025-03-15",
                "10 counted, 11 by the books",
            )
        ],
    ),
    Case(
        "delivery_beyond_order",
        "more than ordered is named, what is short counting with it",
        {
            "suppliers": SUPPLIER,
            "orders": ORDERS[:2],
            "deliveries": [
                {**DELIVERIES[0], "received_quantity": 15.0},
                {**DELIVERIES[1], "short_quantity": 1.0},
                DELIVERIES[2],
            ],
        },
        FOUND,
        [("doubtful", "orders", "P1", "20 received and 1 short of 20 ordered")],
    ),
    Case(
        "invoice_differs",
        "charged for what came unusable, or above the price agreed; what agrees is not named",
        {
            "suppliers": SUPPLIER,
            "orders": [{**row, "ordered_quantity": 10.0} for row in ORDERS],
            "deliveries": [
                {"delivery_id": "1", "order_line_id": "P1", "unusable_quantity": 1.0},
                {"delivery_id": "2", "order_line_id": "P2", "delivered_date": D(2025, 3, 9)},
                {"delivery_id": "3", "order_line_id": "P3", "delivered_date": D(2025, 4, 20)},
            ],
            "invoices": [
                {"invoice_line_id": "1", "order_line_id": "P1"},
                {"invoice_line_id": "2", "order_line_id": "P2", "goods_amount": 605.0},
                {"invoice_line_id": "3", "order_line_id": "P3"},
            ],
        },
        FOUND,
        [
            (
                "doubtful",
                "orders",
                "P1",
                "10 charged of 9 usable that came, GBP 620.0 charged of GBP 620.0 agreed",
            ),
            (
                "doubtful",
                "orders",
                "P2",
                "10 charged of 10 usable that came, GBP 625.0 charged of GBP 620.0 agreed",
            ),
        ],
        {"currency": "GBP"},
    ),
    Case(
        "delivery_before_order",
        "a delivery the day before its order is named, one on the day is not",
        {
            "suppliers": SUPPLIER,
            "orders": ORDERS[:2],
            "deliveries": [
                {**DELIVERIES[0], "delivered_date": D(2025, 1, 31)},
                {**DELIVERIES[2], "sent_date": None, "delivered_date": D(2025, 3, 3)},
            ],
        },
        FOUND,
        [("wrong", "deliveries", "D1", "came 2025-01-31, ordered 2025-02-01")],
    ),
]

CASES = [*OF_STAGE, *OF_SUMMARY, *OF_CHECKS]
