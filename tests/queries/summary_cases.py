"""Cases of queries/summary that count the register, the ledger and the audits."""

from __future__ import annotations

import datetime as dt

from planner.tables import TABLES
from tests.queries.given import Case

D = dt.date
FROM, BEFORE = D(2025, 7, 1), D(2026, 7, 1)
LAST_DAY = D(2026, 6, 30)
EDGES = {"from_date": FROM, "before_date": BEFORE}
UNTIL = {"before_date": BEFORE}

HOUSEHOLDS = [
    {"household_id": "H1"},
    {"household_id": "H2"},
    {"household_id": "H3", "area_id": "B", "dwelling": "apartment"},
]

CASES = [
    Case(
        "changed_households",
        "households, once a table, of rows that no load of the report wrote; none of later days",
        {
            "households": HOUSEHOLDS,
            "waves": [{"wave_id": "F"}],
            "handovers": [
                {"handover_id": "1", "household_id": "H1"},
                {"handover_id": "2", "household_id": "H1"},
                {"handover_id": "3", "household_id": "H2", "handover_date": BEFORE},
            ],
            "givebacks": [{"handover_id": "1"}],
            "answers": [{"household_id": "H2"}, {"household_id": "H3"}],
        },
        ("table_name", "households_count"),
        [("answers", 2), ("givebacks", 1), ("handovers", 1), ("households", 3)],
        {"load_ids": ["L9999"], **UNTIL, "until_date": BEFORE, "tables": list(TABLES)},
    ),
    Case(
        "changed_households",
        "households with any record of the days between two reports, each once",
        {
            "households": HOUSEHOLDS,
            "handovers": [
                {"handover_id": "3", "household_id": "H2", "handover_date": BEFORE},
                {"handover_id": "4", "household_id": "H3", "handover_date": D(2026, 8, 1)},
            ],
            "calls": [{"household_id": "H2", "call_date": D(2026, 7, 2)}],
        },
        ("table_name", "households_count"),
        [("the days between the two", 1)],
        {
            "load_ids": ["L0001"],
            **UNTIL,
            "until_date": D(2026, 8, 1),
            "tables": ["handovers", "calls", "households"],
        },
    ),
    Case(
        "event_take_up",
        "bins taken on each day held before, none among them; days without places are no days",
        {
            "households": HOUSEHOLDS,
            "events": [
                {"event_id": "E1", "event_date": D(2026, 5, 1), "places_count": 4},
                {"event_id": "E2", "event_date": D(2026, 6, 1), "places_count": 5},
                {"event_id": "E3", "event_date": D(2026, 6, 2), "places_count": 0},
                {"event_id": "E4", "event_date": BEFORE, "places_count": 9},
            ],
            "handovers": [
                {"handover_id": "1", "event_id": "E1", "handover_date": D(2026, 5, 1)},
                {"handover_id": "2", "event_id": "E1", "handover_date": D(2026, 5, 1)},
                {"handover_id": "3", "handover_date": D(2026, 5, 1)},
            ],
        },
        ("event_id", "places_count", "bins_given"),
        [("E1", 4, 2), ("E2", 5, 0)],
        UNTIL,
    ),
    Case(
        "bins_held",
        "bins of one household that did not come back, with its newest answer on feed",
        {
            "households": HOUSEHOLDS,
            "handovers": [
                {
                    "handover_id": "1",
                    "household_id": "H1",
                    "handover_date": D(2025, 8, 1),
                    "worms_kg": 0.3,
                },
                {"handover_id": "2", "household_id": "H1", "handover_date": D(2025, 9, 1)},
                {"handover_id": "3", "handover_date": D(2025, 9, 1), "household_id": "H2"},
            ],
            "givebacks": [{"handover_id": "2", "giveback_date": D(2025, 10, 1)}],
            "answers": [
                {
                    "wave_id": "F1",
                    "household_id": "H1",
                    "answer_date": D(2025, 10, 1),
                    "fed_kg_last_week": 0.5,
                },
                {
                    "wave_id": "F2",
                    "household_id": "H1",
                    "answer_date": D(2025, 12, 1),
                    "fed_kg_last_week": 0.9,
                },
                {
                    "wave_id": "F3",
                    "household_id": "H1",
                    "answer_date": D(2026, 2, 1),
                    "fed_kg_last_week": None,
                },
            ],
        },
        ("handover_id", "handover_date", "worms_kg", "fed_kg_last_week"),
        [("1", D(2025, 8, 1), 0.3, 0.9)],
        {"household_id": "H1"},
    ),
    Case(
        "households_to_thank",
        "holders of a bin who may be contacted and did not say that they stopped",
        {
            "areas": [{"area_id": "A"}, {"area_id": "B"}],
            "households": [*HOUSEHOLDS, {"household_id": "H4", "may_contact": False}],
            "handovers": [
                {"handover_id": "1", "household_id": "H1"},
                {"handover_id": "2", "household_id": "H1"},
                {"handover_id": "3", "household_id": "H2"},
                {"handover_id": "4", "household_id": "H3"},
                {"handover_id": "5", "household_id": "H4"},
            ],
            "givebacks": [{"handover_id": "3"}],
            "answers": [
                {
                    "wave_id": "F1",
                    "household_id": "H1",
                    "answer_date": D(2026, 1, 1),
                    "fed_kg_last_week": 0.7,
                },
                {
                    "wave_id": "F2",
                    "household_id": "H1",
                    "answer_date": D(2026, 2, 1),
                    "fed_kg_last_week": 0.0,
                    "is_in_use": True,
                },
                {
                    "wave_id": "F1",
                    "household_id": "H3",
                    "answer_date": D(2026, 1, 1),
                    "is_in_use": False,
                    "fed_kg_last_week": None,
                },
            ],
        },
        ("household_id", "fed_kg_last_week"),
        [("H1", 0.7)],
    ),
    Case(
        "households_back_by_month",
        "households whose every bin is back before the day, by the month of the last",
        {
            "households": HOUSEHOLDS,
            "handovers": [
                {"handover_id": "1", "handover_date": D(2025, 6, 1), "household_id": "H1"},
                {"handover_id": "2", "handover_date": D(2025, 7, 1), "household_id": "H1"},
                {"handover_id": "3", "handover_date": D(2025, 6, 1), "household_id": "H2"},
                {"handover_id": "4", "handover_date": D(2025, 7, 1), "household_id": "H2"},
                {"handover_id": "5", "handover_date": D(2025, 6, 1), "household_id": "H3"},
                # given after the day: what is held then does not count
                {"handover_id": "6", "handover_date": BEFORE, "household_id": "H3"},
            ],
            "givebacks": [
                {"handover_id": "1", "giveback_date": D(2026, 3, 31)},
                {"handover_id": "2", "giveback_date": D(2026, 2, 1)},
                {"handover_id": "3", "giveback_date": D(2026, 2, 1)},
                # back on the day itself, and so held before it
                {"handover_id": "4", "giveback_date": BEFORE},
                {"handover_id": "5", "giveback_date": LAST_DAY},
            ],
        },
        ("area_id", "back_month", "households_back"),
        [("A", D(2026, 3, 1), 1), ("B", D(2026, 6, 1), 1)],
        UNTIL,
    ),
    Case(
        "handovers_by_month",
        "bins, worms and copayments by group and month, up to the day before and not on it",
        {
            "households": HOUSEHOLDS,
            "handovers": [
                {"handover_id": "1", "handover_date": D(2026, 6, 1), "copayment": 15.0},
                {"handover_id": "2", "handover_date": LAST_DAY, "worms_kg": 1.0, "copayment": 5.0},
                {"handover_id": "3", "handover_date": BEFORE},
                {"handover_id": "4", "handover_date": LAST_DAY, "model_id": "tube"},
                {"handover_id": "5", "handover_date": D(2024, 2, 29), "household_id": "H3"},
            ],
        },
        (
            "area_id",
            "dwelling",
            "model_id",
            "handover_month",
            "bins_given",
            "households_begun",
            "month_left",
            "month_left_square",
            "worms_kg",
            "copayment",
        ),
        [
            ("A", "house", "tube", D(2026, 6, 1), 1, 0, 1 / 30, 1 / 30 * (1 / 30), 0.5, 0.0),
            (
                "A",
                "house",
                "two_tray",
                D(2026, 6, 1),
                2,
                1,
                (1 + 1 / 30) / 2,
                (1 + 1 / 30 * (1 / 30)) / 2,
                1.5,
                20.0,
            ),
            (
                "B",
                "apartment",
                "two_tray",
                D(2024, 2, 1),
                1,
                1,
                1 / 29,
                1 / 29 * (1 / 29),
                0.5,
                0.0,
            ),
        ],
        UNTIL,
    ),
    Case(
        "bins_by_area",
        "two bins at one household are one household served; an area without bins has none",
        {
            "areas": [
                {"area_id": "A", "houses_count": 9},
                {"area_id": "B", "area_name": "South"},
                {"area_id": "C", "area_name": "Empty"},
            ],
            "households": HOUSEHOLDS,
            "handovers": [
                {"handover_id": "1", "handover_date": D(2025, 6, 30)},
                {"handover_id": "2", "handover_date": FROM},
                {"handover_id": "3", "handover_date": LAST_DAY, "household_id": "H2"},
                {"handover_id": "4", "handover_date": LAST_DAY, "household_id": "H2"},
                {"handover_id": "5", "handover_date": BEFORE, "household_id": "H2"},
                {"handover_id": "6", "handover_date": D(2025, 6, 30), "household_id": "H3"},
            ],
        },
        (
            "area_id",
            "area_name",
            "households_count",
            "is_priority",
            "people_per_household",
            "bins_given_to_date",
            "bins_given_in_year",
            "households_served_to_date",
            "households_served_in_year",
        ),
        [
            ("A", "North", 9, False, 2.0, 4, 3, 2, 2),
            ("B", "South", 0, False, 2.0, 1, 0, 1, 0),
            ("C", "Empty", 0, False, None, 0, 0, 0, 0),
        ],
        EDGES,
    ),
    Case(
        "costs_by_category",
        "first and last day of the year are in it, receipts are taken off, later lines left out",
        {
            "costs": [
                {"cost_id": "1", "cost_date": D(2025, 6, 30), "amount": 70.0},
                {"cost_id": "2", "cost_date": FROM, "amount": 100.0},
                {"cost_id": "3", "cost_date": LAST_DAY, "amount": 20.0},
                {"cost_id": "4", "cost_date": BEFORE, "amount": 1000.0},
                {"cost_id": "5", "cost_date": D(2024, 7, 1), "category": "staff"},
                {
                    "cost_id": "6",
                    "cost_date": FROM,
                    "category": "copayments_received",
                    "amount": -15.5,
                },
                {"cost_id": "7", "cost_date": BEFORE, "category": "survey"},
            ]
        },
        ("category", "amount_in_year", "amount_to_date", "lines_in_year_count", "lines_count"),
        [
            ("bins", 120.0, 190.0, 2, 3),
            ("copayments_received", -15.5, -15.5, 1, 1),
            ("staff", 0.0, 100.0, 0, 1),
        ],
        EDGES,
    ),
    Case(
        "audits_by_arm",
        "food is per household opened, not a mean of clusters; audits after the year stay out",
        {
            "audits": [
                {"audit_id": "1", "households_count": 10, "residual_kg": 100.0, "food_kg": 30.0},
                {"audit_id": "2", "households_count": 30, "residual_kg": 180.0, "food_kg": 50.0},
                {
                    "audit_id": "3",
                    "cluster_id": "lane",
                    "audit_date": LAST_DAY,
                    "period": "after",
                    "food_kg": 20.0,
                },
                {"audit_id": "4", "cluster_id": "lane", "audit_date": BEFORE, "period": "after"},
                {"audit_id": "5", "arm": "comparison", "cluster_id": "hill", "food_kg": 0.0},
            ]
        },
        (
            "arm",
            "period",
            "audits_count",
            "clusters_count",
            "households_count",
            "food_kg_per_household_week",
            "residual_kg_per_household_week",
        ),
        [
            ("comparison", "before", 1, 1, 10, 0.0, 10.0),
            ("given", "after", 1, 1, 10, 2.0, 10.0),
            ("given", "before", 2, 1, 40, 2.0, 7.0),
        ],
        UNTIL,
    ),
    Case(
        "latest_record",
        "a ledger line may be the newest record",
        {
            "handovers": [{"handover_id": "1", "handover_date": D(2025, 5, 1)}],
            "answers": [{"household_id": "H1", "answer_date": D(2025, 5, 2)}],
            "costs": [
                {"cost_id": "1", "cost_date": D(2025, 5, 3)},
                {"cost_id": "2", "cost_date": D(2024, 5, 3)},
            ],
        },
        ("latest_date",),
        [(D(2025, 5, 3),)],
    ),
    Case(
        "latest_record",
        "an answer may be the newest record, with no bin and no ledger",
        {
            "answers": [
                {"household_id": "H1", "answer_date": D(2025, 5, 2)},
                {"household_id": "H2", "answer_date": D(2025, 5, 1)},
            ]
        },
        ("latest_date",),
        [(D(2025, 5, 2),)],
    ),
    Case(
        "latest_record",
        "a hand-over may be the newest record",
        {
            "handovers": [
                {"handover_id": "1", "handover_date": D(2025, 5, 4)},
                {"handover_id": "2", "handover_date": D(2025, 5, 1)},
            ],
            "answers": [{"household_id": "H1", "answer_date": D(2025, 5, 2)}],
        },
        ("latest_date",),
        [(D(2025, 5, 4),)],
    ),
    Case(
        "latest_record",
        "registrations and rounds alone are no record of the year",
        {"households": HOUSEHOLDS, "waves": [{"wave_id": "F"}]},
        ("latest_date",),
        [(None,)],
    ),
]
