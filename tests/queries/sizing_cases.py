"""Cases of the queries behind sizing: households there are, registered and served."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import Case

D = dt.date
FROM, BEFORE = D(2025, 7, 1), D(2026, 7, 1)
SPAN = {"from_date": FROM, "before_date": BEFORE}

CASES = [
    Case(
        "stage_dwellings",
        "each area has one row a dwelling, none included, and its people on each",
        {"areas": [{"area_id": "A", "houses_count": 7, "apartments_count": 2}]},
        ("area_id", "dwelling", "households_count", "area_residents_count"),
        [("A", "apartment", 2, 0), ("A", "house", 7, 0), ("A", "townhouse", 0, 0)],
    ),
    Case(
        "households_by_group",
        "registered and served up to the day before; a second bin serves nobody new",
        {
            "areas": [
                {
                    "area_id": "A",
                    "houses_count": 9,
                    "apartments_count": 4,
                    "residents_count": 30,
                    "is_priority": True,
                }
            ],
            "households": [
                {"household_id": "H1", "registered_date": D(2025, 6, 30), "people_count": 3},
                {"household_id": "H2", "registered_date": FROM, "people_count": 4},
                {"household_id": "H3", "registered_date": BEFORE, "people_count": 9},
                {"household_id": "H4", "registered_date": FROM, "dwelling": "apartment"},
            ],
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": D(2025, 8, 1)},
                {"handover_id": "2", "household_id": "H1", "handover_date": D(2025, 9, 1)},
                {"handover_id": "3", "household_id": "H4", "handover_date": BEFORE},
            ],
        },
        (
            "area_id",
            "dwelling",
            "is_priority",
            "area_residents_count",
            "households_count",
            "registered_count",
            "registered_in_year_count",
            "served_count",
            "registered_people_count",
        ),
        [
            ("A", "apartment", True, 30, 4, 1, 1, 0, 2),
            ("A", "house", True, 30, 9, 2, 1, 1, 7),
            ("A", "townhouse", True, 30, 0, 0, 0, 0, 0),
        ],
        SPAN,
    ),
    Case(
        "registrations_by_month",
        "the first day of the span counts and the first day after it does not",
        {
            "households": [
                {"household_id": "H1", "registered_date": D(2025, 6, 30)},
                {"household_id": "H2", "registered_date": FROM},
                {"household_id": "H3", "registered_date": D(2025, 7, 31)},
                {"household_id": "H4", "registered_date": D(2025, 9, 5)},
                {"household_id": "H5", "registered_date": BEFORE},
            ]
        },
        ("registered_month", "registered_count"),
        [(FROM, 2), (D(2025, 9, 1), 1)],
        SPAN,
    ),
]
