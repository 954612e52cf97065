"""Cases of queries/stage: what a record becomes before anything is counted."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import DAY, Case

D = dt.date
NEXT_DAY = D(2025, 3, 11)

CASES = [
    Case(
        "stage_areas",
        "households are the sum of the three kinds of dwelling, none of them included",
        {
            "areas": [
                {
                    "area_id": "B",
                    "houses_count": 7,
                    "townhouses_count": 2,
                    "apartments_count": 1,
                    "is_priority": True,
                },
                {"area_id": "A"},
            ]
        },
        ("area_id", "area_name", "kerbside_service", "is_priority", "households_count"),
        [("A", "North", "residual_only", False, 0), ("B", "North", "residual_only", True, 10)],
    ),
    Case(
        "stage_households",
        "a household is known from its registration, or from an answer before it",
        {
            "households": [{"household_id": "H2", "dwelling": "apartment"}, {"household_id": "H1"}],
            "answers": [
                {"household_id": "H2", "wave_id": "B", "answer_date": D(2024, 12, 3)},
                {"household_id": "H2", "wave_id": "F", "answer_date": D(2025, 2, 3)},
                {"household_id": "H1", "wave_id": "F", "answer_date": D(2025, 2, 3)},
            ],
        },
        ("household_id", "area_id", "dwelling", "people_count", "registered_date", "known_date"),
        [
            ("H1", "A", "house", 2, D(2025, 1, 1), D(2025, 1, 1)),
            ("H2", "A", "apartment", 2, D(2025, 1, 1), D(2024, 12, 3)),
        ],
    ),
    Case(
        "stage_holdings",
        "each later hand-over opens a span; all are back when the last one given by then is",
        {
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": D(2025, 2, 1)},
                {"handover_id": "2", "household_id": "H1", "handover_date": D(2025, 2, 1)},
                {"handover_id": "3", "household_id": "H1", "handover_date": D(2025, 5, 1)},
                {"handover_id": "4", "household_id": "H2", "handover_date": D(2025, 3, 1)},
            ],
            "givebacks": [
                {"handover_id": "1", "giveback_date": D(2025, 4, 1)},
                {"handover_id": "2", "giveback_date": D(2025, 3, 1)},
                {"handover_id": "3", "giveback_date": D(2025, 3, 2)},
            ],
        },
        ("household_id", "from_date", "until_date", "first_handover_date", "all_back_date"),
        [
            ("H1", D(2025, 2, 1), D(2025, 5, 1), D(2025, 2, 1), D(2025, 4, 1)),
            ("H1", D(2025, 5, 1), D(9999, 12, 31), D(2025, 2, 1), D(2025, 4, 1)),
            ("H2", D(2025, 3, 1), D(9999, 12, 31), D(2025, 3, 1), D(9999, 12, 31)),
        ],
    ),
    Case(
        "stage_handovers",
        "first and last day of a month fall in it; no copayment is one of nothing",
        {
            "handovers": [
                {"handover_id": "1", "handover_date": D(2025, 2, 28), "copayment": 15.0},
                {"handover_id": "2", "handover_date": D(2025, 3, 1)},
                {"handover_id": "3", "handover_date": D(2024, 12, 31)},
            ]
        },
        ("handover_id", "handover_month", "copayment"),
        [("1", D(2025, 2, 1), 15.0), ("2", D(2025, 3, 1), 0.0), ("3", D(2024, 12, 1), 0.0)],
    ),
    Case(
        "stage_givebacks",
        "a giveback without a reason counts as another reason",
        {
            "givebacks": [
                {"handover_id": "1", "reason": "smell", "is_reissued": True},
                {"handover_id": "2"},
            ]
        },
        ("handover_id", "giveback_date", "reason", "is_reissued"),
        [("1", DAY, "smell", True), ("2", DAY, "other", False)],
    ),
    Case(
        "stage_waves",
        "a round keeps its kind and days",
        {"waves": [{"wave_id": "F", "closes_date": NEXT_DAY}]},
        ("wave_id", "wave_kind", "opens_date", "closes_date"),
        [("F", "followup", DAY, NEXT_DAY)],
    ),
    Case(
        "stage_answers",
        "what was answered stands; else a stop by that day means no and feed means yes",
        {
            "answers": [
                {"household_id": "1 said no", "is_in_use": False, "fed_kg_last_week": 2.0},
                {"household_id": "2 said yes", "is_in_use": True, "stopped_date": DAY},
                {"household_id": "3 stopped that day", "stopped_date": DAY},
                {"household_id": "4 will stop", "stopped_date": NEXT_DAY},
                {
                    "household_id": "5 stopped, fed before",
                    "stopped_date": DAY,
                    "fed_kg_last_week": 1.0,
                },
                {"household_id": "6 fed litres", "fed_litres_last_week": 3.0},
                {"household_id": "7 fed nothing", "fed_kg_last_week": 0.0},
                {"household_id": "8 no litres", "fed_litres_last_week": 0.0},
                {"household_id": "9 no answer"},
            ]
        },
        ("household_id", "is_in_use"),
        [
            ("1 said no", False),
            ("2 said yes", True),
            ("3 stopped that day", False),
            ("4 will stop", None),
            ("5 stopped, fed before", False),
            ("6 fed litres", True),
            ("7 fed nothing", None),
            ("8 no litres", None),
            ("9 no answer", None),
        ],
    ),
    Case(
        "stage_costs",
        "a line falls in the month of its day; a receipt stays negative",
        {
            "costs": [
                {"cost_id": "1", "cost_date": D(2025, 6, 30)},
                {"cost_id": "2", "cost_date": D(2025, 7, 1), "amount": -40.0},
            ]
        },
        ("cost_id", "cost_month", "amount"),
        [("1", D(2025, 6, 1), 100.0), ("2", D(2025, 7, 1), -40.0)],
    ),
    Case(
        "stage_weighings",
        "the newest answer decides; a date told later, recalled, counts from a month on",
        {
            "answers": [
                {"household_id": "H1", "is_in_use": False, "answer_date": DAY},
                {
                    "household_id": "H2",
                    "is_in_use": False,
                    "stopped_date": D(2025, 1, 5),
                    "answer_date": DAY,
                },
                {"household_id": "H3", "fed_kg_last_week": 0.0, "answer_date": DAY},
            ],
            "weighings": [
                {"household_id": household_id, "week_start_date": day}
                for household_id, day in (
                    ("H1", D(2025, 3, 9)),
                    ("H1", DAY),
                    ("H2", D(2025, 2, 4)),
                    ("H2", D(2025, 2, 5)),
                    ("H3", NEXT_DAY),
                    ("H4", DAY),
                )
            ],
        },
        ("household_id", "week_start_date", "is_stopped"),
        [
            ("H1", D(2025, 3, 9), False),
            ("H1", DAY, True),
            ("H2", D(2025, 2, 4), False),
            ("H2", D(2025, 2, 5), True),
            ("H3", NEXT_DAY, False),
            ("H4", DAY, False),
        ],
    ),
    Case(
        "stage_answers",
        "an answer asked for again is one to the round followed; the one that says more counts",
        {
            "waves": [
                {"wave_id": "F", "wave_kind": "followup"},
                {"wave_id": "S", "wave_kind": "followup", "follows_wave_id": "F"},
            ],
            "answers": [
                {"wave_id": "F", "household_id": "1 both", "is_in_use": True},
                {"wave_id": "S", "household_id": "1 both", "is_in_use": False},
                {"wave_id": "F", "household_id": "2 little at first"},
                {"wave_id": "S", "household_id": "2 little at first", "is_in_use": False},
                {"wave_id": "S", "household_id": "3 again alone", "is_in_use": True},
            ],
        },
        ("wave_id", "household_id", "reported_in_wave_id", "is_asked_again", "is_in_use"),
        [
            ("F", "1 both", "F", False, True),
            ("F", "2 little at first", "S", True, False),
            ("F", "3 again alone", "S", True, True),
        ],
    ),
    Case(
        "stage_waves",
        "a round that asks the silent of another again is none of its own",
        {
            "waves": [
                {"wave_id": "F", "wave_kind": "followup"},
                {"wave_id": "S", "wave_kind": "followup", "follows_wave_id": "F"},
            ]
        },
        ("wave_id",),
        [("F",)],
    ),
]
