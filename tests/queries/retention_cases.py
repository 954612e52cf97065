"""Cases of queries/summary on when bins stopped and on audits by visit."""

from __future__ import annotations

import datetime as dt

from tests.queries.given import Case

D = dt.date
ENTRY = D(2025, 1, 1)
SPRING, AUTUMN = D(2025, 4, 11), D(2025, 10, 8)
BEFORE = D(2026, 1, 1)
BOTH = {"before_date": BEFORE, "wave_ids": ["S", "A"]}
ROUNDS = [
    {"wave_id": "S", "opens_date": SPRING, "closes_date": SPRING},
    {"wave_id": "A", "opens_date": AUTUMN, "closes_date": AUTUMN},
]
SPRING_AGE, AUTUMN_AGE = 100, 280
AGES = ("household_id", "last_in_use_age_days", "first_out_of_use_age_days", "is_exact")


def homes(count):
    return [{"household_id": f"H{n}"} for n in range(1, count + 1)]


def bins(count):
    return [
        {"handover_id": f"G{n}", "household_id": f"H{n}", "handover_date": ENTRY}
        for n in range(1, count + 1)
    ]


def told(household, wave, **answer):
    day = SPRING if wave == "S" else AUTUMN
    return {"wave_id": wave, "household_id": household, "answer_date": day, **answer}


