"""Cases of the query from which survey rounds are drawn.

Random numbers: SHA-256 (FIPS 180-4) of "2025-wave1|HH000001" and so on, first eight bytes over
2 to the power 64, made with another implementation of it (Python's hashlib).
"""

from __future__ import annotations

import datetime as dt

from tests.queries.given import DAY, Case

D = dt.date
WORDS = {"seed_words": "2025-wave1", "on_date": DAY, "since_date": D(2024, 9, 10)}
ROUNDS = [
    {"wave_id": "OLD", "opens_date": D(2024, 9, 9), "closes_date": D(2024, 9, 20)},
    {"wave_id": "DRAWN", "opens_date": D(2024, 9, 10), "closes_date": D(2024, 9, 20)},
    {"wave_id": "ALL", "opens_date": D(2024, 12, 1), "closes_date": D(2024, 12, 20)},
]


def homes(*names, **columns):
    return [{"household_id": name, "registered_date": D(2024, 1, 1), **columns} for name in names]


CASES = [
    Case(
        "sampling_register",
        "every household has its own number, whatever else is registered",
        {"households": homes("HH000003", "HH000001", "HH000002")},
        ("household_id", "random_number"),
        [
            ("HH000001", 0.5910149264569852),
            ("HH000002", 0.6347698182191193),
            ("HH000003", 0.07345406665058316),
        ],
        WORDS,
    ),
    Case(
        "sampling_register",
        "registered and handed over by the day; a bin that came back on it is no longer held",
        {
            "households": [
                *homes("H1", "H2", "H3", "H4"),
                {"household_id": "H5", "registered_date": DAY, "may_contact": False},
                {"household_id": "H6", "registered_date": D(2025, 3, 11)},
            ],
            "handovers": [
                {"handover_id": "1", "household_id": "H1", "handover_date": DAY},
                {"handover_id": "2", "household_id": "H2", "handover_date": D(2025, 3, 11)},
                {"handover_id": "3", "household_id": "H3", "handover_date": D(2025, 1, 9)},
                {"handover_id": "4", "household_id": "H4", "handover_date": D(2025, 1, 9)},
                {"handover_id": "5", "household_id": "H4", "handover_date": D(2025, 2, 9)},
            ],
            "givebacks": [
                {"handover_id": "3", "giveback_date": DAY},
                {"handover_id": "4", "giveback_date": DAY},
            ],
        },
        ("household_id", "may_contact", "had_bin", "has_bin"),
        [
            ("H1", True, True, True),
            ("H2", True, False, False),
            ("H3", True, True, False),
            ("H4", True, True, True),
            ("H5", False, False, False),
        ],
        WORDS,
    ),
    Case(
        "sampling_register",
        "rounds count from the day named; drawn by chance and asked with all are told apart",
        {
            "waves": ROUNDS,
            "households": homes("H1", "H2", "H3", "H4"),
            "handovers": [
                {"handover_id": "1", "household_id": "H4", "handover_date": D(2024, 11, 1)}
            ],
            "samples": [
                {"wave_id": "OLD", "household_id": "H1"},
                {"wave_id": "DRAWN", "household_id": "H2"},
                {"wave_id": "DRAWN", "household_id": "H3", "inclusion_probability": 1.0},
            ],
        },
        ("household_id", "is_drawn_lately", "is_asked_with_all_lately"),
        [
            ("H1", False, False),
            ("H2", True, False),
            ("H3", False, True),
            ("H4", False, True),
        ],
        WORDS,
    ),
    Case(
        "silent_register",
        "awaited answers alone: not of bins back, nor of those that told that they had stopped",
        {
            "waves": [
                {"wave_id": "E", "wave_kind": "followup", "opens_date": D(2025, 2, 1)},
                {"wave_id": "F", "wave_kind": "followup", "opens_date": DAY},
            ],
            "households": [
                *homes("H1", "H2", "H3", "H4"),
                {"household_id": "H5", "registered_date": D(2024, 1, 1), "may_contact": False},
            ],
            "handovers": [
                {"handover_id": n, "household_id": f"H{n}", "handover_date": D(2025, 1, 9)}
                for n in ("1", "2", "3", "4", "5")
            ],
            "givebacks": [{"handover_id": "3", "giveback_date": D(2025, 2, 9)}],
            "answers": [
                {"wave_id": "F", "household_id": "H1", "is_in_use": True, "answer_date": DAY},
                {
                    "wave_id": "E",
                    "household_id": "H4",
                    "is_in_use": False,
                    "answer_date": D(2025, 2, 2),
                },
            ],
        },
        ("household_id", "may_contact", "has_answered"),
        [("H1", True, True), ("H2", True, False), ("H5", False, False)],
        {"seed_words": "w", "wave_id": "F"},
    ),
]