CASES = [
    Case(
        "use_intervals",
        "answers bracket the day of stopping; the newest decides after a pause",
        {
            "waves": ROUNDS,
            "households": homes(4),
            "handovers": bins(4),
            "answers": [
                told("H1", "S", is_in_use=True),
                told("H1", "A", is_in_use=True),
                told("H2", "S", is_in_use=True),
                told("H2", "A", is_in_use=False),
                told("H3", "S", is_in_use=False),
                told("H3", "A", is_in_use=False),
                told("H4", "S", is_in_use=False),
                told("H4", "A", fed_kg_last_week=1.0),
            ],
        },
        AGES,
        [
            ("H1", AUTUMN_AGE, None, False),
            ("H2", SPRING_AGE, AUTUMN_AGE, False),
            ("H3", 0, SPRING_AGE, False),
            ("H4", AUTUMN_AGE, None, False),
        ],
        BOTH,
    ),
    Case(
        "use_intervals",
        "a recalled day counts give or take a month, cut at hand-over, last use and answer",
        {
            "waves": ROUNDS,
            "households": homes(5),
            "handovers": bins(5),
            "answers": [
                told("H1", "A", stopped_date=D(2025, 6, 15)),
                told("H2", "A", stopped_date=D(2025, 1, 20)),
                told("H3", "A", stopped_date=D(2025, 10, 2)),
                told("H4", "S", is_in_use=True),
                told("H4", "A", is_in_use=False, stopped_date=D(2025, 4, 1)),
                told("H5", "S", is_in_use=True),
                told("H5", "A", is_in_use=False, stopped_date=D(2025, 2, 1)),
            ],
        },
        AGES,
        [
            # 15 May is day 134, 15 July day 195; 20 February day 50; 2 September day 244
            ("H1", 134, 195, False),
            ("H2", 0, 50, False),
            ("H3", 244, AUTUMN_AGE, False),
            # 1 May is day 120; a February before the last use is not believed
            ("H4", SPRING_AGE, 120, False),
            ("H5", SPRING_AGE, AUTUMN_AGE, False),
        ],
        BOTH,
    ),
    Case(
        "use_intervals",
        "a bin that came back by the round tells the day, or by then where it had stopped before",
        {
            "waves": ROUNDS,
            "households": homes(5),
            "handovers": [
                *bins(5),
                {"handover_id": "G6", "household_id": "H4", "handover_date": SPRING},
            ],
            "givebacks": [
                {"handover_id": "G1", "giveback_date": D(2025, 7, 10)},
                {"handover_id": "G2", "giveback_date": D(2025, 7, 10)},
                {"handover_id": "G3", "giveback_date": D(2025, 11, 7)},
                {"handover_id": "G4", "giveback_date": D(2025, 7, 10)},
                {"handover_id": "G5", "giveback_date": D(2025, 1, 1)},
            ],
            "answers": [
                told("H1", "S", is_in_use=True),
                told("H2", "S", is_in_use=False),
                told("H3", "A", is_in_use=True),
                told("H4", "A", is_in_use=True),
            ],
        },
        (*AGES, "is_known"),
        [
            ("H1", 190, 190, True, True),
            ("H2", 0, SPRING_AGE, False, True),
            # back a month after its answer, which is the last that is heard of those kept
            ("H3", AUTUMN_AGE, None, False, True),
            # one of two bins came back: the other is in use
            ("H4", AUTUMN_AGE, None, False, True),
            ("H5", 0, 0, True, True),
        ],
        BOTH,
    ),
    Case(
        "use_intervals",
        "the newest round asked weighs; silence there has no weight but keeps what was known",
        {
            "waves": ROUNDS,
            "households": homes(4),
            "handovers": bins(4),
            "samples": [
                {"wave_id": "S", "household_id": "H1", "stratum": "one"},
                {"wave_id": "S", "household_id": "H2", "inclusion_probability": 0.25},
                {"wave_id": "S", "household_id": "H3", "stratum": "one"},
                {"wave_id": "A", "household_id": "H2", "stratum": "two"},
                {"wave_id": "A", "household_id": "H3", "stratum": "two"},
            ],
            "answers": [
                told("H1", "S", is_in_use=True),
                told("H2", "S", is_in_use=True),
                told("H3", "A", is_in_use=True),
                told("H4", "A", is_in_use=True),
            ],
        },
        (
            "household_id",
            "wave_id",
            "stratum",
            "inclusion_probability",
            "asked_age_days",
            "is_known",
            "last_in_use_age_days",
        ),
        [
            ("H1", "S", "one", 0.5, SPRING_AGE, True, SPRING_AGE),
            ("H2", "A", "two", 0.5, AUTUMN_AGE, False, SPRING_AGE),
            ("H3", "A", "two", 0.5, AUTUMN_AGE, True, AUTUMN_AGE),
        ],
        BOTH,
    ),
    Case(
        "use_intervals",
        "a household that told it had stopped, or whose bin came back, stays known in silence",
        {
            "waves": ROUNDS,
            "households": homes(4),
            "handovers": bins(4),
            "givebacks": [{"handover_id": "G3", "giveback_date": D(2025, 7, 10)}],
            "samples": [
                {"wave_id": "S", "household_id": "H1"},
                {"wave_id": "S", "household_id": "H2"},
                {"wave_id": "A", "household_id": "H1"},
                {"wave_id": "A", "household_id": "H2"},
                {"wave_id": "A", "household_id": "H4"},
            ],
            "answers": [
                told("H1", "S", is_in_use=False),
                told("H2", "S", is_in_use=True),
                told("H4", "A", is_in_use=True),
            ],
        },
        ("household_id", "wave_id", "is_known", "last_in_use_age_days", "is_exact"),
        [
            ("H1", "A", True, 0, False),
            ("H2", "A", False, SPRING_AGE, False),
            # never drawn, and still known: it stands for itself
            ("H3", "A", True, 190, True),
            ("H4", "A", True, AUTUMN_AGE, False),
        ],
        BOTH,
    ),
    Case(
        "use_intervals",
        "in use after the bin came back is not believed: the giveback is the council's own",
        {
            "waves": ROUNDS,
            "households": homes(1),
            "handovers": bins(1),
            "givebacks": [{"handover_id": "G1", "giveback_date": D(2025, 7, 10)}],
            "answers": [told("H1", "S", is_in_use=True), told("H1", "A", is_in_use=True)],
        },
        AGES,
        [("H1", 190, 190, True)],
        BOTH,
    ),
    Case(
        "use_intervals",
        "rounds not named, not yet open, or before the bin do not count",
        {
            "waves": [*ROUNDS, {"wave_id": "L", "opens_date": BEFORE, "closes_date": BEFORE}],
            "households": homes(2),
            "handovers": [
                {"handover_id": "G1", "household_id": "H1", "handover_date": ENTRY},
                {"handover_id": "G2", "household_id": "H2", "handover_date": AUTUMN},
            ],
            "answers": [
                told("H1", "S", is_in_use=True),
                told("H1", "A", is_in_use=False),
                {"wave_id": "L", "household_id": "H2", "answer_date": BEFORE, "is_in_use": True},
            ],
        },
        ("household_id", "wave_id", "first_out_of_use_age_days"),
        [("H1", "S", None)],
        {"before_date": BEFORE, "wave_ids": ["S", "L"]},
    ),
    Case(
        "audit_changes",
        "visits count from the giveaway; two audits of one day are one; later ones stay out",
        {
            "audits": [
                {"audit_id": "1", "audit_date": D(2024, 5, 1), "food_kg": 28.0},
                {"audit_id": "2", "audit_date": D(2024, 9, 1), "food_kg": 30.0},
                {
                    "audit_id": "3",
                    "audit_date": D(2024, 9, 1),
                    "food_kg": 5.5,
                    "households_count": 2,
                },
                {"audit_id": "4", "audit_date": D(2025, 9, 1), "period": "after"},
                {"audit_id": "5", "audit_date": D(2025, 5, 1), "period": "after", "food_kg": 20.0},
                {"audit_id": "6", "audit_date": BEFORE, "period": "after"},
                {"audit_id": "7", "arm": "comparison", "area_id": "B"},
            ]
        },
        ("arm", "area_id", "period", "visit_number", "households_count", "food_kg"),
        [
            ("comparison", "B", "before", 1, 10, 30.0),
            ("given", "A", "after", 1, 10, 20.0),
            ("given", "A", "after", 2, 10, 30.0),
            ("given", "A", "before", 1, 12, 35.5),
            ("given", "A", "before", 2, 10, 28.0),
        ],
        {"before_date": BEFORE},
    ),
]
